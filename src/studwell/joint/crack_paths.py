"""Straight paths into the metal under thread roots and out from the hole's wall, along which cracks are judged."""

from __future__ import annotations

import numpy as np

from studwell.mesh.mesh import Mesh
from studwell.section.groove import Teeth
from studwell.section.layout import Layout

Array = np.ndarray

ROOT_PATH_LENGTH = 4.0
"""mm, unless the body ends sooner; from the root's lowest point straight along r."""

ROOT_POINTS = 41

BORE = "bore path"
BORE_POINTS = 25
BORE_SHARE = 0.6
"""How far the paths from the hole's wall run, as a share of the wall."""

BESIDE = 0.05
"""mm from the end of the chamfer, or of the fillet, at which the paths from the wall lie."""


def root_paths(teeth: Teeth | None, kind: str, outer_radius: float) -> dict[str, Array]:
    """Return the paths under the first (most loaded) and the last whole engaged root, (points, 2) mm each.

    kind         : "internal": outwards into the boss; "external": inwards into the stud
    outer_radius : of the body, mm
    returns      : "root path first", "root path last"; none where no teeth are meshed
    """
    if teeth is None:
        return {}
    inwards = kind == "external"
    paths = {}
    for name, number in (("first", teeth.count - 1), ("last", 0)):
        z = float(teeth.height(np.array(number + 0.5 if inwards else float(number))))
        if inwards and not teeth.within(np.array(z), kind):
            continue
        start = float((teeth.external_radius if inwards else teeth.internal_radius)(np.array([z]))[0])
        room = 0.95 * start if inwards else outer_radius - start - 0.2
        distance = np.linspace(0.0, min(ROOT_PATH_LENGTH, room), ROOT_POINTS)
        distance[0] = 1e-4 * distance[-1]
        r = start - distance if inwards else start + distance
        paths[f"root path {name}"] = np.column_stack([r, np.full(ROOT_POINTS, z)])
    return paths


def bore_paths(layout: Layout, mesh: Mesh) -> dict[str, Array]:
    """Return level paths from the hole's wall outwards: at the mouth, at the most loaded thread and above the fillet.

    mesh    : of the boss
    returns : "bore path mouth", "bore path thread", "bore path floor" -> (points, 2) mm, closer together near the wall
    """
    shape = layout.boss
    pitch = shape.thread_radius - shape.drill_radius
    heights = {
        "mouth": shape.mouth_start - BESIDE,
        "thread": shape.engaged[1] - pitch,
        "floor": shape.fillet_centre[1] + BESIDE,
    }
    paths = {}
    for name, z in heights.items():
        crossings = crossings_at(mesh, z)
        if len(crossings) < 2 or crossings[0] < 1e-6:
            continue
        start, end = crossings[0], crossings[-1]
        share = np.linspace(0.0, 1.0, BORE_POINTS) ** 2
        distance = BORE_SHARE * (end - start) * np.maximum(share, 1e-5)
        paths[f"{BORE} {name}"] = np.column_stack([start + distance, np.full(BORE_POINTS, z)])
    return paths


def crossings_at(mesh: Mesh, height: float) -> Array:
    """Return the radii, rising, mm, at which a mesh's outline passes a height, mm."""
    start, end, middle = (mesh.nodes[nodes] for nodes in mesh.facet_nodes[mesh.outer].T)
    found = []
    for a, b, m in zip(start, end, middle, strict=True):
        if max(a[1], b[1], m[1]) < height or min(a[1], b[1], m[1]) > height:
            continue
        square, slope = 2.0 * (a + b - 2.0 * m), 4.0 * m - 3.0 * a - b
        roots = np.roots([square[1], slope[1], a[1] - height]) if abs(square[1]) > 1e-12 else None
        if roots is None:
            roots = np.array([(height - a[1]) / slope[1]]) if abs(slope[1]) > 1e-12 else np.zeros(0)
        for t in np.real(roots[np.abs(np.imag(roots)) < 1e-12]):
            if -1e-9 <= t <= 1.0 + 1e-9:
                found.append(float(a[0] + slope[0] * t + square[0] * t**2))
    radii = np.sort(np.array(found))
    return radii[np.append(True, np.diff(radii) > 1e-6)] if len(radii) else radii
