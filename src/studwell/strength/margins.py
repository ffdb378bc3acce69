"""Margins: load over capacity, one function a mode. 1.0 is the limit; what cannot be known is None with its reason."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.joint.interfaces import spring_flat_loads
from studwell.parts.fastener import proof_load, property_class
from studwell.parts.torsion import combined_stress
from studwell.strength.fit import false_seat, floor_breakthrough
from studwell.strength.floor import floor_punch_margin, floor_split_margin, seat_crushing_margin, seat_split_margin
from studwell.strength.insert import insert_turning
from studwell.strength.margin import (
    Kind,
    Margin,
    absent_margin,
    node_temperatures,
    ratio_margin,
    surface_limit,
    unknown_margin,
)
from studwell.strength.strip import boss_thread_strip, insert_thread_strip, nut_thread_strip
from studwell.strength.timeline import Timeline
from studwell.strength.wall import wall_burst
from studwell.units import as_text, in_both

__all__ = ["MODES", "MODE_NAMES", "Kind", "Margin", "ratio_margin", "unknown_margin"]

Array = np.ndarray


def leak(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Needed clamp over the clamp that is left, worst over the run and every gasket.

    Source: gasket's least sealing pressure (its data) or the case's limits; clamp is net of cylinder pressure.
    """
    needs = []
    limits = built.setup.limits
    for joining in built.layout.joinings:
        if joining.gasket is not None:
            pressure = limits.minimum_gasket_pressure or joining.gasket.minimum_sealing_pressure
            area = np.pi * (joining.outer**2 - joining.inner**2)
            needs.append((pressure * area, f"{pressure:g} MPa on the {area:.0f} mm2 of {joining.gasket.name}"))
    if limits.minimum_clamp is not None:
        needs.append((limits.minimum_clamp, "the case's least clamp"))
    if not needs:
        return unknown_margin(
            "leak", "damage", "no gasket and no [limits] minimum_clamp: the clamp that it needs is not known"
        )
    need, why = max(needs)
    after = np.arange(len(timeline.states)) >= timeline.assembled
    clamp = np.where(after, timeline.forces.clamp, np.inf)
    # a loose joint's clamp is zero but for rounding
    clamp = np.where(clamp < 1e-6 * need, 0.0, clamp)
    lifted = (clamp <= 0.0) & (timeline.forces.outside > 0.0)
    reason = "cylinder pressure lifts the clamped faces apart" if bool(np.any(lifted)) else ""
    return ratio_margin("leak", "damage", timeline, np.full_like(clamp, need), clamp, "N", f"needed: {why}", reason)


