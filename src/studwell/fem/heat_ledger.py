"""What a march of heat in time returns: temperatures, the ledger of heat, and how the steps went."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from studwell.fem.thermal import HeatSystem
from studwell.mesh.mesh import Floats


@dataclass(frozen=True)
class StepRecord:
    """How a march went.

    steps, rejected : int;  factors, solves, gradient_steps : int, as in `SolveCounts`, of this march
    smallest, largest : s, step sizes
    largest_error   : K, largest estimated error of an accepted step; nan without error control
    """

    steps: int
    rejected: int
    factors: int
    solves: int
    gradient_steps: int
    smallest: float
    largest: float
    largest_error: float

    def __str__(self) -> str:
        return (
            f"{self.steps} steps of {self.smallest:.4g} to {self.largest:.4g} s, {self.rejected} rejected, "
            f"largest estimated error {self.largest_error:.3g} K"
        )


@dataclass(frozen=True, eq=False)
class HeatLedger:
    """Heat since the start at each step, mJ, by the scheme's own flows.

    times     : (s + 1,), s
    stored    : body -> (s + 1,), heat stored in it
    entered   : condition -> (s + 1,), heat that a film, flux, source or held boundary gave
    crossed   : contact or gap -> (s + 1,), heat from its first side to its second
    exchanged : (s + 1,), sum over steps and conditions of the amount of heat, whatever its sign
    content   : mJ, largest heat content of the start above or below 0 degC; the measure where nothing is exchanged
    sides     : condition -> bodies that give and take; "" is the world outside
    """

    times: Floats
    stored: Mapping[str, Floats]
    entered: Mapping[str, Floats]
    crossed: Mapping[str, Floats]
    exchanged: Floats
    content: float
    sides: Mapping[str, tuple[str, str]]

    def missing(self, body: str | None = None) -> Floats:
        """Return heat that entered and is not stored, (s + 1,), mJ, of all bodies or of one."""
        names = list(self.stored) if body is None else [body]
        answer = -sum((self.stored[name] for name in names), np.zeros_like(self.times))
        for name, heat in {**self.entered, **self.crossed}.items():
            giver, taker = self.sides[name]
            answer = answer + heat * (int(taker in names) - int(giver in names))
        return answer

    @property
    def imbalance(self) -> float:
        """Largest heat missing from all bodies or from any one, relative to the heat exchanged.

        Where less than a millionth of the heat content is exchanged, relative to that.
        """
        worst = max(np.abs(self.missing(name)).max() for name in (None, *self.stored))
        return float(worst / max(self.exchanged[-1], 1e-6 * self.content, np.finfo(float).tiny))


@dataclass(frozen=True, eq=False)
class HeatHistory:
    """Temperatures in time.

    system      : HeatSystem
    times       : (n,), s, instants kept
    temperature : (n, N), degC
    step_times  : (s + 1,), s, start and end of every step
    functionals : (s + 1, k), the asked-for functionals of the temperature at step_times; k = 0 without
    ledger      : HeatLedger;  record : StepRecord
    """

    system: HeatSystem
    times: Floats
    temperature: Floats = field(repr=False)
    step_times: Floats = field(repr=False)
    functionals: Floats = field(repr=False)
    ledger: HeatLedger = field(repr=False)
    record: StepRecord

    def at(self, body: str, points: ArrayLike) -> Floats:
        """Return the temperatures (n, p), degC, at points (p, 2) mm of a body.

        raises OutOfBody : a point outside the body
        """
        return np.asarray((self.system.operator(body, points) @ self.temperature.T).T)

    def of(self, body: str) -> Floats:
        """Return the nodal temperatures of a body, (n, N of the body), degC."""
        return self.temperature[:, self.system.nodes_of(body)]
