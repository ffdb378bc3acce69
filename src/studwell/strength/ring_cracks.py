"""Ring cracks of the case's flaw at the floor's corner and at thread roots: which lines are followed, over which sizes."""

from __future__ import annotations

from itertools import groupby

import numpy as np

from studwell.crack.curves import crack_curve
from studwell.crack.lines import crack_lines
from studwell.crack.records import CrackLine
from studwell.crack.submodel import WeightCache
from studwell.errors import BadMesh, Unknown
from studwell.joint.build import BuiltJoint
from studwell.strength.distances import path_distance
from studwell.strength.flaws import CrackHistory
from studwell.strength.timeline import Timeline, stresses

Array = np.ndarray

FOLLOWED = 2
"""Lines followed from one place: those that the stress across them opens most, over the flaw and over the whole line."""

SIZES = 9
SMALLEST = 0.1
LARGEST = 2.5
"""mm, the sizes of a curve, unless the flaw is smaller or the wall ends it sooner."""

WALL_SHARE = 0.6


def ring_histories(
    built: BuiltJoint, timeline: Timeline, cache: WeightCache | None = None
) -> tuple[tuple[CrackHistory, ...], str]:
    """Return the stress intensity of ring cracks that the case's flaw could start, and what could not be had.

    None without a [crack] flaw or inspection_size, since each size is a mesh of its own. Effective intensity: opening and
    sliding together.
    """
    crack = built.setup.crack
    flaw = None if crack is None else crack.flaw or crack.inspection_size
    if flaw is None:
        return (), ""
    found, missing = [], []
    for _, group in groupby(crack_lines(built), key=lambda line: (line.body, line.place)):
        for line in _followed(built, timeline, list(group), flaw):
            end = min(max(LARGEST, 2.0 * flaw), WALL_SHARE * line.wall)
            if not flaw < end:
                missing.append(
                    f"{line.place}: a flaw of {flaw:g} mm is more than {WALL_SHARE:g} of the {line.wall:.3g} mm wall"
                )
                continue
            sizes = np.geomspace(min(SMALLEST, flaw, 0.5 * end), end, SIZES)
            try:
                curve = crack_curve(built, timeline.states, line, sizes=sizes, cache=cache)
            except (BadMesh, Unknown) as problem:
                missing.append(f"{line.place} at {line.angle:.0f} degrees: {problem.line}")
                continue
            place = f"{line.place.removeprefix(line.body).lstrip(' ,')}, {line.angle:.0f} degrees from straight down"
            found.append(CrackHistory(place, line.body, line.wall, curve.method, curve.sizes, curve.effective, curve))
    return tuple(found), "; ".join(missing)


def _followed(built: BuiltJoint, timeline: Timeline, lines: list[CrackLine], flaw: float) -> list[CrackLine]:
    """The lines across which the stress pulls most: over the flaw, and over what it may grow to."""
    if len(lines) <= FOLLOWED:
        return lines
    chosen: list[CrackLine] = []
    for depth in (flaw, LARGEST):
        pulls = [_pull(built, timeline, line, depth) for line in lines]
        best = lines[int(np.argmax(pulls))]
        if all(best is not other for other in chosen):
            chosen.append(best)
    return chosen


def _pull(built: BuiltJoint, timeline: Timeline, line: CrackLine, depth: float) -> float:
    assert line.path is not None
    distance = path_distance(built, line.body, line.path)
    stress = stresses(built.joint, timeline, line.body, line.path)
    r, z = -line.direction[1], line.direction[0]
    across = stress[..., 0] * r**2 + stress[..., 2] * z**2 + 2.0 * stress[..., 3] * r * z
    inside = distance <= max(depth, distance[1])
    return float(across[:, inside].mean(axis=1).max())
