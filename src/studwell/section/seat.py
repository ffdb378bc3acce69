"""Which surface a driven stud meets first: floor, cone, or an incomplete thread at either end of the hole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption

SEATS = ("tip on floor", "tip on cone", "thread run-out in the hole", "thread run-out at the mouth", "insert tang")
SOLVED = ("tip on floor", "tip on cone")


@dataclass(frozen=True)
class Seat:
    """The surface that stops a driven stud, and how far its tip still is from the floor then.

    name      : one of SEATS
    clearance : mm between tip and floor (or cone) when the stud is stopped; 0 for a tip seat
    said_by   : "the case" or "the geometry"
    reason    : plain words
    """

    name: str
    clearance: float
    said_by: str
    reason: str


def first_seat(setup: Setup) -> Seat:
    """Return the seat that a driven stud meets first, from the section's geometry unless the case names it.

    The run-outs use the incomplete-thread lengths of the data (tap and stud run-out in pitches).
    Source: geometry; run-out lengths as stated in data/assumptions.toml.
    """
    boss, stud = setup.boss, setup.stud
    tip_seat = "tip on cone" if boss.hole_end == "cone" else "tip on floor"
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
    # mouth: the stud's own thread must reach past the mouth
    at_mouth = (boss.hole_depth - boss.mouth_depth) - (tip_z + stud.boss_thread_length)

    found = Seat(tip_seat, 0.0, "the geometry", "the tip reaches its seat before any incomplete thread binds")
    if max(in_hole, at_mouth) > 1e-9:
        if in_hole >= at_mouth:
            found = Seat(
                SEATS[2],
                in_hole,
                "the geometry",
                f"the stud's full thread meets the hole's incomplete thread {in_hole:.2f} mm before the tip lands",
            )
        else:
            found = Seat(
                SEATS[3],
                at_mouth,
                "the geometry",
                f"the end of the stud's thread meets the mouth {at_mouth:.2f} mm before the tip lands",
            )
    named = setup.seating.seat
    if named != "auto":
        clearance = {SEATS[2]: in_hole, SEATS[3]: at_mouth}.get(named, 0.0)
        return Seat(named, max(0.0, clearance), "the case", "named in the case")
    return found
