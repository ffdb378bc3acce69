"""Stack layers and plain washers as rings."""

from __future__ import annotations

import numpy as np

from studwell.mesh.blocks import build, grid_block
from studwell.mesh.mesh import Mesh
from studwell.section.lines import Array, spaced


def ring_heights(bottom: float, top: float, size: float) -> Array:
    """Return the heights of a ring's mesh lines, mm; finer near both faces."""
    height = top - bottom
    if height > 3.0 * size:
        half = spaced(0.0, 0.5 * height, 0.45 * size, 1.1 * size)
        return np.concatenate([bottom + half, (top - half)[::-1][1:]])
    return np.linspace(bottom, top, max(2, round(height / (0.5 * size))) + 1)


def ring_mesh(radii: Array, bottom: float, top: float, size: float, bottom_radii: Array | None = None) -> Mesh:
    """Return a ring between two heights (mm) on given radial mesh lines (mm): boundaries 'bottom', 'top', 'outer', 'inner'.

    size : element size aimed at, mm; finer near both faces. bottom_radii : as many, where the mesh lines start at the
    bottom; None: where they end. raises BadMesh.
    """
    lines = ring_heights(bottom, top, size)
    vertices = np.empty((len(radii), len(lines), 2))
    vertices[:, :, 0] = radii[:, None]
    if bottom_radii is not None:
        up = (lines - bottom) / (top - bottom)
        vertices[:, :, 0] = bottom_radii[:, None] + (radii - bottom_radii)[:, None] * up[None, :]
    vertices[:, :, 1] = lines[None, :]
    return build([grid_block(vertices, "ring", {"south": "bottom", "north": "top", "east": "outer", "west": "inner"})])
