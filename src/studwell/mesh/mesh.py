"""A mesh of one body: nine-node quadrilaterals in (r, z) with named regions and named outer edges."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshQuad2

from studwell.errors import BadMesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LINEAR_PARTS = np.array([[0, 4, 8, 7], [4, 1, 5, 8], [8, 5, 2, 6], [7, 8, 6, 3]])
"""Local nodes of the four linear quadrilaterals that a nine-node one is drawn as."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """One body's mesh. Coordinates r, z in mm; nine nodes an element, in scikit-fem's order.

    quads      : skfem.MeshQuad2, geometry and topology
    regions    : dict, region name -> (n,) element numbers; the regions cover the body without overlap
    boundaries : dict, boundary name -> (n,) facet numbers, in order along the boundary, from the end
                 with the smaller r (at equal r: the smaller z)
    """

    quads: MeshQuad2
    regions: Mapping[str, Ints] = field(default_factory=dict)
    boundaries: Mapping[str, Ints] = field(default_factory=dict)

    @property
    def n_elements(self) -> int:
        """Number of elements."""
        return int(self.quads.t.shape[1])

    @property
    def n_nodes(self) -> int:
        """Number of nodes (corners, edge middles and element centres)."""
        return len(self.nodes)

    @property
    def n_unknowns(self) -> int:
        """Number of displacement unknowns: two a node."""
        return 2 * self.n_nodes

    @cached_property
    def nodes(self) -> Floats:
        """Node positions, (N, 2), mm."""
        return np.ascontiguousarray(self.quads.doflocs.T)

    @cached_property
    def elements(self) -> Ints:
        """Node numbers of the elements, (M, 9): corners, edge middles, centre, counter-clockwise."""
        corners = self.quads.t
        n_vertices, n_facets = int(corners.max()) + 1, self.quads.facets.shape[1]
        centres = n_vertices + n_facets + np.arange(corners.shape[1])
        return np.vstack([corners, n_vertices + self.quads.t2f, centres]).T.astype(np.int64)

    @cached_property
    def facet_nodes(self) -> Ints:
        """Node numbers of all facets, (F, 3): end, other end, middle; ends in rising node number."""
        ends = self.quads.facets.astype(np.int64)
        middle = int(self.quads.t.max()) + 1 + np.arange(ends.shape[1])
        return np.vstack([ends, middle]).T

    @cached_property
    def outer(self) -> Ints:
        """Facet numbers of the outline: those of one element only, (n,)."""
        uses = np.bincount(self.quads.t2f.ravel(), minlength=self.quads.facets.shape[1])
        return np.nonzero(uses == 1)[0]

    @cached_property
    def facet_element(self) -> Ints:
        """The (first) element of each facet, (F,)."""
        owner = np.full(self.quads.facets.shape[1], -1, dtype=np.int64)
        t2f = self.quads.t2f
        owner[t2f[:, ::-1].ravel()] = np.tile(np.arange(t2f.shape[1])[::-1], 4)
        return owner

    @cached_property
    def element_region(self) -> Ints:
        """Index of each element's region in the order of `regions`, (M,); -1 without one."""
        index = np.full(self.n_elements, -1, dtype=np.int64)
        for number, members in enumerate(self.regions.values()):
            index[members] = number
        return index

    def facets_of(self, name: str) -> Ints:
        """Facet numbers of a named boundary, ordered along it.

        raises BadMesh : no boundary of that name
        """
        if name not in self.boundaries:
            known = ", ".join(sorted(self.boundaries)) or "none"
            raise BadMesh(f"no boundary named {name!r}; this mesh has: {known}")
        return self.boundaries[name]

    def elements_of(self, region: str) -> Ints:
        """Element numbers of a named region.

        raises BadMesh : no region of that name
        """
        if region not in self.regions:
            known = ", ".join(sorted(self.regions)) or "none"
            raise BadMesh(f"no region named {region!r}; this mesh has: {known}")
        return self.regions[region]

    def with_boundary(self, name: str, predicate: Callable[[Floats, Floats], ArrayLike]) -> Mesh:
        """Return the same mesh with one more named boundary.

        name           : str, not yet in use
        predicate      : function of r and z of the outer edges' middles, (n,) mm each -> (n,) bool
        raises BadMesh : the name is in use, or no outer edge matches
        """
        if name in self.boundaries:
            raise BadMesh(f"boundary {name!r} exists already")
        middles = self.nodes[self.facet_nodes[self.outer, 2]]
        chosen = np.broadcast_to(np.asarray(predicate(middles[:, 0], middles[:, 1]), bool), len(middles))
        if not chosen.any():
            raise BadMesh(f"boundary {name!r} matches no outer edge")
        facets = order_along(self, self.outer[chosen])
        return Mesh(self.quads, self.regions, {**self.boundaries, name: facets})

    def with_nodes(self, nodes: Floats) -> Mesh:
        """Return the same mesh with its nodes elsewhere, (N, 2) mm; elements and names stay."""
        quads = MeshQuad2(np.ascontiguousarray(nodes.T), self.quads.t, validate=False)
        moved = Mesh(quads, self.regions)
        ordered = {name: order_along(moved, facets) for name, facets in self.boundaries.items()}
        return Mesh(quads, self.regions, ordered)

    def n_chains(self, name: str) -> int:
        """Return in how many separate lines of edges a named boundary lies. raises BadMesh : no such boundary."""
        return len(chains_along(self, self.facets_of(name)))

    def linear_quads(self) -> Ints:
        """Node numbers of four linear quadrilaterals an element, (4 M, 4), for drawing."""
        return self.elements[:, LINEAR_PARTS].reshape(-1, 4)


