"""Bodies from blocks: transfinite four-sided patches, joined where they meet, with checked conformity."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from studwell.errors import BadMesh
from studwell.mesh.mesh import Floats, Ints, Mesh, mesh_of
from studwell.mesh.quality import least_jacobian

EDGES = ("south", "east", "north", "west")
Curve = Callable[[Floats], ArrayLike]


class Patch(Protocol):
    """What `build` needs of a block."""

    @property
    def region(self) -> str:
        """Name of the region that the block's elements belong to."""

    @property
    def tags(self) -> Mapping[str, str]:
        """Edge ("south", "east", "north", "west") -> boundary name."""

    def points(self) -> Floats:
        """Positions of all nodes, (2 nu + 1, 2 nv + 1, 2), mm."""


@dataclass(frozen=True, eq=False)
class Block:
    """A four-sided patch, meshed by transfinite interpolation between its edges.

    corners   : (4, 2), mm: at (u, v) = (0, 0), (1, 0), (1, 1), (0, 1), counter-clockwise in (r, z)
    divisions : elements along u and along v
    region    : str
    tags      : edge -> boundary name; south is v = 0, east u = 1, north v = 1, west u = 0
    u_spacing, v_spacing : rising numbers from 0 to 1, one more than divisions; None: even
    curves    : edge -> function t (n,) -> (n, 2) mm, t from 0 to 1 along rising u or v; others are straight
    raises BadMesh : unknown edge, wrong spacing, or a curve that misses its corners
    """

    corners: ArrayLike
    divisions: tuple[int, int]
    region: str = "body"
    tags: Mapping[str, str] = field(default_factory=dict)
    u_spacing: ArrayLike | None = None
    v_spacing: ArrayLike | None = None
    curves: Mapping[str, Curve] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _check_edges(self.tags, self.region)
        _check_edges(self.curves, self.region)

    def points(self) -> Floats:
        """Positions of all nodes, (2 nu + 1, 2 nv + 1, 2), mm."""
        corners = np.asarray(self.corners, float)
        if corners.shape != (4, 2):
            raise BadMesh(f"block {self.region!r}: corners have shape {corners.shape}; allowed: (4, 2)")
        u = _parameters(self.u_spacing, self.divisions[0], self.region)
        v = _parameters(self.v_spacing, self.divisions[1], self.region)
        ends = {"south": (0, 1, u), "east": (1, 2, v), "north": (3, 2, u), "west": (0, 3, v)}
        edge = {name: self._edge(name, corners[i], corners[j], t) for name, (i, j, t) in ends.items()}
        uu, vv = u[:, None, None], v[None, :, None]
        ruled = (1 - vv) * edge["south"][:, None] + vv * edge["north"][:, None]
        ruled = ruled + (1 - uu) * edge["west"][None] + uu * edge["east"][None]
        bilinear = (1 - vv) * ((1 - uu) * corners[0] + uu * corners[1])
        return ruled - bilinear - vv * ((1 - uu) * corners[3] + uu * corners[2])

    def _edge(self, name: str, start: Floats, end: Floats, t: Floats) -> Floats:
        straight = (1 - t[:, None]) * start + t[:, None] * end
        if name not in self.curves:
            return straight
        points = np.array(self.curves[name](t), float)
        size = np.abs(end - start).max() + np.abs(points - start).max()
        miss = max(np.abs(points[0] - start).max(), np.abs(points[-1] - end).max())
        if points.shape != (len(t), 2) or miss > 1e-6 * size:
            raise BadMesh(f"block {self.region!r}: the {name} curve misses its corners by {miss:.3g} mm")
        points[0], points[-1] = start, end
        return points


@dataclass(frozen=True, eq=False)
class GridBlock:
    """A block given by its own element corners; see `grid_block`."""

    vertices: Floats
    region: str
    tags: Mapping[str, str]

    def points(self) -> Floats:
        """Positions of all nodes, (2 nu + 1, 2 nv + 1, 2), mm."""
        wide = with_middles(self.vertices)
        return np.ascontiguousarray(with_middles(wide.swapaxes(0, 1)).swapaxes(0, 1))