def stud_proof(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Stud tension over the proof load of its class. Source: ISO 898-1:2013, stress area times proof stress."""
    stud = built.setup.stud
    thread = min((stud.thread, stud.nut_thread), key=lambda t: proof_load(t, stud.property_class))
    load = proof_load(thread, stud.property_class)
    return ratio_margin(
        "stud proof",
        "damage",
        timeline,
        timeline.forces.tension,
        np.full(len(timeline.states), load),
        "N",
        f"proof load of {thread.name} class {stud.property_class} at room temperature",
    )


def stud_combined(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Von Mises stress of tension and torsion in the weakest length over its yield strength at temperature.

    Source: von Mises; locked-in share of the thread torque as the case or the data say.
    """
    area = built.layout.stretch_area
    shear = np.array([s.shear for s in timeline.states])
    stress = np.asarray(combined_stress(timeline.forces.tension / area, shear))
    strength = np.array([s.heat.stud_yield for s in timeline.states])
    stretched = max(s.stretch for s in timeline.states)
    note = ""
    if stretched > 1e-9:
        note = in_both(lambda system: f"the stud stretched {as_text(stretched, 'length', system)} for good")
    return ratio_margin(
        "stud yield",
        "damage",
        timeline,
        stress,
        strength,
        "MPa",
        f"tension with torsion in the {built.layout.stretch_name}, {area:.1f} mm2",
        note,
    )


def bearing_pressure(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Pressure under washer or nut on the uppermost layer over the pressure its material stands.

    Source: limiting surface pressures as the material's data say.
    """
    rings = {ring.name: ring for ring in built.layout.rings}
    joining = next(j for j in reversed(built.layout.joinings) if j.lower in rings and not rings[j.lower].is_washer)
    material = rings[joining.lower].material
    if material.bearing_pressure_limit is None:
        return unknown_margin(
            "bearing pressure", "damage", f"the pressure that {material.name} stands under a washer is not known"
        )
    area = np.pi * (joining.outer**2 - joining.inner**2)
    face = built.joint.axial_load(joining.name, np.stack([s.forces for s in timeline.states]))
    status = material.source("bearing_pressure_limit")[1]
    node = next(layer.node for layer in built.setup.stack if layer.name == joining.lower)
    limit = surface_limit(material, node_temperatures(built, timeline, temperatures, node))
    cold = "" if material.yield_strength is None else ", falling with temperature as the yield strength does"
    return ratio_margin(
        "bearing pressure",
        "damage",
        timeline,
        face / area,
        limit,
        "MPa",
        f"mean over the {area:.0f} mm2 ring on {joining.lower} ({material.name}); limit {status}{cold}",
    )


def stud_break(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Von Mises stress of tension and torsion in the weakest length over the class's tensile strength.

    Source: ISO 898-1:2013 minimum tensile strength at room temperature.
    """
    stud = built.setup.stud
    strength = property_class(stud.property_class, stud.nut_thread.nominal_diameter).ultimate_strength
    area = built.layout.stretch_area
    shear = np.array([s.shear for s in timeline.states])
    stress = np.asarray(combined_stress(timeline.forces.tension / area, shear))
    return ratio_margin(
        "stud break",
        "damage",
        timeline,
        stress,
        np.full(len(stress), strength),
        "MPa",
        f"tension with torsion in the {built.layout.stretch_name} against the class's tensile strength",
    )


def tip_crushing(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Mean pressure of the tip on its seat over what boss or stud stand there, whichever is nearer its limit.

    A function mode: a crushed seat harms nothing by itself, but the wedge force that was driven in is not kept.
    Source: limiting surface pressure of the boss's material and yield strength of the stud's class, as the data say.
    """
    setup = built.setup
    boss = built.joint.bodies[built.joint.body_index("boss")]
    area = float(boss.areas["seat"].sum()) * np.cos(built.layout.cone_slope)
    pressure = timeline.forces.tip / area
    if float(pressure.max(initial=0.0)) <= 1e-6:
        return absent_margin("tip crushing", "function", "the tip touches nothing in this history")
    stud = np.array([s.heat.stud_yield for s in timeline.states])
    material = setup.boss.material
    if material.bearing_pressure_limit is None:
        worst = float(np.max(pressure / stud))
        if worst >= 1.0:
            return ratio_margin(
                "tip crushing", "function", timeline, pressure, stud, "MPa", "tip against its own yield"
            )
        return unknown_margin(
            "tip crushing", "function", f"the pressure that {material.name} stands under a tip is not known"
        )
    limit = surface_limit(material, node_temperatures(built, timeline, temperatures, "boss"))
    status = material.source("bearing_pressure_limit")[1]
    return ratio_margin(
        "tip crushing",
        "function",
        timeline,
        pressure,
        np.minimum(limit, stud),
        "MPa",
        f"mean over the {area:.1f} mm2 of the tip's contact on {material.name}; limit {status}, that of a bearing face",
        "displacement-controlled: above 1 tip or floor yields locally and part of the wedge force is lost",
    )


def washer_flat(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Worst force on the spring washers over the load at which they are flat.

    Source: Almen & Laszlo 1936 flat load.
    """
    springs = built.setup.springs
    if not springs:
        return absent_margin("washer flat", "function", "no spring washer in this setup")
    face = next(j.name for j in built.layout.joinings if j.kind == "spring")
    load = built.joint.axial_load(face, np.stack([s.forces for s in timeline.states]))
    flat = spring_flat_loads(built.joint, springs[0], face, timeline.states)
    after = np.arange(len(load)) >= timeline.assembled
    return ratio_margin(
        "washer flat",
        "function",
        timeline,
        np.where(after, load, 0.0),
        flat,
        "N",
        f"{springs[0].parallel} x {springs[0].series} {springs[0].name}; above 1 it is a plain washer, no more",
    )


Mode = Callable[[BuiltJoint, Timeline, Array], Margin]

MODES: tuple[Mode, ...] = (
    false_seat,
    leak,
    boss_thread_strip,
    insert_thread_strip,
    nut_thread_strip,
    floor_breakthrough,
    stud_proof,
    stud_combined,
    stud_break,
    bearing_pressure,
    tip_crushing,
    washer_flat,
    floor_punch_margin,
    floor_split_margin,
    wall_burst,
    seat_split_margin,
    seat_crushing_margin,
    insert_turning,
)
"""One row a mode of (built, timeline, temperatures) -> Margin; hold and cracks need more and come after."""

MODE_NAMES = (
    "false seat",
    "leak",
    "boss thread strip",
    "insert thread strip",
    "nut thread strip",
    "floor breakthrough",
    "stud proof",
    "stud yield",
    "stud break",
    "bearing pressure",
    "tip crushing",
    "washer flat",
    "floor punch",
    "floor split",
    "wall burst",
    "seat split",
    "seat crushing",
    "insert turning",
)
