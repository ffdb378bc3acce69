"""How the floor under a tip fails: punched out as a plug, or split from below; and the hoop stress round a wedge."""

from __future__ import annotations

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.joint.floor_places import PUNCH, UNDERSIDE, Places, PunchSurface, punch_surface, wedge_hoop_places
from studwell.joint.seats import pressed_areas
from studwell.section.layout import AVERAGE_DEPTH
from studwell.strength.margin import (
    Margin,
    absent_margin,
    node_temperatures,
    ratio_margin,
    surface_limit,
    unknown_margin,
)
from studwell.strength.strip import shear_strength
from studwell.strength.timeline import Timeline, first_principal, stresses

Array = np.ndarray

PUNCH_REASON = (
    "the boss mesh has no slice of elements between the tip's edge and the fillet over which to sum the shear"
)
TANG_REASON = (
    "the strength of an insert's tang, and the force at which it bends away or breaks off, have no source here"
)
NO_WEDGE = "no incomplete thread is the seat in this setup"
UNDERSIDE_REASON = "the boss mesh has no edge of the underside below the hole"


def _boss_mesh(built: BuiltJoint):
    return built.bodies[built.joint.body_index("boss")].spec.mesh


def _has(built: BuiltJoint, place: str) -> bool:
    return place in built.joint.bodies[built.joint.body_index("boss")].stress


def _mean(built: BuiltJoint, timeline: Timeline, place: str, places: Places) -> Array:
    return np.einsum("spc,p->sc", stresses(built.joint, timeline, "boss", place), places.weights)


def punch_surface_of(built: BuiltJoint) -> PunchSurface | None:
    """Return the cylinder through the floor at the tip's edge; None where the mesh has none."""
    return punch_surface(built.layout, _boss_mesh(built)) if _has(built, PUNCH) else None