def grid_block(vertices: ArrayLike, region: str = "body", tags: Mapping[str, str] | None = None) -> GridBlock:
    """Return a block of straight-edged elements between given corners, such as a swept section.

    vertices       : (nu + 1, nv + 1, 2), mm; u then v counter-clockwise
    region         : str
    tags           : edge -> boundary name
    raises BadMesh : unknown edge or wrong shape
    """
    array = np.asarray(vertices, float)
    if array.ndim != 3 or array.shape[2] != 2 or min(array.shape[:2]) < 2:
        raise BadMesh(f"block {region!r}: vertices have shape {array.shape}; allowed: (nu + 1, nv + 1, 2)")
    _check_edges(tags or {}, region)
    return GridBlock(array, region, dict(tags or {}))


@dataclass(frozen=True, eq=False)
class NodeBlock:
    """A block given by all its nodes; see `node_block`."""

    nodes: Floats
    region: str
    tags: Mapping[str, str]

    def points(self) -> Floats:
        """Positions of all nodes, (2 nu + 1, 2 nv + 1, 2), mm."""
        return self.nodes


def node_block(nodes: ArrayLike, region: str = "body", tags: Mapping[str, str] | None = None) -> NodeBlock:
    """Return a block of elements whose corners and middles are given, so that its edges may be curved.

    nodes          : (2 nu + 1, 2 nv + 1, 2), mm; u then v counter-clockwise; every second one is a corner
    region, tags   : as in `grid_block`
    raises BadMesh : unknown edge or wrong shape
    """
    array = np.asarray(nodes, float)
    if array.ndim != 3 or array.shape[2] != 2 or min(array.shape[:2]) < 3 or not all(n % 2 for n in array.shape[:2]):
        raise BadMesh(f"block {region!r}: nodes have shape {array.shape}; allowed: (2 nu + 1, 2 nv + 1, 2)")
    _check_edges(tags or {}, region)
    return NodeBlock(array, region, dict(tags or {}))


def with_middles(array: Floats) -> Floats:
    """Return an array (n, ...) with the mean of every two neighbours put between them, (2 n - 1, ...)."""
    wide = np.empty((2 * len(array) - 1, *array.shape[1:]))
    wide[::2] = array
    wide[1::2] = 0.5 * (array[:-1] + array[1:])
    return wide


def arc(centre: ArrayLike, radius: float, start_angle: float, end_angle: float) -> Curve:
    """Return a circular arc as a curve for a block's edge.

    centre : (2,) mm; radius : mm; start_angle, end_angle : degrees from the r axis towards the z axis
    """
    middle = np.asarray(centre, float)

    def curve(t: Floats) -> Floats:
        angle = np.radians(start_angle + (end_angle - start_angle) * np.asarray(t))
        return middle + radius * np.stack([np.cos(angle), np.sin(angle)], axis=-1)

    return curve


def graded(n: int, ratio: float) -> Floats:
    """Return n + 1 numbers from 0 to 1 whose intervals grow evenly, the last `ratio` times the first.

    n : int, elements; ratio : float > 0, last interval over first
    """
    lengths = np.geomspace(1.0, ratio, n)
    return np.concatenate([[0.0], np.cumsum(lengths)[:-1] / lengths.sum(), [1.0]])


