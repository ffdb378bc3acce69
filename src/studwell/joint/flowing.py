"""The boss that may flow and creep: its zone, its material, and what inelastic strain adds to stress at named places."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import scipy.sparse as sp

from studwell.case.records import Inelastic as Wanted
from studwell.errors import NotConverged, Unknown
from studwell.fem.elasticity import initial_strain_load
from studwell.fem.factor import factorise
from studwell.fem.inelastic_data import Backstress, Inelastic, NortonCreep, Plasticity
from studwell.fem.plastic_laws import PointState
from studwell.fem.space import Space
from studwell.joint.bodies import SectionBody
from studwell.joint.condense import BodySpec, BodySystem, body_system
from studwell.joint.inelastic import InelasticStep, advance_joint, start_zones, zone_warnings
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import Control, StepSystem, solve_state
from studwell.joint.state import Flow, Heat, JointState
from studwell.joint.zone import InelasticZone, inelastic_zone
from studwell.mesh.reference_element import shapes
from studwell.parts.flow import SATURATED
from studwell.parts.material import Curve, Material
from studwell.section.layout import Layout

Array = np.ndarray

MOST_HALVINGS = 2
"""How often a step that turns a screw is cut in two before it counts as unsolved."""


@dataclass(frozen=True)
class AddedStress:
    """What inelastic strain of a zone does to the stress at places of the body.

    inside : (k,) places that the zone covers; values (k, P): what is added there from what is added at the zone's points
    beyond : (o,) the other places; rows (o, 4, d): MPa there from N on the zone's own unknowns
    """

    inside: Array = field(repr=False)
    values: sp.csr_matrix = field(repr=False)
    beyond: Array = field(repr=False)
    rows: Array = field(repr=False)


@dataclass(frozen=True)
class FlowingBodies:
    """Bodies of a joint that may flow: zone, material and stress places of each, by body name."""

    zones: Mapping[str, InelasticZone]
    materials: Mapping[str, Inelastic]
    places: Mapping[str, Mapping[str, AddedStress]] = field(repr=False)

    def start(self) -> Flow:
        """Return the bodies without history."""
        points = start_zones(self.zones, self.materials)
        nothing = {
            name: {place: np.zeros((len(one.inside) + len(one.beyond), 4)) for place, one in places.items()}
            for name, places in self.places.items()
        }
        return self._flow(points, nothing, 0)

    def after(self, joint: ReducedJoint, heat: Heat, step: InelasticStep) -> Flow:
        """Return what the bodies have been through at the end of a step."""
        points = step.zones
        added: dict[str, dict[str, Array]] = {}
        for name, zone in self.zones.items():
            index = joint.body_index(name)
            ratio = float(heat.modulus_ratio[index])
            load = zone.load(points[name].inelastic)
            left = points[name].stress - step.elastic[name]
            added[name] = {}
            for place, one in self.places[name].items():
                result = np.zeros((len(one.inside) + len(one.beyond), 4))
                result[one.inside] = one.values @ left
                result[one.beyond] = ratio * (one.rows.reshape(-1, len(load)) @ load).reshape(-1, 4)
                added[name][place] = result
        return replace(self._flow(points, added, step.record.iterations), effects=step.effects)

    def _flow(
        self, points: Mapping[str, PointState], added: Mapping[str, Mapping[str, Array]], iterations: int
    ) -> Flow:
        worst = {name: int(np.argmax(one.plastic_strain)) for name, one in points.items()}
        return Flow(
            zones=points,
            strain={name: one.inelastic.astype(np.float32) for name, one in points.items()},
            elements={name: zone.elements for name, zone in self.zones.items()},
            plastic={name: float(one.plastic_strain[worst[name]]) for name, one in points.items()},
            where={name: zone.where[worst[name]] for name, zone in self.zones.items()},
            added_stress=added,
            iterations=iterations,
        )

    def warnings(self, flow: Flow, temperatures: Mapping[str, Any]) -> tuple[str, ...]:
        """Return what must be said of the bodies at the end of a history.

        temperatures : body -> degC, all that its zone has been through
        """
        return tuple(
            text
            for name, zone in self.zones.items()
            for text in zone_warnings(zone, self.materials[name], flow.zones[name], temperatures[name])
        )

    def solver(self, elastic: Callable[..., JointState] = solve_state) -> Callable[..., JointState]:
        """Return a solver of states that lets the bodies flow: as `joint.solve.solve_state`, and `duration` in s.

        elastic : what solves the joint for given inelastic strains; a step that turns a screw and is not solved is cut
                  in two, at most MOST_HALVINGS times
        """

        def solve(joint: ReducedJoint, before: JointState, heat: Heat, **controls: Any) -> JointState:
            pending: list[tuple[float, int]] = [(1.0, 0)]
            state, done = before, 0.0
            while pending:
                share, depth = pending.pop()
                try:
                    state = self._step(joint, state, heat, elastic, _part(before, controls, done, share))
                except NotConverged as problem:
                    if not ({"control", "travels"} & set(controls)):
                        raise
                    if depth >= MOST_HALVINGS:
                        strain = max(state.flow.plastic.values()) if state.flow else 0.0
                        raise NotConverged(
                            problem.record,
                            f"{problem.problem}; {100 * done:.0f} % of this step was solved, where plastic strain "
                            f"reaches {strain:.2g}: what flows may not be able to carry the rest",
                        ) from problem
                    pending += [(share, depth + 1), (0.5 * (done + share), depth + 1)]
                    continue
                done = share
            return state

        return solve

    def step(
        self, joint: ReducedJoint, before: JointState, system: StepSystem, gap: Array, duration: float
    ) -> JointState:
        """Return the state that follows another one at a prepared instant; gap (n,) mm as in `joint.solve.advance`."""
        return self._step(joint, before, system.heat, solve_state, {"system": system, "gap": gap, "duration": duration})

    def _step(
        self,
        joint: ReducedJoint,
        before: JointState,
        heat: Heat,
        elastic: Callable[..., JointState],
        controls: Mapping[str, Any],
    ) -> JointState:
        if before.flow is None:
            raise ValueError("the state before has no flow; start from FlowingBodies.start()")
        step = advance_joint(
            joint,
            before,
            heat,
            self.zones,
            self.materials,
            before.flow.zones,
            heat.zones,
            solver=elastic,
            effects=before.flow.effects,
            **controls,
        )
        flow = self.after(joint, heat, step)
        if all(not (step.zones[n].inelastic - before.flow.zones[n].inelastic).any() for n in self.zones):
            flow = replace(flow, strain=before.flow.strain)  # nothing flowed: share the array
        return replace(step.state, flow=flow)


def _part(before: JointState, controls: Mapping[str, Any], done: float, share: float) -> dict[str, Any]:
    """Controls of a part of a step, from its share done to another: screws and times in proportion."""
    part = dict(controls)
    if "duration" in part:
        part["duration"] *= share - done
    if share == 1.0:
        return part
    share = (share - done) / (1.0 - done)
    if part.get("control") is not None:
        control: Control = part["control"]
        first = float(control.coefficients @ before.forces)
        part["control"] = replace(control, target=first + share * (control.target - first))
    if part.get("travels"):
        part["travels"] = {k: before.travels[k] + share * (v - before.travels[k]) for k, v in part["travels"].items()}
    return part


def kept(state: JointState) -> JointState:
    """Return a state without the points' full record, which only the next step needs."""
    return state if state.flow is None else replace(state, flow=replace(state.flow, zones={}, effects={}))


