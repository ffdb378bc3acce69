"""The stress that a sound body carries along a line, in every state of a history."""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence

import numpy as np

from studwell.crack.records import Array, CrackLine
from studwell.errors import Unknown
from studwell.fem.space import RR, RZ, ZZ, Space
from studwell.joint.build import BuiltJoint
from studwell.joint.condense import point_map
from studwell.joint.state import JointState, mode_amplitudes

SpaceCache = MutableMapping[str, Space]

POINTS = 61
FIRST = 1e-4
"""mm from the surface of the first point: inside the body for certain."""


def line_distances(length: float) -> Array:
    """Return distances (p,) from the mouth, mm, close together near it."""
    return np.concatenate([[FIRST], np.geomspace(min(0.004, 0.01 * length), length, POINTS - 1)])


def line_stress(
    built: BuiltJoint,
    states: Sequence[JointState],
    line: CrackLine,
    length: float,
    spaces: SpaceCache | None = None,
) -> tuple[Array, Array]:
    """Return distances (p,) from the mouth, mm, and the stress there (states, p, 4), MPa: rr, hoop, zz, rz.

    From the body's whole fields where the joint keeps them, else from the stress path along the line; what inelastic
    strain leaves is known on the path only. length: mm
    raises Unknown : neither fields nor a path that is long enough
    """
    number = built.joint.body_index(line.body)
    response = built.joint.bodies[number]
    ports = np.stack([state.forces for state in states])
    outside = np.array([state.outside_load for state in states])
    columns = built.joint.column_forces(number, ports, outside)
    amplitudes = np.stack([mode_amplitudes(built.joint, number, s.heat, s.stretch) for s in states])
    ratios = np.array([float(s.heat.modulus_ratio[number]) for s in states])
    flowed = [s.flow is not None and line.body in s.flow.added_stress for s in states]
    path = response.stress.get(line.path) if line.path is not None else None
    on_path = None if path is None else np.linalg.norm(path.where - line.mouth, axis=1)
    reached = path is not None and on_path is not None and on_path[-1] >= length
    if (response.displacement is None or any(flowed)) and not reached:
        reach = "no path" if on_path is None else f"one to {on_path[-1]:.3g} mm"
        raise Unknown(
            f"the stress along {length:.3g} mm at the {line.place}: the body's fields are not kept, or it has yielded, and "
            f"there is {reach} along the line"
        )
    if response.displacement is None:
        assert path is not None and on_path is not None
        result, distance = path.stress(columns, amplitudes, ratios), on_path
    else:
        spec = built.bodies[number].spec
        cache = {} if spaces is None else spaces
        space = cache.setdefault(line.body, Space(spec.mesh)) if line.body not in cache else cache[line.body]
        distance = line_distances(length)
        points = line.mouth + distance[:, None] * line.direction
        own = point_map(spec, space, response.displacement, response.n_columns, points)
        result = own.stress(columns, amplitudes, ratios)
    for i, state in enumerate(states):
        if flowed[i]:
            assert state.flow is not None and line.path is not None and on_path is not None
            added = state.flow.added_stress[line.body][line.path]
            result[i] += np.stack([np.interp(distance, on_path, added[:, c]) for c in range(4)], axis=1)
    return distance, result


def across(stress: Array, line: CrackLine) -> tuple[Array, Array]:
    """Return the normal stress (...,) across a line and the shear stress along it (...,), MPa, from stress (..., 4)."""
    way = line.direction
    normal = np.array([-way[1], way[0]])
    r, z = normal
    pulled = np.stack([stress[..., RR] * r + stress[..., RZ] * z, stress[..., RZ] * r + stress[..., ZZ] * z], axis=-1)
    return pulled @ normal, pulled @ way
