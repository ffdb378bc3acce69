"""The liquid under the tip through a history: how much is shut in, its temperature, and what leaks between two states."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from studwell.case.records import Pocket, Setup
from studwell.fem.space import Space
from studwell.history.course import HeatCourse
from studwell.joint.bodies import SectionBody
from studwell.joint.fluid_law import POCKET, PocketLaw, PocketState
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat, JointState
from studwell.parts.fluid import KELVIN, Fluid
from studwell.section.pocket import WET

Array = np.ndarray


@dataclass(frozen=True)
class FilledPocket:
    """What is shut in under a setup's tip.

    index : number of the pocket's interface;  start : degC, assembly temperature, at which the mass counts as volume
    """

    pocket: Pocket
    fluid: Fluid
    law: PocketLaw
    index: int
    start: float

    @property
    def leaks(self) -> bool:
        """True if the liquid leaks away under pressure."""
        return self.pocket.leak_time is not None

    def volume(self, joint: ReducedJoint, state: JointState) -> float:
        """Return the pocket's volume in a state, mm^3."""
        return self.law.volume + self.law.area * float(state.openings[joint.slices[POCKET]][0])

    def fitted_volume(self, joint: ReducedJoint, seated: JointState) -> float:
        """Return the pocket's volume (mm^3) under a seated stud that is drawn up against its carrying flanks.

        A backed-off stud lies anywhere within the play of its thread; the first pull of the nut takes that up.
        """
        sealed = self.law.area * float(joint.interface(POCKET).axial[0])
        return max(self.volume(joint, seated), self.law.volume - sealed * min(0.0, seated.travels["stud"]))

    def filled_with(self, state: JointState, mass: float, volume: float) -> JointState:
        """Return a state whose pocket holds a mass (mm^3 at the start's temperature) in so large a volume (mm^3)."""
        laws = list(state.law_states)
        laws[self.index] = PocketState(mass=mass, excess=min(0.0, mass - volume))
        return replace(state, law_states=tuple(laws))

    def at_first_contact(self, state: JointState) -> JointState:
        """Return the loose stud, its tip touching by hand, with the liquid in: all of it, or none of it yet."""
        mass = self.pocket.fill * self.law.volume if self.pocket.fill_at == "first contact" else 0.0
        return self.filled_with(state, mass, self.law.volume)

    def as_fitted(self, joint: ReducedJoint, state: JointState) -> JointState:
        """Return the stud as it stands after seating with its pocket filled again, if that is when the fill counts."""
        if self.pocket.fill_at != "as fitted":
            return state
        volume = self.fitted_volume(joint, state)
        return self.filled_with(state, self.pocket.fill * volume, volume)

    def ready(self, state: JointState, heat: Heat, duration: float) -> JointState:
        """Return a state from which a step to a thermal state starts: the liquid at its new temperature, the leak open.

        duration : s of the step. Nothing leaks below the triple point, where ice plugs the leak.
        """
        temperature = heat.pocket
        if temperature is None:
            raise ValueError("the thermal state has no temperature of the liquid")
        old: PocketState = state.law_states[self.index]
        fluid, ice = self.fluid, self.fluid.ice
        melting = 0.0 if ice is None else float(ice.melting_pressure(temperature))
        new = replace(
            old,
            ratio=float(fluid.volume_ratio(temperature, self.start)),
            bulk_modulus=float(fluid.bulk_modulus.at(temperature)),
            stays=1.0,
            grows=1.0,
            ice_ratio=None,
        )
        if ice is not None and melting > 0.0:
            new = replace(
                new,
                ice_ratio=float(fluid.ice_ratio(temperature, self.start)),
                ice_modulus=float(ice.bulk_modulus.at(temperature)),
                melting_pressure=melting,
            )
        elif self.pocket.leak_time is not None and duration > 0.0:
            share = duration / self.pocket.leak_time
            new = replace(new, stays=float(np.exp(-share)), grows=float(-np.expm1(-share) / share))
        laws = list(state.law_states)
        laws[self.index] = new
        return replace(state, law_states=tuple(laws))

    def solver(self, inner: Callable[..., JointState]) -> Callable[..., JointState]:
        """Return a solver of states that carries the liquid on; takes a step's `duration` in s, 0 if it is left out."""

        def solve(joint: ReducedJoint, before: JointState, heat: Heat, **controls: Any) -> JointState:
            duration = float(controls.get("duration", 0.0))
            if before.flow is None:
                controls.pop("duration", None)
            return inner(joint, self.ready(before, heat, duration), heat, **controls)

        return solve


