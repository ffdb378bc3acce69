"""The heat of zones that may flow, and what must be said of them after a history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from studwell.fem.space import Space
from studwell.history.course import HeatCourse
from studwell.joint.bodies import SectionBody
from studwell.joint.flowing import FlowingBodies
from studwell.joint.state import JointState
from studwell.joint.zone import InelasticZone

Array = np.ndarray

UNDER_PRESSURE = 1e-6
"""Plastic strain that cylinder pressure may add to the run's before it is told."""


def with_zones(
    course: HeatCourse, flowing: FlowingBodies, bodies: Sequence[SectionBody], assembly_temperature: float
) -> HeatCourse:
    """Return a course whose thermal states hold the temperatures of the zones that may flow.

    bodies : of the joint, with solved fields or the modes that carry node temperatures; assembly_temperature : degC
    """
    of = {body.spec.name: body for body in bodies}
    series = {name: _series(course, zone, of[name]) for name, zone in flowing.zones.items()}
    heats = [
        replace(heat, zones={name: values[i] for name, values in series.items()}) for i, heat in enumerate(course.heats)
    ]
    at_rest = dict.fromkeys(series, assembly_temperature)
    return replace(course, heats=tuple(heats), assembly=replace(course.assembly, zones=at_rest))


def _series(course: HeatCourse, zone: InelasticZone, body: SectionBody) -> Array:
    """Temperatures (t, P) degC of a zone's points, or (t,) where they are all alike."""
    if body.solved is not None:
        space = Space(body.spec.mesh)
        at_nodes = body.solved.temperature.T.astype(float)
        values = np.einsum("qn,zns->szq", space.shapes, at_nodes[space.elements[zone.elements]])
        return values.reshape(len(course.times), -1)
    places = course.temperatures @ body.mode_weights.T
    if places.shape[1] == 1:
        return places[:, 0]
    profiles = np.stack([mode.values(zone.where[:, 1]) for mode in body.spec.modes[: places.shape[1]]])  # type: ignore[union-attr]
    return places @ profiles


def flow_warnings(flowing: FlowingBodies | None, course: HeatCourse, states: Sequence[JointState]) -> tuple[str, ...]:
    """Return what must be said of bodies that flowed: data left, zones too small, strain too large, pressure's share.

    states : of the run in order, then those under cylinder pressure, which branch off the run
    """
    if flowing is None:
        return ()
    count = len(course.times)
    last = states[count - 1].flow
    assert last is not None
    seen = {
        name: np.array([f(h.zones[name]) for h in (*course.heats, course.assembly) for f in (np.min, np.max)])
        for name in flowing.zones
    }
    found = list(flowing.warnings(last, seen))
    for name in flowing.zones:
        run, branch = ([s.flow.plastic[name] for s in part if s.flow] for part in (states[:count], states[count:]))
        if branch and max(b - r for b, r in zip(branch, run, strict=True)) > UNDER_PRESSURE:
            found.append(f"{name}: it flows further under cylinder pressure, which the run does not carry on")
    return tuple(found)
