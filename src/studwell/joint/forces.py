"""The four forces of a state, each summed on its own, and how well they balance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.laws import UnilateralContact
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import JointState, shank_tension

Array = np.ndarray

LEAST_FORCE = 10.0
"""N, below which a joint counts as loose and errors are taken relative to this: rounding leaves about 1e-8 N."""


@dataclass(frozen=True)
class Forces:
    """Forces over states (t,), N. tension S from the stud's section, clamp C at the lowest face of the stack, tip
    force W and thread load L from their interfaces; nut bearing load, nut thread load and dome force likewise.

    outside : load that cylinder pressure takes off the clamped faces
    balance : (t,) largest of |C - (S - outside)|, |L - (S + W)|, |nut thread - bearing - dome| over the largest force
    complementarity : (t,) largest violation of any interface's law over the largest force
    """

    tension: Array = field(repr=False)
    clamp: Array = field(repr=False)
    tip: Array = field(repr=False)
    thread: Array = field(repr=False)
    bearing: Array = field(repr=False)
    nut_thread: Array = field(repr=False)
    dome: Array = field(repr=False)
    outside: Array = field(repr=False)
    balance: Array = field(repr=False)
    complementarity: Array = field(repr=False)


def forces_of(joint: ReducedJoint, states: Sequence[JointState]) -> Forces:
    """Sum the forces of states, each from its own interface or section.

    returns : Forces, arrays (t,)
    """
    port_forces = np.stack([state.forces for state in states])
    faces = [face.name for face in joint.interfaces if face.name.startswith("face ")]

    def load(name: str) -> Array:
        return joint.axial_load(name, port_forces) if joint.has(name) else np.zeros(len(states))

    tension = np.array([shank_tension(joint, state) for state in states])
    outside = np.array([state.outside_load for state in states])
    clamp, bearing = load(faces[0]), load(faces[-1])
    tip, thread, nut_thread, dome = load("tip"), load("boss thread"), load("nut thread"), load("dome")
    largest = np.maximum(LEAST_FORCE, np.max(np.abs([tension, clamp, tip, thread, bearing, nut_thread, dome]), axis=0))
    errors = [clamp - (tension - outside), thread - (tension + tip), nut_thread - bearing - dome, bearing - tension]
    balance = np.max(np.abs(errors), axis=0) / largest
    laws = np.array([law_violation(joint, state) for state in states])
    return Forces(tension, clamp, tip, thread, bearing, nut_thread, dome, outside, balance, laws / largest)


def law_violation(joint: ReducedJoint, state: JointState) -> float:
    """Return the largest violation (N) of any interface law in a state: tension, penetration, curve missed.

    Contact is judged anew from forces and openings; laws with memory by the residual of their own step.
    """
    worst = 0.0
    for face, law_state in zip(joint.interfaces, state.law_states, strict=True):
        if face.law.linear or face.name in state.absent:
            continue
        if isinstance(face.law, UnilateralContact):
            part = joint.slices[face.name]
            worst = max(worst, face.law.violation(state.forces[part], state.openings[part], law_state))
    return max(worst, state.record.residual)
