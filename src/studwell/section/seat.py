"""Which surface a driven stud meets first: floor, cone, radius, or an incomplete thread at either end of the hole."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.parts.thread import pitch_diameter, root_diameter

IN_HOLE, AT_MOUTH, TANG = "thread run-out in the hole", "thread run-out at the mouth", "insert tang"

TIP_SEATS = ("tip on floor", "tip on cone", "tip on radius")
"""Seats on which the tip itself carries the drive."""

SEATS = (*TIP_SEATS, IN_HOLE, AT_MOUTH, TANG)


@dataclass(frozen=True)
class Wedge:
    """Where an incomplete thread wedges: a taper on which the stud pushes the boss outwards and down.

    half_angle : radian, of the taper: the height of the thread over the length on which it runs out
    radius     : mm, pitch radius, at which the force counts
    contact_z  : mm, where the two threads meet when the stud is stopped
    boss_edges, stud_edges : (z, z) mm between which boss and stud are pressed, a pitch each or the run-out's length
    """

    half_angle: float
    radius: float
    contact_z: float
    boss_edges: tuple[float, float]
    stud_edges: tuple[float, float]


@dataclass(frozen=True)
class Seat:
    """The surface that stops a driven stud, and how far its tip still is from the floor then.

    name      : one of SEATS
    clearance : mm between tip and floor (or cone) when the stud is stopped; 0 for a tip seat
    said_by   : "the case" or "the geometry"
    reason    : plain words
    share     : along the stud's point, 0 at the tip and 1 at the first full thread: where it meets the hole's run-out
    ahead     : mm by which the geometry's seat stops the stud before the next surface would, and that one's name; None where
                the case names the seat, or no other surface can be met
    """

    name: str
    clearance: float
    said_by: str
    reason: str
    share: float = 1.0
    ahead: float | None = None
    next_name: str = ""

    @property
    def by_tip(self) -> bool:
        """True if the tip itself carries the drive."""
        return self.name in TIP_SEATS


def first_seat(setup: Setup) -> Seat:
    """Return the seat that a driven stud meets first, from the section's geometry unless the case names it.

    The run-outs use the incomplete-thread lengths of the data (tap and stud run-out in pitches).
    Source: geometry; run-out lengths as stated in data/assumptions.toml.
    """
    boss, stud = setup.boss, setup.stud
    tip_seat = {"flat": "tip on floor", "cone": "tip on cone"}.get(boss.hole_end, "tip on radius")
    if boss.hole_end == "radiused" and stud.tip_diameter <= boss.drill_diameter - 2 * boss.corner_radius + 1e-9:
        tip_seat = "tip on floor"
    pitch, major = stud.thread.pitch, 0.5 * stud.thread.nominal_diameter
    tip_z = setup.tip_seat_z

    # hole: full thread from thread_bottom up, crest of the incomplete thread shrinking below it
    thread_bottom = boss.hole_depth - boss.thread_depth
    run_out = assumption("tap_run_out_pitches") * pitch
    drill = 0.5 * boss.drill_diameter
    share = np.linspace(0.0, 1.0, 50)
    crest = 0.5 * stud.tip_diameter + (major - 0.5 * stud.tip_diameter) * share
    height = share * stud.tip_length
    fits_above = thread_bottom - (major - crest) / (major - drill) * run_out
    lifts = np.where(crest > drill, fits_above - height - tip_z, -np.inf)
    in_hole = float(np.max(lifts))
    met = float(share[int(np.argmax(lifts))]) if np.isfinite(in_hole) else 1.0
    # mouth: the stud's own thread must reach past the mouth
    at_mouth = (boss.hole_depth - boss.mouth_depth) - (tip_z + stud.boss_thread_length)

    found = Seat(tip_seat, 0.0, "the geometry", "the tip reaches its seat before any incomplete thread binds")
    if max(in_hole, at_mouth) > 1e-9:
        if in_hole >= at_mouth:
            found = Seat(
                IN_HOLE,
                in_hole,
                "the geometry",
                f"the stud's full thread meets the hole's incomplete thread {in_hole:.2f} mm before the tip lands",
                met,
            )
        else:
            found = Seat(
                AT_MOUTH,
                at_mouth,
                "the geometry",
                f"the end of the stud's thread meets the mouth {at_mouth:.2f} mm before the tip lands",
            )
    named = setup.seating.seat
    if named != "auto":
        clearance = {IN_HOLE: in_hole, AT_MOUTH: at_mouth, TANG: _above_tang(setup)}.get(named, 0.0)
        return Seat(named, max(0.0, clearance), "the case", "named in the case", met if named == IN_HOLE else 1.0)
    others = {
        name: at for name, at in ((tip_seat, 0.0), (IN_HOLE, in_hole), (AT_MOUTH, at_mouth)) if name != found.name
    }
    second = max(others, key=lambda name: others[name])
    if np.isfinite(others[second]):
        return replace(found, ahead=found.clearance - others[second], next_name=second)
    return found


def _above_tang(setup: Setup) -> float:
    """How far above its seat the tip is when it meets the lower end of the insert, mm."""
    ends = setup.boss.insert_ends
    return 0.0 if ends is None else ends[0] - setup.tip_seat_z


def wedge_of(setup: Setup, seat: Seat) -> Wedge | None:
    """Return where and how steeply an incomplete thread wedges, None for a seat of another kind or in an insert's coils.

    The taper is that of the crests (in the hole, the tap's chamfer) or of the roots (at the mouth, the stud's run-out).
    Source: geometry; run-out lengths as stated in data/assumptions.toml.
    """
    boss, thread = setup.boss, setup.stud.thread
    if boss.insert is not None:
        return None
    major, pitch = 0.5 * thread.nominal_diameter, thread.pitch
    radius = 0.5 * float(pitch_diameter(thread.nominal_diameter, pitch))
    if seat.name == IN_HOLE:
        height = major - 0.5 * boss.drill_diameter
        length = assumption("tap_run_out_pitches") * pitch
        contact = setup.tip_seat_z + seat.clearance + seat.share * setup.stud.tip_length
        bands = (contact - pitch, contact), (contact, contact + pitch)
    elif seat.name == AT_MOUTH:
        height = major - 0.5 * float(root_diameter(thread.nominal_diameter, pitch))
        length = assumption("stud_run_out_pitches") * pitch
        contact = boss.hole_depth - boss.mouth_depth
        bands = (contact - pitch, contact), (contact, contact + length)
    else:
        return None
    return Wedge(float(np.arctan(height / length)), radius, contact, *bands)
