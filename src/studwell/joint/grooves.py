"""Thread teeth as ports: the columns of carrying and back flanks, and the interface between a stud and its partner."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studwell.joint.body import BodyResponse
from studwell.joint.condense import FaceColumns
from studwell.joint.flank_law import ThreadFlanks
from studwell.joint.laws import FrictionalContact, Law, UnilateralContact
from studwell.joint.reduced import Interface, ReducedJoint
from studwell.joint.state import JointState
from studwell.section.groove import Teeth

Array = np.ndarray

COSINE, SINE = float(np.cos(np.radians(30.0))), 0.5
"""Of the flank angle of the ISO 68-1 and Unified profiles."""


def flank_columns(teeth: Teeth, boundary: str, external: bool, prefix: str | None = None) -> dict[str, FaceColumns]:
    """Return the unit loads on the flanks of one body's teeth: groups `prefix` + " normal", " shear", " back".

    boundary : of the carrying flanks in the body's mesh; external: True for the stud's own teeth
    The shear of the carrying flanks runs from the root of the external teeth to their crest.
    """
    prefix = prefix or boundary
    along = (COSINE, -teeth.loaded * SINE)
    columns = {
        f"{prefix} normal": FaceColumns(boundary, "normal", -1.0),
        f"{prefix} shear": FaceColumns(boundary, along, -1.0 if external else 1.0),
    }
    if teeth.count > 1:
        columns[f"{prefix} back"] = FaceColumns(f"{boundary} back", "normal", -1.0, by_line=True)
    return columns


def flank_interface(
    name: str,
    teeth: Teeth,
    outer: tuple[BodyResponse, str],
    inner: tuple[BodyResponse, str],
    friction: float,
) -> Interface:
    """Return the flanks between two bodies as an interface; its axial load is what pulls the external thread out.

    outer, inner : (body, prefix of its column groups) of the internal and the external thread
    friction     : Coulomb friction of the carrying flanks in the section's plane; 0: no tangential ports
    A screw's travel changes the gap along the axis only: turning does not slide the flanks across the section.
    raises ValueError : edges that should meet and do not
    """
    carrying, backs = _count(inner, "normal"), 0
    _matching(name, outer, inner, "normal")
    if teeth.count > 1:
        _matching(name, outer, inner, "back")
        backs = teeth.count - 1
    shears = carrying if friction > 0.0 else 0
    ports = carrying + shears + backs
    weights: dict[str, Array] = {}
    for body, prefix in (outer, inner):
        matrix = np.zeros((body.n_columns, ports))
        matrix[body.columns[f"{prefix} normal"], :carrying] = np.eye(carrying)
        if shears:
            matrix[body.columns[f"{prefix} shear"], carrying : carrying + shears] = np.eye(carrying)
        if backs:
            matrix[body.columns[f"{prefix} back"], carrying + shears :] = np.eye(backs)
        weights[body.name] = matrix
    gap = np.concatenate([np.zeros(carrying + shears), np.full(backs, 0.5 * teeth.clearance)])
    axial = np.concatenate([np.full(carrying, COSINE), np.full(shears, -SINE), np.full(backs, -COSINE)])
    travel = np.concatenate([np.full(carrying, -COSINE), np.zeros(shears), np.full(backs, COSINE)])
    law: Law = ThreadFlanks(FrictionalContact(friction), carrying) if shears else UnilateralContact()
    heights = inner[0].midpoints[f"{inner[1]} normal"][:, 1]
    back_heights = inner[0].midpoints[f"{inner[1]} back"][:, 1] if backs else np.empty(0)
    at = np.concatenate([heights, heights[:shears], back_heights])
    return Interface(name, law, weights, gap, axial, travel=travel, heights=at)


def thread_shares(joint: ReducedJoint, name: str, teeth: Teeth, forces: Array) -> Array:
    """Return the axial load (..., threads) N of each whole thread, the most loaded end first, from (..., n) N.

    teeth : of the interface `name`
    """
    face, part = joint.interface(name), joint.slices[name]
    assert face.heights is not None
    number = np.clip(np.round(teeth.offset(face.heights)), 0, teeth.count - 1).astype(int)
    each = forces[..., part] * face.axial
    spread = np.zeros((face.count, teeth.count))
    spread[np.arange(face.count), teeth.count - 1 - number] = 1.0
    return each @ spread


def turned(joint: ReducedJoint, state: JointState, name: str) -> JointState:
    """Return a state whose thread of this name is being turned, so that its flanks slide across the section."""
    index = next(i for i, face in enumerate(joint.interfaces) if face.name == name)
    law = joint.interfaces[index].law
    if not isinstance(law, ThreadFlanks):
        return state
    laws = list(state.law_states)
    laws[index] = law.turning(laws[index])
    return replace(state, law_states=tuple(laws))


def _count(side: tuple[BodyResponse, str], group: str) -> int:
    part = side[0].columns[f"{side[1]} {group}"]
    return part.stop - part.start


def _matching(name: str, outer: tuple[BodyResponse, str], inner: tuple[BodyResponse, str], group: str) -> None:
    first, second = (body.midpoints[f"{prefix} {group}"] for body, prefix in (outer, inner))
    if first.shape != second.shape or np.max(np.abs(first - second)) > 1e-6:
        raise ValueError(f"{name}: the flanks of {outer[0].name} and {inner[0].name} do not match")
