"""A body's section meshed anew with a straight crack in it: a fan of rings round the tip, quarter points, two free faces."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from studwell.errors import BadMesh
from studwell.mesh.mesh import Floats, Ints, Mesh, mesh_of
from studwell.mesh.outline import Outline, distance_to, outline_of
from studwell.mesh.quality import least_jacobian
from studwell.mesh.size_field import Sizes, cut_in_three, triangles

UPPER, LOWER = "crack upper", "crack lower"

RINGS = np.array([0.05, 0.12, 0.24, 0.4, 0.58, 0.78, 1.0])
"""Radii of the fan's rings over its own."""

RAYS = 24
"""Elements round the tip."""

FAN = 0.45
"""Radius of the fan over the nearer of the crack's length and the tip's distance from the outline."""


@dataclass(frozen=True, eq=False)
class CrackedMesh:
    """A mesh with a crack, whose faces are the boundaries "crack upper" and "crack lower".

    mesh       : Mesh; regions "crack tip" (the fan) and "body"; the named boundaries of the body that it was made from
    mouth, tip : (2,) mm;  direction : (2,) from mouth to tip;  normal : (2,) from the lower to the upper face
    radii      : (k,) mm, of the fan's rings
    tip_nodes  : nodes at the tip, which move as one
    faces      : (n, 2) nodes of the upper and the lower face, pairwise, from the mouth to the tip (left out)
    pairs      : (e, 3) numbers in `faces` of the nodes of each edge of a face, mouth to tip; -1 for the tip
    """

    mesh: Mesh
    mouth: Floats
    tip: Floats
    direction: Floats
    normal: Floats
    radii: Floats = field(repr=False)
    tip_nodes: Ints = field(repr=False)
    faces: Ints = field(repr=False)
    pairs: Ints = field(repr=False)

    @property
    def length(self) -> float:
        """mm, from mouth to tip."""
        return float(np.linalg.norm(self.tip - self.mouth))

    @property
    def depths(self) -> Floats:
        """Distance of the faces' nodes from the mouth, (n,), mm."""
        return np.linalg.norm(self.mesh.nodes[self.faces[:, 0]] - self.mouth, axis=1)


def cracked_mesh(
    mesh: Mesh | Outline,
    mouth: ArrayLike,
    direction: ArrayLike,
    length: float,
    *,
    growth: float = 0.35,
    largest: float | None = None,
    fineness: float = 1.0,
) -> CrackedMesh:
    """Return a body's section meshed anew with a straight crack from a point of its outline.

    Triangles whose size grows with the distance from the tip, each cut into three nine-node quadrilaterals, fill the
    section round a fan of rings; the innermost ring's elements close on the tip, with their middles at a quarter of
    the way. All outer edges keep their names and their curves.

    mesh      : of the body, or its outline already found
    mouth     : (2,) mm, on the outline (the nearest point of it is taken)
    direction : (2,), into the body; any length
    length    : mm
    growth    : growth of the edges' length a mm away from the tip or from a small feature
    largest   : mm, longest edges; None: a seventh of the body
    fineness  : > 0, multiplies sizes away from the fan, and their growth where it is below 1
    raises BadMesh : a crack that does not end well inside the body, or a section with holes

    Source: Henshell & Shaw 1975 and Barsoum 1976 (quarter points).
    """
    outline = mesh if isinstance(mesh, Outline) else outline_of(mesh)
    way = np.asarray(direction, float) / np.linalg.norm(direction)
    start_place = outline.nearest(np.asarray(mouth, float))
    start = outline.points(np.array([start_place]))[0]
    tip = start + length * way
    wall = wall_along(outline, start, way)
    if not 0.0 < length < wall:
        raise BadMesh(f"a crack {length:.4g} mm long runs out of the body, which is {wall:.4g} mm thick there")
    polygon = outline.nodes[:, :2].reshape(-1, 2)
    clearance = float(distance_to(tip[None], polygon, np.roll(polygon, -1, axis=0))[0])
    radius = FAN * min(length, clearance)
    breaks = outline.breaks((start_place,))
    span = float(np.ptp(polygon, axis=0).max())
    fan_edge = 2.0 * 2.0 * np.pi * radius / RAYS
    at, own = outline.sizes(breaks)
    angles = np.linspace(0.0, 2 * np.pi, RAYS, endpoint=False)
    rim = tip + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    size = Sizes(
        np.concatenate([at, rim]),
        np.concatenate([fineness * own, np.full(RAYS, fan_edge)]),
        growth * min(fineness, 1.0),
        fineness * (span / 7.0 if largest is None else largest),
    )
    made = _Pieces(outline, breaks, start_place, start, tip, way, radius, size)
    return made.assemble()


