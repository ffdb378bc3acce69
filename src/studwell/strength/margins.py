"""Margins: load over capacity, one function a mode. 1.0 is the limit; what cannot be known is None with its reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from studwell.data import assumption
from studwell.joint.build import BuiltJoint
from studwell.joint.interfaces import spring_flat_load
from studwell.parts.fastener import proof_load, property_class
from studwell.parts.material import Material
from studwell.parts.thread import basic_external_shear_area, basic_internal_shear_area
from studwell.parts.torsion import combined_stress
from studwell.strength.timeline import Timeline

Array = np.ndarray
Kind = Literal["damage", "function"]


@dataclass(frozen=True)
class Margin:
    """One mode's margin.

    value    : load over capacity; inf where nothing carries the need ("unbounded"); None if unknown or no such part
    applies  : False if the setup has no such part (no spring, no dome)
    load, capacity, unit : what was divided; when: the moment of the worst value
    reason   : why it is unknown, or what should be known about it
    method   : how it was found, with source
    """

    mode: str
    kind: Kind
    value: float | None
    applies: bool = True
    load: float | None = None
    capacity: float | None = None
    unit: str = ""
    when: str = ""
    reason: str = ""
    method: str = ""

    @property
    def fails(self) -> bool:
        """True if the value is known and at or above the limit."""
        return self.value is not None and self.value >= 1.0

    @property
    def unknown(self) -> bool:
        """True if the mode applies and its value is not known."""
        return self.applies and self.value is None


def ratio_margin(
    mode: str, kind: Kind, timeline: Timeline, load: Array, capacity: Array, unit: str, method: str, reason: str = ""
) -> Margin:
    """Return the worst of load over capacity over states; load, capacity: (states,)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(
            capacity > 0.0, load / np.where(capacity > 0.0, capacity, 1.0), np.where(load > 0, np.inf, 0.0)
        )
    worst = int(np.argmax(ratio))
    return Margin(
        mode,
        kind,
        float(ratio[worst]),
        load=float(load[worst]),
        capacity=float(capacity[worst]),
        unit=unit,
        when=timeline.when(worst),
        reason=reason,
        method=method,
    )


def unknown_margin(mode: str, kind: Kind, reason: str) -> Margin:
    """Return a margin that cannot be known, with its reason."""
    return Margin(mode, kind, None, reason=reason)


def absent_margin(mode: str, kind: Kind, reason: str) -> Margin:
    """Return a margin of a part that the setup does not have."""
    return Margin(mode, kind, None, applies=False, reason=reason)


def node_temperatures(built: BuiltJoint, timeline: Timeline, temperatures: Array, node: str) -> Array:
    """Return a node's temperature (states,) degC; the assembly temperature before the run."""
    result = np.full(len(timeline.states), built.setup.history.assembly_temperature)
    column = temperatures[:, built.setup.history.node_names.index(node)]
    steps = len(column)
    result[timeline.run] = column
    beyond = timeline.run[-1] + 1
    if beyond < len(result):
        result[beyond : beyond + steps] = column
    return result


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


def _shear_strength(material: Material, temperatures: Array) -> Array | None:
    if material.ultimate_strength is None:
        return None
    return assumption("shear_strength_ratio") * np.asarray(material.ultimate_strength.at(temperatures))


