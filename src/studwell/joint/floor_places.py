"""Places in the boss at which its floor's punch and split are read, and the hoop stress round a wedge."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.seats import EDGES
from studwell.mesh.mesh import Mesh
from studwell.section.layout import AVERAGE_DEPTH, Layout

Array = np.ndarray

PUNCH, UNDERSIDE, HOOP = "floor punch", "floor underside", "wedge hoop"

GAUSS = 0.5 + np.array([-0.5, 0.5]) / np.sqrt(3.0)
"""The two points of an edge at which quadratic elements give their best stress: Barlow 1976."""

BELOW_SURFACE = 1e-3
"""mm, how far above the underside its stress is read, so that the place lies in the body."""

MOST_UNDER = 16
"""Places along the underside at most; of more edges every second is left out, and again."""


@dataclass(frozen=True)
class Places:
    """Points (n, 2) mm with the weights (n,) of an average over them, together 1."""

    points: Array = field(repr=False)
    weights: Array = field(repr=False)


@dataclass(frozen=True)
class PunchSurface:
    """The cylinder through the floor at the tip's edge: its radius and height, mm, and places in its slice of elements."""

    radius: float
    height: float
    places: Places

    @property
    def area(self) -> float:
        """Of the cylinder, mm2."""
        return 2.0 * np.pi * self.radius * self.height


def element_places(mesh: Mesh, elements: Array) -> Places:
    """Return four points in each of some elements; weights by volume of the full revolution."""
    corners = mesh.nodes[mesh.elements[elements, :4]]
    points, weights = [], []
    for u, v in itertools.product(GAUSS, GAUSS):
        shapes = np.array([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v])
        along = np.einsum("a,eai->ei", np.array([v - 1, 1 - v, v, -v]), corners)
        up = np.einsum("a,eai->ei", np.array([u - 1, -u, u, 1 - u]), corners)
        point = np.einsum("a,eai->ei", shapes, corners)
        points.append(point)
        weights.append(point[:, 0] * np.abs(along[:, 0] * up[:, 1] - along[:, 1] * up[:, 0]))
    weight = np.concatenate(weights)
    return Places(np.concatenate(points), weight / weight.sum())


def punch_surface(layout: Layout, mesh: Mesh) -> PunchSurface | None:
    """Return the cylinder through the floor just outside the tip's contact; None where the mesh has no such slice.

    The slice runs from floor to underside between two upright mesh lines: the mean of its shear stress over its volume is
    the load that goes through it over its middle's area, by the virtual work of a lift that rises across it.
    """
    edge = float(layout.boss.tip_lines[-1])
    corners = mesh.nodes[mesh.elements[:, :4]]
    across = np.sort(corners[:, :, 0], axis=1)
    upright = (np.ptp(across[:, :2], axis=1) < 1e-7) & (np.ptp(across[:, 2:], axis=1) < 1e-7)
    first = np.flatnonzero(upright & (np.abs(across[:, 0] - edge) < 1e-7))
    if not len(first) or np.ptp(across[first, 3]) > 1e-7 or across[first[0], 3] > layout.boss.floor_edge[0] + 1e-7:
        return None
    on_edge = np.sort(np.where(np.abs(corners[first, :, 0] - edge) < 1e-7, corners[first, :, 1], np.nan), axis=1)[:, :2]
    lowest = float(mesh.nodes[mesh.facet_nodes[mesh.facets_of("underside"), 2], 1].min())
    whole = np.ptp(on_edge, axis=1).sum()
    if abs(on_edge.max() - on_edge.min() - whole) > 1e-6 or abs(on_edge.min() - lowest) > 1e-6:
        return None  # not one column from the floor to the underside
    r, z = corners[first, :, 0], corners[first, :, 1]
    area = 0.5 * np.abs((r * np.roll(z, -1, axis=1) - np.roll(r, -1, axis=1) * z).sum(axis=1)).sum()
    width = float(across[first[0], 3]) - edge
    return PunchSurface(edge + 0.5 * width, float(area) / width, element_places(mesh, first))


def underside_points(layout: Layout, mesh: Mesh) -> Array:
    """Return points (n, 2) mm on the underside below the hole, from the axis outwards."""
    middles = mesh.nodes[mesh.facet_nodes[mesh.facets_of("underside"), 2]]
    under = middles[middles[:, 0] < layout.boss.drill_radius]
    while len(under) > MOST_UNDER:
        under = under[::2]
    return under + np.array([0.0, BELOW_SURFACE])


def wedge_hoop_places(layout: Layout, mesh: Mesh) -> dict[str, Places]:
    """Return the metal round the hole where an incomplete thread wedges, AVERAGE_DEPTH deep; empty without such.

    Three bands as high as the pressed edges: behind them, and below and above, where no pressure on the wall takes from the
    hoop stress; a band that the wall does not reach to is left out.
    """
    if layout.wedge is None or EDGES not in mesh.boundaries:
        return {}
    ends = mesh.nodes[mesh.facet_nodes[mesh.facets_of(EDGES), :2]]
    low, high = layout.wedge.boss_edges
    wall = np.setdiff1d(mesh.outer, mesh.boundaries.get("outer", np.zeros(0, dtype=int)))
    middles = mesh.nodes[mesh.facet_nodes[wall, 2]]
    reach = float(ends[..., 0].max()) + AVERAGE_DEPTH
    r, z = mesh.nodes[mesh.elements[:, 8]].T
    found = {}
    for name, shift in (("below", -1.0), ("behind", 0.0), ("above", 1.0)):
        bottom, top = low + shift * (high - low), high + shift * (high - low)
        inside = (middles[:, 1] > bottom) & (middles[:, 1] < top) & (middles[:, 0] < reach)
        inside &= middles[:, 0] > 0.5 * layout.boss.drill_radius
        own = np.flatnonzero((z > bottom) & (z < top) & (r < reach) & (r > 0.5 * layout.boss.drill_radius))
        if inside.any():
            found[f"{HOOP} {name}"] = element_places(mesh, np.union1d(own, mesh.facet_element[wall[inside]]))
    return found


def boss_places(layout: Layout, mesh: Mesh) -> dict[str, Array]:
    """Return the points (n, 2) mm of every place that the mesh has, by name."""
    found: dict[str, Array] = {}
    under = underside_points(layout, mesh)
    if len(under):
        found[UNDERSIDE] = under
    punch = punch_surface(layout, mesh)
    if punch is not None:
        found[PUNCH] = punch.places.points
    return found | {name: places.points for name, places in wedge_hoop_places(layout, mesh).items()}