def inelastic_displacement(spec: BodySpec, space: Space, flows: Sequence[Flow | None]) -> Array:
    """Return the displacements (2 N, s) mm of a body from its inelastic strain alone; zero where it has none.

    space : of the body's mesh
    """
    system = body_system(spec)
    strains = np.zeros((*space.weights.shape, 4, len(flows)))
    for i, flow in enumerate(flows):
        if flow is not None and spec.name in flow.strain:
            elements = flow.elements[spec.name]
            strains[elements, :, :, i] = flow.strain[spec.name].reshape(len(elements), -1, 4)
    loads = initial_strain_load(space, system.elastic, strains)
    result = np.zeros(loads.shape)
    result[system.kept] = factorise(_held(system)).solve(loads[system.kept])
    return result


def _held(system: BodySystem) -> sp.csc_matrix:
    """The body's stiffness with its ground spring, without the unknowns on the axis."""
    grip = sp.csc_matrix(system.grip[None, :])
    held = sp.csc_matrix(system.stiffness + system.ground_stiffness * (grip.T @ grip))
    return held[system.kept][:, system.kept]


def flowing_boss(wanted: Wanted, layout: Layout, bodies: Sequence[SectionBody], joint: ReducedJoint) -> FlowingBodies:
    """Return the boss of a joint with the zone that may flow.

    raises Unknown : the boss's material has no data for it
    """
    index = joint.body_index("boss")
    body, response = bodies[index], joint.bodies[index]
    material = inelastic_material(body.material, wanted.creep)
    mesh = body.spec.mesh
    elements = None
    if wanted.zone != "boss":
        judged = [mesh.elements_of(region) for names in body.spec.stress_regions.values() for region in names]
        reach = layout.boss.corner_radius + float(wanted.zone)
        away = np.hypot(*(mesh.nodes[mesh.elements].mean(axis=1) - np.asarray(layout.boss.fillet_centre)).T)
        elements = np.unique(np.concatenate([np.flatnonzero(away <= reach), *judged]))
        if not len(elements):
            raise Unknown(f"the zone of {float(wanted.zone):g} mm holds no element of the boss's mesh: widen it")
    zone = inelastic_zone(body.spec, elements, response=response)
    return FlowingBodies({"boss": zone}, {"boss": material}, {"boss": added_stress(body.spec, zone)})


