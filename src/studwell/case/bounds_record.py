"""What a case leaves open, as plain records: ranges of settings and lists of parts to choose from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

Range = tuple[float, float]
"""Least and most, both allowed."""


@dataclass(frozen=True)
class WasherChoice:
    """Washers to try: the case's plain ones (`size` another stocked one instead), with a group of springs on them.

    spring : stocked spring, "" for none;  parallel, series: as in [[washer]]
    """

    spring: str = ""
    parallel: int = 1
    series: int = 1
    size: str = ""

    @property
    def text(self) -> str:
        """The choice in a few words."""
        plain = f"plain {self.size}".strip()
        if not self.spring:
            return plain
        count = self.parallel * self.series
        how = [f"{self.parallel} in parallel"] * (self.parallel > 1) + [f"{self.series} in series"] * (self.series > 1)
        group = self.spring if count == 1 else f"{count} {self.spring} ({', '.join(how)})"
        return group if not self.size else f"{plain}, {group}"


@dataclass(frozen=True)
class Bounds:
    """What may be chosen: N mm, turns, mm; None or an empty tuple where the setup that it starts from decides.

    setup    : name of the setup that it starts from
    inserts  : lengths as written, "1.5 d" or mm
    make     : (name, overrides laid on that setup, check) -> Setup; raises BadCase where the parts do not go together
    override : what that setup lays on the case's own tables;  plain: its plain washers, as written
    """

    setup: str
    torque: Range | None
    seating_torque: Range | None
    back_off: Range | None
    protrusion: Range | None
    inserts: tuple[str | float, ...]
    washers: tuple[WasherChoice, ...]
    nuts: tuple[str, ...]
    make: Callable[..., Any] = field(repr=False, compare=False, metadata={"apart": True})
    override: Mapping[str, Any] = field(repr=False, compare=False, metadata={"apart": True})
    plain: tuple[Mapping[str, Any], ...] = field(repr=False, compare=False, metadata={"apart": True})

    @property
    def modes(self) -> tuple[str, ...]:
        """Ways of seating to try; empty: as the setup that it starts from."""
        named = (("bottomed", self.seating_torque), ("backed off", self.back_off))
        return tuple(mode for mode, bound in named if bound is not None)
