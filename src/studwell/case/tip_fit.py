"""Does the tip of the stud go to the end of its hole: past the thread, and onto floor, drill cone or radius."""

from __future__ import annotations

import math

from studwell.case.overrides import Location, Origin
from studwell.case.records import Setup
from studwell.errors import BadCase
from studwell.parts.thread import root_diameter
from studwell.units import as_text

STEEPEST = 60.0
"""Steepest slope, deg, at which a tip's edge may land on a radiused end: beyond it the tip jams against the wall. Our own
choice."""

_SLACK = 1e-9


def _mm(value: float) -> str:
    return as_text(value, "length", digits=4)


def _misfit(origin: Origin, at: Location, problem: str, allowed: str) -> BadCase:
    return origin.bad(at, problem, allowed, value=origin.given(at), slug="cannot-fit", together=True)


def check_tip(setup: Setup, origin: Origin) -> None:
    """Refuse a tip that does not pass the thread, or that meets the corner of its hole before the end.

    raises BadCase : it does not fit
    """
    boss, stud = setup.boss, setup.stud
    widest = float(root_diameter(stud.thread.nominal_diameter, stud.thread.pitch))
    if stud.tip_diameter > widest + _SLACK:
        raise _misfit(
            origin,
            ("stud", "tip_diameter"),
            f"wider than the root of the thread {stud.thread.name}, {_mm(widest)}",
            f"at most {_mm(widest)}",
        )
    if stud.tip_length >= stud.boss_thread_length:
        raise _misfit(
            origin,
            ("stud", "tip_length"),
            "as long as the thread that it belongs to",
            f"less than boss_thread_length, {_mm(stud.boss_thread_length)}",
        )
    room = boss.drill_diameter - 2 * boss.corner_radius
    if boss.hole_end == "flat" and stud.tip_diameter > room + _SLACK:
        raise _misfit(
            origin,
            ("boss", "corner_radius"),
            f"a tip of {_mm(stud.tip_diameter)} meets the corner before the floor of a hole of "
            f"{_mm(boss.drill_diameter)}",
            f'at most {_mm((boss.drill_diameter - stud.tip_diameter) / 2)}, or hole_end = "radiused"',
        )
    if boss.hole_end == "radiused":
        _radiused(setup, origin, room)


def _radiused(setup: Setup, origin: Origin, room: float) -> None:
    boss, stud = setup.boss, setup.stud
    if room < -_SLACK:
        raise _misfit(
            origin,
            ("boss", "corner_radius"),
            f"larger than the radius of a hole of {_mm(boss.drill_diameter)}",
            f"at most {_mm(boss.drill_diameter / 2)}, a ball end",
        )
    widest = room + 2 * boss.corner_radius * math.sin(math.radians(STEEPEST))
    if stud.tip_diameter > widest + _SLACK:
        raise _misfit(
            origin,
            ("stud", "tip_diameter"),
            f"meets the radius of the end where it is steeper than {STEEPEST:g} deg, next to the wall",
            f"at most {_mm(widest)} with this corner_radius",
        )
