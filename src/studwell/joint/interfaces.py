"""Interfaces of a setup: which edges meet, and the law on them. One row of the table a law."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np

from studwell.case.records import Setup, SpringWasher
from studwell.joint.body import BodyResponse
from studwell.joint.grooves import flank_interface
from studwell.joint.insert import insert_in_boss, stud_in_insert
from studwell.joint.laws import (
    CurveLaw,
    FrictionalContact,
    HistoryCurveLaw,
    Law,
    LinearCompliance,
    SettingCurveLaw,
    UnilateralContact,
)
from studwell.joint.reduced import Interface, ReducedJoint
from studwell.joint.seats import seat_interface
from studwell.joint.state import JointState
from studwell.parts.gasket import Gasket, GasketCurve
from studwell.parts.layer import thread_layer_stiffness
from studwell.parts.material import Material
from studwell.parts.spring import spring_force
from studwell.parts.thread import Thread
from studwell.section.layout import Layout
from studwell.section.pile import Joining

Array = np.ndarray
FLANK_ANGLE = np.radians(30.0)
"""Half the angle of the ISO 68-1 and Unified profiles."""


def section_interfaces(
    setup: Setup, layout: Layout, bodies: Mapping[str, BodyResponse], tip_friction: float = 0.0
) -> tuple[Interface, ...]:
    """Return all interfaces of a setup: boss thread, tip and seat, the faces from the boss upwards, nut thread, dome.

    tip_friction : Coulomb friction of tip and seat in the section's plane, 0 for a stud that slides freely there
    raises ValueError : edges that should meet and do not
    """
    result = [_boss_thread(setup, layout, bodies), _tip(layout, bodies, tip_friction)]
    seat = seat_interface(setup, layout, bodies, tip_friction)
    if seat is not None:
        result.append(seat)
    if layout.insert is not None:
        result.append(insert_in_boss(setup, layout.insert, bodies))
    sets = setup.settling is not None and bool(setup.settling.spring_set)
    for joining in layout.joinings:
        result.append(_face(joining, bodies, layout, sets))
    result.append(_nut_thread(setup, layout, bodies))
    if layout.dome_gap is not None:
        stud, nut = bodies["stud"], bodies["nut"]
        _matching("dome", stud, "end", nut, "roof", component=0)
        n = _count(stud, "end")
        result.append(
            Interface(
                "dome",
                UnilateralContact(),
                {"stud": _select(stud, "end", np.eye(n)), "nut": _select(nut, "roof", np.eye(n))},
                np.full(n, layout.dome_gap),
                np.ones(n),
            )
        )
    return tuple(result)


def _boss_thread(setup: Setup, layout: Layout, bodies: Mapping[str, BodyResponse]) -> Interface:
    stud, boss, teeth = bodies["stud"], bodies["boss"], layout.boss.teeth
    if layout.insert is not None:
        return stud_in_insert(setup, layout.insert, bodies)
    if teeth is not None:
        return flank_interface("boss thread", teeth, (boss, "thread"), (stud, "thread"), setup.seating.thread_friction)
    layer = _both_sides(setup.stud.thread, setup.stud.material, setup.boss.material)
    return _thread("boss thread", setup.stud.thread_model, stud, "thread", boss, layer)


def _both_sides(thread: Thread, external: Material, internal: Material) -> float:
    """The layer stiffness (MPa) of a thread whose two sides are the teeth of stud and boss, or stud and nut."""
    return float(
        thread_layer_stiffness(
            thread.nominal_diameter,
            thread.pitch,
            external.youngs_modulus.at(20.0),
            external.poisson,
            internal.youngs_modulus.at(20.0),
            internal.poisson,
        )
    )


def _nut_thread(setup: Setup, layout: Layout, bodies: Mapping[str, BodyResponse]) -> Interface:
    stud, nut, teeth = bodies["stud"], bodies["nut"], layout.nut.teeth
    if teeth is not None:
        friction = setup.tightening.thread_friction
        return flank_interface("nut thread", teeth, (nut, "thread"), (stud, "nut thread"), friction)
    layer = _both_sides(setup.stud.nut_thread, setup.stud.material, setup.nut.material)
    return _thread("nut thread", setup.stud.nut_thread_model, stud, "nut thread", nut, layer)


def _count(body: BodyResponse, group: str) -> int:
    part = body.columns[group]
    return part.stop - part.start


def _select(body: BodyResponse, group: str, matrix: Array) -> Array:
    """(columns of the body, ports) with a matrix (edges of the group, ports) in the group's rows."""
    result = np.zeros((body.n_columns, matrix.shape[1]))
    result[body.columns[group]] = matrix
    return result


