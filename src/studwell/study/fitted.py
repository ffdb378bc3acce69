"""How a stud stands as it is fitted: the gap under its tip, what that is made of, where its end stands over the nut."""

from __future__ import annotations

import math
from dataclasses import dataclass

from studwell.case.records import Setup
from studwell.strength.outcomes import tip_gaps
from studwell.study.results import SetupResult
from studwell.units import number_text

CLOSED = 1e-4
"""mm below which a gap is closed: noise of the arithmetic and of the seat's own give."""

LEAST_PROTRUSION, MOST_PROTRUSION = 1.0, 3.0
"""Pitches that a stud stands out of an open nut. Common practice, no source."""

SAME = 1e-6
"""Pitches by which a limit may be missed without being missed."""


@dataclass(frozen=True)
class Fitted:
    """A stud as it is seated, nothing over it yet, lengths in mm, z as in the section.

    held  : by which its seat stops it before the tip lands; 0 where the tip is the seat
    gap   : under the tip, of the solved state
    tip_z, top_z : of its ends, by the laid-out seat and that gap
    nut_face_z   : of the face that the nut meets, washers free
    engaged_low, engaged_high : of the engaged thread's ends, less what the turns lift; a drive's approach left out
    """

    held: float
    gap: float
    tip_z: float
    top_z: float
    nut_face_z: float
    engaged_low: float
    engaged_high: float

    @property
    def engaged(self) -> float:
        """Length of the engaged thread."""
        return self.engaged_high - self.engaged_low

    @property
    def lift(self) -> float:
        """By how much the tip is further from the floor than its seat holds it; below 0 a drive pressed the stud in."""
        return self.gap - self.held

    @property
    def protrusion(self) -> float:
        """How far the stud's end stands above the face that the nut meets."""
        return self.top_z - self.nut_face_z


def fitted(result: SetupResult) -> Fitted:
    """Return how a solved setup's stud stands once it is seated.

    Source: geometry of the section; the gap of the solved seated state, so that it is the one that margins and outcomes
    start from.
    """
    setup, layout = result.setup, result.built.layout
    gap = float(tip_gaps(result.built, result.timeline)[0])
    gap = gap if gap > CLOSED else 0.0
    tip = layout.tip_z - layout.tip_lift + gap
    low, high = _engaged(setup, layout.tip_lift)
    return Fitted(layout.tip_lift, gap, tip, tip + setup.stud.length, setup.nut_face_z, low, high)


def _engaged(setup: Setup, held: float) -> tuple[float, float]:
    """z of both ends of the engaged thread, as `Setup.engaged_thread` has them, a seat that is not the tip counted in."""
    boss, stud = setup.boss, setup.stud
    first = setup.tip_seat_z + stud.tip_length + held
    bottom, top = boss.insert_ends or (-math.inf, boss.hole_depth - boss.open_depth if held else math.inf)
    high = min(first + stud.engaged_length, top)
    return min(max(first + setup.tip_gap, bottom), high), high


def out_of_nut(pitches: float) -> tuple[str, str]:
    """Return how far a stud stands out of an open nut in words, and how that compares with what is usual.

    Judged as it is; it is told to as many digits, two at least, as show on which side of a limit it lies.
    """
    low, high = LEAST_PROTRUSION, MOST_PROTRUSION
    if pitches < low - SAME:
        judged = f"fewer than the {low:g} to {high:g}"
    elif pitches > high + SAME:
        judged = f"more than the {low:g} to {high:g}"
    else:
        judged = f"within the {low:g} to {high:g}"
    shown = next(
        text
        for digits in (2, 3, 4, 5, 6, 7)
        if digits == 7 or _side(float(text := number_text(pitches, digits))) == _side(pitches)
    )
    return f"{shown} pitch" if shown == "1" else f"{shown} pitches", judged


def _side(pitches: float) -> int:
    return int(pitches > LEAST_PROTRUSION - SAME) + int(pitches > MOST_PROTRUSION + SAME)
