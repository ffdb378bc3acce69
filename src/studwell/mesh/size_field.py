"""A section filled with triangles whose size varies from place to place, each cut into three quadrilaterals."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.spatial import Delaunay, cKDTree

from studwell.errors import BadMesh
from studwell.mesh.mesh import Floats, Ints
from studwell.mesh.outline import Size, distance_to, inside

SMOOTHINGS = 8
CLEAR = 0.55
"""Free points stay this many sizes away from given edges."""

APART = 0.75
"""Free points are first put at least this many sizes apart."""

TRIES = 12


@dataclass(frozen=True)
class Sizes:
    """A size that grows from given places: the least over them of its own size there plus growth times distance.

    points : (k, 2) mm;  sizes : (k,) mm;  growth: mm a mm;  largest : mm
    """

    points: Floats = field(repr=False)
    sizes: Floats = field(repr=False)
    growth: float
    largest: float

    def __call__(self, points: Floats) -> Floats:
        """Return the size (m,) at points (m, 2), mm."""
        result = np.full(len(points), self.largest)
        for first in range(0, len(points), 2000):
            part = slice(first, first + 2000)
            away = np.linalg.norm(points[part, None] - self.points, axis=2)
            result[part] = np.minimum(result[part], (self.sizes + self.growth * away).min(axis=1))
        return result


def triangles(fixed: Floats, edges: Ints, polygon: Floats, hole: Floats | None, size: Size) -> tuple[Floats, Ints]:
    """Return points and triangles that fill a polygon around a round hole and have given edges among theirs.

    fixed   : (f, 2) mm, given points;  edges : (e, 2) numbers of given points, the outline's and any inside
    polygon : (n, 2) mm, the outline counter-clockwise
    hole    : (k, 2) mm, outline of a part left empty, whose edges are among the given ones
    size    : wanted edge length, mm
    returns : points (f + k, 2) with the given ones first, triangles (t, 3) counter-clockwise
    raises BadMesh : edges that no triangles keep
    """
    starts, ends = fixed[edges[:, 0]], fixed[edges[:, 1]]

    def clear(points: Floats) -> np.ndarray:
        good = inside(points, polygon)
        if hole is not None:
            good &= ~inside(points, hole)
        good &= distance_to(points, starts, ends) > CLEAR * size(points)
        return good

    free = _sown(polygon, size)
    free = free[clear(free)]
    free = _thinned(free, size(free), fixed)
    for _ in range(SMOOTHINGS):
        if not len(free):
            break
        free = _moved(fixed, free, polygon, hole)
        free = free[clear(free)]
    for _ in range(TRIES):
        points = np.concatenate([fixed, free])
        found = _filled(points, polygon, hole)
        lost = _lost(found, edges, len(points))
        if not lost.any():
            return points, found
        middle = 0.5 * (starts[lost] + ends[lost])
        radius = 0.5 * np.linalg.norm(ends[lost] - starts[lost], axis=1)
        if not len(free):
            break
        near = (np.linalg.norm(free[:, None] - middle, axis=2) < 1.05 * radius).any(axis=1)
        if not near.any():
            break
        free = free[~near]
    where = 0.5 * (starts[lost] + ends[lost])[0]
    raise BadMesh(f"no triangles keep the edge at r = {where[0]:.5g}, z = {where[1]:.5g} mm: features too close")


def cut_in_three(points: Floats, triples: Ints) -> tuple[Ints, Ints, Ints]:
    """Return the quadrilaterals that triangles are cut into and the edges that got a middle.

    returns : quads (3 t, 4) whose corners are points, then middles of edges, then middles of triangles;
              edges (e, 2) in rising point numbers, and each triangle's edges (t, 3): ab, bc, ca
    """
    t, n = len(triples), len(points)
    pairs = np.sort(np.concatenate([triples[:, [0, 1]], triples[:, [1, 2]], triples[:, [2, 0]]]), axis=1)
    edges, back = np.unique(pairs, axis=0, return_inverse=True)
    own = back.reshape(3, t).T
    ab, bc, ca = (n + own).T
    middle = n + len(edges) + np.arange(t)
    a, b, c = triples.T
    quads = [(a, ab, middle, ca), (b, bc, middle, ab), (c, ca, middle, bc)]
    return np.concatenate([np.stack(quad, axis=1) for quad in quads]), edges, own


def _sown(polygon: Floats, size: Size) -> Floats:
    """Centres of a tree of squares each no larger than the size there."""
    low, high = polygon.min(axis=0), polygon.max(axis=0)
    side = float((high - low).max())
    cells = np.array([[*(0.5 * (low + high)), side]])
    done = []
    for _ in range(30):
        large = cells[:, 2] > 1.0 * size(cells[:, :2])
        done.append(cells[~large])
        parents = cells[large]
        if not len(parents):
            break
        half = 0.25 * parents[:, 2]
        cells = np.concatenate(
            [
                np.stack([parents[:, 0] + i * half, parents[:, 1] + j * half, 2 * half], axis=1)
                for i in (-1, 1)
                for j in (-1, 1)
            ]
        )
        reach = 0.8 * cells[:, 2]
        cells = cells[((cells[:, :2] > low - reach[:, None]) & (cells[:, :2] < high + reach[:, None])).all(axis=1)]
    return np.concatenate(done)[:, :2]


def _thinned(points: Floats, sizes: Floats, fixed: Floats) -> Floats:
    """Drop points nearer than APART sizes to one kept before, small sizes first."""
    order = np.argsort(sizes, kind="stable")
    points, sizes = points[order], sizes[order]
    if not len(points):
        return points
    tree = cKDTree(points)
    kept = np.ones(len(points), bool)
    near = tree.query_ball_point(points, APART * sizes)
    for i, others in enumerate(near):
        if kept[i]:
            for j in others:
                if j > i:
                    kept[j] = False
    return points[kept]


def _moved(fixed: Floats, free: Floats, polygon: Floats, hole: Floats | None) -> Floats:
    """Each free point at the mean of its neighbours."""
    points = np.concatenate([fixed, free])
    found = _filled(points, polygon, hole)
    pairs = np.unique(np.sort(np.concatenate([found[:, [0, 1]], found[:, [1, 2]], found[:, [2, 0]]]), axis=1), axis=0)
    both = np.concatenate([pairs, pairs[:, ::-1]])
    total = np.stack([np.bincount(both[:, 0], points[both[:, 1], k], len(points)) for k in (0, 1)], axis=1)
    uses = np.bincount(both[:, 0], minlength=len(points))
    mean = total / np.maximum(uses, 1)[:, None]
    used = uses[len(fixed) :] > 0
    return np.where(used[:, None], mean[len(fixed) :], free)


def _filled(points: Floats, polygon: Floats, hole: Floats | None) -> Ints:
    found = Delaunay(points).simplices.astype(np.int64)
    a, b, c = points[found].swapaxes(0, 1)
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    found[turn < 0] = found[turn < 0][:, [0, 2, 1]]
    longest = np.maximum(((b - a) ** 2).sum(axis=1), np.maximum(((c - b) ** 2).sum(axis=1), ((a - c) ** 2).sum(axis=1)))
    centre = (a + b + c) / 3.0
    good = inside(centre, polygon) & (np.abs(turn) > 1e-6 * longest)
    if hole is not None:
        good &= ~inside(centre, hole)
    return np.asarray(found[good])


def _lost(found: Ints, edges: Ints, n: int) -> np.ndarray:
    pairs = np.sort(np.concatenate([found[:, [0, 1]], found[:, [1, 2]], found[:, [2, 0]]]), axis=1)
    wanted = np.sort(edges, axis=1)
    return ~np.isin(wanted[:, 0] * n + wanted[:, 1], pairs[:, 0] * n + pairs[:, 1])
