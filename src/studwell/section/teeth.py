"""Bands of thread teeth in a mesh: rows that close round the roots, named flanks, named roots."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from studwell.errors import BadMesh
from studwell.mesh.blocks import with_middles
from studwell.mesh.mesh import Mesh
from studwell.section.groove import Teeth
from studwell.section.lines import Array

ROOT_DEPTH = 0.08
"""Depth of the metal under a thread root over which its stress is averaged, pitches: part of the outcome's name."""


def rows_with_teeth(heights: Array, bands: Sequence[Teeth], kind: str) -> Array:
    """Return all node rows (2 n + 1,) of mesh lines at heights (n + 1,), mm: half way, but round in bands of teeth.

    kind : "external" or "internal", whose roots the rows close round
    raises BadMesh : mesh lines in a band that are not its own
    """
    rows = with_middles(np.asarray(heights, float))
    for band in bands:
        own = band.rows(kind)
        start = 2 * int(np.argmin(np.abs(heights - own[0])))
        part = slice(start, start + len(own))
        if rows[part].shape != own.shape or np.max(np.abs(rows[part][::2] - own[::2])) > 1e-6:
            raise BadMesh("mesh lines cross a band of thread teeth that are not the teeth's own")
        rows[part] = own
    return rows


def lines_to_teeth(start: float, end: float, band: Teeth, kind: str, size: float) -> Array:
    """Return mesh lines from start to end (mm) through a band of teeth, about `size` mm apart beside it.

    A band that reaches beyond start or end goes on to its own ends.
    """
    own = band.rows(kind)[::2]
    pieces = [own]
    if own[0] - start > 1e-6:
        n = max(1, round((own[0] - start) / size))
        pieces.insert(0, np.linspace(start, own[0], n + 1)[:-1])
    if end - own[-1] > 1e-6:
        n = max(1, round((end - own[-1]) / size))
        pieces.append(np.linspace(own[-1], end, n + 1)[1:])
    return np.concatenate(pieces)


def toothed(mesh: Mesh, name: str, band: Teeth) -> Mesh:
    """Return the mesh with the flanks of a band named: `name` where they carry, `name` + " back" behind the teeth."""
    mesh = mesh.with_boundary(name, band.on_flank)
    return mesh.with_boundary(f"{name} back", band.on_back) if band.count > 1 else mesh


def with_roots(mesh: Mesh, band: Teeth, kind: str) -> Mesh:
    """Return the mesh with regions "root 1" ... from the most loaded end: the metal under each root, ROOT_DEPTH deep."""
    middles = mesh.nodes[mesh.elements[:, 8]]
    number = band.root_at(middles[:, 0], middles[:, 1], kind, ROOT_DEPTH * band.pitch)
    regions = {}
    for region, elements in mesh.regions.items():
        regions[region] = elements[number[elements] < 0]
    for root in range(band.count):
        elements = np.flatnonzero(number == root)
        if len(elements):
            regions[f"root {band.count - root}"] = elements
    return Mesh(mesh.quads, {name: own for name, own in regions.items() if len(own)}, mesh.boundaries)
