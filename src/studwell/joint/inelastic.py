"""Bodies that flow and creep behind the reduced joint: inelastic strain of a zone in, port openings out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from studwell.fem.fixed_point import IterationRecord, fixed_point
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.fem.inelastic_data import Inelastic, range_warnings
from studwell.fem.plastic_laws import PointState, advance, virgin
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import advance as advance_state
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, JointState, StrainEffect, mode_amplitudes
from studwell.joint.step_system import StepSystem, prepare
from studwell.joint.zone import InelasticZone

Array = np.ndarray

TOLERANCE = 1e-8
"""Largest difference between the inelastic strain given and that answered, over the largest strain of the zones."""

MOST_ITERATIONS = 300
"""Near the load that a body can carry at all the iteration slows down: 230 were seen, 60 far from it."""

EDGE_CREEP = 0.01
"""Creep strain at a zone's edge over its largest, above which the result says that the zone cuts creep off."""


@dataclass(frozen=True)
class InelasticStep:
    """One instant of a joint whose bodies flow and creep.

    state    : JointState; its openings hold those of the inelastic strain, its heat does not
    zones    : body -> PointState
    record   : of the iteration; state_solves : how many joint states it took
    warnings : plain sentences, empty if there is nothing to say
    elastic  : body -> (P, 4) MPa, the points' stress less that of their inelastic strain
    effects  : body -> of its inelastic strain, only where this step added none: the next one need not find it again
    """

    state: JointState
    zones: Mapping[str, PointState] = field(repr=False)
    record: IterationRecord
    state_solves: int
    warnings: tuple[str, ...]
    elastic: Mapping[str, Array] = field(repr=False)
    effects: Mapping[str, StrainEffect] = field(repr=False)


def start_zones(zones: Mapping[str, InelasticZone], materials: Mapping[str, Inelastic]) -> dict[str, PointState]:
    """Return the zones' points without history."""
    return {name: virgin(materials[name], (zone.n_points,)) for name, zone in zones.items()}


def advance_joint(
    joint: ReducedJoint,
    before: JointState,
    heat: Heat,
    zones: Mapping[str, InelasticZone],
    materials: Mapping[str, Inelastic],
    states: Mapping[str, PointState],
    temperatures: Mapping[str, Any],
    *,
    duration: float = 0.0,
    tolerance: float = TOLERANCE,
    most_iterations: int = MOST_ITERATIONS,
    solver: Any = solve_state,
    system: StepSystem | None = None,
    gap: Array | None = None,
    effects: Mapping[str, StrainEffect] | None = None,
    **controls: Any,
) -> InelasticStep:
    """Find the state that follows another one while zones of the bodies flow and creep.

    Joint state and material law answer each other's forces and inelastic strains until they agree, with Anderson's
    acceleration over the inelastic strains of all zones.

    heat         : thermal state, without openings of inelastic strain (they are added here, from the whole strain)
    zones        : body -> InelasticZone;  materials : body -> Inelastic, elastic constants as the body was condensed
    states       : body -> PointState of the instant before;  temperatures : body -> degC, number or (P,)
    duration     : s, for creep
    tolerance    : difference of inelastic strains over the largest strain in the zones
    solver       : of the joint's states; the reference path takes `joint.full.FullJoint.solver`
    system       : the instant as prepared before, of the same heat; None prepares it here
    gap          : (n,) mm added to the ports' gaps beside (a gasket that crept)
    effects      : of the inelastic strains in `states`, where they are known
    controls     : further arguments of `joint.solve.solve_state` (control, travels, outside_load, shear, absent)
    returns      : InelasticStep
    raises NotConverged : no agreement, or no joint state; with the record
    raises ValueError   : a material whose elastic constants are not those of its zone

    Source: initial-strain method on the condensed body; Betti's theorem for the openings.
    """
    index = {name: joint.body_index(name) for name in zones}
    for name, zone in zones.items():
        _check_constants(zone, materials[name])
    sizes = [zone.n_points * 4 for zone in zones.values()]
    cuts = np.cumsum(sizes)[:-1]
    found: dict[str, Any] = {"state": before, "solves": 0}
    attempt = _attempts(joint, before, heat, solver, system, controls)

    def change(x: Array) -> tuple[Array, float]:
        parts = dict(zip(zones, (part.reshape(-1, 4) for part in np.split(x, cuts)), strict=True))
        moved = np.zeros(joint.n_ports) if gap is None else gap.copy()
        known = effects if effects is not None and not found["solves"] else {}
        done = {name: known[name] if name in known else zone.effect(parts[name]) for name, zone in zones.items()}
        for name in zones:
            moved += joint.weights[index[name]].T @ done[name].openings
        state = attempt(found["state"], moved)
        answers, news, elastic = [], {}, {}
        largest = 0.0
        for name, zone in zones.items():
            body = index[name]
            ratio = float(heat.modulus_ratio[body])
            forces = joint.column_forces(body, state.forces, state.outside_load)
            amplitudes = mode_amplitudes(joint, body, heat, state.stretch)
            elastic[name] = zone.elastic_stress(forces, amplitudes, ratio)
            stress = elastic[name] + ratio * done[name].self_stress
            strain = np.linalg.solve(zone.elastic, stress.T).T / ratio + parts[name]
            news[name] = advance(materials[name], states[name], strain, temperatures[name], duration, ratio)
            answers.append((news[name].inelastic - parts[name]).ravel())
            largest = max(largest, float(np.abs(strain).max(initial=0.0)))
        still = {name: effect for (name, effect), part in zip(done.items(), answers, strict=True) if not part.any()}
        found.update(state=state, news=news, solves=found["solves"] + 1, elastic=elastic, effects=still)
        step = np.concatenate(answers)
        return step, float(np.abs(step).max(initial=0.0)) / largest if largest > 0 else 0.0

    start = np.concatenate([states[name].inelastic.ravel() for name in zones])
    _, record = fixed_point(change, start, tolerance, most_iterations)
    warnings = [
        text
        for name, zone in zones.items()
        for text in zone_warnings(zone, materials[name], found["news"][name], temperatures[name])
    ]
    return InelasticStep(
        found["state"], found["news"], record, found["solves"], tuple(warnings), found["elastic"], found["effects"]
    )


