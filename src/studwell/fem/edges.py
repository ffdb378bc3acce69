"""Integrals along named boundaries: areas, normals, and loads that are dual to area averages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import csc_matrix

from studwell.errors import BadMesh
from studwell.mesh.mesh import Floats, Ints, Mesh, chains_along
from studwell.mesh.reference_element import edge_shapes, gauss_line

Around = Callable[[Floats], Floats]
"""Function of r (mm) that returns the depth that a point of the section stands for (mm)."""

Amount = float | Callable[[Floats, Floats], ArrayLike]
"""A number, or a function of r and z (arrays of one shape, mm) that returns numbers of that shape."""


@dataclass(frozen=True, eq=False)
class EdgeSet:
    """The edges of a named boundary, in order along it.

    nodes     : (n, 3), start, middle, end
    midpoints : (n, 2), mm
    lengths   : (n,), mm
    areas     : (n,), mm^2, of the full revolution (of 1 mm thickness in a plane space)
    normals   : (n, 2), outward unit normal at the middle
    points    : (n, 5, 2), Gauss points along the edges, mm
    shapes    : (5, 3), shape functions of start, middle, end at those points
    shares    : (n, 5), mm^2, the area that each Gauss point stands for
    outward   : (n, 5, 2), outward unit normals at those points
    """

    nodes: Ints
    midpoints: Floats
    lengths: Floats
    areas: Floats
    normals: Floats
    points: Floats
    shapes: Floats
    shares: Floats
    outward: Floats


def edge_set(mesh: Mesh, name: str, around: Around) -> EdgeSet:
    """Return the edges of a named boundary with their quadrature.

    raises BadMesh : no boundary of that name
    """
    nodes = _nodes_along(mesh, name)
    t, w = gauss_line(5)
    points, speed, outward = _along(mesh, nodes, t)
    middle, _, normal = _along(mesh, nodes, np.array([0.5]))
    shares = speed * around(points[..., 0]) * w
    return EdgeSet(
        nodes=nodes,
        midpoints=middle[:, 0],
        lengths=speed @ w,
        areas=shares.sum(axis=1),
        normals=normal[:, 0],
        points=points,
        shapes=edge_shapes(t)[0],
        shares=shares,
        outward=outward,
    )


def unit_columns(edges: EdgeSet, name: str, direction: str | ArrayLike, n_nodes: int) -> csc_matrix:
    """Return the nodal loads of 1 N spread evenly over each edge, sparse (2 N, n_edges).

    edges          : of boundary `name`
    direction      : "r", "z", "normal" (outward, point by point) or a fixed direction (2,)
    raises BadMesh : an edge without area: on the axis
    """
    if edges.areas.min() <= 1e-12 * edges.areas.max():
        raise BadMesh(f"boundary {name!r} has an edge on the axis, which has no area to load")
    ways = _ways(edges, direction)
    share = edges.shares / edges.areas[:, None]
    loads = np.einsum("ek,kn,eki->eni", share, edges.shapes, ways)
    rows = 2 * edges.nodes[:, :, None] + np.arange(2)
    columns = np.broadcast_to(np.arange(len(rows))[:, None, None], rows.shape)
    matrix = csc_matrix((loads.ravel(), (rows.ravel(), columns.ravel())), shape=(2 * n_nodes, len(rows)))
    matrix.eliminate_zeros()
    return matrix


def traction_load(edges: EdgeSet, direction: str | ArrayLike, amount: Amount, n_nodes: int) -> Floats:
    """Return the nodal loads of a traction along a direction, (2 N,), N.

    direction : as in `unit_columns`;  amount : MPa, a number or a function of r and z
    """
    force = edges.shares * _amounts(edges, amount)
    loads = np.einsum("ek,kn,eki->eni", force, edges.shapes, _ways(edges, direction))
    rows = 2 * edges.nodes[:, :, None] + np.arange(2)
    return np.asarray(np.bincount(rows.ravel(), loads.ravel(), minlength=2 * n_nodes), float)


def scalar_load(edges: EdgeSet, amount: Amount, n_nodes: int) -> Floats:
    """Return the integral of amount times each node's shape function, (N,); such as W/mm^2 -> W."""
    flow = (edges.shares * _amounts(edges, amount)) @ edges.shapes
    return np.asarray(np.bincount(edges.nodes.ravel(), flow.ravel(), minlength=n_nodes), float)


