"""Seats of a driven stud other than its tip: an incomplete thread that wedges, or the tang of an insert."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from studwell.case.records import Setup
from studwell.errors import Unknown
from studwell.joint.body import BodyResponse
from studwell.joint.condense import FaceColumns
from studwell.joint.laws import FrictionalContact, UnilateralContact
from studwell.joint.reduced import Interface
from studwell.mesh.mesh import Mesh
from studwell.section.layout import Layout
from studwell.section.seat import TANG, Wedge, first_seat

Array = np.ndarray

EDGES = "wedge edges"
"""Boundary of boss and stud on which an incomplete thread presses."""

WEDGE_COLUMNS = {"wedge axial": FaceColumns(EDGES, "z", 1.0), "wedge radial": FaceColumns(EDGES, "r", 1.0)}
"""Unit loads on those edges, upwards and outwards."""


SIDES = {"boss": 1.0, "stud": -1.0}
"""The two that a wedge pushes apart: the boss outwards and down, the stud the other way."""


def with_wedge_edges(mesh: Mesh, layout: Layout, body: str) -> Mesh:
    """Return a body's mesh with the boundary on which an incomplete thread presses; unchanged for other seats.

    body : "boss" or "stud"
    The edges are those on the threads that reach into the stated heights.
    raises BadMesh : there is none
    """
    wedge = layout.wedge
    if wedge is None:
        return mesh
    low, high = wedge.boss_edges if body == "boss" else wedge.stud_edges
    ends = mesh.nodes[mesh.facet_nodes[mesh.outer, :2]][:, :, 1]
    middles = mesh.nodes[mesh.facet_nodes[mesh.outer, 2]]
    shape = layout.boss
    if body == "boss":
        inside, outside = shape.drill_radius - 1e-6, 0.5 * (shape.thread_radius + shape.outer_radius)
        bottom, top = shape.fillet_centre[1], shape.hole_depth
    else:
        inside, outside = 0.5 * shape.drill_radius, np.inf
        bottom, top = layout.stud.profile[0, 1], layout.stud.profile[-1, 1]
    r, z = middles.T
    # faces that lie across the axis (mouth, end) are no thread
    allowed = (r > inside) & (r < outside) & (z > bottom) & (z < top) & (np.ptp(ends, axis=1) > 1e-6)
    chosen = allowed & (ends.max(axis=1) > low + 1e-6) & (ends.min(axis=1) < high - 1e-6)
    wanted = {(round(float(a), 9), round(float(b), 9)) for a, b in middles[chosen]}
    return mesh.with_boundary(
        EDGES,
        lambda r, z: np.array([(round(float(a), 9), round(float(b), 9)) in wanted for a, b in zip(r, z, strict=True)]),
    )


def seat_interface(
    setup: Setup, layout: Layout, bodies: Mapping[str, BodyResponse], friction: float = 0.0
) -> Interface | None:
    """Return the interface "seat" of a driven stud that its tip does not carry, None where it does.

    friction : Coulomb friction of the wedge in the section's plane, 0 for one that slides freely there: while the
               stud turns, friction acts round the axis and takes torque, not axial force
    One pair of forces, spread evenly over the pressed edges of boss and stud, along the normal of the incomplete thread's
    taper: an axial force F comes with a radial one of F / tan(half angle). With friction a second pair along the taper.
    raises Unknown : a stud driven onto a seat of which there is no model: a tang without an insert, an incomplete thread
                     in the coils of an insert
    Source: equilibrium of a conical wedge, as of a cone clutch, Shigley ch. 16.
    """
    seat = first_seat(setup)
    if seat.by_tip:
        return None
    if layout.wedge is None and (seat.name != TANG or "insert" not in bodies):
        if setup.seating.torque is None:
            return None  # it only says from where the turns count
        raise Unknown(
            f"a driven stud seats on the {seat.name} ({seat.reason}), and "
            + ("this setup has no insert" if seat.name == TANG else "how the coils of an insert wedge is not modelled")
            + "; the force there is not known"
        )
    if seat.name == TANG:
        weights = {
            "stud": spread(bodies["stud"], "tang"),
            "insert": -_last_coil(bodies["insert"], setup.stud.thread.pitch),
        }
        return Interface("seat", UnilateralContact(), weights, np.zeros(1), np.ones(1))
    assert layout.wedge is not None
    sine, cosine = np.sin(layout.wedge.half_angle), np.cos(layout.wedge.half_angle)
    axial, radial = (
        {name: _pressed(bodies[name], f"wedge {way}", layout.wedge) for name in SIDES} for way in ("axial", "radial")
    )
    normal = {name: side * (cosine * radial[name] - sine * axial[name]) for name, side in SIDES.items()}
    if friction <= 0.0:
        return Interface("seat", UnilateralContact(), normal, np.zeros(1), np.array([sine]))
    along = {name: -side * (cosine * axial[name] + sine * radial[name]) for name, side in SIDES.items()}
    both = {name: np.hstack([normal[name], along[name]]) for name in SIDES}
    return Interface("seat", FrictionalContact(friction), both, np.zeros(2), np.array([sine, cosine]))


def _last_coil(insert: BodyResponse, pitch: float) -> Array:
    """(columns of the insert, 1): one newton upwards on its last coil, of which the tang is the end, inside and outside."""
    result = np.zeros((insert.n_columns, 1))
    for group in ("inside axial", "outside axial"):
        heights = insert.midpoints[group][:, 1]
        share = insert.areas[group] * (heights < heights.min() + pitch)
        result[insert.columns[group], 0] = 0.5 * share / share.sum()
    return result


def pressed_areas(body: BodyResponse, wedge: Wedge) -> Array:
    """Return how much (n,) mm2 of each wedge edge of boss or stud lies within the stated heights."""
    low, high = wedge.boss_edges if body.name == "boss" else wedge.stud_edges
    areas, (r, z) = body.areas["wedge radial"], body.midpoints["wedge radial"].T
    half = 0.5 * areas / (2.0 * np.pi * r)
    within = np.minimum(z + half, high) - np.maximum(z - half, low)
    return areas * np.clip(within / (2.0 * half), 0.0, 1.0)


def _pressed(body: BodyResponse, group: str, wedge: Wedge) -> Array:
    """(columns of the body, 1): one newton spread evenly over what lies within the stated heights."""
    result = np.zeros((body.n_columns, 1))
    share = pressed_areas(body, wedge)
    result[body.columns[group], 0] = share / share.sum()
    return result


def spread(body: BodyResponse, group: str) -> Array:
    """Return (columns of the body, 1): one newton spread evenly over the faces of a group."""
    result = np.zeros((body.n_columns, 1))
    result[body.columns[group], 0] = body.areas[group] / body.areas[group].sum()
    return result


def seat_columns(layout: Layout, named: str, body: str) -> dict[str, FaceColumns]:
    """Return the face columns that a body's seat adds: of the wedge, or of the tip on a tang; none for a seat of the tip
    (a tang is the end of the insert's last coil, which has its own).

    named : the seat that the case names ("auto": none); body : "boss", "stud" or "insert"
    """
    if layout.wedge is not None and body != "insert":
        return dict(WEDGE_COLUMNS)
    if named == TANG and body == "stud":
        return {"tang": FaceColumns("tip", "z", 1.0)}
    return {}
