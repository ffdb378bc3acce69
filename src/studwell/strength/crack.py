"""Static crack margin of the floor by critical distances on meshed paths from the corner fillet."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.parts.crack import critical_distance, line_method, point_method
from studwell.strength.margins import Margin, node_temperatures, unknown_margin
from studwell.strength.timeline import Timeline, first_principal, stresses

Array = np.ndarray


@dataclass(frozen=True)
class FloorCrack:
    """The floor by the point and the line method at its worst moment.

    critical_distance mm, strength MPa (at that temperature), path: its name; distance (n,) mm and stress (n,) MPa
    along it; point, line: effective stress over strength, None where the floor is too thin for the method
    """

    critical_distance: float
    strength: float
    path: str
    distance: Array = field(repr=False)
    stress: Array = field(repr=False)
    point: float | None
    line: float | None
    index: int


def floor_crack(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> tuple[Margin, FloorCrack | None]:
    """Return the static margin 'boss crack, static' and its evidence.

    The inherent strength is taken as the tensile strength at temperature; the toughness is the room value. The worst
    of point (stress at L/2) and line (mean over 2L) over all paths and states. Source: Taylor 2007, The Theory of
    Critical Distances; Whitney & Nuismer 1974.
    """
    mode = "boss crack, static"
    material = built.setup.boss.material
    if material.fracture_toughness is None:
        return unknown_margin(
            mode, "damage", f"fracture toughness of {material.name} is not known (no source found)"
        ), None
    if material.ultimate_strength is None:
        return unknown_margin(mode, "damage", f"tensile strength of {material.name} is not known"), None
    at_boss = node_temperatures(built, timeline, temperatures, "boss")
    strengths = np.asarray(material.ultimate_strength.at(at_boss))
    names = [n for n in built.joint.bodies[built.joint.body_index("boss")].stress if n.startswith("floor path")]
    if not names:
        return unknown_margin(
            mode, "damage", 'the boss mesh of the case has no boundary "fillet" from which a path could start'
        ), None
    worst: FloorCrack | None = None
    worst_value = -np.inf
    too_short: set[str] = set()
    for name in names:
        points = built.joint.bodies[built.joint.body_index("boss")].stress[name].where
        distance = np.linalg.norm(points - points[0], axis=1)
        along = np.maximum(first_principal(stresses(built.joint, timeline, "boss", name)), 0.0)
        # the path's shape changes little: judge the states whose stress near the fillet is largest
        for index in np.unique([int(np.argmax(along[:, 5] / strengths)), int(np.argmax(along[:, 15] / strengths))]):
            strength = float(strengths[index])
            length = float(critical_distance(material.fracture_toughness, strength))
            point = line = None
            if distance[-1] >= 0.5 * length:
                point = float(point_method(distance, along[index], length)) / strength
            else:
                too_short.add("point")
            if distance[-1] >= 2.0 * length:
                line = float(line_method(distance, along[index], length)) / strength
            else:
                too_short.add("line")
            known = [v for v in (point, line) if v is not None]
            if known and max(known) > worst_value:
                worst_value = max(known)
                worst = FloorCrack(length, strength, name, distance, along[index], point, line, int(index))
    if worst is None:
        return (
            unknown_margin(
                mode, "damage", "the floor is thinner than the critical distance: neither method holds there"
            ),
            None,
        )
    floor = built.setup.boss.floor_thickness
    if floor < 2.0 * worst.critical_distance and worst_value < 1.0:
        return (
            unknown_margin(
                mode,
                "damage",
                f"the floor, {floor:g} mm, is thinner than twice the critical distance, {2 * worst.critical_distance:.2f} "
                f"mm: the methods do not hold there (they would say {worst_value:.2f}, which may be too low); a thicker "
                "floor, or fracture mechanics of the ligament, is needed to know",
            ),
            worst,
        )
    notes = []
    if "line" in too_short:
        notes.append("line method not used on paths shorter than 2 L")
    status = material.source("fracture_toughness")[1]
    margin = Margin(
        mode,
        "damage",
        worst_value,
        load=worst_value * worst.strength,
        capacity=worst.strength,
        unit="MPa",
        when=timeline.when(worst.index),
        reason="; ".join(
            [
                "stress that yielding leaves (in the zone, between its points), by a method made for elastic stress"
                if any(state.flow is not None and "boss" in state.flow.strain for state in timeline.states)
                else "elastic stress",
                "no flaw: a casting flaw needs fracture mechanics, which this version does not have",
                *notes,
            ]
        ),
        method=(
            f"critical distance L = {worst.critical_distance:.2f} mm from toughness {material.fracture_toughness:g} "
            f"MPa m^0.5 ({status}) and tensile strength {worst.strength:.0f} MPa; point "
            + (f"{worst.point:.2f}" if worst.point is not None else "unknown")
            + ", line "
            + (f"{worst.line:.2f}" if worst.line is not None else "unknown")
            + f" on {worst.path} degrees from straight down"
        ),
    )
    return margin, worst
