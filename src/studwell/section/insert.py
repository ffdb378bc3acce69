"""The wire thread insert as a smooth ring between stud and hole, and one coil of its wire as it is."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Setup
from studwell.errors import Unknown
from studwell.mesh.blocks import Block, build, grid_block
from studwell.mesh.mesh import Mesh
from studwell.parts.insert import insert_hole
from studwell.parts.thread import pitch_diameter, profile_height
from studwell.section.coils import Coils, coils_mesh, coils_of
from studwell.section.engagement import GROOVES
from studwell.section.lines import Array, spaced
from studwell.section.teeth import lines_to_teeth

NEAREST = 0.01
"""mm, ends of stud and insert closer than this are one: the insert's is moved."""


@dataclass(frozen=True)
class InsertShape:
    """Dimensions of the insert's section, mm; z as in the boss.

    inner_radius, outer_radius : half the pitch diameters of the stud's thread and of the hole's
    lines   : z of its mesh lines from its lower end to its upper end, all on the hole's thread
    engaged : those of them on which the stud's thread stands
    size    : element size aimed at
    coils   : the coils' teeth; None for a smooth ring. The lines are then those of the boss's teeth and of the stud's
    """

    inner_radius: float
    outer_radius: float
    lines: Array = field(repr=False)
    engaged: Array = field(repr=False)
    size: float
    coils: Coils | None = None

    @property
    def ends(self) -> tuple[float, float]:
        """z of the lower and the upper end, mm."""
        return float(self.lines[0]), float(self.lines[-1])


def insert_pitch_diameter(setup: Setup) -> float:
    """Return the pitch diameter of the thread of an insert's hole, mm."""
    thread = setup.stud.thread
    return float(insert_hole(thread.nominal_diameter, thread.pitch).pitch_diameter)


def lay_out_insert(
    setup: Setup, low: float, high: float, size: float, refinement: float, own: Array | None
) -> InsertShape:
    """Return the shape of a setup's insert; only where stud and insert overlap is the stud's thread in it.

    low, high : z of the stud's full threads with its tip on the seat, mm
    own       : z of the thread's lines of a boss mesh of the user's own, mm; None where the dimensions give them
    raises Unknown : teeth that cannot be had; ValueError: no insert, or no overlap of two pitches
    """
    stud = setup.stud
    thread = stud.thread
    inner = 0.5 * float(pitch_diameter(thread.nominal_diameter, thread.pitch))
    outer = 0.5 * insert_pitch_diameter(setup)
    given = setup.boss.insert_ends
    if given is None:
        raise ValueError(f"{setup.name} has no insert")
    if stud.thread_model == GROOVES:
        if own is not None:
            raise Unknown(
                "a boss mesh of the user's own has a smooth thread wall: the grooves model needs the boss's own mesh"
            )
        coils = coils_of(setup, low, high, given, setup.boss.hole_depth - setup.boss.open_depth, refinement)
        lines = lines_to_teeth(coils.ends[0], coils.ends[1], coils.outside, "internal", 0.5 * thread.pitch)
        engaged = lines_to_teeth(low, min(high, coils.inside.top), coils.inside, "external", 0.5 * thread.pitch)
        return InsertShape(inner, outer, lines, engaged, size, coils)
    bottom, top = given if own is None else (float(own[0]), float(own[-1]))
    first, last = max(low, bottom), min(high, top)
    if last - first < 2.0 * thread.pitch - 1e-9:
        raise ValueError(f"the stud's thread stands only {last - first:.2f} mm in the insert")
    if own is not None:
        engaged = own[(own > first - NEAREST) & (own < last + NEAREST)]
        return InsertShape(inner, outer, own, engaged, size)
    bottom, top = (end if abs(end - near) > NEAREST else near for end, near in ((bottom, first), (top, last)))
    step = 0.5 * thread.pitch / refinement
    engaged = np.linspace(first, last, max(4, round((last - first) / step)) + 1)
    pieces = [spaced(bottom, first, step, step)[:-1]] if bottom < first else []
    pieces.append(engaged)
    if top > last:
        pieces.append(spaced(last, top, step, step)[1:])
    return InsertShape(inner, outer, np.concatenate(pieces), engaged, size)


def insert_mesh(shape: InsertShape) -> Mesh:
    """Return the mesh of an insert: region 'insert', boundaries 'inside thread' (where the stud stands in it),
    'outside thread', 'top', 'bottom'. raises BadMesh.
    """
    if shape.coils is not None:
        return coils_mesh(shape.coils)
    across = max(2, round((shape.outer_radius - shape.inner_radius) / (0.5 * shape.size)))
    vertices = np.empty((across + 1, len(shape.lines), 2))
    vertices[:, :, 0] = np.linspace(shape.inner_radius, shape.outer_radius, across + 1)[:, None]
    vertices[:, :, 1] = shape.lines[None, :]
    tags = {"south": "bottom", "north": "top", "east": "outside thread", "west": "bore"}
    mesh = build([grid_block(vertices, "insert", tags)])
    low, high = shape.engaged[0], shape.engaged[-1]
    return mesh.with_boundary(
        "inside thread", lambda r, z: (np.abs(r - shape.inner_radius) < 1e-6) & (z > low) & (z < high)
    )


def coil_mesh(nominal_diameter: float, pitch: float, divisions: int = 8) -> Mesh:
    """Return one coil of an insert's wire as a ring of its own section: region 'wire'.

    nominal_diameter, pitch : mm, of the stud's thread
    divisions               : elements on the piece of the outer flank that the hole's crest leaves free, times 2
    returns                 : Mesh with 'inner flank' (lower, on which the stud pulls), 'outer flank' (upper, which the hole
                              holds) and 'inner crest'
    raises BadMesh          : sizes that make no section

    The section has 60 degree flanks throughout: inside the nominal diameter it is the internal thread of the stud's size,
    cut off at D1; outside it the external thread of the hole's size, d + 3/2 H. Both meet at the nominal diameter, 7/8 P
    wide. Source: ISO 68-1 basic profile, the hole of `parts.insert.insert_hole`.
    """
    height = float(profile_height(pitch))
    middle = 0.5 * nominal_diameter
    hole = insert_hole(nominal_diameter, pitch)
    places = (middle - 0.625 * height, middle, 0.5 * float(hole.minor_diameter), 0.5 * float(hole.major_diameter))
    half = [7.0 / 16.0 * pitch - abs(r - middle) / np.sqrt(3.0) for r in places]
    counts = (2 * divisions, max(1, divisions // 2), 2 * divisions)
    tags: tuple[dict[str, str], ...] = ({"south": "inner flank", "west": "inner crest"}, {}, {"north": "outer flank"})
    blocks = []
    for k, (count, names) in enumerate(zip(counts, tags, strict=True)):
        (a, b), (low, high) = places[k : k + 2], half[k : k + 2]
        corners = np.array([[a, -low], [b, -high], [b, high], [a, low]])
        blocks.append(Block(corners, (count, 2 * divisions), "wire", tags=names))
    return build(blocks)
