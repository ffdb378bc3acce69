"""What a joint goes through once it is tightened: instants, temperatures and thermal states, given or solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.history.heat import HeatModel, step_times, temperatures_in_time
from studwell.joint.bodies import REFERENCE_TEMPERATURE, SectionBody
from studwell.joint.state import Heat

Array = np.ndarray


@dataclass(frozen=True)
class HeatCourse:
    """Instants of a run with everything that heat does to the joint.

    times (t,) s; node_names and temperatures (t, nodes) degC; heats (t,) thermal states; assembly: that of tightening;
    labels: (index, label) of the instants that have names
    """

    times: Array = field(repr=False)
    node_names: tuple[str, ...]
    temperatures: Array = field(repr=False)
    heats: tuple[Heat, ...] = field(repr=False)
    assembly: Heat = field(repr=False)
    labels: tuple[tuple[int, str], ...]

    @property
    def first_heat_ends(self) -> int:
        """Index of the first named instant that is hotter than the first one, or the last instant."""
        mean = self.temperatures.mean(axis=1)
        for index, _ in self.labels:
            if mean[index] > mean[0] + 1.0:
                return index
        return len(self.times) - 1


def between(first: Heat, second: Heat) -> Heat:
    """Return the thermal state half way between two."""
    gaps = None
    if first.gap_change is not None and second.gap_change is not None:
        gaps = 0.5 * (first.gap_change + second.gap_change)
    return Heat(
        tuple(0.5 * (a + b) for a, b in zip(first.amplitudes, second.amplitudes, strict=True)),
        0.5 * (first.modulus_ratio + second.modulus_ratio),
        0.5 * (first.stud_yield + second.stud_yield),
        gaps,
        {name: 0.5 * (there + second.zones[name]) for name, there in first.zones.items()},
        None if first.pocket is None or second.pocket is None else 0.5 * (first.pocket + second.pocket),
    )


def given_course(
    model: HeatModel,
    point_times: Sequence[float],
    point_temperatures: Array,
    labels: Sequence[str],
    steps: int,
    cycles: int = 1,
) -> HeatCourse:
    """Return the course of temperatures that are given at points, straight between them, repeated cycle after cycle.

    point_times (points,) s; point_temperatures (nodes, points) degC; steps in each cycle
    """
    one = step_times(point_times, steps)
    length = point_times[-1] - point_times[0]
    times = np.concatenate([one] + [one[1:] + k * length for k in range(1, cycles)])
    inside = np.concatenate([one] + [one[1:]] * (cycles - 1))
    temperatures = temperatures_in_time(inside, np.asarray(point_times), point_temperatures)
    named = []
    for k in range(cycles):
        for t, label in zip(point_times, labels, strict=True):
            if k and t == point_times[0]:
                continue  # the end of the cycle before
            index = int(np.argmin(np.abs(times - (t + k * length))))
            named.append((index, label if cycles == 1 else f"{label}, cycle {k + 1}"))
    assembly = model.state(np.full(len(model.nodes), model.assembly_temperature))
    return HeatCourse(times, model.nodes, temperatures, tuple(model.states(temperatures)), assembly, tuple(named))


def solved_course(
    model: HeatModel,
    times: Array,
    temperatures: Array,
    labels: tuple[tuple[int, str], ...],
) -> HeatCourse:
    """Return the course of solved heat: strains from the bodies' own fields, the rest from their means.

    model: of bodies with `solved` fields; times (t,) s; temperatures (t, nodes) degC; labels: (index, label)
    """
    bodies: tuple[SectionBody, ...] = model.bodies
    ratios = np.ones((len(times), len(bodies)))
    for index, body in enumerate(bodies):
        assert body.solved is not None
        if not model.constant_modulus:
            curve = body.material.youngs_modulus
            mean = body.solved.temperature.mean(axis=1)
            ratios[:, index] = np.asarray(curve.at(mean)) / float(curve.at(REFERENCE_TEMPERATURE))
    strength = model.yield_strengths(temperatures)
    gaps = model.gap_changes(temperatures)
    heats = []
    for i in range(len(times)):
        amplitudes = tuple(body.solved.amplitudes[i] for body in bodies if body.solved is not None)
        heats.append(Heat(amplitudes, ratios[i], float(strength[i]), gaps[i]))
    nothing = tuple(np.zeros(body.solved.amplitudes.shape[1]) for body in bodies if body.solved is not None)
    at_rest = np.full((1, len(model.nodes)), model.assembly_temperature)
    start = np.ones(len(bodies))
    for index, body in enumerate(bodies):
        if not model.constant_modulus:
            curve = body.material.youngs_modulus
            start[index] = float(curve.at(model.assembly_temperature)) / float(curve.at(REFERENCE_TEMPERATURE))
    assembly = Heat(nothing, start, float(model.yield_strengths(at_rest)[0]), model.gap_changes(at_rest)[0])
    return HeatCourse(times, model.nodes, temperatures, tuple(heats), assembly, labels)
