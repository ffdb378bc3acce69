"""All margins of a setup, what governs it, and whether it is safe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.history.stages import HistoryResult
from studwell.joint.build import BuiltJoint
from studwell.strength.crack import CRACK_MODES, CrackViews, crack_margins, crack_views
from studwell.strength.flaws import CrackHistory
from studwell.strength.margins import MODE_NAMES, MODES, Margin, unknown_margin
from studwell.strength.recovery import SpaceCache
from studwell.strength.small_strain import beyond_small_strain
from studwell.strength.timeline import Timeline


@dataclass(frozen=True)
class Verdict:
    """Margins by mode in a fixed order; governing: mode of the largest known damage margin, None if none is known.

    cracks: the four views behind the margins of cracking
    safe: False if a known damage margin is 1 or more, None if none fails but one is unknown or there is doubt, else True
    doubt: what puts the setup beyond the model as a whole, in words; "" for nothing
    """

    margins: dict[str, Margin]
    governing: str | None
    safe: bool | None
    cracks: CrackViews = field(repr=False)
    doubt: str = ""

    @property
    def worst_damage(self) -> float:
        """Largest known damage margin; -inf if none is known."""
        values = [m.value for m in self.margins.values() if m.kind == "damage" and m.value is not None]
        return max(values, default=-np.inf)


def hold(history: HistoryResult, timeline: Timeline) -> Margin:
    """Torque that the nut sends down the stud over the torque that holds the stud, worst while tightening.

    Source: the long form of the torque applied to nut and boss thread, tip and threadlocker.
    """
    f = history.tightening_forces
    ratio = history.torques.hold_ratio(f.nut_thread, f.tip, f.thread, f.seat)
    if history.torques.by_preload and history.torques.nut_thread <= 0.0:
        return unknown_margin("hold", "function", "a preload without friction says nothing of the torque")
    worst = len(ratio) - 1 - int(np.argmax(np.round(ratio[::-1], 9)))
    applied = history.torques.nut_thread * f.nut_thread[worst]
    value = float(ratio[worst])
    return Margin(
        "hold",
        "function",
        value,
        load=float(applied),
        capacity=float(applied / value) if np.isfinite(value) and value > 0.0 else 0.0,
        unit="N mm",
        when=timeline.when(1 + worst),
        reason="above 1 the stud follows the nut: a back-off is turned away, a wedge grows",
        method="nut thread torque against boss thread, tip and lock torque, long form",
    )


def mode_names() -> tuple[str, ...]:
    """Return the names of all modes, known and unknown, in the order of the margins."""
    return (*MODE_NAMES, "hold", *CRACK_MODES)


def judge(
    built: BuiltJoint,
    history: HistoryResult,
    timeline: Timeline,
    cracks: Sequence[CrackHistory] = (),
    missing: str = "",
    spaces: SpaceCache | None = None,
) -> Verdict:
    """Return all margins of a setup and what follows from them; cracks, missing, spaces: as in `crack_views`."""
    temperatures = history.temperatures
    margins = {}
    for name, mode in zip(MODE_NAMES, MODES, strict=True):
        margins[name] = mode(built, timeline, temperatures)
    held = hold(history, timeline)
    margins[held.mode] = held
    views = crack_views(built, timeline, temperatures, cracks, missing, spaces)
    margins.update(crack_margins(built, timeline, temperatures, views))
    damage = [m for m in margins.values() if m.kind == "damage" and m.applies]
    known = [m for m in damage if m.value is not None]
    governing = max(known, key=lambda m: m.value if m.value is not None else -np.inf).mode if known else None
    doubt = beyond_small_strain(built, timeline)
    if any(m.fails for m in known):
        safe: bool | None = False
    elif doubt or any(m.unknown for m in damage):
        safe = None
    else:
        safe = True
    return Verdict(margins, governing, safe, views, doubt)