def scalar_matrix(edges: EdgeSet, amount: Amount, n_nodes: int) -> csc_matrix:
    """Return the integral of amount times two shape functions, sparse (N, N); such as of a film."""
    weight = edges.shares * _amounts(edges, amount)
    local = np.einsum("ek,kn,km->enm", weight, edges.shapes, edges.shapes)
    rows = np.broadcast_to(edges.nodes[:, :, None], local.shape)
    columns = np.broadcast_to(edges.nodes[:, None, :], local.shape)
    return csc_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(n_nodes, n_nodes))


def _amounts(edges: EdgeSet, amount: Amount) -> Floats:
    return amounts_at(amount, edges.points, "what a boundary is given")


def amounts_at(amount: Amount | ArrayLike, points: Floats, what: str) -> Floats:
    """Return an amount at points (..., 2) mm, (...).

    what : of the message
    raises ValueError : not finite, or no number: a text that looks like one is none
    """
    value = amount(points[..., 0], points[..., 1]) if callable(amount) else amount
    array = np.asarray(value)
    if array.dtype.kind not in "iuf" or not np.isfinite(array).all():
        shown = repr(value) if array.ndim == 0 else f"an array of {array.dtype} with values that are not finite numbers"
        raise ValueError(f"{what} is {shown}; allowed: finite numbers, or a function of r and z (mm) that returns such")
    return np.broadcast_to(array.astype(float), points.shape[:-1])


def _ways(edges: EdgeSet, direction: str | ArrayLike) -> Floats:
    if isinstance(direction, str):
        if direction == "normal":
            return edges.outward
        if direction not in ("r", "z"):
            raise ValueError(f"direction {direction!r}; allowed: 'r', 'z', 'normal' or two numbers")
        direction = (1.0, 0.0) if direction == "r" else (0.0, 1.0)
    return np.broadcast_to(np.asarray(direction, float), edges.outward.shape)


def _nodes_along(mesh: Mesh, name: str) -> Ints:
    facets = mesh.facets_of(name)
    starts: dict[int, int] = {}
    for chain, corners in chains_along(mesh, facets):
        starts.update(zip(chain.tolist(), corners[:-1].tolist(), strict=True))
    start = np.array([starts[facet] for facet in facets.tolist()], np.int64)
    nodes = mesh.facet_nodes[facets]
    return np.stack([start, nodes[:, 2], nodes[:, 0] + nodes[:, 1] - start], axis=1)


def _along(mesh: Mesh, nodes: Ints, t: Floats) -> tuple[Floats, Floats, Floats]:
    """Points (n, k, 2), ds/dt (n, k) and outward unit normals (n, k, 2) on edges."""
    values, slopes = edge_shapes(t)
    where = mesh.nodes[nodes]
    points = np.einsum("kn,eni->eki", values, where)
    along = np.einsum("kn,eni->eki", slopes, where)
    speed = np.linalg.norm(along, axis=2)
    normal = np.stack([along[..., 1], -along[..., 0]], axis=-1) / speed[..., None]
    facets = nodes[:, 1] - int(mesh.facet_nodes[0, 2])
    away = where[:, 1] - mesh.nodes[mesh.elements[mesh.facet_element[facets], 8]]
    chord = where[:, 2] - where[:, 0]
    side = np.sign(chord[:, 1] * away[:, 0] - chord[:, 0] * away[:, 1])
    return points, speed, normal * side[:, None, None]
