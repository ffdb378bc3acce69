"""What a case spreads, as plain records: distributions of its keys and their correlations."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Distribution:
    """How one key is spread, in the case's inner units.

    kind : normal, lognormal, uniform, triangular or data;  mean, mode: None takes the setup's own value
    low, high : where a draw is cut off, None: nowhere
    values : of "data", each as likely as the others
    """

    kind: str
    mean: float | None = None
    sd: float | None = None
    low: float | None = None
    high: float | None = None
    mode: float | None = None
    values: tuple[float, ...] = field(default=(), repr=False)


@dataclass(frozen=True)
class Spread:
    """What a case spreads: keys with their distributions, in the file's order, and correlations of pairs of keys.

    A correlation is that of the normal variables behind the two (Gaussian copula).
    """

    inputs: tuple[tuple[str, Distribution], ...]
    correlations: tuple[tuple[str, str, float], ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The keys that are spread."""
        return tuple(name for name, _ in self.inputs)
