"""Temperatures at named nodes into thermal strains, moduli and the stud's yield strength."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.bodies import REFERENCE_TEMPERATURE, SectionBody
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat
from studwell.section.layout import Layout

Array = np.ndarray


@dataclass(frozen=True)
class HeatModel:
    """What turns node temperatures into thermal states: bodies, the parts without a mesh, and where zero strain is.

    assembly_temperature : degC at which dimensions hold and no thermal strain exists
    stretch_weights      : (nodes,) temperature of the stud's weakest length from the nodes
    yield_at_reference   : MPa, the property class's yield strength at room temperature; its fall with temperature
                           follows the stud material's curve
    constant_modulus     : True keeps every modulus at its reference value (for checks)
    """

    layout: Layout
    bodies: tuple[SectionBody, ...] = field(repr=False)
    joint: ReducedJoint = field(repr=False)
    nodes: tuple[str, ...]
    assembly_temperature: float
    stretch_weights: Array = field(repr=False)
    yield_at_reference: float
    constant_modulus: bool = False

    def states(self, node_temperatures: Array) -> list[Heat]:
        """Return the thermal states at instants (t, nodes) degC.

        Source: secant expansion from 20 degC: strain = a(T)(T - 20) - a(T0)(T0 - 20).
        """
        amplitudes, ratios = [], np.ones((len(node_temperatures), len(self.bodies)))
        for index, body in enumerate(self.bodies):
            places = node_temperatures @ body.mode_weights.T
            strain = body.material.thermal_strain(places, self.assembly_temperature)
            amplitudes.append(np.asarray(strain, dtype=float))
            if not self.constant_modulus:
                mean = places[:, [0, -1]].mean(axis=1) if places.shape[1] == 3 else places.mean(axis=1)
                curve = body.material.youngs_modulus
                ratios[:, index] = np.asarray(curve.at(mean)) / float(curve.at(REFERENCE_TEMPERATURE))
        strength = self.yield_strengths(node_temperatures)
        gaps = self.gap_changes(node_temperatures)
        return [
            Heat(tuple(a[i] for a in amplitudes), ratios[i], float(strength[i]), gaps[i])
            for i in range(len(node_temperatures))
        ]

    def yield_strengths(self, node_temperatures: Array) -> Array:
        """Return the yield strength (t,) MPa of the stud's weakest length at instants (t, nodes) degC."""
        stud = next(body for body in self.bodies if body.spec.name == "stud")
        strength = np.full(len(node_temperatures), self.yield_at_reference)
        if stud.material.yield_strength is not None:
            curve = stud.material.yield_strength
            there = node_temperatures @ self.stretch_weights
            strength = strength * np.asarray(curve.at(there)) / float(curve.at(REFERENCE_TEMPERATURE))
        return strength

    def state(self, node_temperatures: Array) -> Heat:
        """Return the thermal state at one instant (nodes,) degC."""
        return self.states(node_temperatures[None, :])[0]

    def gap_changes(self, node_temperatures: Array) -> Array:
        """Return the change (t, n) mm of each port's gap by the growth of gaskets and springs, which have no mesh.

        A gasket grows by its own coefficient, a spring group by that of its flat height. Temperatures as in the
        stack: linear in z between the nodes (t, nodes) degC.
        """
        change = np.zeros((len(node_temperatures), self.joint.n_ports))
        heights = [z for z, _ in self.layout.stack_profile]
        values = node_temperatures[:, [self.nodes.index(node) for _, node in self.layout.stack_profile]]
        for joining in self.layout.joinings:
            if joining.gasket is None and joining.spring is None:
                continue
            weights = [np.interp(joining.node_height, heights, row) for row in np.eye(len(heights))]
            there = values @ np.array(weights)
            if joining.gasket is not None:
                growth = joining.thickness * joining.gasket.expansion * (there - self.assembly_temperature)
            else:
                assert joining.spring is not None
                strain = joining.spring.material.thermal_strain(there, self.assembly_temperature)
                growth = joining.spring.least_height * np.asarray(strain)
            change[:, self.joint.slices[joining.name]] = -growth[:, None]
        return change


def temperatures_in_time(times: Array, point_times: Array, point_temperatures: Array) -> Array:
    """Return node temperatures (steps, nodes) degC at times (steps,) s, straight between points.

    point_times (points,) s; point_temperatures (nodes, points) degC
    """
    return np.stack([np.interp(times, point_times, row) for row in point_temperatures], axis=1)


def step_times(point_times: Sequence[float], steps: int) -> Array:
    """Return step times (steps + 1,) s through every point, spread over the pieces in proportion to their length."""
    points = np.asarray(point_times, dtype=float)
    lengths = np.diff(points)
    steps = max(steps, len(lengths))
    share = lengths / lengths.sum() * steps
    counts = np.maximum(1, np.floor(share).astype(int))
    while counts.sum() < steps:
        counts[int(np.argmax(share - counts))] += 1
    while counts.sum() > steps:
        counts[int(np.argmax(counts))] -= 1
    pieces = [np.linspace(a, b, n + 1)[1:] for a, b, n in zip(points[:-1], points[1:], counts, strict=True)]
    return np.concatenate([points[:1], *pieces])
