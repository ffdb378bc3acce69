"""K curves: the stress intensity of ring cracks of many sizes in every state of a history."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from studwell.crack.lines import checked_sizes, crack_lines
from studwell.crack.records import Array, CrackErrors, CrackLine, KCurve
from studwell.crack.stress import SpaceCache, across, line_stress
from studwell.crack.submodel import WeightCache, crack_weights, on_faces
from studwell.joint.build import BuiltJoint
from studwell.joint.state import JointState
from studwell.mesh.outline import outline_of

METHOD = (
    "ring crack meshed in the whole section, quarter-point elements at its tip, interaction integral; loaded by the sound "
    "body's stress on its faces, the joint's forces as without a crack; faces that close touch without friction"
)


def crack_curves(
    built: BuiltJoint,
    states: Sequence[JointState],
    *,
    lines: Sequence[CrackLine] | None = None,
    sizes: Sequence[float] | Array | None = None,
    cache: WeightCache | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[KCurve, ...]:
    """Return the K curve of each line.

    states   : of the joint, such as `Timeline.states`
    lines    : None: all of `crack_lines`
    sizes    : (n,) mm, rising; None: twenty that suit the line
    cache    : solved cracks by what they depend on; the same cache serves all setups
    progress : called with lines done and their number
    raises Unknown : a crack as large as the wall, or stress that is not kept
    """
    wanted = crack_lines(built) if lines is None else tuple(lines)
    spaces: SpaceCache = {}
    curves = []
    for done, line in enumerate(wanted, start=1):
        curves.append(crack_curve(built, states, line, sizes=sizes, cache=cache, spaces=spaces))
        if progress is not None:
            progress(done, len(wanted))
    return tuple(curves)


def crack_curve(
    built: BuiltJoint,
    states: Sequence[JointState],
    line: CrackLine,
    *,
    sizes: Sequence[float] | Array | None = None,
    cache: WeightCache | None = None,
    spaces: SpaceCache | None = None,
    fineness: float = 1.0,
) -> KCurve:
    """Return the K curve of one line; arguments as in `crack_curves`."""
    depths = checked_sizes(line, sizes)
    spec = built.bodies[built.joint.body_index(line.body)].spec
    outline = outline_of(spec.mesh)
    distance, stress = line_stress(built, states, line, float(depths[-1]), spaces)
    normal, shear = across(stress, line)
    shape = (len(states), len(depths))
    found, closed = np.zeros((2, *shape)), np.zeros(shape, bool)
    unknowns, contours, displacement = [], 0.0, 0.0
    for k, depth in enumerate(depths):
        weights = crack_weights(spec, outline, line, float(depth), cache, fineness)
        pressures, shears = on_faces(weights, distance, normal), on_faces(weights, distance, shear)
        values, closed[:, k] = weights.of(pressures, shears)
        found[:, :, k] = values.T
        unknowns.append(weights.unknowns)
        # errors by the most opened state
        worst = int(np.argmax(values[:, 0]))
        loads = np.concatenate([pressures[worst], shears[worst]])
        size = max(float(np.hypot(*(weights.intensity @ loads))), 1e-300)
        whole = weights.contours @ loads
        contours = max(contours, float(np.abs(whole - whole.mean(axis=1, keepdims=True)).max()) / size)
        gap = float(np.hypot(*(weights.displacement @ loads - weights.intensity @ loads)))
        displacement = max(displacement, gap / size)
    return KCurve(
        line=line,
        sizes=depths,
        opening=found[0],
        sliding=found[1],
        closed=closed,
        distance=distance,
        stress=normal,
        poisson=spec.poisson,
        method=METHOD,
        unknowns=np.array(unknowns),
        errors=CrackErrors(contours, displacement),
    )
