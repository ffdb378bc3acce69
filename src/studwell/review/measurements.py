"""What would change our mind: measurements at the bench, each with the number predicted and the number that refutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.case.records import Setup
from studwell.review.codes import MATTERS
from studwell.review.inputs import Inputs
from studwell.review.need import Need
from studwell.review.trials import Drive, Trial


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
    setup: Setup, inputs: Inputs, drive: Drive, driven: Trial, back: Trial, need: Need | None
) -> tuple[Measurement, ...]:
    """Return the measurements, all numbers from the trials.

    Margins scale with the wedge force: the wedge at which driven and turned back differ by less than MATTERS is the one that
    refutes a verdict by margins.
    """
    pitch = setup.stud.thread.pitch
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
            "below",
            "a mark means that it touched",
        ),
    ]
    worst = driven.worst
    found.append(
        Measurement(
            "drive to fracture",
            "drive studs into scrap castings of the same floor until floor or thread gives",
            "torque at which the boss's largest margin is 1, elastic, cold",
            "torque",
            None if not worst else drive.torque / _cold_worst(driven),
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
    _ = pitch
    return tuple(found)


def driven_closing(back: Trial) -> float:
    """Return how far (mm) the tip of a free stud comes towards its floor, at most, from where it was fitted; 0 if not."""
    return max(0.0, back.lift - back.gap_min)


def _cold_worst(driven: Trial) -> float:
    """Largest margin of the driven stud when seated, nothing tightened: in proportion to the torque."""
    seated = float(driven.timeline.forces.tip[0] + driven.timeline.forces.seat[0])
    everything = np.maximum(driven.timeline.forces.tip + driven.timeline.forces.seat, 1e-9)
    floor = [driven.margins[mode] for mode in ("floor punch", "floor split", "floor corner")]
    known = [value for value in floor if value is not None]
    if not known:
        return float("nan")
    return max(known) * seated / float(everything.max())
