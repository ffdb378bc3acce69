"""The angle of the drive from half its torque to all of it, with the band that the model's own doubt leaves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.errors import StudwellError
from studwell.review.inputs import Inputs
from studwell.review.sweep import other_models, with_model
from studwell.review.trials import Trials

HALF = 0.5
"""Share of the seating torque from which the angle is read: above the play and the first settling of the faces. Our choice."""


@dataclass(frozen=True)
class AngleBand:
    """turns : predicted, from HALF of a torque to all of it;  shifts: (what, turns less, turns more) that doubt allows."""

    turns: float
    shifts: tuple[tuple[str, float, float], ...]

    @property
    def low(self) -> float:
        """Turns below which the model is refuted: every shift at its worst, together; 0: none is small enough."""
        return max(0.0, self.turns - sum(less for _, less, _ in self.shifts))

    @property
    def high(self) -> float:
        """Turns above which the model is refuted: every shift at its worst, together."""
        return self.turns + sum(more for _, _, more in self.shifts)


def drive_angle(trials: Trials, setup: Setup, torque: float) -> float:
    """Return the turns of a dry stud, read where it enters the boss, from HALF of a torque (N mm) to all of it."""
    return trials.drive(setup, torque).turns - trials.drive(setup, HALF * torque).turns


def angle_band(trials: Trials, setup: Setup, torque: float, inputs: Inputs) -> AngleBand:
    """Return the angle with its band. Models and frictions that have no solution are left out; raises as Trials.drive."""
    turns, pitch = drive_angle(trials, setup, torque), setup.stud.thread.pitch

    def shift(name: str, others: Sequence[Setup]) -> tuple[str, float, float]:
        found = [turns]
        for other in others:
            try:
                found.append(drive_angle(trials, other, torque))
            except (StudwellError, ValueError):
                continue
        return name, turns - min(found), max(found) - turns

    scatter, seating = inputs["friction_scatter"].value, setup.seating
    rubbed = [
        replace(
            setup,
            seating=replace(
                seating,
                thread_friction=max(seating.thread_friction + by, 0.0),
                tip_friction=max(seating.tip_friction + by, 0.0),
            ),
        )
        for by in (-scatter, scatter)
    ]
    share = assumption("review_modulus_scatter") + inputs["pitch_scatter"].value
    faces, reading = assumption("review_face_settling") / pitch, assumption("review_angle_reading")
    return AngleBand(
        turns,
        (
            shift("thread model", [with_model(setup, model) for model in other_models(setup)]),
            shift("friction", rubbed),
            ("modulus and pitch", share * turns, share * turns),
            ("settling of rough faces", 0.0, faces),
            ("reading", reading, reading),
        ),
    )
