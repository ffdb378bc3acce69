"""Whole fields of chosen states: displacement, temperature and stress at every node of every body."""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.fem.elasticity import (
    averaged_nodal,
    element_nodal,
    principal_stresses,
    strain_at_quadrature,
    von_mises,
)
from studwell.fem.space import Space
from studwell.joint.bodies import SectionBody
from studwell.joint.build import BuiltJoint, body_key
from studwell.joint.flowing import inelastic_displacement
from studwell.joint.state import JointState, mode_amplitudes
from studwell.mesh.mesh import Mesh
from studwell.strength.timeline import Timeline

Array = np.ndarray

SpaceCache = MutableMapping[str, Space]
"""Spaces by the hash of the body that they belong to, so that setups with equal bodies share one."""

MOST_CACHED_ELEMENTS = 40_000
"""A cache that holds more is emptied: strain matrices take about 5 kB an element."""

STATES_AT_ONCE = 8


@dataclass(frozen=True)
class BodyFields:
    """Fields of one body in some states (s,), on its mesh of N nodes; order of components rr, hoop, zz, rz.

    displacement : (s, N, 2) mm from the drawn position, screwing and sliding as a whole included
    temperature  : (s, N) degC
    stress       : (s, N, 4) MPa, averaged at each node over the elements that share it
    """

    name: str
    mesh: Mesh = field(repr=False)
    displacement: Array = field(repr=False)
    temperature: Array = field(repr=False)
    stress: Array = field(repr=False)

    @property
    def first_principal(self) -> Array:
        """First principal stress (s, N), MPa; the hoop stress is one of the three."""
        return principal_stresses(self.stress)[..., 0]

    @property
    def von_mises(self) -> Array:
        """Von Mises stress (s, N), MPa."""
        return von_mises(self.stress)


def recover(
    built: BuiltJoint, timeline: Timeline, temperatures: Array, indices: Sequence[int], cache: SpaceCache | None = None
) -> tuple[BodyFields, ...]:
    """Return the fields of all bodies in some states of a history.

    temperatures : (run steps, nodes) degC, the history's node temperatures
    indices      : (s,) places in timeline.states
    cache        : spaces shared between setups
    returns      : one BodyFields a body, in the joint's order
    raises ValueError : the joint was built without whole fields

    Source: superposition of the condensed body's own columns; the response of a linear elastic body is exact. The
    displacement of inelastic strain is solved on the body anew.
    """
    states = [timeline.states[i] for i in indices]
    nodes = node_temperatures_of(built, timeline, temperatures)[list(indices)]
    steps = run_steps(timeline, indices)
    return tuple(
        _body_fields(built, number, body, states, nodes, steps, cache) for number, body in enumerate(built.bodies)
    )


def run_steps(timeline: Timeline, indices: Sequence[int]) -> Array:
    """Return the run's step (s,) at which each state of a timeline stands; the first one before the run."""
    first, count = int(timeline.run[0]), len(timeline.run)
    return np.array([max(0, i - first) % count for i in indices], dtype=int)


def node_temperatures_of(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Array:
    """Return the temperature of every node in every state of a timeline, (states, nodes) degC.

    temperatures : (run steps, nodes) degC; before the run every node has the assembly temperature
    """
    result = np.full((len(timeline.states), temperatures.shape[1]), built.setup.history.assembly_temperature)
    result[timeline.run] = temperatures
    after = int(timeline.run[-1]) + 1
    if after < len(result):
        result[after:] = temperatures
    return result


def quadrature_stress(
    built: BuiltJoint, number: int, states: Sequence[JointState], cache: SpaceCache | None = None
) -> tuple[Space, Array, Array]:
    """Return a body's space, displacements (2 N, s) mm and stresses at the quadrature points (M, Q, 4, s) MPa.

    number : the body's place in the joint
    raises ValueError : the joint was built without whole fields
    """
    joint, body = built.joint, built.bodies[number]
    response = joint.bodies[number]
    if response.displacement is None:
        raise ValueError(f"{response.name}: the joint was built without whole fields (fields=False)")
    space = _space(body, cache)
    m = response.n_columns
    columns = joint.column_forces(
        number, np.stack([s.forces for s in states]), np.array([s.outside_load for s in states])
    )
    amplitudes = np.stack([mode_amplitudes(joint, number, s.heat, s.stretch) for s in states])
    ratios = np.array([float(s.heat.modulus_ratio[number]) for s in states])
    moved = response.displacement[:, :m] @ (columns / ratios[:, None]).T
    moved += response.displacement[:, m:] @ amplitudes.T
    flowed = [s.flow is not None and response.name in s.flow.strain for s in states]
    if any(flowed):
        moved += inelastic_displacement(body.spec, space, [s.flow for s in states])
    elastic_strain = strain_at_quadrature(space, moved)
    for i, state in enumerate(states):
        if state.flow is not None and flowed[i]:
            own = state.flow.strain[response.name]
            elements = state.flow.elements[response.name]
            elastic_strain[elements, :, :, i] -= own.reshape(len(elements), -1, 4)
    for k, mode in enumerate(body.spec.modes):
        profile = mode.at_quadrature(space)
        if mode.region is not None:
            inside = np.zeros(len(space.elements), dtype=bool)
            inside[body.spec.mesh.elements_of(mode.region)] = True
            profile = profile * inside[:, None]
        free = profile[:, :, None] * amplitudes[:, k]
        for component, share in enumerate(mode.components):
            if share:
                elastic_strain[:, :, component] -= share * free
    hooke = body.spec.elastic
    stress = (hooke @ elastic_strain) * ratios
    return space, moved, stress


def _body_fields(
    built: BuiltJoint,
    number: int,
    body: SectionBody,
    states: Sequence[JointState],
    node_temperatures: Array,
    steps: Array,
    cache: SpaceCache | None,
) -> BodyFields:
    moved, stressed = [], []
    for start in range(0, len(states), STATES_AT_ONCE):
        some = states[start : start + STATES_AT_ONCE]
        space, displacement, stress = quadrature_stress(built, number, some, cache)
        shifts = np.array([float(s.shifts[number]) for s in some])
        at_nodes = displacement.T.reshape(len(some), -1, 2)
        at_nodes[:, :, 1] += shifts[:, None]
        moved.append(at_nodes)
        stressed.append(np.moveaxis(averaged_nodal(space, element_nodal(stress)), -1, 0))
    return BodyFields(
        name=body.spec.name,
        mesh=body.spec.mesh,
        displacement=np.concatenate(moved),
        temperature=_temperature(body, node_temperatures, steps),
        stress=np.concatenate(stressed),
    )


def _temperature(body: SectionBody, node_temperatures: Array, steps: Array) -> Array:
    """Temperature (s, N) degC: solved, or the values at the thermal modes' places carried by the modes' profiles."""
    if body.solved is not None:
        return np.asarray(body.solved.temperature[steps], dtype=float)
    places = node_temperatures @ body.mode_weights.T
    profiles = np.stack([mode.at_nodes(body.spec.mesh.nodes) for mode in body.spec.modes[: places.shape[1]]])
    return places @ profiles


def _space(body: SectionBody, cache: SpaceCache | None) -> Space:
    if cache is None:
        return Space(body.spec.mesh)
    key = body_key(body.spec, True)
    if key not in cache:
        if sum(len(space.elements) for space in cache.values()) > MOST_CACHED_ELEMENTS:
            cache.clear()
        cache[key] = Space(body.spec.mesh)
    return cache[key]
