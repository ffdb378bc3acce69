"""Straight paths from the floor's fillet into the boss, along which the crack margin reads the stress."""

from __future__ import annotations

import numpy as np

from studwell.errors import OutOfBody
from studwell.fem.space import Space
from studwell.mesh.mesh import Mesh
from studwell.section.layout import Layout

Array = np.ndarray

PATH_LENGTH = 4.0
PATH_ANGLES = (10.0, 30.0, 45.0, 60.0, 80.0)
"""Paths from the fillet into the floor: length in mm, directions in degrees from straight down to straight out."""

PATH_POINTS = 41
LEAST_POINTS = 16
"""A path of a mesh of the user's own that leaves the body after fewer points is left out."""

ON_FILLET = 1e-4
"""mm; a fillet that is nearer to the dimensions' own is taken to be it."""


def fracture_paths(layout: Layout, mesh: Mesh) -> dict[str, Array]:
    """Return straight paths from the fillet's surface into the boss, (points, 2) mm each, evenly spaced.

    mesh    : of the boss; one of the user's own starts the paths where its boundary "fillet" is nearest to the fillet
              that the dimensions give, and ends them where they leave the body
    returns : name -> points; a path ends 0.2 mm before the underside or after PATH_LENGTH, and its name tells the
              angle from straight down. None without a boundary "fillet"
    """
    if "fillet" not in mesh.boundaries:
        return {}
    shape = layout.boss
    space = None if layout.own_boss is None else Space(mesh)
    centre = np.array(shape.fillet_centre)
    base = -(shape.cone_depth + shape.floor_thickness)
    paths = {}
    for angle in PATH_ANGLES:
        if np.radians(angle) < shape.edge_slope:
            continue  # the corner's own blocks start at this slope
        way = np.array([np.sin(np.radians(angle)), -np.cos(np.radians(angle))])
        start = centre + shape.corner_radius * way
        if space is not None:
            nearest = nearest_on(mesh, "fillet", start)
            start = nearest if np.linalg.norm(nearest - start) > ON_FILLET else start
        limit = PATH_LENGTH
        if way[1] < 0:
            limit = min(limit, (start[1] - base - 0.2) / -way[1])
        limit = min(limit, (shape.outer_radius - start[0] - 0.2) / way[0])
        if limit <= 0.0:
            continue
        distance = np.linspace(0.0, limit, PATH_POINTS)
        distance[0] = 1e-4 * limit
        points = start + distance[:, None] * way
        if space is not None:
            points = points[: _count_inside(space, points)]
            if len(points) < LEAST_POINTS:
                continue
        paths[f"floor path {angle:g}"] = points
    return paths


def nearest_on(mesh: Mesh, boundary: str, point: Array) -> Array:
    """Return the point (2,) of a named boundary that is nearest to a point (2,), mm."""
    start, end, middle = (mesh.nodes[nodes] for nodes in mesh.facet_nodes[mesh.facets_of(boundary)].T)

    def curve(t: Array) -> Array:
        t = t[..., None]
        return (1 - t) * (1 - 2 * t) * start + t * (2 * t - 1) * end + 4 * t * (1 - t) * middle

    t = np.linspace(0.0, 1.0, 21)[:, None] * np.ones(len(start))
    for _ in range(3):  # each pass narrows the nearest place of every edge twentyfold
        best = np.argmin(np.linalg.norm(curve(t) - point, axis=2), axis=0)
        place = t[best, np.arange(len(start))]
        step = t[1] - t[0]
        t = np.clip(place + np.linspace(-1.0, 1.0, 41)[:, None] * step, 0.0, 1.0)
    found = curve(place[None])[0]
    return np.asarray(found[np.argmin(np.linalg.norm(found - point, axis=1))])


def _count_inside(space: Space, points: Array) -> int:
    """How many of the first points lie in the body without a break."""
    inside, outside = 0, len(points) + 1
    while outside - inside > 1:
        tried = (inside + outside) // 2
        try:
            space.locate(points[:tried])
            inside = tried
        except OutOfBody:
            outside = tried
    return inside
