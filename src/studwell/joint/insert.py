"""Both threads of a wire insert: the stud in it, and it in its hole.

An insert is coils of wire side by side that hardly pass axial load to each other. Its body is therefore a ring that is as
stiff as its wire round the axis and across, and loose along it. What one coil gives way between stud and hole, by its own
section, is known from finite elements of it and stands in the two threads, half in each.

A coil's flanks push each other where the line of the force runs through the wire, so that the coil does not roll. Ports
therefore load inner and outer face alike along the axis, and each its own face across.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.joint.body import BodyResponse
from studwell.joint.grooves import flank_interface
from studwell.joint.laws import LinearCompliance
from studwell.joint.reduced import Interface
from studwell.parts.insert import coil_stiffness, insert_hole
from studwell.parts.layer import EXTERNAL_DEPTH, INTERNAL_DEPTH, one_side_stiffness
from studwell.parts.thread import FLANK_ANGLE
from studwell.section.insert import InsertShape

Array = np.ndarray


def stud_in_insert(setup: Setup, shape: InsertShape, bodies: Mapping[str, BodyResponse]) -> Interface:
    """Return the interface "boss thread" of a stud that engages an insert.

    raises ValueError : edges that should meet and do not
    """
    stud, insert = bodies["stud"], bodies["insert"]
    if shape.coils is not None:
        friction = setup.seating.thread_friction
        return flank_interface("boss thread", shape.coils.inside, (insert, "inside"), (stud, "thread"), friction)
    thread, material = setup.stud.thread, setup.stud.material
    modulus = float(material.youngs_modulus.at(20.0))
    sizes = thread.nominal_diameter, thread.pitch
    teeth = float(one_side_stiffness(*sizes, float(EXTERNAL_DEPTH), modulus, material.poisson))
    first = int(np.argmin(np.abs(shape.lines - shape.engaged[0])))
    part = slice(first, first + len(shape.engaged) - 1)
    return _thread("boss thread", setup, stud, ("inside", part, 1.0), insert, teeth)


def insert_in_boss(setup: Setup, shape: InsertShape, bodies: Mapping[str, BodyResponse]) -> Interface:
    """Return the interface "insert thread" of an insert in its hole, over its whole length.

    raises ValueError : edges that should meet and do not
    """
    thread, material = setup.stud.thread, setup.boss.material
    if shape.coils is not None:
        sides = (bodies["boss"], "thread"), (bodies["insert"], "outside")
        return flank_interface("insert thread", shape.coils.outside, *sides, setup.seating.thread_friction)
    modulus = float(material.youngs_modulus.at(20.0))
    major = float(insert_hole(thread.nominal_diameter, thread.pitch).major_diameter)
    teeth = float(one_side_stiffness(major, thread.pitch, float(INTERNAL_DEPTH), modulus, material.poisson))
    part = slice(0, len(shape.lines) - 1)
    return _thread("insert thread", setup, bodies["boss"], ("outside", part, -1.0), bodies["insert"], teeth)


def _thread(
    name: str, setup: Setup, other: BodyResponse, face: tuple[str, slice, float], insert: BodyResponse, teeth: float
) -> Interface:
    """The insert's thread against stud or boss.

    face  : "inside" or "outside", its edges there, and the side of a pushing port on which the insert is: 1 up, -1 down
    teeth : stiffness of the other side's teeth alone, MPa; only with the layer model
    """
    side, part, sign = face
    middles = insert.midpoints[f"{side} axial"][part]
    theirs = other.midpoints["thread axial"]
    if len(middles) != len(theirs) or np.max(np.abs(middles[:, 1] - theirs[:, 1])) > 1e-6:
        raise ValueError(f"{name}: the edges of {other.name} and insert do not match")
    n = len(middles)
    model, material = setup.stud.thread_model, setup.boss.insert.material  # type: ignore[union-attr]
    lengths = insert.areas[f"{side} axial"][part] / (2.0 * np.pi * middles[:, 0])
    sizes = setup.stud.thread.nominal_diameter, setup.stud.thread.pitch
    modulus = float(material.youngs_modulus.at(20.0))
    coil = float(coil_stiffness(*sizes, modulus, assumption("insert_coil_compliance")))
    axial = np.zeros((insert.n_columns, n))
    across = np.zeros((insert.n_columns, n))
    edges = np.arange(n)
    for each in ("inside", "outside"):
        axial[insert.columns[f"{each} axial"]][part][edges, edges] = 0.5 * sign
    across[insert.columns[f"{side} radial"]][part][edges, edges] = sign
    their_axial, their_across = np.zeros((2, other.n_columns, n))
    their_axial[other.columns["thread axial"]] = np.eye(n)
    their_across[other.columns["thread radial"]] = np.eye(n)
    heights = middles[:, 1]
    if model == "bonded":
        weights = {insert.name: np.hstack([axial, across]), other.name: np.hstack([their_axial, their_across])}
        compliance = np.concatenate([0.5 / (coil * lengths), np.zeros(n)])
        carried = np.concatenate([np.ones(n), np.zeros(n)])
        law = LinearCompliance(compliance)
        return Interface(name, law, weights, np.zeros(2 * n), carried, heights=np.concatenate([heights, heights]))
    slope = np.tan(FLANK_ANGLE)
    weights = {insert.name: axial + slope * across, other.name: their_axial + slope * their_across}
    law = LinearCompliance((1.0 / teeth + 0.5 / coil) / lengths)
    return Interface(name, law, weights, np.zeros(n), np.ones(n), heights=heights)