def mesh_of(
    corners: Ints,
    positions: Floats,
    regions: Mapping[str, ArrayLike],
    boundaries: Mapping[str, Ints] | None = None,
    tolerance: float = 1e-7,
) -> Mesh:
    """Return a mesh from joined corner numbers and each element's own nine node positions.

    corners        : (M, 4), corner numbers 0..n-1, counter-clockwise, all in use
    positions      : (M, 9, 2), mm, in scikit-fem's local order
    regions        : name -> element numbers
    boundaries     : name -> (n, 2) corner numbers of outer edges
    tolerance      : mm, the most by which two elements may disagree on a shared node
    raises BadMesh : elements disagree, three share an edge, or a boundary edge is not on the outline
    """
    corners = np.asarray(corners)
    n_vertices = int(corners.max()) + 1
    placeholder = np.zeros((2, n_vertices))
    topology = MeshQuad2(placeholder, np.ascontiguousarray(corners.T), validate=False)
    uses = np.bincount(topology.t2f.ravel())
    if uses.max() > 2:
        raise BadMesh("an edge belongs to more than two elements: blocks overlap")
    elements = Mesh(topology).elements
    nodes = np.zeros((int(elements.max()) + 1, 2))
    nodes[elements] = positions
    gap = np.abs(nodes[elements] - positions).max(axis=(1, 2))
    if gap.max() > tolerance:
        where = positions[gap.argmax()].mean(axis=0)
        raise BadMesh(
            f"two blocks share corners but not the edge between them, {gap.max():.3g} mm apart "
            f"near r = {where[0]:.6g}, z = {where[1]:.6g}"
        )
    quads = MeshQuad2(np.ascontiguousarray(nodes.T), topology.t, validate=False)
    mesh = Mesh(quads, {name: np.sort(np.asarray(list_, np.int64)) for name, list_ in regions.items()})
    named: dict[str, Ints] = {}
    for name, ends in (boundaries or {}).items():
        facets = _facets_between(mesh, ends)
        inner = ~np.isin(facets, mesh.outer)
        if inner.any():
            where = mesh.nodes[mesh.facet_nodes[facets[inner][0], 2]]
            raise BadMesh(f"boundary {name!r} has an edge inside the body near r = {where[0]:.6g}, z = {where[1]:.6g}")
        named[name] = order_along(mesh, np.unique(facets))
    return Mesh(mesh.quads, mesh.regions, named)


def _facets_between(mesh: Mesh, ends: Ints) -> Ints:
    all_ends = mesh.facet_nodes[:, :2]
    base = int(all_ends.max()) + 1
    keys = all_ends[:, 0] * base + all_ends[:, 1]
    wanted = np.sort(np.asarray(ends), axis=1)
    wanted_keys = wanted[:, 0] * base + wanted[:, 1]
    place = np.searchsorted(keys, wanted_keys)
    found = (place < len(keys)) & (keys[np.minimum(place, len(keys) - 1)] == wanted_keys)
    if not found.all():
        raise BadMesh("a boundary edge is no edge of the mesh")
    return place


def order_along(mesh: Mesh, facets: Ints) -> Ints:
    """Return facets in order along the boundary that they form.

    Each connected chain starts at its end with the smaller r (at equal r: the smaller z), so that two
    bodies that meet along a line order it alike; chains follow each other by the same rule.

    facets  : (n,) facet numbers
    returns : (n,) the same numbers
    """
    chains = [chain for chain, _ in chains_along(mesh, facets)]
    return np.concatenate(chains) if chains else np.asarray(facets, np.int64)


def chains_along(mesh: Mesh, facets: Ints) -> list[tuple[Ints, Ints]]:
    """Return the connected chains of some facets, each with the corners passed in order.

    facets  : (n,) facet numbers
    returns : list of (facets (k,), corners (k + 1,))
    """
    ends = mesh.facet_nodes[facets, :2]
    at: dict[int, list[int]] = {}
    for place, (first, second) in enumerate(ends.tolist()):
        at.setdefault(first, []).append(place)
        at.setdefault(second, []).append(place)
    size = np.ptp(mesh.nodes, axis=0).max()
    rounded = np.round(mesh.nodes / (1e-7 * size))

    def rank(corner: int) -> tuple[float, float]:
        return float(rounded[corner, 0]), float(rounded[corner, 1])

    left = set(range(len(ends)))
    found = []
    free_ends = sorted((corner for corner, places in at.items() if len(places) == 1), key=rank)
    starts = free_ends + sorted((corner for corner in at if len(at[corner]) != 1), key=rank)
    for start in starts:
        corner, chain, corners = start, [], [start]
        while True:
            ways = [place for place in at[corner] if place in left]
            if not ways:
                break
            if len(ways) > 1:
                ways.sort(key=lambda place: rank(int(ends[place].sum()) - corner))
            place = ways[0]
            left.discard(place)
            corner = int(ends[place].sum()) - corner
            chain.append(int(facets[place]))
            corners.append(corner)
        if chain:
            found.append((np.array(chain, np.int64), np.array(corners, np.int64)))
    found.sort(key=lambda pair: rank(int(pair[1][0])))
    return found
