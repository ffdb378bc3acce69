"""Edge matrices of films, contacts between matching edges, air gaps and bridges between surfaces that need not match."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.errors import BadMesh
from studwell.fem.edges import Amount, EdgeSet
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats, Ints
from studwell.mesh.reference_element import edge_shapes, gauss_line

MATCH = 1e-6
"""Share of a boundary's length by which the nodes of a contact may differ after one shift."""


@dataclass(frozen=True, eq=False)
class Piece:
    """What one scale factor multiplies: matrices of some edges, and the heat that they carry.

    condition : int, number of the condition
    nodes     : (e, p), nodes of each edge (both sides' for a contact or gap)
    blocks    : (e, p, p), N mm/(s K) = mW/K, symmetric, rows of a contact sum to zero: what leaves one side
                arrives on the other; of a bridge all nodes of both sides are one block
    flow      : (e, p), mW/K: heat into the body (film, fluid at zero), from first to second (contact, gap)
    """

    condition: int
    nodes: Ints
    blocks: Floats
    flow: Floats


@dataclass(frozen=True, eq=False)
class Surface:
    """A named boundary of one body in a system.

    first_node : int, number of the body's first node
    name       : str, for messages
    """

    space: Space
    edges: EdgeSet
    first_node: int
    name: str

    @property
    def nodes(self) -> Ints:
        """Numbers of the edges' nodes among all, (n, 3): start, middle, end."""
        return self.first_node + self.edges.nodes


def film_piece(condition: int, surface: Surface, profile: Amount) -> Piece:
    """Return the piece of a film of coefficient 1.

    profile : 1, a number or a function of r and z;  raises ValueError : below zero or not finite
    """
    edges = surface.edges
    value = profile(edges.points[..., 0], edges.points[..., 1]) if callable(profile) else profile
    amount = np.broadcast_to(np.asarray(value, float), edges.shares.shape)
    if not (np.isfinite(amount).all() and (amount >= 0).all()):
        raise ValueError(f"{surface.name}: the profile of a film has to be finite and not below zero")
    blocks = np.einsum("ek,ki,kj->eij", edges.shares * amount, edges.shapes, edges.shapes)
    return Piece(condition, surface.nodes, blocks, -blocks.sum(axis=1))


def contact_pieces(condition: int, first: Surface, second: Surface, conductance: ArrayLike) -> list[Piece]:
    """Return one piece for each pair of edges.

    conductance       : N/(mm s K), one or (n,)
    raises BadMesh    : edges that do not match after one shift
    raises ValueError : conductance of another shape, below zero or not finite
    """
    one, two = first.edges, second.edges
    places = first.space.nodes[one.nodes], second.space.nodes[two.nodes]
    alike = places[0].shape == places[1].shape
    if alike:
        shift = places[1] - places[0]
        alike = bool(np.abs(shift - shift[0, 0]).max() <= MATCH * one.lengths.sum())
    if not alike:
        raise BadMesh(f"the edges of {first.name} and {second.name} do not match")
    n = len(one.areas)
    given = np.asarray(conductance, float)
    if given.shape not in ((), (n,)) or not np.isfinite(given).all() or (given < 0).any():
        raise ValueError(f"{first.name} - {second.name}: allowed: 1 or {n} conductances, finite, not below zero")
    weight = 0.5 * (one.shares + two.shares) * np.broadcast_to(given, (n,))[:, None]
    jump = np.concatenate([one.shapes, -two.shapes], axis=1)
    blocks = np.einsum("ek,ki,kj->eij", weight, jump, jump)
    nodes = np.concatenate([first.nodes, second.nodes], axis=1)
    flow = blocks[:, :3].sum(axis=1)
    return [Piece(condition, nodes[e : e + 1], blocks[e : e + 1], flow[e : e + 1]) for e in range(n)]