def filled_pocket(setup: Setup, joint: ReducedJoint) -> FilledPocket | None:
    """Return what is shut in under a setup's tip, None if nothing is or the joint has no pocket."""
    if not setup.pocket.filled or not joint.has(POCKET):
        return None
    index = next(i for i, face in enumerate(joint.interfaces) if face.name == POCKET)
    law = joint.interfaces[index].law
    assert isinstance(law, PocketLaw) and setup.pocket.fluid is not None
    return FilledPocket(setup.pocket, setup.pocket.fluid, law, index, setup.history.assembly_temperature)


def with_liquid(course: HeatCourse, bodies: Sequence[SectionBody], assembly_temperature: float) -> HeatCourse:
    """Return a course whose thermal states hold the liquid's temperature: the mean of hole and tip.

    bodies : of the joint. Where heat is solved, hole and tip are the means over their wetted faces, else the nodes "boss"
    and "stud_tip". A liquid of some mm^3 follows its walls within a second.
    """
    values = 0.5 * (_wall(course, bodies, "boss", "boss") + _wall(course, bodies, "stud", "stud_tip"))
    heats = tuple(replace(heat, pocket=float(t)) for heat, t in zip(course.heats, values, strict=True))
    return replace(course, heats=heats, assembly=replace(course.assembly, pocket=assembly_temperature))


def _wall(course: HeatCourse, bodies: Sequence[SectionBody], name: str, node: str) -> Array:
    """Temperatures (t,) degC of the wall that a body gives the pocket."""
    body = next(each for each in bodies if each.spec.name == name)
    if body.solved is None:
        return course.temperatures[:, course.node_names.index(node)]
    edges = Space(body.spec.mesh).edges(WET)
    shares = edges.shares @ edges.shapes
    weights = np.bincount(edges.nodes.ravel(), shares.ravel(), minlength=len(body.spec.mesh.nodes))
    return np.asarray(body.solved.temperature.astype(float) @ (weights / weights.sum()))


def pressures(joint: ReducedJoint, states: Sequence[JointState]) -> Array:
    """Return the gauge pressure (states,) MPa in the pocket, from its port's force; zeros without one."""
    if not joint.has(POCKET):
        return np.zeros(len(states))
    law = joint.interface(POCKET).law
    assert isinstance(law, PocketLaw)
    part = joint.slices[POCKET]
    return np.array([float(state.forces[part][0]) for state in states]) / law.area


def frozen_shares(liquid: FilledPocket, joint: ReducedJoint, states: Sequence[JointState]) -> Array:
    """Return the share (states,) of the liquid's mass that is ice."""
    part = joint.slices[POCKET]
    return np.array([liquid.law.frozen_share(float(s.openings[part][0]), s.law_states[liquid.index]) for s in states])


def liquid_warnings(
    liquid: FilledPocket | None, joint: ReducedJoint, course: HeatCourse, states: Sequence[JointState]
) -> tuple[str, ...]:
    """Return what must be said of a liquid under the tip: data left, all of it frozen, denser ice than the model knows."""
    if liquid is None:
        return ()
    fluid = liquid.fluid
    found = []
    seen = np.array([heat.pocket for heat in (*course.heats, course.assembly)], dtype=float)
    curves = [fluid.bulk_modulus, *([fluid.density] if fluid.density is not None else [])]
    if not all(curve.covers(seen) for curve in curves):
        low, high = fluid.bulk_modulus.temperatures[0], fluid.bulk_modulus.temperatures[-1]
        found.append(
            f"the data of {fluid.name} reach from {low:g} to {high:g} degC, and its end values are held beyond"
        )
    if fluid.ice is not None:
        if float(seen.min()) + KELVIN < fluid.ice.least_temperature:
            least = fluid.ice.least_temperature - KELVIN
            found.append(
                f"below {least:.1f} degC ordinary ice gives way to denser kinds at about "
                f"{float(fluid.ice.melting_pressure(least)):.0f} MPa, which is held as the most that freezing can push"
            )
        if float(frozen_shares(liquid, joint, states).max(initial=0.0)) >= 1.0 - 1e-9:
            found.append(
                f"all of the {fluid.name} under the tip freezes: ice is taken as a fluid, which carries no shear and sticks "
                "nowhere, so that its push is an upper bound"
            )
    return tuple(found)
