"""Samples solved side by side, handed to the path of a single setup state by state: it judges them as it judges its own."""

from __future__ import annotations

from typing import Any

import numpy as np

from studwell.case.records import Setup
from studwell.joint.build import BuiltJoint
from studwell.joint.laws import CurveLaw, HistoryCurveLaw
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, JointState, SolveRecord
from studwell.odds.batch import TOLERANCE
from studwell.odds.lives import ManyLives
from studwell.odds.many import ManyStates
from studwell.odds.scalar import solved_alone

Array = np.ndarray


def one_of(joint: ReducedJoint, states: ManyStates, sample: int, heat: Heat, outside: float) -> JointState:
    """Return one sample's state with all interfaces there, as the path of a single setup keeps it; outside N."""
    laws: list[Any] = []
    for face, memory in zip(joint.interfaces, states.memory, strict=True):
        if isinstance(face.law, CurveLaw):
            laws.append(tuple(each[:, sample] for each in memory or ()))
        else:
            laws.append(memory[:, sample] if isinstance(face.law, HistoryCurveLaw) and memory is not None else None)  # type: ignore[call-overload]
    forces = states.forces[:, sample]
    return JointState(
        forces=forces,
        openings=states.openings[:, sample],
        shifts=states.shifts[:, sample],
        travels={name: float(each[sample]) for name, each in states.travels.items()},
        stretch=float(states.stretch[sample]),
        law_states=tuple(laws),
        heat=heat,
        outside_load=outside,
        shear=float(states.shear[sample]),
        absent=frozenset(),
        record=SolveRecord(0, TOLERANCE * max(1.0, float(np.abs(forces).max())), ()),
    )


class Served:
    """A solver for `live_through` that solves seating and tightening itself and takes the run from samples already solved.

    locks : whether the nut is locked by a state of its own, after it is turned and before the run
    """

    def __init__(self, joint: ReducedJoint, lived: ManyLives, sample: int, locks: bool) -> None:
        self.joint, self.lived, self.sample = joint, lived, sample
        self.to_solve = 1 if locks else 0
        self.turned = False
        self.step = -1

    def __call__(self, joint: ReducedJoint, before: JointState, heat: Heat, **given: Any) -> JointState:
        """Return the state that follows, as `joint.solve.solve_state`."""
        control = given.get("control")
        if control is not None or not self.turned:
            self.turned = control is not None and control.travel == "nut"
            return solve_state(joint, before, heat, **given)
        if self.to_solve:
            self.to_solve -= 1
            return solve_state(joint, before, heat, **given)
        outside = given.get("outside_load")
        if outside is not None:
            return one_of(self.joint, self.lived.pressed[self.step], self.sample, heat, outside)
        self.step += 1
        return one_of(self.joint, self.lived.run[self.step], self.sample, heat, 0.0)


def served_alone(built: BuiltJoint, setup: Setup, lived: ManyLives, sample: int) -> dict[str, float]:
    """Return outcomes and margins by name of one sample of those that lived, judged as a single setup is."""
    locks = setup.tightening.locked_torsion_share * float(lived.torques.shear[sample]) != 0.0
    return solved_alone(built, setup, solver=Served(built.joint, lived, sample, locks))
