"""What would change our mind: measurements at the bench, each with the number predicted and the number that refutes."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.review.codes import MATTERS
from studwell.review.inputs import Inputs
from studwell.review.need import Need
from studwell.review.trials import Drive, Trial

FLOOR_MODES = ("floor punch", "floor split", "floor corner")


@dataclass(frozen=True)
class Measurement:
    """One measurement: predicted and refuting numbers in `unit` (kind of units: "force", "length", ..., "" for plain).

    refuted_by : "below", "above" the refuting number;  refuting None: no such number, for the reason in `note`
    """

    name: str
    how: str
    quantity: str
    kind: str
    predicted: float | None
    refuting: float | None
    refuted_by: str
    note: str


def measurements(
    inputs: Inputs, drive: Drive, driven: Trial, back: Trial, need: Need | None
) -> tuple[Measurement, ...]:
    """Return the measurements, all numbers from the trials.

    Margins scale with the wedge force: the wedge at which driven and turned back differ by less than MATTERS is the one that
    refutes a verdict by margins.
    """
    gain = (driven.worst or 0.0) - (back.worst or 0.0)
    share = MATTERS / gain if gain > MATTERS else None
    found = [
        Measurement(
            "torque balance",
            "drive a stud in a bored-through boss onto a load cell with the seating torque",
            "wedge force",
            "force",
            drive.wedge,
            None if share is None else share * drive.wedge,
            "below",
            "the wedge is then too small to matter"
            if share is not None
            else "the margins differ too little as it is: a larger wedge would have to be found",
        ),
        Measurement(
            "angle to torque",
            "mark the stud at first contact, drive it to the seating torque, read the angle",
            "angle",
            "angle",
            360.0 * drive.turns,
            360.0 * inputs["rule"].value,
            "above",
            "the rule's turn would then not even relieve the wedge",
        ),
        Measurement(
            "witness marks",
            "marking paint under the tip, the stud turned back by the rule, one whole history",
            "gap left under the tip at the least",
            "length",
            back.gap_min,
            0.0,
            "at or below",
            "a mark means that it touched",
        ),
    ]
    cold = _cold_worst(driven)
    found.append(
        Measurement(
            "drive to fracture",
            "drive studs into scrap castings of the same floor until floor or thread gives",
            "torque at which the boss's largest margin is 1, elastic, cold",
            "torque",
            drive.torque / cold if cold > 0.0 else None,
            drive.torque,
            "below",
            "castings that give at or below the seating torque make the rule needed outright",
        )
    )
    gaps = driven_closing(back)
    found.append(
        Measurement(
            "hot elongation",
            "probe through a hole drilled in the floor: how far the tip of a turned back stud comes down over the history",
            "largest fall of the tip against the floor",
            "length",
            gaps,
            back.lift,
            "above",
            "the rule's gap would then close by heat"
            + (f"; its need by this model is {need.heat:.4f} mm" if need else ""),
        )
    )
    return tuple(found)


def driven_closing(back: Trial) -> float:
    """Return how far (mm) the tip of a free stud comes towards its floor, at most, from where it was fitted; 0 if not."""
    return max(0.0, back.lift - back.gap_min)


def _cold_worst(driven: Trial) -> float:
    """Largest margin of the driven stud when seated, nothing tightened, in proportion to the loads of the worst moments.

    The worst moments may be hot, where the metal stands less: a torque found from this is on the careful side.
    """
    forces = driven.timeline.forces
    seat = forces.tip + forces.seat
    found = []
    for mode, loads in (("boss thread strip", forces.thread), *((name, seat) for name in FLOOR_MODES)):
        margin, largest = driven.margins[mode], float(loads.max())
        if margin is not None and largest > 0.0:
            found.append(margin * float(loads[0]) / largest)
    return max(found, default=float("nan"))