def inelastic_material(material: Material, creep: bool) -> Inelastic:
    """Return a material's elastic constants at the reference temperature with its hardening and creep.

    The flow stress rises from yield to tensile strength; half and half, or as the data say, by growing and moving.
    raises Unknown : yield strength, hardening or creep not known
    """
    if material.yield_strength is None:
        raise Unknown(f"the yield strength of {material.name} is not known, so where it flows is not")
    if material.hardening is None:
        raise Unknown(f"how {material.name} hardens is not known (no data): [material] hardening_modulus states it")
    if creep and material.creep is None:
        raise Unknown(f"how {material.name} creeps is not known (no data): [material] creep_* keys state it")
    hardening = material.hardening
    if hardening.strain is None:
        plasticity = Plasticity(material.yield_strength, linear=float(hardening.modulus or 0.0))
    else:
        rise = _rise(material)
        share, rate = hardening.backstress_share, SATURATED / hardening.strain
        moving = Curve(rise.temperatures, tuple(share * rate * value for value in rise.values))
        growing = Curve(rise.temperatures, tuple((1.0 - share) * value for value in rise.values))
        plasticity = Plasticity(material.yield_strength, 0.0, growing, rate, (Backstress(moving, rate),))
    law = None
    if creep and material.creep is not None:
        data = material.creep
        law = NortonCreep(data.exponent, Curve(data.temperatures, data.coefficients), data.valid)
    young = float(material.youngs_modulus.at(20.0))
    return Inelastic(young, material.poisson, plasticity=plasticity, creep=law)


def _rise(material: Material) -> Curve:
    """Tensile strength less yield strength against temperature, MPa."""
    low, high = material.yield_strength, material.ultimate_strength
    if low is None or high is None:
        raise Unknown(f"the tensile strength of {material.name} is not known, so how far it hardens is not")
    at = sorted({*low.temperatures, *high.temperatures})
    values = tuple(float(high.at(t)) - float(low.at(t)) for t in at)
    if min(values) < 0:
        raise Unknown(f"the tensile strength of {material.name} lies below its yield strength: softening is not solved")
    return Curve(tuple(at), values)


def added_stress(spec: BodySpec, zone: InelasticZone) -> dict[str, AddedStress]:
    """Return for every stress map of a body what a zone's inelastic strain adds to it.

    Averages over regions inside the zone are exact, and so is all beyond it, by reciprocity; at points inside, what is
    added is the polynomial through the nine points of the element.
    """
    system = body_system(spec)
    result = {}
    for place, regions in spec.stress_regions.items():
        result[place] = _region_places(system, zone, regions)
    wanted = {name: np.asarray(points, float) for name, points in spec.stress_points.items()}
    if wanted:
        result |= _point_places(system, zone, wanted)
    return result


def _region_places(system: BodySystem, zone: InelasticZone, regions: Sequence[str]) -> AddedStress:
    row_of = {int(element): row for row, element in enumerate(zone.elements)}
    q = system.space.weights.shape[1]
    values = np.zeros((len(regions), zone.n_points))
    for number, region in enumerate(regions):
        elements = system.spec.mesh.elements_of(region)
        if not set(map(int, elements)) <= set(row_of):
            raise ValueError(f"the region {region!r} lies outside the zone that may flow")
        weights = system.space.weights[elements]
        for element, own in zip(elements, weights / weights.sum(), strict=True):
            start = q * row_of[int(element)]
            values[number, start : start + q] = own
    nothing = np.zeros(0, dtype=int)
    return AddedStress(np.arange(len(regions)), sp.csr_matrix(values), nothing, np.zeros((0, 4, len(zone.unknowns))))


def _point_places(system: BodySystem, zone: InelasticZone, wanted: Mapping[str, Array]) -> dict[str, AddedStress]:
    space = system.space
    row_of = np.full(len(space.elements), -1)
    row_of[zone.elements] = np.arange(len(zone.elements))
    q = space.weights.shape[1]
    from_points = np.linalg.inv(space.shapes)
    found: dict[str, tuple[Array, sp.csr_matrix, Array]] = {}
    outside = []
    for name, points in wanted.items():
        element, local = space.locate(points)
        rows = row_of[element]
        inside, beyond = np.flatnonzero(rows >= 0), np.flatnonzero(rows < 0)
        values = shapes(local[inside]) @ from_points
        columns = q * rows[inside][:, None] + np.arange(q)
        heads = np.arange(0, values.size + 1, q)
        matrix = sp.csr_matrix((values.ravel(), columns.ravel(), heads), (len(inside), zone.n_points))
        found[name] = (inside, matrix, beyond)
        outside.append(points[beyond])
    far = np.concatenate(outside)
    rows = np.zeros((len(far), 4, len(zone.unknowns)))
    if len(far):
        factor = zone.factor or factorise(_held(system))
        strains = space.strain_operator(far)
        answer = np.zeros((space.n_unknowns, strains.shape[0]))
        answer[system.kept] = factor.solve(strains.T.toarray()[system.kept])
        unit = answer[zone.unknowns].T.reshape(len(far), 4, -1)
        rows = np.ascontiguousarray(system.elastic @ unit)
    result, start = {}, 0
    for name, (inside, matrix, beyond) in found.items():
        result[name] = AddedStress(inside, matrix, beyond, np.ascontiguousarray(rows[start : start + len(beyond)]))
        start += len(beyond)
    return result