def build(blocks: Sequence[Patch], tolerance: float = 1e-7) -> Mesh:
    """Return one body's mesh: the blocks joined where their nodes coincide.

    blocks         : patches of the body; touching ones need the same nodes along the shared edge
    tolerance      : mm, nodes closer than this are one
    raises BadMesh : hanging nodes, overlapping blocks, folded elements, separate parts, inner boundaries
    """
    if not blocks:
        raise BadMesh("a body needs at least one block")
    corner_points, corners, positions = [], [], []
    regions: dict[str, list[Ints]] = {}
    edges: dict[str, list[Ints]] = {}
    n_points = n_elements = 0
    for block in blocks:
        grid = block.points()
        nu, nv = (grid.shape[0] - 1) // 2, (grid.shape[1] - 1) // 2
        number = n_points + np.arange((nu + 1) * (nv + 1)).reshape(nu + 1, nv + 1)
        corner_points.append(grid[::2, ::2].reshape(-1, 2))
        quads = [number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]]
        corners.append(np.stack(quads, axis=-1).reshape(-1, 4))
        positions.append(_element_positions(grid))
        regions.setdefault(block.region, []).append(n_elements + np.arange(nu * nv))
        sides = {"south": number[:, 0], "east": number[-1], "north": number[:, -1], "west": number[0]}
        for edge, name in block.tags.items():
            edges.setdefault(name, []).append(np.stack([sides[edge][:-1], sides[edge][1:]], axis=1))
        n_points += number.size
        n_elements += nu * nv
    join = _joined(np.concatenate(corner_points), tolerance)
    joined = join[np.concatenate(corners)]
    doubled = np.sort(joined, axis=1)
    if (np.diff(doubled, axis=1) == 0).any():
        raise BadMesh("an element has two corners in one place")
    mesh = mesh_of(
        joined,
        np.concatenate(positions),
        {name: np.concatenate(members) for name, members in regions.items()},
        {name: join[np.concatenate(ends)] for name, ends in edges.items()},
        tolerance=10 * tolerance,
    )
    check(mesh, tolerance)
    return mesh


def check(mesh: Mesh, tolerance: float = 1e-7) -> None:
    """Raise BadMesh unless the mesh is one conforming body of unfolded elements at r >= 0.

    tolerance : mm, distance below which an outer node counts as lying on another's edge
    """
    if mesh.nodes[:, 0].min() < -tolerance:
        raise BadMesh(f"a node lies at r = {mesh.nodes[:, 0].min():.6g} mm; allowed: r >= 0")
    least = least_jacobian(mesh)
    if least.min() <= 0:
        where = mesh.nodes[mesh.elements[least.argmin(), 8]]
        raise BadMesh(
            f"{(least <= 0).sum()} folded or clockwise elements, the worst near r = {where[0]:.6g}, "
            f"z = {where[1]:.6g}; blocks run counter-clockwise"
        )
    _check_outline(mesh, tolerance)
    pairs = mesh.elements[:, :4]
    links = coo_matrix(
        (np.ones(pairs[:, 1:].size), (np.repeat(pairs[:, 0], 3), pairs[:, 1:].ravel())),
        shape=(mesh.n_nodes, mesh.n_nodes),
    )
    labels = connected_components(links, directed=False)[1][pairs[:, 0]]
    if (labels != labels[0]).any():
        raise BadMesh(f"the blocks form {len(np.unique(labels))} separate parts; a body is one")


