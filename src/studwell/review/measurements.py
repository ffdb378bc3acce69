"""What would change our mind: measurements at the bench, each with the number predicted and the number that refutes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from studwell.review.angle import HALF, AngleBand
from studwell.review.codes import MATTERS, NEEDED, SAME, SPARES, WORTH
from studwell.review.inputs import Inputs
from studwell.review.need import Need
from studwell.review.trials import Drive, Trial

FLOOR_MODES = ("floor punch", "floor split", "floor corner")


@dataclass(frozen=True)
class Measurement:
    """One measurement: predicted and refuting numbers in `unit` (kind of units: "force", "length", ..., "" for plain).

    refuted_by   : "below", "above" the refuting number;  refuting None: no such number, for the reason in `note`
    refuting_low : a second one, below which it is refuted as well; None where there is none
    """

    name: str
    how: str
    quantity: str
    kind: str
    predicted: float | None
    refuting: float | None
    refuted_by: str
    note: str
    refuting_low: float | None = None


def measurements(
    code: str,
    inputs: Inputs,
    drive: Drive,
    driven: Trial,
    back: Trial,
    need: Need | None,
    angle: AngleBand | None = None,
) -> tuple[Measurement, ...]:
    """Return the measurements, all numbers from the trials.

    code : the verdict's word, which the refuting numbers change;  angle: None where it was not solved, which leaves it out
    """
    closing = driven_closing(back)
    touches = back.gap_min <= 0.0
    return (
        _torque_balance(code, drive, driven, back),
        *([] if angle is None else [_angle(angle, inputs, drive)]),
        Measurement(
            "witness marks",
            "marking paint under the tip, the stud turned back by the rule, one whole history",
            "gap left under the tip at the least",
            "length",
            back.gap_min,
            None if touches else 0.0,
            "at or below",
            "the tip is predicted to touch" if touches else "a mark means that it touched",
        ),
        Measurement(
            "mark across stud and boss",
            "a line of paint over stud and boss, the turned back stud's nut tightened without holding the stud",
            "share of what holds the stud that is asked of it",
            "",
            back.hold,
            None if back.hold is None or back.hold >= 1.0 else 1.0,
            "at or above",
            "the line is predicted to break: the stud follows"
            if back.hold is not None and back.hold >= 1.0
            else "a broken line means that the stud followed: the back-off is lost, and friction is not what the case says",
        ),
        _pull_out(code, driven, back),
        _drive_to_fracture(code, drive, driven),
        Measurement(
            "hot elongation",
            "probe through a hole drilled in the floor: how far the tip of a turned back stud comes down over the history",
            "largest fall of the tip against the floor",
            "length",
            closing,
            back.lift,
            "above",
            "the rule's gap would then close by heat"
            + ("" if need is None or need.heat > 0.0 else "; none is predicted"),
        ),
    )


def _angle(angle: AngleBand, inputs: Inputs, drive: Drive) -> Measurement:
    parts = ", ".join(f"{name} -{360 * less:.2g} +{360 * more:.2g}" for name, less, more in angle.shifts)
    return Measurement(
        "angle to torque",
        f"drive the stud to {HALF:g} of the seating torque, mark it where it enters the boss, drive on to all of it, read the "
        "angle: play, first settling and the feel of contact stay out",
        "angle",
        "angle",
        360.0 * angle.turns,
        360.0 * angle.high,
        "above",
        f"tests the stiffness of wedge and thread, not the word: outside of this band the wedge is as wrong as the angle (deg: "
        f"{parts}, all at their worst). It finds a joint {angle.high / angle.turns:.2g} times as soft as this model's"
        + (f", or {angle.turns / angle.low:.2g} times as stiff" if angle.low > 0.0 else "")
        + f", no less, and says nothing of strengths. From first contact it is {360 * drive.turns:.3g} deg; "
        f"the rule fails to relieve the wedge only from {360 * inputs['rule'].value:.3g} deg there",
        360.0 * angle.low if angle.low > 0.0 else None,
    )


def _word_limits(code: str, back: float) -> tuple[float, ...]:
    """Margins of the driven stud at which a word gives way to another, the turned back one's staying as it is."""
    return {NEEDED: (1.0,), WORTH: (1.0, back + MATTERS), SAME: (back + MATTERS,), SPARES: (back + MATTERS,)}.get(
        code, ()
    )


def _nearest(shares: Sequence[float]) -> float | None:
    """The share above 0 that is nearest to 1, by ratio."""
    return min((each for each in shares if each > 0.0), key=lambda each: abs(math.log(each)), default=None)


def _torque_balance(code: str, drive: Drive, driven: Trial, back: Trial) -> Measurement:
    """The wedge at which the word changes: the driven stud's margin in proportion to it, beyond what is there without."""
    gain, rest = (driven.worst or 0.0) - (back.worst or 0.0), back.worst or 0.0
    shares = [] if gain <= 0.0 else [(limit - rest) / gain for limit in _word_limits(code, rest)]
    pressed = [value for mode, value in driven.beside.items() if value and mode not in back.failing]
    gone = [value for value in pressed if value >= 1.0]
    if code == SPARES and gone:  # what is crushed or yields decides there, in proportion to the wedge too
        shares.append(1.0 / max(gone))
    elif code == SAME and pressed and not gone:
        shares.append(1.0 / max(pressed))
    share = _nearest(shares)
    return Measurement(
        "torque balance",
        "drive a stud in a bored-through boss onto a load cell with the seating torque",
        "wedge force",
        "force",
        drive.wedge,
        None if share is None else share * drive.wedge,
        "below" if share is None or share < 1.0 else "above",
        "no wedge changes this word, margins in proportion to it"
        if share is None
        else "another word follows from there on, margins in proportion to the wedge",
    )


def _pull_out(code: str, driven: Trial, back: Trial) -> Measurement:
    """The strip load at which the word changes, where the thread governs both ways."""
    name = "boss thread strip"
    predicted = driven.strip_capacity
    refuting, word, note = None, "below", "the thread does not govern both ways: this test cannot refute the word"
    if predicted is not None and driven.governing == back.governing == name:
        before, after = driven.margins[name] or 0.0, back.margins[name] or 0.0
        shares = {NEEDED: [before], WORTH: [before, (before - after) / MATTERS], SAME: [(before - after) / MATTERS]}
        shares[SPARES] = shares[SAME]
        share = _nearest(shares.get(code, []))
        if share is not None:
            refuting, word = share * predicted, "below" if share < 1.0 else "above"
            note = "another word follows from there on: margins are loads over this"
    return Measurement(
        "pull-out",
        "pull a stud of this engagement straight out of a scrap casting as hot as at the worst moment",
        "force that strips the thread",
        "force",
        predicted,
        refuting,
        word,
        note,
    )


def _drive_to_fracture(code: str, drive: Drive, driven: Trial) -> Measurement:
    cold = _cold_worst(driven)
    predicted = drive.torque / cold if cold > 0.0 else None
    refuting: float | None = drive.torque
    word, note = "below", "castings that give at or below the seating torque make the rule needed outright"
    if code == NEEDED:
        word, note = "above", "castings that stand the seating torque do not fail by driving alone"
        if predicted is None or predicted > drive.torque:
            refuting, note = None, "driving alone is not predicted to break it: this test cannot refute the word"
    return Measurement(
        "drive to fracture",
        "drive studs into scrap castings of the same floor until floor or thread gives",
        "torque at which the boss's largest margin is 1, elastic, cold",
        "torque",
        predicted,
        refuting,
        word,
        note,
    )


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
