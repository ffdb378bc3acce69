"""Margins of how the parts go together: a domed nut that closes on the stud, a hole that goes through its floor."""

from __future__ import annotations

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.joint.build import BuiltJoint
from studwell.parts.repair import hole_drill, needed_depths, point_depth
from studwell.strength.margin import Margin, absent_margin, unknown_margin
from studwell.strength.timeline import Timeline

Array = np.ndarray

NO_TOLERANCE = "no drill_depth_tolerance in [repair]: by how much the drill goes deeper than meant is not known"


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
    less, given = length_tolerances(built)
    reason = ""
    if not given:
        reason = "lengths as given: [repair] states no tolerance of stud or stack"
    elif gap <= less:
        reason = f"as given {1e3 * gap:.0f} um are left, which the tolerances take away"
    if given:
        method += f", the stud longer and the stack lower by their tolerances ({less:.2f} mm together)"
    used = usable - gap + less
    return Margin("false seat", "damage", used / usable, True, used, usable, "mm", timeline.when(end), reason, method)


def length_tolerances(built: BuiltJoint) -> tuple[float, bool]:
    """Return by how much stud and stack together may bring the stud's end nearer to a dome, mm, and if any is given."""
    repair = built.setup.repair
    stated = () if repair is None else (repair.stud_length_tolerance, repair.stack_tolerance)
    known = [each for each in stated if each is not None]
    return sum(known), bool(known)


def drill_point(setup: Setup, units: str | None = None) -> float:
    """Return how far the point of the drill that is named for a setup's hole goes beyond its full diameter, mm.

    units : "metric" or "inch", the series of the drill; None: that of the thread
    The next drill in stock is larger than the thread's minor diameter, of which the solved hole is: plan, margin and card
    all count with the drill. Its angle is the hole's own cone's, else the usual one. Source: hole_drill, point_depth.
    """
    thread, boss = setup.stud.thread, setup.boss
    drill = hole_drill(thread, boss.insert is not None)
    inch = thread.form == "unified" if units is None else units == "inch"
    diameter = max(drill.inch if inch else drill.metric, boss.drill_diameter)
    return point_depth(diameter, boss.cone_angle or assumption("drill_point_angle"))


def floor_breakthrough(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Metal that drilling may still take from the floor over what it may take before the least floor is reached.

    What it may take: the tolerance of the depth, the drill's point under a hole whose end is given flat or round, and for an
    insert that needs a deeper hole than the case has, the missing depth. Source: geometry; depths for inserts from public
    reprints of ASME metric insert data.
    """
    mode, setup = "floor breakthrough", built.setup
    repair, boss = setup.repair, setup.boss
    if repair is None:
        return unknown_margin(mode, "damage", "no [repair] table: tolerances of drilling and tapping are not known")
    if repair.drill_depth_tolerance is None:
        return unknown_margin(mode, "damage", NO_TOLERANCE)
    deeper, words = 0.0, "the hole as it is"
    point = drill_point(setup) - boss.cone_depth  # of a pointed drill; what is a cone of the bore, the floor leaves out
    if boss.insert is not None:
        if repair.tap is None:
            return unknown_margin(
                mode, "damage", "no tap in [repair]: the depth that the insert's tap needs is not known"
            )
        _, drilled = needed_depths(setup.stud.thread, repair.tap, boss.thread_depth, boss.insert.length)
        if drilled > boss.hole_depth + 1e-9:
            deeper = drilled - boss.hole_depth
            words = f"drilled to the {drilled:.2f} mm that the insert and a {repair.tap} tap need"
    load = deeper + point + repair.drill_depth_tolerance
    spare = boss.floor_thickness - (repair.least_floor or 0.0)
    value = load / spare if spare > 0.0 else float("inf")
    kept = "a floor of 0 (breakthrough itself)"
    if repair.least_floor is not None:
        kept = f"the least floor of {repair.least_floor:g} mm"
    return Margin(
        mode,
        "damage",
        value,
        True,
        load,
        max(spare, 0.0),
        "mm",
        "drilling",
        "a blow-out, a crack or a porous floor breaks through before: no force of the drill is in this number",
        f"{words}, the drill's point {point:.2f} mm beyond it and its tolerance of {repair.drill_depth_tolerance:g} mm, over "
        f"what the floor has beyond {kept}",
    )
