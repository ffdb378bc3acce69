"""Checks of wire inserts: one coil of the wire by finite elements against the figures that the data hold."""

from __future__ import annotations

import numpy as np

from studwell.data import assumption
from studwell.joint.condense import BodySpec, FaceColumns, condense
from studwell.parts.insert import insert_hole, wire_share
from studwell.parts.material import stock_material
from studwell.parts.thread import FLANK_ANGLE, parse_thread, pitch_diameter, profile_height
from studwell.section.insert import coil_mesh
from studwell.verify.registry import Row, check, relative

Array = np.ndarray

SIZES = ("M5x0.8", "M6x1", "M8x1.25", "M8x1", "M10x1.5", "M12x1.75", "M12x1.25")
WIRE = "stainless insert wire"
MOST_ROUNDS = 100


def coil_compliance(nominal_diameter: float, pitch: float, divisions: int = 8, guided: bool = True) -> float:
    """Return the axial give of one coil between stud and hole times E over its axial load per length of helix, 1.

    nominal_diameter, pitch : mm, of the stud's thread
    divisions               : of the mesh, as in coil_mesh
    guided                  : True presses the flanks by rigid frictionless walls, which touch where they push; False spreads
                              the pressure evenly, under which the coil rolls freely
    raises ArithmeticError  : the touching faces are not found

    Both flanks are normal to one direction, 30 degrees from the axis. Walls move along it by the flanks' approach, the coil
    along the axis as it likes: what touches, and how far walls approach under a unit load, follows from the condensed coil.
    Source: finite elements; unilateral contact of a free body between two parallel walls.
    """
    material = stock_material(WIRE)
    modulus = float(material.youngs_modulus.at(20.0))
    faces = {"inner": FaceColumns("inner flank", "normal", -1.0), "outer": FaceColumns("outer flank", "normal", -1.0)}
    mesh = coil_mesh(nominal_diameter, pitch, divisions)
    coil = condense(BodySpec("coil", mesh, modulus, material.poisson, faces, (), grip="inner crest"), fields=False)
    inner, outer = coil.columns["inner"], coil.columns["outer"]
    along = np.cos(FLANK_ANGLE)
    push, shift = np.zeros((2, coil.n_columns))
    push[inner], shift[inner], shift[outer] = 1.0, along, -along
    if guided:
        approach = _approach(coil.compliance, push, shift)
    else:
        load = np.concatenate([coil.areas[name] / coil.areas[name].sum() for name in ("inner", "outer")])
        approach = float(load @ coil.compliance @ load)
    # a unit push along the flanks' normal is cos 30 along the axis, and an approach along it 1 / cos 30 of axial travel
    return approach / along**2 * modulus * np.pi * nominal_diameter


def _approach(compliance: Array, push: Array, shift: Array) -> float:
    """Approach of the walls (mm) under 1 N: pressed columns carry, the others stand clear, the coil floats along shift."""
    touching = np.ones(len(push), dtype=bool)
    for _ in range(MOST_ROUNDS):
        rows = np.flatnonzero(touching)
        n = len(rows)
        matrix = np.zeros((n + 2, n + 2))
        matrix[:n, :n] = compliance[np.ix_(rows, rows)]
        matrix[:n, n], matrix[:n, n + 1] = -push[rows], shift[rows]
        matrix[n, :n], matrix[n + 1, :n] = push[rows], shift[rows]
        answer = np.linalg.solve(matrix, np.concatenate([np.zeros(n), [1.0, 0.0]]))
        load = np.zeros(len(push))
        load[rows] = answer[:n]
        clear = compliance @ load - push * answer[n] + shift * answer[n + 1]
        after = np.where(touching, load > 0.0, clear < -1e-12 * answer[n])
        if (after == touching).all():
            return float(answer[n])
        touching = after
    raise ArithmeticError(f"what touches was not found in {MOST_ROUNDS} rounds")


def axial_share(nominal_diameter: float, pitch: float) -> float:
    """Return the axial modulus of an insert's coils side by side, held by nothing, over that of their wire, 1.

    Source: a helical spring, one coil of which gives 2 pi R^3 F / (G J), R the nominal radius; J = A^4 / (40 Ip), Saint-Venant,
    of a diamond 7/8 P wide with 60 degree flanks.
    """
    material = stock_material(WIRE)
    half, depth = 7.0 / 16.0 * pitch, 7.0 / 16.0 * pitch / np.tan(FLANK_ANGLE)
    area, polar = 2.0 * half * depth, half * depth * (half**2 + depth**2) / 3.0
    torsion = area**4 / (40.0 * polar)
    shear_over_modulus = 0.5 / (1.0 + material.poisson)
    per_coil = shear_over_modulus * torsion / (2.0 * np.pi * (0.5 * nominal_diameter) ** 3)
    inner, outer = pitch_diameter(nominal_diameter, pitch), insert_hole(nominal_diameter, pitch).pitch_diameter
    return float(per_coil * pitch / (np.pi / 4.0 * (outer**2 - inner**2)))


@check(
    "insert-coil-give",
    subject="threads",
    title="How far one coil of an insert's wire gives way, M5 to M12",
    source="finite elements of the coil's section between rigid flanks; data/assumptions.toml",
    status="computed",
    tolerance="1.5 %",
)
def insert_coil_give() -> list[Row]:
    """Compare the figure of the data with the coil of every size: sizes differ by 1 %, and this mesh is half a percent soft."""
    stated = assumption("insert_coil_compliance")
    rows = []
    for size in SIZES:
        thread = parse_thread(size)
        found = coil_compliance(thread.nominal_diameter, thread.pitch)
        rows.append(relative(f"{size}: give times E over load per length of helix", stated, found, 0.015, "1"))
    return rows


@check(
    "insert-axial-share",
    subject="threads",
    title="Coils of an insert as a helical spring hardly pass axial load on",
    source="helical spring of close coils, Saint-Venant torsion; data/assumptions.toml",
    status="computed",
    tolerance="the share that the data hold",
)
def insert_axial_share() -> list[Row]:
    """Compare the spring's modulus with zero, to within the share at which the model stops."""
    stated = assumption("insert_axial_share")
    rows = []
    for size in SIZES:
        thread = parse_thread(size)
        share = axial_share(thread.nominal_diameter, thread.pitch)
        rows.append(Row(f"{size}: axial modulus over the wire's", 0.0, share, stated, "1"))
    return rows


@check(
    "insert-wire-share",
    subject="threads",
    title="How much of its ring an insert's wire fills",
    source="area of the coil's mesh over the ring between the pitch lines, a pitch high",
    status="computed",
    tolerance="1e-9",
)
def insert_wire_share() -> list[Row]:
    """Compare the closed form with the area of the meshed section."""
    pitch = 1.25
    mesh = coil_mesh(8.0, pitch, 4)
    corners = mesh.nodes[mesh.elements[:, :4]]
    x, y = corners[..., 0], corners[..., 1]
    area = 0.5 * float(np.abs(np.sum(x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1), axis=1)).sum())
    ring = 0.75 * float(profile_height(pitch)) * pitch
    return [relative("share of wire in the ring", wire_share(), area / ring, 1e-9, "1")]
