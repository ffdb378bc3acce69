"""What settles after tightening: faces embed and springs set at the first heat, and gaskets creep in time."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.records import Setup
from studwell.history.course import HeatCourse
from studwell.joint.laws import SettingCurveLaw
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat, JointState
from studwell.parts.gasket import GasketCurve
from studwell.section.layout import Layout

Array = np.ndarray

HOUR = 3600.0
"""s; gaskets' relaxation is counted in tenfolds of time from one hour after tightening."""


@dataclass(frozen=True)
class Settlement:
    """How far each port's faces settle, the springs that set, and the gaskets that creep.

    embedding : (n,) mm that ports open by when all faces have embedded
    ends      : s at which the first heat ends; embedding grows in proportion to time until then
    creeping  : (slice of ports, curves, areas (ports,), share lost in each tenfold of time)
    setting   : (number of a spring's interface, mm of travel that its whole group loses), as embedding grows
    """

    embedding: Array = field(repr=False)
    ends: float
    creeping: tuple[tuple[slice, GasketCurve, Array, float], ...]
    setting: tuple[tuple[int, float], ...] = ()

    def share(self, time: float) -> float:
        """Share of the embedding done at a time from the start of the run, s."""
        return 1.0 if self.ends <= 0.0 else min(1.0, max(0.0, time / self.ends))

    def creep(self, state: JointState, crept: Array, before: float, now: float) -> Array:
        """Return how far (n,) mm gaskets have crept after a step from `before` to `now` (s after tightening).

        At a held closure the pressure falls by its share in each tenfold of time: the free height shrinks by the lost
        pressure over the gasket's unloading slope. Source: F = F0 [1 - a log10(t / t0)], t0 = 1 h, in steps.
        """
        if not self.creeping or now <= HOUR:
            return crept
        tenfolds = float(np.log10(now / max(before, HOUR)))
        result = crept.copy()
        for part, curves, areas, lost in self.creeping:
            pressure = state.forces[part] / areas
            slope = np.interp(pressure, curves.unloading_pressure, curves.unloading_modulus) / curves.thickness
            result[part] += lost * tenfolds * pressure / slope
        return result

    def with_springs_set(self, joint: ReducedJoint, state: JointState, share: float) -> JointState:
        """Return a state whose springs have lost a share of the travel that they lose in the first heat.

        Travels and forces are still those from before: the next step finds what they become.
        """
        if not self.setting:
            return state
        laws = list(state.law_states)
        for index, whole in self.setting:
            law = joint.interfaces[index].law
            assert isinstance(law, SettingCurveLaw)
            laws[index] = law.settle(laws[index], share * whole)
        return replace(state, law_states=tuple(laws))

    def settled(self, heat: Heat, time: float, crept: Array) -> Heat:
        """Return a thermal state with what has settled by then added to its gaps."""
        gaps = np.zeros(len(self.embedding)) if heat.gap_change is None else heat.gap_change
        return replace(heat, gap_change=gaps + self.share(time) * self.embedding + crept)


def settlement_of(setup: Setup, layout: Layout, joint: ReducedJoint, course: HeatCourse) -> Settlement | None:
    """Return how a setup settles, None if the case gives nothing.

    Source: the case's own embedding depths and shares of springs' cone heights; gaskets' relaxation as the case says.
    """
    settling = setup.settling
    if settling is None:
        return None
    embedding = np.zeros(joint.n_ports)
    for name in filter(joint.has, ("boss thread", "insert thread", "nut thread")):
        part = joint.slices[name]
        embedding[part] = settling.thread * np.maximum(joint.interface(name).axial, 0.0)  # along the axis
    if setup.seating.mode == "bottomed":
        embedding[joint.slices["tip"]] = settling.tip * (joint.interface("tip").axial > 0.0)
    washers = {ring.name for ring in layout.rings if ring.is_washer} | {"nut"}
    creeping, setting = [], []
    relaxing = dict(settling.relaxation)
    gaskets = [layer.name for layer in setup.stack if layer.gasket is not None]
    for joining in layout.joinings:
        if joining.spring is not None and settling.spring_set:
            index = next(i for i, face in enumerate(joint.interfaces) if face.name == joining.name)
            lost = settling.spring_set * joining.spring.cone_height * joining.spring.series
            setting.append((index, lost))
        part = joint.slices[joining.name]
        if joining.gasket is not None:
            name = gaskets.pop(0)
            if relaxing.get(name):
                lower = joint.bodies[joint.body_index(joining.lower)]
                creeping.append((part, GasketCurve(joining.gasket), lower.areas["top"], relaxing[name]))
        elif joining.upper in washers:
            embedding[part] = settling.bearing * (2.0 if joining.spring is not None else 1.0)
        else:
            embedding[part] = settling.inner
    ends = float(course.times[course.first_heat_ends] - course.times[0])
    return Settlement(embedding, ends, tuple(creeping), tuple(setting))
