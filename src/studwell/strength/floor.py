"""How the floor under a tip fails: punched out as a plug, or split from below; and the hoop stress round a wedge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studwell.fem.elasticity import von_mises
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
from studwell.units import number_text

Array = np.ndarray

PUNCH_REASON = (
    "the boss mesh has no slice of elements between the tip's edge and the fillet over which to sum the shear"
)
TANG_REASON = (
    "the strength of an insert's tang, and the force at which it bends away or breaks off, have no source here"
)
NO_WEDGE = "no incomplete thread is the seat in this setup"
CORNER = "floor corner"

RELEASE, REST = 1.75, 1.25
"""By how much yielding that the model does not follow may still raise the tension under a floor: of an elastic boss, and of a
zone that is too small. Below 1 over it a margin is told as it is. Floors of 3 to 12 mm, solved whole, saw at most 1.6 times
the elastic tension and 1.2 times that of a zone of 2 mm, whether or not they held; a plate whose clamped edge lets go sees
(3 + nu) / (1 + nu), 2.5 times, in its middle (Timoshenko & Woinowsky-Krieger). Our own choice."""

HELD_DOWN = 0.9
"""Share of the tensile strength from which tension that yielding holds down says little of what is left. Our own choice."""

FOLLOW = 'set [inelastic] zone = "boss", which follows all of it'

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


def underside_stress(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the stress (states, places, 4) MPa along the underside below the hole; None without one.

    Nothing presses on the underside: what the polynomial through an element's points leaves there, across the face, of the
    stress that yielding adds is taken out, with the strains along the face kept.
    """
    if not _has(built, UNDERSIDE):
        return None
    result = stresses(built.joint, timeline, "boss", UNDERSIDE)
    poisson = built.setup.boss.material.poisson
    for i, state in enumerate(timeline.states):
        if state.flow is not None and "boss" in state.flow.added_stress:
            added = state.flow.added_stress["boss"][UNDERSIDE]
            result[i, :, :2] -= poisson / (1.0 - poisson) * added[:, 2:3]
            result[i, :, 2:] -= added[:, 2:]
    return result


def floor_split(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the largest first principal stress (states,) MPa along the underside below the hole; None without one."""
    stress = underside_stress(built, timeline)
    return None if stress is None else np.asarray(first_principal(stress).max(axis=1))


def floor_stress(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the first principal stress (states,) MPa averaged over the worse band under the floor's fillet.

    None if a boss mesh of the user's own does not name the bands.
    """
    if not _has(built, CORNER):
        return None
    return np.asarray(first_principal(stresses(built.joint, timeline, "boss", CORNER)).max(axis=1))


def unfollowed_yielding(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> str:
    """Return what yields in the floor that the model does not follow, in words; "" where it follows all that counts.

    Elastic boss: its corner, averaged, or its underside above the yield strength. A zone that may yield: yielding at its
    edge, or an underside beyond the zone above the yield strength. "" too where the yield strength is not known.
    """
    material = built.setup.boss.material
    under = underside_stress(built, timeline)
    if material.yield_strength is None or under is None:
        return ""
    limit = np.asarray(material.yield_strength.at(node_temperatures(built, timeline, temperatures, "boss")))
    below = von_mises(under).max(axis=1)
    worst = int(np.argmax(below / limit))
    stands = f"{_mpa(below[worst])} of von Mises stress against a yield strength of {_mpa(limit[worst])}"
    flows = [state.flow for state in timeline.states if state.flow is not None and "boss" in state.flow.elements]
    if flows:
        if max(flow.rim.get("boss", 0.0) for flow in flows) > 0.0:
            return (
                "yielding reaches the edge of the zone that may yield, and beyond it the metal carries whatever comes as if "
                "it could not yield"
            )
        if below[worst] > limit[worst] and not np.isin(_under_elements(built), flows[-1].elements["boss"]).all():
            return f"the underside lies outside the zone that may yield and carries {stands}"
        return ""
    corner = floor_stress(built, timeline)
    if corner is not None and np.any(corner > limit):
        worst = int(np.argmax(corner / limit))
        return (
            f"the floor yields at its corner ({_mpa(corner[worst])}, averaged, against a yield strength of "
            f"{_mpa(limit[worst])}), so that its bending moves to the middle, where this elastic model does not follow it"
        )
    if below[worst] > limit[worst]:
        return f"the underside yields, elastic {stands}, which this elastic model does not follow"
    return ""


def _mpa(stress: float) -> str:
    """A stress with as many digits as the tables show, so that other units made from it agree with theirs."""
    return f"{number_text(stress, 4)} MPa"


def _under_elements(built: BuiltJoint) -> Array:
    """The boss's elements along the underside below the hole."""
    mesh = _boss_mesh(built)
    facets = mesh.facets_of("underside")
    middles = mesh.nodes[mesh.facet_nodes[facets, 2]]
    return np.asarray(mesh.facet_element[facets[middles[:, 0] < built.layout.boss.drill_radius]])


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

    A static limit of metal without a flaw. Unknown where the floor yields in a way that the model does not follow and the
    value could then pass 1. Source: largest principal stress, any strength text (Timoshenko).
    """
    mode, tension = "floor split", floor_split(built, timeline)
    material = built.setup.boss.material
    if tension is None:
        return unknown_margin(mode, "damage", UNDERSIDE_REASON)
    if material.ultimate_strength is None:
        return unknown_margin(mode, "damage", f"tensile strength of {material.name} is not known")
    strength = np.asarray(material.ultimate_strength.at(node_temperatures(built, timeline, temperatures, "boss")))
    found = ratio_margin(
        mode,
        "damage",
        timeline,
        np.maximum(tension, 0.0),
        strength,
        "MPa",
        f"first principal stress on the underside below the hole, floor {built.setup.boss.floor_thickness:g} mm",
        "bending of the floor in its plane; the corner inside is judged by the crack margin",
    )
    return _as_followed(built, found, timeline, unfollowed_yielding(built, timeline, temperatures))


def _as_followed(built: BuiltJoint, found: Margin, timeline: Timeline, missed: str) -> Margin:
    """A margin of tension under the floor with what its yielding means for it.

    missed : yielding that the model does not follow, "" for none. Elastic values at the limit are left as failures: floors
    of 3 to 8 mm that reached it gave way or strained by half when they were solved whole.
    """
    assert found.value is not None
    zoned = any(state.flow is not None and "boss" in state.flow.elements for state in timeline.states)
    if not missed:
        if not zoned or found.value < HELD_DOWN:
            return found
        told = (
            "held near the tensile strength by yielding: it hardly rises on, the strain does; a little more load splits"
        )
        return replace(found, reason=f"{found.reason}; {told}")
    if found.value * (REST if zoned else RELEASE) < 1.0:
        return replace(found, reason=f"{found.reason}; no bound: {missed}")
    if found.value >= 1.0 and not zoned:
        return replace(found, reason=f"{found.reason}; elastic: {missed}")
    kind = "with this zone" if zoned else "elastic"
    said = f"{_mpa(found.load or 0.0)} under the floor, {found.value:.2f} of what the metal stands, {kind}: no bound"
    return replace(found, value=None, reason=f"{said}, as {missed}; {FOLLOW}")


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