def _matching(name: str, a: BodyResponse, group_a: str, b: BodyResponse, group_b: str, component: int) -> None:
    first, second = a.midpoints[group_a], b.midpoints[group_b]
    if len(first) != len(second) or np.max(np.abs(first[:, component] - second[:, component])) > 1e-6:
        raise ValueError(f"{name}: the edges of {a.name} and {b.name} do not match ({len(first)} and {len(second)})")


def _thread(
    name: str, model: str, stud: BodyResponse, prefix: str, partner: BodyResponse, per_length: float
) -> Interface:
    """Flanks of an engaged thread: bonded, or a compliant layer that pushes along the flank's normal.

    per_length : stiffness of the layer, N/mm per mm of engaged length
    """
    _matching(name, stud, f"{prefix} axial", partner, "thread axial", component=1)
    n = _count(stud, f"{prefix} axial")
    group = f"{prefix} axial"
    heights = stud.midpoints[group][:, 1]
    lengths = stud.areas[group] / (2.0 * np.pi * stud.midpoints[group][:, 0])
    if n > 1 and np.ptp(lengths) < 1e-9 * lengths[0]:
        lengths = np.full(n, float(np.mean(np.diff(heights))))  # even edges: every compliance the same to the bit
    one = np.eye(n)
    if model == "bonded":
        both = np.zeros((2 * n, 2 * n))
        both[:n, :n] = one
        both[n:, n:] = one
        weights = {
            body.name: _select(body, f"{start} axial", both[:n]) + _select(body, f"{start} radial", both[n:])
            for body, start in ((stud, prefix), (partner, "thread"))
        }
        axial = np.concatenate([np.ones(n), np.zeros(n)])
        both_heights = np.concatenate([heights, heights])
        return Interface(name, LinearCompliance(np.zeros(2 * n)), weights, np.zeros(2 * n), axial, heights=both_heights)
    weights = {
        body.name: _select(body, f"{start} axial", one) + np.tan(FLANK_ANGLE) * _select(body, f"{start} radial", one)
        for body, start in ((stud, prefix), (partner, "thread"))
    }
    compliance = 1.0 / (per_length * lengths)
    return Interface(name, LinearCompliance(compliance), weights, np.zeros(n), np.ones(n), heights=heights)


def _tip(layout: Layout, bodies: Mapping[str, BodyResponse], friction: float) -> Interface:
    boss, stud = bodies["boss"], bodies["stud"]
    _matching("tip", boss, "seat", stud, "tip", component=0)
    n = _count(boss, "seat")
    one = np.eye(n)
    share = np.cos(layout.cone_slope)
    lift = np.full(n, layout.tip_lift * share)
    if friction > 0.0:
        both = np.zeros((n, 2 * n))
        both[:, :n] = one
        shear = np.zeros((n, 2 * n))
        shear[:, n:] = one
        weights = {
            "boss": _select(boss, "seat", both) + _select(boss, "seat shear", shear),
            "stud": _select(stud, "tip", both) + _select(stud, "tip shear", shear),
        }
        axial = np.concatenate([np.full(n, share), np.full(n, -np.sin(layout.cone_slope))])
        return Interface("tip", FrictionalContact(friction), weights, np.concatenate([lift, np.zeros(n)]), axial)
    weights = {"boss": _select(boss, "seat", one), "stud": _select(stud, "tip", one)}
    return Interface("tip", UnilateralContact(), weights, lift, np.full(n, share))


def _face(joining: Joining, bodies: Mapping[str, BodyResponse], layout: Layout, sets: bool) -> Interface:
    lower, upper = bodies[joining.lower], bodies[joining.upper]
    gap = layout.nut_lift if joining.upper == "nut" else 0.0
    if joining.kind == "spring":
        assert joining.spring is not None
        weights = {
            body.name: _select(body, group, (body.areas[group] / body.areas[group].sum())[:, None])
            for body, group in ((lower, "top"), (upper, "bottom"))
        }
        spring: Law = setting_spring_law(joining.spring) if sets else spring_law(joining.spring)
        return Interface(joining.name, spring, weights, np.array([gap]), np.ones(1))
    _matching(joining.name, lower, "top", upper, "bottom", component=0)
    n = _count(lower, "top")
    weights = {lower.name: _select(lower, "top", np.eye(n)), upper.name: _select(upper, "bottom", np.eye(n))}
    law: Law = UnilateralContact()
    if joining.kind == "gasket":
        assert joining.gasket is not None
        law = gasket_law(joining.gasket, lower.areas["top"])
    return Interface(joining.name, law, weights, np.full(n, gap), np.ones(n))


