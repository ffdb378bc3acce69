"""The closed space under a stud's tip: which faces it wets, its volume and the area that its pressure pushes on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.errors import BadMesh, Unknown
from studwell.mesh.mesh import Mesh, chains_along, order_along
from studwell.section.lines import Array

WET = "pocket"
"""Boundary of boss and stud from the axis to the lowest engaged thread."""

MISFIT = 0.25
"""mm by which the ends of the two wetted boundaries may differ: play of the threads, or a boss mesh of the user's own."""


@dataclass(frozen=True)
class PocketShape:
    """The pocket with the stud's tip on its seat, nothing loaded.

    volume      : mm^3
    sealed_area : mm^2, of the circle on which the lowest engaged thread seals: what a pressure pushes the stud out on
    """

    volume: float
    sealed_area: float


def wet_boss(mesh: Mesh) -> Mesh:
    """Return a boss mesh with the wetted boundary: floor, fillet and wall up to the lowest engaged thread. raises BadMesh"""
    return _wet(mesh, upper=True)


def wet_stud(mesh: Mesh) -> Mesh:
    """Return a stud mesh with the wetted boundary: tip face and point up to the lowest engaged thread. raises BadMesh"""
    return _wet(mesh, upper=False)


def _wet(mesh: Mesh, upper: bool) -> Mesh:
    """Add the line of outer edges from the axis to the first edge of boundary 'thread'.

    upper : it starts at the upper of the two points where the outline leaves the axis (the hole's floor, not the underside)
    """
    off_axis = mesh.nodes[mesh.facet_nodes[mesh.outer, 2], 0] > 1e-9
    chains = chains_along(mesh, mesh.outer[off_axis])
    if len(chains) != 1:
        raise BadMesh(f"the outline of the body is in {len(chains)} pieces, not one line from axis to axis")
    facets, corners = chains[0]
    rises = mesh.nodes[corners[0], 1] > mesh.nodes[corners[-1], 1]
    along = facets if rises == upper else facets[::-1]
    meets = np.flatnonzero(np.isin(along, mesh.facets_of("thread")))
    if not meets[0]:
        raise BadMesh("boundary 'thread' reaches the axis: nothing is left for a pocket")
    return Mesh(mesh.quads, mesh.regions, {**mesh.boundaries, WET: order_along(mesh, along[: meets[0]])})


def swept_volume(mesh: Mesh, name: str = WET) -> tuple[float, Array]:
    """Return the integral of pi r^2 dz (mm^3) along a boundary from the axis outwards, exact on quadratic edges, and the
    point (r, z), mm, at which it ends.

    raises BadMesh : the boundary is not one line that starts on the axis
    """
    chains = chains_along(mesh, mesh.facets_of(name))
    if len(chains) != 1:
        raise BadMesh(f"boundary {name!r} is in {len(chains)} pieces, not one line")
    facets, corners = chains[0]
    first, last, middle = mesh.nodes[corners[:-1]], mesh.nodes[corners[1:]], mesh.nodes[mesh.facet_nodes[facets, 2]]
    if abs(first[0, 0]) > 1e-6:
        raise BadMesh(f"boundary {name!r} does not start on the axis but at r = {first[0, 0]:.4g} mm")
    # r^2 dz/dt is of fifth order in t: three Gauss points are exact
    t = 0.5 + 0.5 * np.sqrt(0.6) * np.array([-1.0, 0.0, 1.0])
    weights = np.array([5.0, 8.0, 5.0]) / 18.0
    shapes = np.stack([(1 - t) * (1 - 2 * t), t * (2 * t - 1), 4 * t * (1 - t)])
    slopes = np.stack([4 * t - 3, 4 * t - 1, 4 - 8 * t])
    ends = np.stack([first, last, middle])
    radius = np.einsum("kt,kn->nt", shapes, ends[..., 0])
    rise = np.einsum("kt,kn->nt", slopes, ends[..., 1])
    return float(np.pi * np.sum(radius**2 * rise * weights)), last[-1]


def pocket_shape(boss: Mesh, stud: Mesh) -> PocketShape:
    """Return the pocket between two meshes with their wetted boundaries.

    raises Unknown : a boss mesh of the user's own whose boundary does not end where the stud's does, at the lowest thread
    """
    if WET not in boss.boundaries:
        raise Unknown(
            'the boss mesh of the case has no boundary "pocket" (floor, fillet and wall from the axis to the lowest '
            "engaged thread): the volume of the liquid under the tip is not known"
        )
    hole, edge = swept_volume(boss)
    point, own_edge = swept_volume(stud)
    if np.abs(edge - own_edge).max() > MISFIT:
        raise Unknown(
            f'boundary "pocket" of the boss ends at r {edge[0]:.4g}, z {edge[1]:.4g} mm and the stud\'s at '
            f"r {own_edge[0]:.4g}, z {own_edge[1]:.4g} mm: the pocket is not closed"
        )
    # a straight line from one end to the other closes it: threads that touch flank to flank leave a little play there
    between = np.pi * (edge[0] ** 2 + edge[0] * own_edge[0] + own_edge[0] ** 2) / 3.0 * (own_edge[1] - edge[1])
    volume = hole + float(between) - point
    if volume <= 0.0:
        raise Unknown("the tip fills the hole: no pocket is left under the lowest engaged thread")
    return PocketShape(volume, float(np.pi * own_edge[0] ** 2))
