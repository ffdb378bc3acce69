"""Records of the workshop: threadlocker in the boss thread, tolerances of drilling and of lengths."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.parts.threadlocker import ThreadlockerGrade


@dataclass(frozen=True)
class Threadlocker:
    """Threadlocker in the boss thread. fill: share of the engaged surface that it bonds, 0 where it is not cured."""

    grade: ThreadlockerGrade
    cured: bool
    fill: float


@dataclass(frozen=True)
class Repair:
    """What a repair plan needs beyond the section; None where the user states nothing. Lengths in mm.

    drill_depth_tolerance : by which a hole may end deeper than meant
    tap                   : "bottoming" or "plug"
    stud_length_tolerance : by which the stud may be longer or shorter
    stack_tolerance       : by which stack and washers together may be higher or lower
    least_floor           : what must remain under the hole's lowest point
    """

    drill_depth_tolerance: float | None
    tap: str | None
    stud_length_tolerance: float | None
    stack_tolerance: float | None
    least_floor: float | None