def gap_piece(condition: int, first: Surface, second: Surface, conductance: float) -> Piece:
    """Return the piece of a gap whose sides face each other at equal z.

    The heights at which either side has a node divide the gap; in each part both sides are smooth, and heat
    between the facing points is integrated over the mean of the two areas.

    conductance       : N/(mm s K)
    raises BadMesh    : an edge that does not run along z, or sides that do not overlap
    raises ValueError : conductance below zero or not finite
    """
    name = f"{first.name} - {second.name}"
    if not (np.isfinite(conductance) and conductance >= 0):
        raise ValueError(f"{name}: allowed: a finite conductance, not below zero")
    sides = [_upright(surface) for surface in (first, second)]
    lines = np.unique(np.concatenate([z.ravel() for z in sides]))
    lines = lines[np.concatenate([[True], np.diff(lines) > 1e-9 * np.ptp(lines)])]
    middles = 0.5 * (lines[:-1] + lines[1:])
    edges = [_edge_at(z, middles) for z in sides]
    both = (edges[0] >= 0) & (edges[1] >= 0)
    if not both.any():
        raise BadMesh(f"{name}: the two sides of the gap do not overlap in z")
    t, w = gauss_line(4)
    length = np.diff(lines)[both]
    heights = lines[:-1][both][:, None] + length[:, None] * t
    shapes, radii, nodes = [], [], []
    for surface, edge in zip((first, second), (edges[0][both], edges[1][both]), strict=True):
        where = surface.space.nodes[surface.edges.nodes[edge]]
        shapes.append(edge_shapes(_local(where[..., 1], heights).ravel())[0].reshape(*heights.shape, 3))
        radii.append(np.einsum("eki,ei->ek", shapes[-1], where[..., 0]))
        nodes.append(surface.nodes[edge])
    area = length[:, None] * w * first.space._around(0.5 * (radii[0] + radii[1]))
    jump = np.concatenate([shapes[0], -shapes[1]], axis=2)
    blocks = np.einsum("ek,eki,ekj->eij", conductance * area, jump, jump)
    return Piece(condition, np.concatenate(nodes, axis=1), blocks, blocks[:, :3].sum(axis=1))


def bridge_piece(condition: int, first: Surface, second: Surface, conductance: float) -> Piece:
    """Return the piece of a bridge: conductance times the difference of the two boundaries' mean temperatures.

    The heat is given to each side evenly over its area.

    conductance       : mW/K
    raises ValueError : conductance below zero or not finite
    """
    if not (np.isfinite(conductance) and conductance >= 0):
        raise ValueError(f"{first.name} - {second.name}: allowed: a finite conductance, not below zero")
    nodes, means = [], []
    for side in (first, second):
        own, place = np.unique(side.nodes, return_inverse=True)
        share = side.edges.shares @ side.edges.shapes / side.edges.areas.sum()
        nodes.append(own)
        means.append(np.bincount(place.ravel(), share.ravel(), minlength=len(own)))
    jump = np.concatenate([means[0], -means[1]])
    blocks = conductance * np.outer(jump, jump)
    return Piece(condition, np.concatenate(nodes)[None], blocks[None], (conductance * jump)[None])


def _upright(surface: Surface) -> Floats:
    """Lowest and highest z of each edge, (n, 2), of a surface whose edges run along z."""
    z = surface.space.nodes[surface.edges.nodes][..., 1]
    slopes = edge_shapes(np.array([0.0, 1.0]))[1] @ z.T
    rise = np.abs(z[:, 2] - z[:, 0])
    if (slopes[0] * slopes[1] <= 0).any() or (rise < 1e-6 * surface.edges.lengths).any():
        raise BadMesh(f"{surface.name}: an edge of a gap does not run along z")
    return np.sort(z[:, [0, 2]], axis=1)


def _edge_at(ranges: Floats, heights: Floats) -> Ints:
    """The edge that holds each height, (h,); -1 where there is none."""
    inside = (heights[:, None] > ranges[:, 0]) & (heights[:, None] < ranges[:, 1])
    return np.where(inside.any(axis=1), inside.argmax(axis=1), -1)


def _local(z: Floats, heights: Floats) -> Floats:
    """Local coordinate (e, k) at which edges with heights z (e, 3) of start, middle, end reach heights (e, k)."""
    t = (heights - z[:, :1]) / (z[:, 2:] - z[:, :1])
    for _ in range(6):
        values, slopes = edge_shapes(t.ravel())
        miss = np.einsum("eki,ei->ek", values.reshape(*t.shape, 3), z) - heights
        t = t - miss / np.einsum("eki,ei->ek", slopes.reshape(*t.shape, 3), z)
    return t
