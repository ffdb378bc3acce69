"""A section of quadrilaterals revolved about the axis: hexahedra, wedges along the axis, pyramids where a corner meets it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from numbers import Integral

import numpy as np

from studwell.errors import BadMesh, StudwellError
from studwell.mesh.mesh import Floats, Ints

ON_AXIS = 1e-9
"""mm; a node nearer to the axis lies on it and is not repeated round it."""

KINDS = {"hexahedron": 8, "wedge": 6, "pyramid": 5}
"""Cells of a revolved section, with their nodes."""


@dataclass(frozen=True, eq=False)
class Revolved:
    """A section turned about the axis z, in planes of equal angle from the half-plane x > 0, y = 0.

    nodes  : (n, 3) mm, x = r cos(angle), y = r sin(angle), z
    source : (n,) node of the section that each comes from;  angle: (n,) radians at which it stands
    cells  : kind -> (m, nodes) node numbers, first face looking inward;  origin: kind -> (m,) their quadrilateral
    step   : angle between two planes, radians;  sectors: how many there are
    """

    nodes: Floats = field(repr=False)
    source: Ints = field(repr=False)
    angle: Floats = field(repr=False)
    cells: dict[str, Ints] = field(repr=False)
    origin: dict[str, Ints] = field(repr=False)
    step: float
    sectors: int

    @property
    def n_cells(self) -> int:
        """Number of cells of all kinds."""
        return sum(len(members) for members in self.cells.values())

    @property
    def volume_share(self) -> float:
        """Volume of the flat-sided cells over that of the true body of revolution: sin(step) / step."""
        return math.sin(self.step) / self.step

    def vectors(self, plane: Floats) -> Floats:
        """Return vectors (n, 3) in x, y, z of vectors (N, 2) in r, z on the section's nodes."""
        radial, axial = np.asarray(plane, float)[self.source].T
        return np.column_stack([radial * np.cos(self.angle), radial * np.sin(self.angle), axial])

    def tensors(self, plane: Floats) -> Floats:
        """Return tensors (n, 6), order xx, yy, zz, xy, yz, xz, of (N, 4) in rr, hoop, zz, rz on the section's nodes."""
        rr, hoop, zz, rz = np.asarray(plane, float)[self.source].T
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        return np.column_stack(
            [
                rr * cos**2 + hoop * sin**2,
                rr * sin**2 + hoop * cos**2,
                zz,
                (rr - hoop) * sin * cos,
                rz * sin,
                rz * cos,
            ]
        )


def revolve(nodes: Floats, quads: Ints, angle: float = 270.0, sectors: int = 27) -> Revolved:
    """Turn quadrilaterals about the axis r = 0.

    nodes   : (N, 2) r, z in mm;  quads: (M, 4) node numbers, counter-clockwise in (r, z)
    angle   : degrees, above 0 up to 360; a full turn closes on itself
    sectors : equal parts of the angle, each at most 90 degrees
    returns : a quadrilateral with an edge on the axis becomes wedges, one with a corner there pyramids and wedges, all
              others hexahedra; sides are flat, so that the volume is Revolved.volume_share of the true one
    raises StudwellError : an angle or number of sectors out of range;  BadMesh : a quadrilateral across or along the axis
    """
    if not 0.0 < angle <= 360.0:
        raise StudwellError(f"angle = {angle:g}: not above 0 and up to 360 degrees", slug="out-of-range")
    if not isinstance(sectors, Integral) or sectors < 1 or angle / sectors > 90.0:
        least = math.ceil(angle / 90.0 - 1e-9)
        raise StudwellError(
            f"sectors = {sectors}: allowed: a whole number of at least {least} for {angle:g} degrees",
            slug="out-of-range",
        )
    nodes, quads, sectors = np.asarray(nodes, float), np.asarray(quads, np.int64), int(sectors)
    closed = angle == 360.0
    planes = sectors if closed else sectors + 1
    used = np.unique(quads)
    if (nodes[used, 0] < -ON_AXIS).any():
        raise BadMesh("a node lies at a negative radius; a section that is revolved lies on one side of its axis")
    axial = np.abs(nodes[:, 0]) <= ON_AXIS
    rim, middle = used[~axial[used]], used[axial[used]]
    step = math.radians(angle) / sectors
    # plane after plane, so that a field repeats at a short distance in the file; then the axis
    source = np.concatenate([np.tile(rim, planes), middle])
    turned = np.concatenate([np.repeat(step * np.arange(planes), len(rim)), np.zeros(len(middle))])
    place = np.zeros(len(nodes), np.int64)
    place[rim] = np.arange(len(rim))
    place[middle] = planes * len(rim) + np.arange(len(middle))

    def at(members: Ints, plane: int) -> Ints:
        return place[members] + np.where(axial[members], 0, (plane % planes) * len(rim))

    cells: dict[str, list[Ints]] = {kind: [] for kind in KINDS}
    origin: dict[str, list[Ints]] = {kind: [] for kind in KINDS}
    free, edge, corner = _sorted_by_axis(quads, axial)
    for k in range(sectors):
        near, far = k, k + 1
        own = quads[free]
        cells["hexahedron"].append(np.column_stack([at(own, far), at(own, near)]))
        origin["hexahedron"].append(free)
        for some, turn in edge:
            low, out, over, high = np.roll(quads[some], -turn, axis=1).T
            cells["wedge"].append(
                np.column_stack(
                    [at(low, 0), at(out, near), at(out, far), at(high, 0), at(over, near), at(over, far)]
                )
            )  # fmt: skip
            origin["wedge"].append(some)
        for some, turn in corner:
            tip, out, over, back = np.roll(quads[some], -turn, axis=1).T
            cells["pyramid"].append(
                np.column_stack([at(out, near), at(back, near), at(back, far), at(out, far), at(tip, 0)])
            )
            triangle = np.column_stack([out, over, back])
            cells["wedge"].append(np.column_stack([at(triangle, far), at(triangle, near)]))
            origin["pyramid"].append(some)
            origin["wedge"].append(some)
    radius = nodes[source, 0] * ~axial[source]
    return Revolved(
        np.column_stack([radius * np.cos(turned), radius * np.sin(turned), nodes[source, 1]]),
        source,
        turned,
        {kind: np.concatenate([np.zeros((0, KINDS[kind]), np.int64), *some]) for kind, some in cells.items()},
        {kind: np.concatenate([np.zeros(0, np.int64), *some]) for kind, some in origin.items()},
        step,
        sectors,
    )


def _sorted_by_axis(quads: Ints, axial: np.ndarray) -> tuple[Ints, list[tuple[Ints, int]], list[tuple[Ints, int]]]:
    """Return quadrilaterals clear of the axis, then those with an edge and with a corner on it.

    Each of the latter with how far its corners are to be turned until the edge runs from the last to the first, or until
    the corner comes first.
    """
    touching = axial[quads]
    count = touching.sum(axis=1)
    edge, corner = [], []
    for turn in range(4):
        rolled = np.roll(touching, -turn, axis=1)
        edge.append((np.nonzero((count == 2) & rolled[:, 0] & rolled[:, 3])[0], turn))
        corner.append((np.nonzero((count == 1) & rolled[:, 0])[0], turn))
    sorted_out = np.count_nonzero(count == 0) + sum(len(some) for some, _ in (*edge, *corner))
    if sorted_out != len(quads):
        raise BadMesh("a quadrilateral has two opposite corners or more than two on the axis; it cannot be revolved")
    return np.nonzero(count == 0)[0], edge, corner
