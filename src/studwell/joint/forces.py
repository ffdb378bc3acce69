"""The four forces of a state, each summed on its own, and how well they balance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.fluid_law import POCKET, PocketLaw
from studwell.joint.laws import UnilateralContact
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import JointState, shank_tension

Array = np.ndarray

LEAST_FORCE = 10.0
"""N, below which a joint counts as loose and errors are taken relative to this: rounding leaves about 1e-8 N."""

CLOSED = 1e-6
"""N, force above which a pair of the tip counts as closed: far above rounding, far below anything that matters."""


@dataclass(frozen=True)
class Forces:
    """Forces over states (t,), N. tension S from the stud's section, clamp C at the lowest face of the stack, tip
    force W and thread load L from their interfaces; nut bearing load, nut thread load and dome force likewise.

    outside : load that cylinder pressure takes off the clamped faces
    seat    : axial force of a seat of the driven stud that is not its tip;  insert : through an insert's outer thread
    pocket  : axial force of a liquid under the tip on the stud, its pressure times what closed pairs of the tip leave of
              the sealed area; where they are closed the same pressure counts to W
    balance : (t,) largest of |C - (S - outside)|, |L - (S + W + seat + pocket)|, |nut thread - bearing - dome| and
              |insert - L| (with a seat on its tang |insert - (L - seat)|) over the largest force
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
    seat: Array = field(repr=False)
    pocket: Array = field(repr=False)
    insert: Array = field(repr=False)
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
    seat, insert = load("seat"), load("insert thread")
    trapped = _under_closed_pairs(joint, port_forces)
    tip, pocket = tip + trapped, load(POCKET) - trapped
    every = [tension, clamp, tip, thread, bearing, nut_thread, dome, seat, pocket]
    largest = np.maximum(LEAST_FORCE, np.max(np.abs(every), axis=0))
    pushed = tension + tip + seat + pocket
    errors = [clamp - (tension - outside), thread - pushed, nut_thread - bearing - dome, bearing - tension]
    if joint.has("insert thread"):
        on_tang = joint.has("seat") and "insert" in joint.interface("seat").weights
        errors.append(insert - (thread - seat if on_tang else thread))
    balance = np.max(np.abs(errors), axis=0) / largest
    laws = np.array([law_violation(joint, state) for state in states])
    return Forces(
        tension,
        clamp,
        tip,
        thread,
        bearing,
        nut_thread,
        dome,
        outside,
        seat,
        pocket,
        insert,
        balance,
        laws / largest,
    )


def _under_closed_pairs(joint: ReducedJoint, port_forces: Array) -> Array:
    """Return the axial force (t,) N that a liquid's pressure would make on those pairs of the tip that are closed.

    The pressure acts on all of the tip in this model, and a pair's own force is what it carries beyond that.
    """
    if not joint.has(POCKET) or not joint.has("tip"):
        return np.zeros(len(port_forces))
    law = joint.interface(POCKET).law
    assert isinstance(law, PocketLaw)
    pressure = port_forces[:, joint.slices[POCKET]][:, 0] / law.area
    areas = joint.bodies[joint.body_index("stud")].areas["tip"]
    share = areas * joint.interface("tip").axial[: len(areas)]
    contact = port_forces[:, joint.slices["tip"]][:, : len(areas)]
    return pressure * ((contact > CLOSED) @ share)


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