def _check_outline(mesh: Mesh, tolerance: float) -> None:
    """Raise BadMesh if outer edges cross each other or a corner lies within another outer edge."""
    facets = mesh.facet_nodes[mesh.outer]
    ends, middle = mesh.nodes[facets[:, :2]], mesh.nodes[facets[:, 2]]
    points = mesh.nodes[facets]
    low, high = points.min(axis=1) - tolerance, points.max(axis=1) + tolerance
    for start in range(0, len(facets), 1000):
        part = slice(start, start + 1000)
        near = (low[part, None] <= high).all(axis=2) & (high[part, None] >= low).all(axis=2)
        mine, other = np.nonzero(near)
        mine = mine + start
        shared = (facets[mine, :2, None] == facets[other, None, :2]).any(axis=(1, 2))
        apart = ~shared
        crossing = apart & _cross(ends[mine], ends[other])
        chord = ends[mine, 1] - ends[mine, 0]
        length2 = (chord**2).sum(axis=1)
        sagitta = np.linalg.norm(middle[mine] - ends[mine].mean(axis=1), axis=1)
        slack = tolerance + 0.01 * sagitta
        inside = np.zeros(len(mine), bool)
        for corner in (0, 1):
            t = ((ends[other, corner] - ends[mine, 0]) * chord).sum(axis=1) / length2
            point = _on_edge(ends[mine], middle[mine], t)
            distance = np.linalg.norm(ends[other, corner] - point, axis=1)
            along = (t > 0) & (t < 1) & (distance < slack)
            clear = np.minimum(t, 1 - t) * np.sqrt(length2) > 2 * slack
            inside |= along & clear
        bad = crossing | inside
        if bad.any():
            where = middle[mine[bad][0]]
            raise BadMesh(
                "edges meet without sharing their nodes (hanging node or overlapping blocks) near "
                f"r = {where[0]:.6g}, z = {where[1]:.6g}"
            )


def _on_edge(ends: Floats, middle: Floats, t: Floats) -> Floats:
    weights = np.stack([(1 - t) * (1 - 2 * t), t * (2 * t - 1), 4 * t * (1 - t)], axis=-1)
    points = np.concatenate([ends, middle[:, None]], axis=1)
    return np.einsum("np,npd->nd", weights, points)


def _cross(first: Floats, second: Floats) -> NDArray[np.bool_]:
    """Return whether straight segments (n, 2, 2) cross at a point inside both, (n,) bool."""

    def side(line: Floats, point: Floats) -> Floats:
        along, to = line[:, 1] - line[:, 0], point - line[:, 0]
        return (along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0]) / (along**2).sum(axis=1)

    a = side(first, second[:, 0]), side(first, second[:, 1])
    b = side(second, first[:, 0]), side(second, first[:, 1])
    small = 1e-6
    opposite = [(p * q < 0) & (np.minimum(np.abs(p), np.abs(q)) > small) for p, q in (a, b)]
    return opposite[0] & opposite[1]


def _joined(points: Floats, tolerance: float) -> Ints:
    """Return the number of the joined corner that each point becomes, in order of first appearance."""
    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points)))
    label = connected_components(graph, directed=False)[1]
    _, first, inverse = np.unique(label, return_index=True, return_inverse=True)
    order = np.empty(len(first), np.int64)
    order[np.argsort(first)] = np.arange(len(first))
    return order[inverse]


def _element_positions(grid: Floats) -> Floats:
    """Return each element's nine positions from a block's grid, (nu nv, 9, 2)."""
    west, middle, east = grid[:-1:2], grid[1::2], grid[2::2]
    south, level, north = slice(0, -1, 2), slice(1, None, 2), slice(2, None, 2)
    nine = [
        west[:, south], east[:, south], east[:, north], west[:, north],
        middle[:, south], east[:, level], middle[:, north], west[:, level], middle[:, level],
    ]  # fmt: skip
    return np.stack(nine, axis=2).reshape(-1, 9, 2)


def _parameters(spacing: ArrayLike | None, n: int, region: str) -> Floats:
    if spacing is None:
        if n < 1:
            raise BadMesh(f"block {region!r}: {n} divisions; allowed: 1 or more")
        return np.linspace(0.0, 1.0, 2 * n + 1)
    values = np.asarray(spacing, float)
    rising = values.ndim == 1 and len(values) == n + 1 and (np.diff(values) > 0).all()
    if not rising or abs(values[0]) > 1e-12 or abs(values[-1] - 1) > 1e-12:
        raise BadMesh(f"block {region!r}: spacing must rise from 0 to 1 in {n} steps")
    return with_middles(values)


def _check_edges(names: Mapping[str, object], region: str) -> None:
    for name in names:
        if name not in EDGES:
            raise BadMesh(f"block {region!r}: no edge {name!r}; allowed: {', '.join(EDGES)}")
