"""How a liquid shut in under the tip bursts the boss: the wall of its hole as a thick cylinder under the pocket's pressure."""

from __future__ import annotations

import numpy as np

from studwell.history.pocket import pressures
from studwell.joint.build import BuiltJoint
from studwell.joint.fluid_law import POCKET
from studwell.parts.pocket import cylinder_bore_tension, cylinder_limit_pressure
from studwell.strength.margin import Margin, absent_margin, node_temperatures, ratio_margin, unknown_margin
from studwell.strength.pocket import no_liquid
from studwell.strength.timeline import Timeline

Array = np.ndarray

BRITTLE = "grey iron"
"""Family of metals that break without yielding first, whatever proof stress is stated for them."""

OWN_MESH = "the boss mesh is the case's own: how thick its wall is round the pocket is not known"


def wall_burst(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Pressure under the tip over that at which the boss's wall gives way.

    A wall gives way when all of it yields; one of a brittle metal, or of unknown yield strength, when the hoop stress at the
    bore reaches the tensile strength. As if the pressure stood along all of the hole: floor and threads help, so that the
    margin is on the careful side; what the thread adds of its own hoop stress, and thread cut into the wet wall, are left out.
    Source: limit pressure of a thick tube, Hill 1950; Lame thick cylinder, Timoshenko & Goodier.
    """
    mode = "wall burst"
    if not built.joint.has(POCKET):
        return absent_margin(mode, "damage", no_liquid(built.setup.pocket))
    if built.layout.own_boss is not None:
        return unknown_margin(mode, "damage", OWN_MESH)
    shape, material = built.layout.boss, built.setup.boss.material
    inner, outer = shape.drill_radius, shape.outer_radius
    boss = node_temperatures(built, timeline, temperatures, "boss")
    wall = f"the wall from {2.0 * inner:.2f} mm of the hole to {2.0 * outer:.2f} mm"
    if material.yield_strength is not None and material.family != BRITTLE:
        capacity = cylinder_limit_pressure(inner, outer, np.asarray(material.yield_strength.at(boss)))
        how = f"pressure at which all of {wall} yields, 2/sqrt(3) of the yield strength times ln of their ratio"
    elif material.ultimate_strength is not None:
        per_pressure = float(cylinder_bore_tension(inner, outer, 1.0))
        capacity = np.asarray(material.ultimate_strength.at(boss)) / per_pressure
        how = f"pressure at which the hoop stress in {wall} reaches the tensile strength at the bore"
    else:
        return unknown_margin(mode, "damage", f"the strength of {material.name} in tension is not known")
    return ratio_margin(
        mode,
        "damage",
        timeline,
        pressures(built.joint, timeline.states),
        capacity,
        "MPa",
        how,
        "as if pressed along all of the hole: floor and threads hold some of it back; a leak lets it go",
    )
