"""Bodies of a joint that flow and creep in a history: their step, and what inelastic strain adds to stress and fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import scipy.sparse as sp

from studwell.errors import NotConverged
from studwell.fem.elasticity import initial_strain_load
from studwell.fem.factor import factorise
from studwell.fem.inelastic_data import Inelastic
from studwell.fem.plastic_laws import PointState
from studwell.fem.space import Space
from studwell.joint.condense import BodySpec, BodySystem, body_system
from studwell.joint.inelastic import InelasticStep, advance_joint, start_zones, zone_warnings
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import Control, solve_state
from studwell.joint.state import Flow, Heat, JointState
from studwell.joint.step_system import StepSystem
from studwell.joint.zone import InelasticZone

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
            rim={
                name: float(one.plastic_strain[self.zones[name].rim].max(initial=0.0)) for name, one in points.items()
            },
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
    result[system.kept] = factorise(held_stiffness(system)).solve(loads[system.kept])
    return result


def held_stiffness(system: BodySystem) -> sp.csc_matrix:
    """Return the body's stiffness (kept, kept) N/mm with its ground spring, without the unknowns on the axis."""
    grip = sp.csc_matrix(system.grip[None, :])
    held = sp.csc_matrix(system.stiffness + system.ground_stiffness * (grip.T @ grip))
    return held[system.kept][:, system.kept]
