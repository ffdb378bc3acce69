"""Where ring cracks start and which way they grow: along the stress paths of the joint's bodies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from studwell.crack.records import Array, CrackLine
from studwell.errors import Unknown
from studwell.joint.build import BuiltJoint
from studwell.mesh.outline import Outline, outline_of
from studwell.mesh.ring_crack import wall_along

FLOOR_PATH = "floor path"
ROOT_PATH = "root path"

SIZES = 20
SMALLEST = 0.05
"""mm, the smallest size of a curve, unless the wall is thinner than a hundred of these."""

LARGEST = 2.0
WALL_SHARE = 0.6
"""A curve ends at LARGEST, mm, or at this share of the wall; sizes that the caller names may go beyond, within the wall."""


def crack_lines(built: BuiltJoint) -> tuple[CrackLine, ...]:
    """Return the lines along which ring cracks are followed: from the boss's fillet, from thread roots that are meshed.

    A line leaves the surface at right angles: a free surface's first principal stress lies in it or is the hoop stress.
    """
    lines = []
    for body in built.bodies:
        spec = body.spec
        names = [name for name in spec.stress_points if name.startswith((FLOOR_PATH, ROOT_PATH))]
        outline = outline_of(spec.mesh) if names else None
        for name in names:
            assert outline is not None
            lines.append(line_along(outline, spec.name, name, spec.stress_points[name]))
    return tuple(lines)


def line_along(outline: Outline, body: str, path: str, points: Array) -> CrackLine:
    """Return the crack line along a stress path (p, 2), mm, of a body."""
    way = points[-1] - points[0]
    way = way / np.linalg.norm(way)
    mouth = outline.points(np.array([outline.nearest(points[0])]))[0]
    if path.startswith(FLOOR_PATH):
        place = f"{body} fillet"
    else:
        place = f"{body} thread, {path[len(ROOT_PATH) + 1 :]} root"
    angle = float(np.degrees(np.arctan2(way[0], -way[1])))
    return CrackLine(place, body, mouth, way, angle, wall_along(outline, mouth, way), path)


def default_sizes(line: CrackLine) -> Array:
    """Return SIZES sizes (n,) of a crack on a line, mm, evenly spaced in their logarithm."""
    largest = min(LARGEST, WALL_SHARE * line.wall)
    return np.geomspace(min(SMALLEST, 0.01 * line.wall, 0.5 * largest), largest, SIZES)


def checked_sizes(line: CrackLine, sizes: Sequence[float] | Array | None) -> Array:
    """Return sizes (n,) mm, those given or the default ones.

    raises Unknown    : a crack as large as the wall
    raises ValueError : sizes that are not positive and rising
    """
    if sizes is None:
        return default_sizes(line)
    wanted = np.atleast_1d(np.asarray(sizes, dtype=float))
    if wanted.ndim != 1 or not (wanted > 0.0).all() or (np.diff(wanted) <= 0.0).any():
        raise ValueError("sizes of a crack must be above zero and rise")
    if wanted[-1] >= line.wall:
        raise Unknown(
            f"a crack {wanted[-1]:.3g} mm deep at the {line.place} has gone through: the wall is {line.wall:.3g} mm thick "
            f"there; allowed: less"
        )
    return wanted