def boss_thread_strip(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Thread load over the stripping load of the boss's internal thread.

    Source: shear area at basic sizes, FED-STD-H28 / ASME B1.1 appendix B; shear strength 0.6 of tensile strength.
    """
    setup = built.setup
    stud, boss = setup.stud, setup.boss
    strength = _shear_strength(boss.material, node_temperatures(built, timeline, temperatures, "boss"))
    if strength is None:
        return unknown_margin("boss thread strip", "damage", f"tensile strength of {boss.material.name} is not known")
    diameter, length = stud.thread.nominal_diameter, engaged_length(built)
    note = ""
    if boss.insert is not None:
        diameter = diameter + 1.29904 * stud.thread.pitch
        length = min(length, boss.insert.length)
        note = "parent metal round the insert; the insert itself is not modelled yet"
    area = float(basic_internal_shear_area(diameter, stud.thread.pitch, length))
    worst = int(np.argmax(timeline.forces.thread / strength))
    wedge, pull = timeline.forces.tip[worst], timeline.forces.tension[worst]
    reason = (
        f"{note + '; ' if note else ''}of the load {pull:.0f} N is force-controlled (stud tension) and "
        f"{wedge:.0f} N displacement-controlled (tip force: local yielding releases it)"
    )
    return ratio_margin(
        "boss thread strip",
        "damage",
        timeline,
        timeline.forces.thread,
        area * strength,
        "N",
        f"internal shear area {area:.0f} mm2 over {length:.2f} mm engaged, basic sizes, 0.6 of tensile strength",
        reason,
    )


def engaged_length(built: BuiltJoint) -> float:
    """Return the engaged length of thread in the boss, mm: less what the turns back off, the drive's approach left out."""
    return max(built.setup.stud.engaged_length - built.setup.tip_gap, 0.0)


def nut_thread_strip(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Nut thread load over the smaller stripping load of nut and stud thread in the nut.

    Source: shear areas at basic sizes, FED-STD-H28 / ASME B1.1 appendix B; shear strength 0.6 of tensile strength.
    """
    setup = built.setup
    thread = setup.stud.nut_thread
    length = float(built.layout.nut.thread_lines[-1] - built.layout.nut.thread_lines[0])
    at_nut = node_temperatures(built, timeline, temperatures, "nut")
    nut = _shear_strength(setup.nut.material, at_nut)
    if nut is None:
        return unknown_margin(
            "nut thread strip", "damage", f"tensile strength of {setup.nut.material.name} is not known"
        )
    stud_strength = property_class(setup.stud.property_class, thread.nominal_diameter).ultimate_strength
    inside = float(basic_internal_shear_area(thread.nominal_diameter, thread.pitch, length)) * nut
    outside = (
        float(basic_external_shear_area(thread.nominal_diameter, thread.pitch, length))
        * assumption("shear_strength_ratio")
        * stud_strength
    )
    return ratio_margin(
        "nut thread strip",
        "damage",
        timeline,
        timeline.forces.nut_thread,
        np.minimum(inside, outside),
        "N",
        f"smaller of nut and stud shear area over {length:.2f} mm engaged, basic sizes, 0.6 of tensile strength",
    )


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
    note = f"the stud stretched {1000 * stretched:.1f} um for good" if stretched > 1e-9 else ""
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


def surface_limit(material: Material, temperatures: Array) -> Array:
    """Return the pressure (n,) MPa that a material's surface stands at temperatures (n,) degC.

    The room value falls with temperature as the yield strength does, where that is known. Source: the material's data.
    raises ValueError : the material has no such limit
    """
    if material.bearing_pressure_limit is None:
        raise ValueError(f"the pressure that {material.name} stands is not known")
    limit = np.full(len(temperatures), material.bearing_pressure_limit)
    if material.yield_strength is None:
        return limit
    return limit * np.asarray(material.yield_strength.at(temperatures)) / float(material.yield_strength.at(20.0))


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


def false_seat(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """How near a domed nut's roof is to the stud's end, or what it takes from the clamp once it touches.

    Untouched: depth used over depth usable. Touched at the end of tightening: nut thread load over clamp, which is
    above 1; unbounded if nothing is clamped. Source: geometry and the solved states.
    """
    if built.layout.dome_gap is None:
        return absent_margin("false seat", "damage", "the nut is open: the stud cannot meet it")
    end = timeline.assembled
    dome, clamp = timeline.forces.dome[end], timeline.forces.bearing[end]
    thread = timeline.forces.nut_thread[end]
    method = "stud end against the dome's roof when tightened"
    if dome > 1e-6 * max(thread, 1.0):
        value = float("inf") if clamp < 1e-6 * thread else float(thread / clamp)
        return Margin(
            "false seat", "damage", value, True, float(thread), float(clamp), "N", timeline.when(end), "", method
        )
    part = built.joint.slices["dome"]
    usable = built.setup.nut.usable_thread_depth
    gap = float(timeline.states[end].openings[part].min())
    return Margin(
        "false seat",
        "damage",
        (usable - gap) / usable,
        True,
        usable - gap,
        usable,
        "mm",
        timeline.when(end),
        "",
        method,
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
    flat = spring_flat_load(springs[0])
    after = np.arange(len(load)) >= timeline.assembled
    return ratio_margin(
        "washer flat",
        "function",
        timeline,
        np.where(after, load, 0.0),
        np.full_like(load, flat),
        "N",
        f"{springs[0].parallel} x {springs[0].series} {springs[0].name}; above 1 it is a plain washer, no more",
    )


UNKNOWN_YET: tuple[tuple[str, Kind, str], ...] = (
    (
        "stud fatigue",
        "damage",
        "no fatigue model in this version: stud amplitude and root concentration are not judged",
    ),
    ("boss crack, fatigue", "damage", "no fatigue model of the boss in this version"),
    ("floor breakthrough", "damage", "drilling and tapping depths with tolerances are not judged in this version"),
)
"""Modes that this version does not know: shown, never counted as passed."""

Mode = Callable[[BuiltJoint, Timeline, Array], Margin]

MODES: tuple[Mode, ...] = (
    false_seat,
    leak,
    boss_thread_strip,
    nut_thread_strip,
    stud_proof,
    stud_combined,
    stud_break,
    bearing_pressure,
    tip_crushing,
    washer_flat,
)
"""One row a mode of (built, timeline, temperatures) -> Margin; hold and boss crack need more and come after."""

MODE_NAMES = (
    "false seat",
    "leak",
    "boss thread strip",
    "nut thread strip",
    "stud proof",
    "stud yield",
    "stud break",
    "bearing pressure",
    "tip crushing",
    "washer flat",
)