def zone_warnings(zone: InelasticZone, material: Inelastic, points: PointState, temperatures: Any) -> tuple[str, ...]:
    """Return what must be said of a zone's state: data left, an edge reached, strain that is no longer small.

    temperatures : degC, number or array, all that the zone has been through
    """
    name = zone.body
    warnings = [f"{name}: {text}" for text in range_warnings(material, temperatures)]
    strain, creep = points.plastic_strain, points.creep_strain
    if strain[zone.rim].any():
        warnings.append(
            f"{name}: yielding reaches the edge of the zone that may yield; beyond it nothing yields, whatever it carries, so "
            'that stresses there and under the floor are not to be trusted: take a larger zone, or zone = "boss"'
        )
    if creep[zone.rim].max(initial=0.0) > EDGE_CREEP * creep.max(initial=0.0):
        warnings.append(
            f"{name}: creep at the zone's edge is {creep[zone.rim].max() / creep.max():.2g} of its largest, "
            "and beyond it nothing creeps; take a larger zone"
        )
    if strain.max(initial=0.0) > SMALL_STRAIN:
        warnings.append(f"{name}: plastic strain reaches {strain.max():.3g}, beyond small strain ({SMALL_STRAIN:g})")
    return tuple(warnings)


def _attempts(
    joint: ReducedJoint,
    before: JointState,
    heat: Heat,
    solver: Any,
    system: StepSystem | None,
    controls: Mapping[str, Any],
) -> Callable[[JointState, Array], JointState]:
    """What solves the joint for gaps (n,) mm beside those of its heat, starting near a state."""
    if solver is solve_state:
        rest = dict(controls)
        outside, absent = rest.pop("outside_load", None), rest.pop("absent", None)
        ready = system or prepare(
            joint,
            heat,
            before.outside_load if outside is None else outside,
            before.absent if absent is None else absent,
        )
        return lambda near, gap: advance_state(joint, ready, before, gap=gap, guess=near, **rest)

    def reference(near: JointState, gap: Array) -> JointState:
        whole = gap if heat.gap_change is None else heat.gap_change + gap
        start = replace(before, forces=near.forces, shifts=near.shifts)
        return replace(solver(joint, start, replace(heat, gap_change=whole), **controls), heat=heat)

    return reference


def _check_constants(zone: InelasticZone, material: Inelastic) -> None:
    compliance = np.linalg.inv(zone.elastic)
    young, ratio = 1 / compliance[0, 0], -compliance[0, 1] / compliance[0, 0]
    if abs(material.youngs_modulus / young - 1) > 1e-9 or abs(material.poisson - ratio) > 1e-9:
        raise ValueError(
            f"{zone.body}: the material has E {material.youngs_modulus:g} MPa and nu {material.poisson:g}; "
            f"allowed: those of the condensed body, {young:g} and {ratio:g}"
        )