def wall_along(outline: Outline, start: Floats, way: Floats) -> float:
    """Return how far a straight line from a point of the outline runs before it leaves the body, mm.

    raises BadMesh : a line that leaves the body at once
    """
    normal = np.array([-way[1], way[0]])
    points = outline.points(np.linspace(0.0, len(outline.nodes), 8 * len(outline.nodes) + 1)) - start
    across, along = points @ normal, points @ way
    change = (across[:-1] > 0) != (across[1:] > 0)
    share = across[:-1] / np.where(change, across[:-1] - across[1:], 1.0)
    hits = (along[:-1] + share * (along[1:] - along[:-1]))[change]
    span = float(np.ptp(points, axis=0).max())
    hits = hits[hits > 1e-6 * span]
    if not len(hits):
        raise BadMesh("the crack's direction leads out of the body at once")
    return float(hits.min())


class _Pieces:
    """The parts of a cracked section and how they are numbered; lives only while a mesh is made."""

    def __init__(
        self,
        outline: Outline,
        breaks: Floats,
        start_place: float,
        start: Floats,
        tip: Floats,
        way: Floats,
        radius: float,
        size: Sizes,
    ) -> None:
        self.outline, self.start, self.tip, self.way, self.radius = outline, start, tip, way, radius
        self.places = outline.divided(breaks, size)
        around = outline.points(self.places.ravel()).reshape(*self.places.shape, 2)
        self.quarters = around[:, 1::2]
        self.n_outer = len(around)
        first = int(np.argmin(np.abs(self.places[:, 0] - start_place)))
        self.mouth_number = first
        self.normal = np.array([-way[1], way[0]])
        angles = np.linspace(-np.pi, np.pi, RAYS + 1)
        self.rays = np.cos(angles)[:, None] * way + np.sin(angles)[:, None] * self.normal
        slit_end = tip - radius * way
        length = float(np.linalg.norm(slit_end - start))
        ways = np.linspace(0.0, 1.0, 65)
        dense = length / 64 / size(start + (0.5 * (ways[1:] + ways[:-1]))[:, None] * (slit_end - start))
        total = np.concatenate([[0.0], np.cumsum(dense)])
        self.n_slit = max(1, int(np.ceil(total[-1] - 0.25)))
        slit_places = np.interp(np.linspace(0.0, total[-1], 2 * self.n_slit + 1), total, ways)
        self.slit = start + slit_places[:, None] * (slit_end - start)
        fan = tip + radius * self.rays[:-1]
        # given points: the outline's corners, the fan's even rays, the slit's corners between mouth and fan
        n, half = self.n_outer, RAYS // 2
        self.fixed = np.concatenate([around[:, 0], fan[::2], self.slit[2:-2:2]])
        self.fan_numbers = n + np.arange(half)
        self.slit_numbers = np.concatenate([[first], n + half + np.arange(self.n_slit - 1), [n]])
        outer = np.stack([np.arange(n), (np.arange(n) + 1) % n], axis=1)
        rim = np.stack([self.fan_numbers, np.roll(self.fan_numbers, -1)], axis=1)
        slit_edges = np.stack([self.slit_numbers[:-1], self.slit_numbers[1:]], axis=1)
        edges = np.concatenate([outer, rim, slit_edges])
        self.middles = np.concatenate([around[:, 2], fan[1::2], self.slit[1::2]])
        self.edges = edges
        self.points, self.triples = triangles(self.fixed, edges, around[:, 0], fan[::2], size)

    def assemble(self) -> CrackedMesh:
        points, triples = self._split()
        quads, pairs, _ = cut_in_three(points, triples)
        n = len(points)
        middle = points[pairs].mean(axis=1)
        curved = self._known_middles(pairs)
        for edge, place in curved.items():
            middle[edge] = place
        corners_at = np.concatenate([points, middle, points[triples].mean(axis=1)])
        positions = _straight(corners_at[quads])
        self._bend(positions, quads, pairs, n)
        fan_quads, fan_at, fan_positions = self._fan(corners_at, pairs, n)
        corners_at = fan_at
        all_quads = np.concatenate([quads, fan_quads])
        at = np.concatenate([positions, fan_positions])
        used, compact = np.unique(all_quads, return_inverse=True)
        number = np.full(len(corners_at), -1)
        number[used] = np.arange(len(used))
        ends = {name: number[own] for name, own in self._named(pairs, n).items()}
        regions = {"body": np.arange(len(quads)), "crack tip": len(quads) + np.arange(len(fan_quads))}
        mesh = mesh_of(compact.reshape(all_quads.shape), at, regions, ends, tolerance=1e-6)
        outside = mesh.elements_of("body")
        least = least_jacobian(mesh)[outside]
        if least.min() <= 0:
            where = mesh.nodes[mesh.elements[outside[least.argmin()], 8]]
            raise BadMesh(f"a folded element near r = {where[0]:.5g}, z = {where[1]:.5g} mm: features too close")
        return self._record(mesh)

    def _split(self) -> tuple[Floats, Ints]:
        """Points and triangles with the slit's points doubled: those above it get new numbers."""
        triples = self.triples.copy()
        slit = self.slit_numbers
        next_on = {(int(a), int(b)) for a, b in itertools.pairwise(slit)}
        member = np.isin(triples, slit).any(axis=1)
        touching = np.nonzero(member)[0]
        by_edge: dict[tuple[int, int], list[int]] = {}
        above: set[int] = set()
        below: set[int] = set()
        for t in touching.tolist():
            corner = triples[t].tolist()
            for a, b in zip(corner, [*corner[1:], corner[0]], strict=True):
                if (a, b) in next_on:
                    above.add(t)
                elif (b, a) in next_on:
                    below.add(t)
                else:
                    by_edge.setdefault((min(a, b), max(a, b)), []).append(t)
        on_slit = set(slit.tolist())
        links: dict[int, list[int]] = {t: [] for t in touching.tolist()}
        for (a, b), owners in by_edge.items():
            if len(owners) == 2 and (a in on_slit or b in on_slit):
                links[owners[0]].append(owners[1])
                links[owners[1]].append(owners[0])
        for group, other in ((above, below), (below, above)):
            todo = list(group)
            while todo:
                for neighbour in links[todo.pop()]:
                    if neighbour not in group:
                        if neighbour in other:
                            raise BadMesh("the crack's two sides are not apart: features too close to it")
                        group.add(neighbour)
                        todo.append(neighbour)
        self.upper_numbers = len(self.points) + np.arange(len(slit))
        new = dict(zip(slit.tolist(), self.upper_numbers.tolist(), strict=True))
        for t in above:
            triples[t] = [new.get(int(c), int(c)) for c in triples[t]]
        return np.concatenate([self.points, self.points[slit]]), triples

    def _doubled(self, edges: Ints) -> Ints:
        """The same edges with points of the slit in their upper numbers."""
        new = np.arange(len(self.points) + len(self.slit_numbers))
        new[self.slit_numbers] = self.upper_numbers
        return new[edges]

    def _find(self, pairs: Ints, edges: Ints) -> Ints:
        """Numbers of given edges among sorted pairs; -1 for those that are not there."""
        base = int(pairs.max()) + 1
        keys = pairs[:, 0] * base + pairs[:, 1]
        wanted = np.sort(edges, axis=1)
        wanted_keys = wanted[:, 0] * base + wanted[:, 1]
        place = np.minimum(np.searchsorted(keys, wanted_keys), len(keys) - 1)
        return np.where(keys[place] == wanted_keys, place, -1)

    def _places(self, pairs: Ints) -> tuple[Ints, Ints]:
        """For each given edge its number among pairs, below and above the slit; -1 where there is none."""
        one = np.stack([self.edges, self._mixed(True), self._mixed(False), self._doubled(self.edges)])
        found = np.stack([self._find(pairs, edges) for edges in one])
        return found[0], found[1:].max(axis=0)

    def _mixed(self, first: bool) -> Ints:
        mixed = self.edges.copy()
        column = 0 if first else 1
        mixed[:, column] = self._doubled(self.edges)[:, column]
        return mixed

    def _known_middles(self, pairs: Ints) -> dict[int, Floats]:
        below, above = self._places(pairs)
        known: dict[int, Floats] = {}
        for found in (below, above):
            for number, where in zip(found.tolist(), self.middles, strict=True):
                if number >= 0:
                    known[number] = where
        return known

    def _outer_edges(self, pairs: Ints) -> Ints:
        """For each outer edge its number among pairs."""
        below, above = self._places(pairs)
        own = np.maximum(below, above)[: self.n_outer]
        if (own < 0).any():
            raise BadMesh("an outer edge was lost next to the crack's mouth")
        return own

    def _bend(self, positions: Floats, quads: Ints, pairs: Ints, n: int) -> None:
        """Put the middles of the outer edges on the outline's curve, and the centres with them."""
        own = self._outer_edges(pairs)
        for k, edge in enumerate(own.tolist()):
            quarter = self.quarters[k]
            ends = pairs[edge]
            start_point = self.fixed[k]
            for end in ends.tolist():
                point = (
                    self.points[end]
                    if end < len(self.points)
                    else self.points[self.slit_numbers[end - len(self.points)]]
                )
                where = quarter[0] if np.abs(point - start_point).max() < 1e-12 else quarter[1]
                elements = np.nonzero((quads == n + edge).any(axis=1) & (quads == end).any(axis=1))[0]
                for e in elements.tolist():
                    corners = quads[e].tolist()
                    i, j = corners.index(n + edge), corners.index(end)
                    local = {(0, 1): 4, (1, 2): 5, (2, 3): 6, (0, 3): 7}[(min(i, j), max(i, j))]
                    positions[e, local] = where
                    positions[e, 8] = 0.5 * positions[e, 4:8].sum(axis=0) - 0.25 * positions[e, :4].sum(axis=0)

    def _fan(self, corners_at: Floats, pairs: Ints, n: int) -> tuple[Ints, Floats, Floats]:
        """Quadrilaterals of the fan, all corners with the fan's own added, and the fan's nine positions each."""
        half = RAYS // 2
        rim = np.empty(RAYS + 1, np.int64)
        rim[0:RAYS:2] = self.fan_numbers
        rim[0], rim[RAYS] = self.slit_numbers[-1], self.upper_numbers[-1]
        below, above = self._places(pairs)
        own = np.maximum(below, above)[self.n_outer : self.n_outer + half]
        rim[1:RAYS:2] = n + own
        radii = self.radius * RINGS
        n_rings = len(radii)
        base = len(corners_at)
        inner = base + np.arange(n_rings * (RAYS + 1)).reshape(n_rings, RAYS + 1)
        grid = np.concatenate([inner, rim[None]])  # tip, rings, rim
        where = self.tip + np.concatenate([[0.0], radii])[:, None, None] * self.rays
        quads = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=-1).reshape(-1, 4)
        at = np.stack([where[:-1, :-1], where[1:, :-1], where[1:, 1:], where[:-1, 1:]], axis=2)
        positions = _straight(at.reshape(-1, 4, 2))
        closing = positions[:RAYS]
        ends = closing[:, [1, 5, 2]]
        closing[:, [4, 8, 6]] = self.tip + 0.25 * (ends - self.tip)
        extra = where[:-1].reshape(-1, 2)
        self.faces_number = grid
        return quads, np.concatenate([corners_at, extra]), positions

    def _named(self, pairs: Ints, n: int) -> dict[str, Ints]:
        own = self._outer_edges(pairs)
        named: dict[str, list[Ints]] = {}
        starts = np.floor(self.places[:, 2] + 1e-12).astype(int)
        for edge, at in zip(own.tolist(), starts.tolist(), strict=True):
            for name in self.outline.names[at]:
                named.setdefault(name, []).append(np.array([[pairs[edge, 0], n + edge], [n + edge, pairs[edge, 1]]]))
        below, above = self._places(pairs)
        slit = slice(self.n_outer + RAYS // 2, None)
        for name, found, ray in ((LOWER, below[slit], 0), (UPPER, above[slit], RAYS)):
            halves = [np.array([[pairs[e, 0], n + e], [n + e, pairs[e, 1]]]) for e in found.tolist()]
            line = self.faces_number[:, ray]
            halves.append(np.stack([line[:-1], line[1:]], axis=1))
            named[name] = halves
        return {name: np.concatenate(halves) for name, halves in named.items()}

    def _record(self, mesh: Mesh) -> CrackedMesh:
        away = np.linalg.norm(mesh.nodes - self.tip, axis=1)
        tip_nodes = np.nonzero(away < 1e-9 * self.radius)[0]
        sides = []
        for name in (UPPER, LOWER):
            facets = mesh.facet_nodes[mesh.facets_of(name)]
            facets = facets[np.argsort(-away[facets[:, 2]])]
            first = away[facets[:, 0]] > away[facets[:, 1]]
            start = np.where(first, facets[:, 0], facets[:, 1])
            end = np.where(first, facets[:, 1], facets[:, 0])
            sides.append(np.stack([start, facets[:, 2], end], axis=1))
        upper, lower = sides
        gap = np.abs(mesh.nodes[upper] - mesh.nodes[lower]).max()
        if gap > 1e-9 * self.radius:
            raise BadMesh(f"the crack's faces do not match: {gap:.3g} mm apart")
        order = np.concatenate([upper[:, :2].ravel()])
        other = np.concatenate([lower[:, :2].ravel()])
        count = len(order)
        first_node = 2 * np.arange(len(upper))
        last = np.where(first_node + 2 < count, first_node + 2, -1)
        return CrackedMesh(
            mesh=mesh,
            mouth=self.start,
            tip=self.tip,
            direction=self.way,
            normal=self.normal,
            radii=self.radius * RINGS,
            tip_nodes=tip_nodes,
            faces=np.stack([order, other], axis=1),
            pairs=np.stack([first_node, first_node + 1, last], axis=1),
        )


def _straight(corners: Floats) -> Floats:
    """Nine positions (m, 9, 2) of straight-edged elements from their corners (m, 4, 2)."""
    following = np.roll(corners, -1, axis=1)
    return np.concatenate([corners, 0.5 * (corners + following), corners.mean(axis=1, keepdims=True)], axis=1)
