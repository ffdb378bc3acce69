"""The outline of a body's section as curves, divided anew by a size that varies from place to place."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from studwell.errors import BadMesh
from studwell.mesh.mesh import Floats, Ints, Mesh, chains_along
from studwell.mesh.reference_element import edge_shapes

KINK = np.radians(12.0)
"""Turn between two outer edges above which their common corner is a corner of the outline, not a place on a curve."""

TURN = 0.5
"""Largest turn of one edge of the new division, radian, where the outline is curved."""

SAMPLES = 9
"""Points along each outer edge at which sizes are summed."""

Size = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class Outline:
    """One closed line of outer edges, counter-clockwise; places on it are counted in edges, from 0 to n.

    nodes  : (n, 3, 2) mm, start, middle, end of each edge
    names  : (n,) the boundaries that each edge belongs to
    """

    nodes: Floats = field(repr=False)
    names: tuple[frozenset[str], ...] = field(repr=False)

    def points(self, places: Floats) -> Floats:
        """Return the points (m, 2), mm, at places (m,)."""
        edge = np.minimum(np.floor(np.asarray(places) + 1e-12).astype(int), len(self.nodes) - 1)
        values = edge_shapes(np.clip(places - edge, 0.0, 1.0))[0]
        return np.einsum("mn,mnd->md", values, self.nodes[edge])

    def nearest(self, point: Floats) -> float:
        """Return the place that is nearest to a point (2,), mm."""
        places = np.linspace(0.0, len(self.nodes), 20 * len(self.nodes) + 1)
        step = 0.05
        for _ in range(4):
            best = places[np.argmin(np.linalg.norm(self.points(places) - point, axis=1))]
            places = np.clip(best + np.linspace(-step, step, 41), 0.0, len(self.nodes))
            step /= 20.0
        found = float(places[np.argmin(np.linalg.norm(self.points(places) - point, axis=1))])
        whole = round(found)
        corner = self.points(np.array([float(whole)]))[0]
        chord = np.linalg.norm(self.nodes[min(int(found), len(self.nodes) - 1), 2] - corner)
        if float(np.linalg.norm(corner - self.points(np.array([found]))[0])) < 1e-6 * max(float(chord), 1e-3):
            return float(whole % len(self.nodes))
        return found

    def breaks(self, extra: tuple[float, ...] = ()) -> Floats:
        """Return the places that stay corners of a new division: kinks, ends of named boundaries, extra ones."""
        start, end = self._tangents()
        n = len(self.nodes)
        turn = np.abs(_angle(np.roll(end, 1, axis=0), start))
        kept = [i for i in range(n) if turn[i] > KINK or self.names[i] != self.names[i - 1]]
        places = sorted({float(i) for i in kept} | set(extra))
        return np.array(places if places else [0.0])

    def _tangents(self) -> tuple[Floats, Floats]:
        start, middle, end = self.nodes.swapaxes(0, 1)
        return 4 * middle - 3 * start - end, start - 4 * middle + 3 * end

    def sizes(self, breaks: Floats) -> tuple[Floats, Floats]:
        """Return points (k, 2) on the outline and the edge length, mm, that its shape allows there (k,).

        A piece between two breaks is at least one edge; a curved piece turns no more than TURN an edge.
        """
        start, end = self._tangents()
        turn = np.abs(_angle(start, end))
        length = np.linalg.norm(self.nodes[:, 2] - self.nodes[:, 0], axis=1)
        curved = TURN * length / np.maximum(turn, 1e-9)
        points = [self.nodes[:, 1]]
        sizes = [curved]
        for low, high in self.pieces(breaks):
            places = np.linspace(low, high, 5) % len(self.nodes)
            where = self.points(places)
            points.append(where[[0, 2, 4]])
            sizes.append(np.full(3, max(np.linalg.norm(np.diff(where, axis=0), axis=1).sum(), 1e-9)))
        return np.concatenate(points), np.concatenate(sizes)

    def pieces(self, breaks: Floats) -> list[tuple[float, float]]:
        """Return the pieces between breaks, as places; the last one runs on past the end by the first."""
        closed = [*breaks.tolist(), float(breaks[0]) + len(self.nodes)]
        return list(itertools.pairwise(closed))

    def divided(self, breaks: Floats, size: Size) -> Floats:
        """Return the places (n, 4) of a new division: of each edge its start, quarter, middle and three quarters.

        size : function of points (m, 2) -> wanted edge length (m,), mm
        """
        found = []
        for low, high in self.pieces(breaks):
            fine = np.unique(np.concatenate([[low, high], np.arange(np.ceil(low), high)]))
            fine = np.concatenate([np.linspace(a, b, SAMPLES)[:-1] for a, b in itertools.pairwise(fine)] + [[high]])
            points = self.points(fine % len(self.nodes))
            steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
            dense = steps / size(0.5 * (points[1:] + points[:-1]))
            along = np.concatenate([[0.0], np.cumsum(dense)])
            n = max(1, int(np.ceil(along[-1] - 0.25)))
            halves = np.interp(np.linspace(0.0, along[-1], 2 * n + 1), along, fine)
            length = np.concatenate([[0.0], np.cumsum(steps)])
            at = np.interp(halves, fine, length)
            quarters = np.interp(0.5 * (at[1:] + at[:-1]), length, fine)
            found.append(np.stack([halves[:-1], quarters], axis=1).reshape(-1, 4))
        return np.concatenate(found) % len(self.nodes)


def outline_of(mesh: Mesh) -> Outline:
    """Return the outline of a mesh. raises BadMesh : a section with a hole in it"""
    chains = chains_along(mesh, mesh.outer)
    if len(chains) != 1:
        raise BadMesh(f"the outline has {len(chains)} separate lines; allowed here: one, a section without holes")
    facets, corners = chains[0]
    nodes = np.stack([corners[:-1], mesh.facet_nodes[facets, 2], corners[1:]], axis=1)
    where = mesh.nodes[nodes]
    if _area(where[:, 0]) < 0:
        facets, where = facets[::-1], where[::-1, ::-1]
    member: dict[int, set[str]] = {int(f): set() for f in facets}
    for name, own in mesh.boundaries.items():
        for facet in np.asarray(own).tolist():
            if facet in member:
                member[facet].add(name)
    return Outline(np.ascontiguousarray(where), tuple(frozenset(member[int(f)]) for f in facets))


def simplified(outline: Outline, centre: Floats, near: float, share: float) -> Outline:
    """Return an outline that is straight between fewer corners far from a place, and as it was near it; without names.

    centre : (2,) mm;  near: mm, within which all stays;  share : the new line may miss the old corners by this share of
             their distance from the centre
    """
    corners = outline.nodes[:, 0]
    away = np.linalg.norm(corners - centre, axis=1)
    n = len(corners)
    whole = np.linalg.norm(outline.nodes - centre, axis=2).min(axis=1) < near
    kept = whole | np.roll(whole, 1)
    if not kept.any():
        kept[int(np.argmin(away))] = True
    kept[int(np.argmax(away))] = True
    anchors = np.nonzero(kept)[0].tolist()
    stack = [(a, b) for a, b in itertools.pairwise([*anchors, anchors[0] + n]) if b - a > 1]
    while stack:
        a, b = stack.pop()
        between = np.arange(a + 1, b) % n
        if not len(between):
            continue
        miss = _misses(corners[between], corners[a % n], corners[b % n]) / (share * away[between])
        worst = int(np.argmax(miss))
        if miss[worst] > 1.0:
            kept[between[worst]] = True
            stack += [(a, a + 1 + worst), (a + 1 + worst, b)]
    left = np.nonzero(kept)[0]
    nodes = []
    for a, b in itertools.pairwise([*left.tolist(), int(left[0]) + n]):
        if b - a == 1:
            nodes.append(outline.nodes[a])
        else:
            start, end = corners[a], corners[b % n]
            nodes.append(np.stack([start, 0.5 * (start + end), end]))
    return Outline(np.stack(nodes), tuple(frozenset() for _ in nodes))


def _misses(points: Floats, start: Floats, end: Floats) -> Floats:
    """Distance of points (m, 2) from the straight segment between two points, mm."""
    return distance_to(points, start[None], end[None])


def inside(points: Floats, polygon: Floats) -> np.ndarray:
    """Return whether points (m, 2) lie inside a closed polygon (n, 2), (m,) bool."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    x, y = points[:, 0, None], points[:, 1, None]
    across = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    left = x < a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / rise
    return np.asarray((across & left).sum(axis=1) % 2 == 1)


def distance_to(points: Floats, starts: Floats, ends: Floats) -> Floats:
    """Return the distance (m,) of points (m, 2) from the nearest of straight segments (n, 2) to (n, 2), mm."""
    along = ends - starts
    length2 = np.maximum((along**2).sum(axis=1), 1e-300)
    nearest = np.full(len(points), np.inf)
    for first in range(0, len(points), 2000):
        part = points[first : first + 2000]
        to = part[:, None] - starts
        t = np.clip((to * along).sum(axis=2) / length2, 0.0, 1.0)
        gap = np.linalg.norm(to - t[..., None] * along, axis=2)
        nearest[first : first + 2000] = gap.min(axis=1)
    return nearest


def _angle(first: Floats, second: Floats) -> Floats:
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    return np.arctan2(cross, (first * second).sum(axis=1))


def _area(polygon: Floats) -> float:
    a, b = polygon, np.roll(polygon, -1, axis=0)
    return 0.5 * float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum())


__all__ = ["Ints", "Outline", "distance_to", "inside", "outline_of"]
