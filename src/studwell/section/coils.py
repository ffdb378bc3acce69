"""A wire thread insert with its coils as teeth: internal threads for the stud inside, the hole's external threads outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.case.records import Setup
from studwell.errors import Unknown
from studwell.mesh.blocks import build, node_block, with_middles
from studwell.mesh.mesh import Mesh
from studwell.parts.insert import insert_hole
from studwell.section.groove import Teeth, whole_threads
from studwell.section.teeth import toothed

ACROSS = 6
"""Elements across the wire."""


@dataclass(frozen=True)
class Coils:
    """The coils of an insert: teeth inside (with the stud) and outside (with the hole), half a pitch apart.

    Neighbouring coils are joined by what is left between the stud's crest and the hole's, a ninth of a pitch: so thin that
    they hardly pass axial load on, as coils that only lie on each other do not.
    """

    inside: Teeth
    outside: Teeth

    @property
    def ends(self) -> tuple[float, float]:
        """z of the lower and the upper end of the metal, mm."""
        return self.outside.bottom - 0.5 * self.outside.pitch, self.outside.top


def coils_of(
    setup: Setup, low: float, high: float, ends: tuple[float, float], mouth: float, refinement: float
) -> Coils:
    """Return the coils of a setup's insert, whole ones only.

    low, high : z of the stud's full threads;  ends: of the insert;  mouth: where chamfer or counterbore begin, mm
    raises Unknown : fewer than two whole threads, or a stud driven onto the tang
    """
    if setup.seating.seat == "insert tang":
        raise Unknown("a tang is no tooth: the grooves model has no seat on it")
    thread = setup.stud.thread
    pitch = thread.pitch
    bottom, top = ends
    top = min(top, mouth - 0.5 * pitch - 0.02)
    divisions = max(1, round(refinement))
    outer_count = whole_threads(top - bottom - 0.5 * pitch, pitch)
    inner_top = top - 0.5 * pitch
    overlap = min(high, inner_top) - max(low, top - (outer_count + 0.5) * pitch)
    inner_count = min(outer_count, whole_threads(overlap + 0.25 * pitch, pitch))
    if min(outer_count, inner_count) < 2:
        raise Unknown("stud and insert share fewer than two whole threads: no grooves model of them")
    major = float(insert_hole(thread.nominal_diameter, pitch).major_diameter)
    outside = Teeth(major, pitch, top - outer_count * pitch, outer_count, 1, 0.0, divisions)
    inside = Teeth(thread.nominal_diameter, pitch, inner_top - inner_count * pitch, inner_count, 1, 0.0, divisions)
    return Coils(inside, outside)


def coils_mesh(coils: Coils) -> Mesh:
    """Return the mesh of the coils: region 'insert', boundaries 'inside thread', 'outside thread' (flanks that carry), the
    same with ' back', 'top', 'bottom', 'bore'. raises BadMesh.
    """
    inside, outside = coils.inside, coils.outside
    bottom, top = coils.ends
    count = round(16 * inside.divisions * (top - bottom) / inside.pitch)
    rows = with_middles(np.linspace(bottom, top, count + 1))
    bore = np.where(
        rows > inside.bottom - 1e-9,
        inside.internal_radius(rows, flat_root=True),
        np.full(len(rows), inside.pitch_radius),
    )
    outer = outside.external_radius(rows, flat_root=True)
    shares = with_middles(np.linspace(0.0, 1.0, ACROSS + 1))
    nodes = np.empty((len(shares), len(rows), 2))
    nodes[:, :, 0] = bore[None, :] + (outer - bore)[None, :] * shares[:, None]
    nodes[:, :, 1] = rows[None, :]
    tags = {"south": "bottom", "north": "top", "west": "bore", "east": "outside"}
    mesh = build([node_block(nodes, "insert", tags)])
    return toothed(toothed(mesh, "inside thread", inside), "outside thread", outside)
