"""The nut as rings about its thread, with a closed end when it is domed."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from studwell.mesh.blocks import Patch, build, grid_block, node_block, with_middles
from studwell.mesh.mesh import Mesh
from studwell.section.groove import Teeth
from studwell.section.lines import Array, spaced
from studwell.section.teeth import rows_with_teeth, toothed


@dataclass(frozen=True)
class NutShape:
    """Dimensions of the nut section, mm; z as in the boss.

    bearing_lines : radii of the mesh lines of the bearing face, from the countersink to the outer radius
    thread_lines  : z lines of the engaged threads
    hexagon_top   : z of the top of the hexagon; roof: z of the closed end's inner face (domed), crown: its top
    roof_lines    : radii of the mesh lines of the roof inside the thread (domed)
    """

    bearing_lines: Array = field(repr=False)
    thread_lines: Array = field(repr=False)
    thread_radius: float
    bottom: float
    hexagon_top: float
    size: float
    roof: float | None = None
    crown: float | None = None
    crown_radius: float | None = None
    roof_lines: Array | None = field(default=None, repr=False)
    roof_contact: float = 0.0
    teeth: Teeth | None = None


def nut_mesh(shape: NutShape) -> Mesh:
    """Return the mesh of a nut with boundaries 'bearing face', 'thread', 'outer' and, if domed, 'roof'. raises BadMesh."""
    h = shape.size
    outer = shape.bearing_lines[-1]
    shares = (shape.bearing_lines - shape.bearing_lines[0]) / (outer - shape.bearing_lines[0])
    low, high = shape.thread_lines[0], shape.thread_lines[-1]
    domed = shape.roof is not None
    last = shape.roof if domed else shape.hexagon_top
    assert last is not None
    lines = [spaced(shape.bottom, low, 0.35 * h, 0.35 * h), shape.thread_lines[1:]]
    marks = [high] + [z for z in (shape.hexagon_top, last) if z > high + 1e-9]
    marks = sorted(set(marks))
    for a, b in itertools.pairwise(marks):
        lines.append(spaced(a, b, 0.5 * h, 0.7 * h)[1:])
    heights = np.concatenate(lines)
    bands = () if shape.teeth is None else (shape.teeth,)
    rows = rows_with_teeth(heights, bands, "internal")
    wall = with_middles(np.interp(heights, [shape.bottom, low], [shape.bearing_lines[0], shape.thread_radius]))
    for band in bands:
        inside = band.within(rows, "internal")
        wall[inside] = band.internal_radius(rows[inside])
    outline = np.full(len(rows), outer)
    if domed:
        assert shape.crown is not None and shape.crown_radius is not None
        outline = with_middles(np.interp(heights, [shape.hexagon_top, shape.crown], [outer, shape.crown_radius]))
    across = with_middles(shares)
    nodes = np.empty((len(across), len(rows), 2))
    nodes[:, :, 0] = wall[None, :] + (outline - wall)[None, :] * across[:, None]
    nodes[:, :, 1] = rows[None, :]
    blocks: list[Patch] = [node_block(nodes, "nut", {"south": "bearing face", "east": "outer"})]
    if domed:
        assert shape.crown is not None and shape.crown_radius is not None and shape.roof_lines is not None
        up = spaced(last, shape.crown, 0.4 * h, 0.6 * h)
        edge = np.interp(up, [shape.hexagon_top, shape.crown], [outer, shape.crown_radius])
        ring = np.empty((len(shares), len(up), 2))
        ring[:, :, 0] = shape.thread_radius + (edge - shape.thread_radius)[None, :] * shares[:, None]
        ring[:, :, 1] = up[None, :]
        plug = np.empty((len(shape.roof_lines), len(up), 2))
        plug[:, :, 0] = shape.roof_lines[:, None]
        plug[:, :, 1] = up[None, :]
        blocks += [grid_block(ring, "nut", {"east": "outer"}), grid_block(plug, "nut", {"south": "roof face"})]
    mesh = build(blocks)
    if shape.teeth is not None:
        mesh = toothed(mesh, "thread", shape.teeth)
    else:
        mesh = mesh.with_boundary(
            "thread", lambda r, z: (np.abs(r - shape.thread_radius) < 1e-6) & (z > low) & (z < high)
        )
    if domed:
        limit = shape.roof_contact
        mesh = mesh.with_boundary("roof", lambda r, z: (np.abs(z - last) < 1e-6) & (r < limit))
    return mesh
