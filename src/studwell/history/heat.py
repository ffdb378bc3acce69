"""Temperatures at named nodes into thermal strains, moduli and the stud's yield strength."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from studwell.joint.bodies import REFERENCE_TEMPERATURE, SectionBody
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat
from studwell.section.layout import Layout

Array = np.ndarray


def heat_at(
    bodies: Sequence[SectionBody],
    node_temperatures: Array,
    assembly_temperature: float,
    stretch_weights: Array,
    yield_at_reference: float,
    constant_modulus: bool = False,
) -> Heat:
    """Return the thermal state of all bodies at one instant.

    node_temperatures    : (nodes,) degC
    assembly_temperature : degC at which dimensions hold and no thermal strain exists
    stretch_weights      : (nodes,) temperature of the stud's weakest length from the nodes
    yield_at_reference   : MPa, the property class's yield strength at room temperature; its fall with temperature
                           follows the stud material's curve
    constant_modulus     : True keeps every modulus at its reference value (for checks)
    returns              : Heat
    Source: secant expansion from 20 degC: strain = a(T)(T - 20) - a(T0)(T0 - 20).
    """
    amplitudes, ratios = [], np.ones(len(bodies))
    for index, body in enumerate(bodies):
        places = body.mode_weights @ node_temperatures
        amplitudes.append(np.asarray(body.material.thermal_strain(places, assembly_temperature), dtype=float))
        if not constant_modulus:
            mean = float(np.mean(places[[0, -1]])) if len(places) == 3 else float(np.mean(places))
            curve = body.material.youngs_modulus
            ratios[index] = float(curve.at(mean)) / float(curve.at(REFERENCE_TEMPERATURE))
    stud = next(body for body in bodies if body.spec.name == "stud")
    strength = yield_at_reference
    if stud.material.yield_strength is not None:
        curve = stud.material.yield_strength
        there = float(stretch_weights @ node_temperatures)
        strength *= float(curve.at(there)) / float(curve.at(REFERENCE_TEMPERATURE))
    return Heat(tuple(amplitudes), ratios, strength)


def gap_change(
    layout: Layout, joint: ReducedJoint, nodes: tuple[str, ...], node_temperatures: Array, assembly_temperature: float
) -> Array:
    """Return the change (n,) mm of each port's gap by the growth of gaskets and spring washers, which have no mesh.

    A gasket grows by its own coefficient, a spring group by that of its flat height. Temperatures as in the stack:
    linear in z between the nodes. node_temperatures (nodes,) degC.
    """
    change = np.zeros(joint.n_ports)
    heights = [z for z, _ in layout.stack_profile]
    values = [node_temperatures[nodes.index(node)] for _, node in layout.stack_profile]
    for joining in layout.joinings:
        there = float(np.interp(joining.node_height, heights, values))
        if joining.gasket is not None:
            growth = joining.thickness * joining.gasket.expansion * (there - assembly_temperature)
        elif joining.spring is not None:
            strain = float(joining.spring.material.thermal_strain(there, assembly_temperature))
            growth = joining.spring.least_height * strain
        else:
            continue
        change[joint.slices[joining.name]] = -growth
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