def gasket_law(gasket: Gasket, areas: Array) -> HistoryCurveLaw:
    """Return a gasket's law on edges of given areas (n,), mm^2: its pressure curve times area."""

    curves = GasketCurve(gasket)

    def curve(closure: Array, largest: Array) -> tuple[Array, Array]:
        pressure, slope = curves.response(closure, largest)  # which starts at zero and only grows
        return areas * pressure, areas * slope

    return HistoryCurveLaw(curve)


def spring_law(spring: SpringWasher, lost: float = 0.0) -> CurveLaw:
    """Return a spring washer group's law: Almen and Laszlo until flat, then the steel of the flat washers.

    lost : mm that the group has set. Each washer's cone is lower by its part of that; travel still counts from the height
           when new, so that the group is flat at the same travel as ever and meets nothing until it has made up the loss

    Friction widens it to a loop: force times 1 / (1 - f) on loading, 1 / (1 + f) on unloading, f being the share
    that friction takes. Source: Almen & Laszlo 1936; flat stop: compression of a steel ring, E A / height.
    """
    modulus = float(spring.material.youngs_modulus.at(20.0))
    ratio = spring.material.poisson
    ring = np.pi / 4 * (spring.outer_diameter**2 - spring.inner_diameter**2)
    flat_stiffness = modulus * ring / (spring.series * spring.parallel * spring.thickness)
    cone = spring.cone_height - lost / spring.series
    flat_travel = spring.series * cone
    shape = (spring.outer_diameter, spring.inner_diameter, spring.thickness, cone, modulus, ratio)

    # the force is a cubic in the travel without a constant: three points of the handbook formula give it exactly
    points = cone * np.array([1.0, 2.0, 3.0]) / 3.0
    cubic = np.linalg.solve(points[:, None] ** np.array([1, 2, 3]), np.asarray(spring_force(points, *shape)))

    a, b, c = (float(each) for each in cubic)
    parallel, series = spring.parallel, spring.series

    def alone(travel: float) -> tuple[float, float]:
        """The same for one travel, without an array's overhead: what a joint's every step asks."""
        if travel < 0.0:
            return 0.0, 0.0
        one = min(travel / series, cone)
        if travel > flat_travel:
            return parallel * one * (a + one * (b + one * c)) + flat_stiffness * (travel - flat_travel), flat_stiffness
        return parallel * one * (a + one * (b + one * c)), parallel * (a + one * (2.0 * b + one * 3.0 * c)) / series

    def curve(since_new: Array) -> tuple[Array, Array]:
        if since_new.shape == (1,):
            force, slope = alone(since_new.item() - lost)
            return np.array([force]), np.array([slope])
        travel = since_new - lost
        one = np.clip(travel / series, 0.0, cone)
        forces = parallel * one * (a + one * (b + one * c))
        slopes = parallel * (a + one * (2.0 * b + one * 3.0 * c)) / series
        beyond = np.maximum(travel - flat_travel, 0.0)
        forces = np.where(travel > 0.0, forces + flat_stiffness * beyond, 0.0)
        slopes = np.where(travel > flat_travel, flat_stiffness, np.where(travel >= 0.0, slopes, 0.0))
        return forces, slopes

    f = spring.friction
    return CurveLaw(curve, 1.0 / (1.0 - f), 1.0 / (1.0 + f), flat_stiffness)


def setting_spring_law(spring: SpringWasher) -> SettingCurveLaw:
    """Return the law of a group of spring washers that sets."""
    return SettingCurveLaw(lru_cache(maxsize=512)(lambda lost: spring_law(spring, lost)))


def spring_flat_loads(joint: ReducedJoint, spring: SpringWasher, face: str, states: Sequence[JointState]) -> Array:
    """Return the force (t,) N at which a group of spring washers is flat, as far as it has set in each state.

    face : name of the spring's interface. The flat load is proportional to the cone height: Almen & Laszlo 1936.
    """
    flat = spring_flat_load(spring)
    index = next(i for i, each in enumerate(joint.interfaces) if each.name == face)
    if not isinstance(joint.interfaces[index].law, SettingCurveLaw):
        return np.full(len(states), flat)
    lost = np.array([state.law_states[index][0] for state in states])
    return flat * (1.0 - lost / (spring.series * spring.cone_height))


def spring_flat_load(spring: SpringWasher) -> float:
    """Return the force (N) at which a group of spring washers is flat, without friction."""
    modulus = float(spring.material.youngs_modulus.at(20.0))
    force = spring_force(
        np.asarray(spring.cone_height),
        spring.outer_diameter,
        spring.inner_diameter,
        spring.thickness,
        spring.cone_height,
        modulus,
        spring.material.poisson,
    )
    return spring.parallel * float(force)