def floor_punch(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the mean shear stress (states,) MPa through the floor at the tip's edge; None where the mesh has no slice.

    Positive where the tip pushes the plug down. Summed over a slice of elements from floor to underside.
    """
    surface = punch_surface_of(built)
    return None if surface is None else _mean(built, timeline, PUNCH, surface.places)[:, 3]


def floor_split(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the largest first principal stress (states,) MPa along the underside below the hole; None without one."""
    if not _has(built, UNDERSIDE):
        return None
    return np.asarray(first_principal(stresses(built.joint, timeline, "boss", UNDERSIDE)).max(axis=1))


def wedge_hoop(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the hoop stress (states,) MPa averaged round the hole where an incomplete thread wedges.

    The largest of three bands as high as the pressed edges, behind, below and above them, to a stated depth; None where no
    incomplete thread is the seat. A principal stress, as nothing twists the boss.
    """
    bands = wedge_hoop_places(built.layout, _boss_mesh(built))
    if not bands:
        return None
    return np.asarray(np.max([_mean(built, timeline, name, places)[:, 1] for name, places in bands.items()], axis=0))


def floor_punch_margin(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Mean shear through the floor at the tip's edge over the shear strength of the boss at temperature.

    Source: equilibrium of the plug; shear strength 0.6 of tensile strength, Alexander 1977.
    """
    mode, shear = "floor punch", floor_punch(built, timeline)
    material = built.setup.boss.material
    surface = punch_surface_of(built)
    if shear is None or surface is None:
        return unknown_margin(mode, "damage", PUNCH_REASON)
    strength = shear_strength(material, node_temperatures(built, timeline, temperatures, "boss"))
    if strength is None:
        return unknown_margin(mode, "damage", f"tensile strength of {material.name} is not known")
    return ratio_margin(
        mode,
        "damage",
        timeline,
        np.abs(np.where(np.abs(shear) < 1e-9, 0.0, shear)),
        strength,
        "MPa",
        f"mean shear over the {surface.area:.0f} mm2 of a plug of {2 * surface.radius:.2f} mm through "
        f"{surface.height:.2f} mm of floor, 0.6 of tensile strength",
    )


def floor_split_margin(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Largest tension on the underside below the hole over the tensile strength of the boss at temperature.

    A static limit of metal without a flaw. Source: largest principal stress, any strength text (Timoshenko).
    """
    mode, tension = "floor split", floor_split(built, timeline)
    material = built.setup.boss.material
    if tension is None:
        return unknown_margin(mode, "damage", UNDERSIDE_REASON)
    if material.ultimate_strength is None:
        return unknown_margin(mode, "damage", f"tensile strength of {material.name} is not known")
    strength = np.asarray(material.ultimate_strength.at(node_temperatures(built, timeline, temperatures, "boss")))
    return ratio_margin(
        mode,
        "damage",
        timeline,
        np.maximum(tension, 0.0),
        strength,
        "MPa",
        f"first principal stress on the underside below the hole, floor {built.setup.boss.floor_thickness:g} mm",
        "bending of the floor in its plane; the corner inside is judged by the crack margin",
    )


def seat_split_margin(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Tension round the hole where an incomplete thread wedges over the tensile strength of the boss at temperature.

    Source: largest principal stress; the hoop stress averaged in bands round the pressed edges.
    """
    mode, tension = "seat split", wedge_hoop(built, timeline)
    if tension is None:
        if built.seat.by_tip:
            return absent_margin(mode, "damage", "the tip is the seat of a driven stud: no incomplete thread wedges")
        return unknown_margin(mode, "damage", TANG_REASON)
    material = built.setup.boss.material
    if material.ultimate_strength is None:
        return unknown_margin(mode, "damage", f"tensile strength of {material.name} is not known")
    strength = np.asarray(material.ultimate_strength.at(node_temperatures(built, timeline, temperatures, "boss")))
    assert built.layout.wedge is not None
    low, high = built.layout.wedge.boss_edges
    return ratio_margin(
        mode,
        "damage",
        timeline,
        np.maximum(tension, 0.0),
        strength,
        "MPa",
        f"hoop stress averaged {AVERAGE_DEPTH:g} mm deep from z {low:.2f} to {high:.2f} mm, and in bands as high below and "
        f"above, the largest ({built.seat.name})",
        "a section's wedge is even all round; an incomplete thread bears on a spiral edge first",
    )


def seat_crushing_margin(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Mean pressure of an incomplete thread on the taper where it wedges over what boss or stud stand, the nearer one.

    A function mode, as a crushed seat of the tip is: the wedge digs in, nothing breaks by that alone.
    Source: limiting surface pressure of the boss's material and yield strength of the stud's class, as the data say.
    """
    mode = "seat crushing"
    if built.seat.by_tip:
        return absent_margin(mode, "function", "the tip is the seat of a driven stud: tip crushing judges it")
    if built.layout.wedge is None:
        return unknown_margin(mode, "function", TANG_REASON)
    material = built.setup.boss.material
    if material.bearing_pressure_limit is None:
        return unknown_margin(mode, "function", f"the pressure that {material.name} stands is not known")
    joint = built.joint
    boss = joint.bodies[joint.body_index("boss")]
    area = float(pressed_areas(boss, built.layout.wedge).sum())
    normal = np.array([state.forces[joint.slices["seat"]][0] for state in timeline.states])
    limit = surface_limit(material, node_temperatures(built, timeline, temperatures, "boss"))
    stud = np.array([state.heat.stud_yield for state in timeline.states])
    half_angle = float(np.degrees(built.layout.wedge.half_angle))
    return ratio_margin(
        mode,
        "function",
        timeline,
        normal / area,
        np.minimum(limit, stud),
        "MPa",
        f"mean over the {area:.1f} mm2 beside the {built.seat.name}; a taper of "
        f"{half_angle:.1f} deg to the axis multiplies the axial force",
        "elastic: above 1 the incomplete thread yields and the wedge digs in",
    )
