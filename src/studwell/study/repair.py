"""A setup's repair plan: drill, tap, depths, floor left, insert, engagement lost, how far the stud stands out."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.parts.insert import insert_hole
from studwell.parts.limits import thread_limits
from studwell.parts.nut import stock_nut, stock_nut_names
from studwell.parts.repair import (
    TAPS,
    Floor,
    floor_left,
    hole_drill,
    needed_depths,
    protruding_pitches,
    stock_insert_for,
    tap_size,
)
from studwell.parts.thread import Thread, minor_diameter
from studwell.strength.fit import drill_point, length_tolerances
from studwell.strength.strip import StudFirst, thread_strips
from studwell.study.finding import Finding
from studwell.study.fitted import fitted, out_of_nut
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text

DEFAULT_TAP = "bottoming"
"""The tap that is taken where [repair] names none: it asks for the least depth."""


@dataclass(frozen=True)
class PlanNumber:
    """One line of the plan: its key in the summary, words, value (None if unknown), unit inside ("" for texts and bare
    numbers), and what to know about it or why it is unknown."""

    key: str
    words: str
    value: float | str | None
    unit: str
    note: str


@dataclass(frozen=True)
class DrillDepth:
    """How deep to drill for a tap, mm from the mouth to the end of the full diameter.

    tap    : "bottoming" or "plug"; the setup's, else DEFAULT_TAP
    tapped : full thread that is wanted
    needed : least depth at which this tap cuts it
    given  : depth of the setup's hole
    """

    tap: str
    tapped: float
    needed: float
    given: float

    @property
    def depth(self) -> float:
        """The depth to drill: the setup's, or deeper where its tap needs that."""
        return max(self.given, self.needed)

    @property
    def short(self) -> float:
        """By how much the hole as given ends too early for the tap, 0 if it does not."""
        short = self.needed - self.given
        return short if short > 1e-9 else 0.0

    @property
    def reach(self) -> float:
        """Full thread that the tap cuts in the hole as given; at or below 0 none."""
        return self.given - (self.needed - self.tapped)


def drill_depth(setup: Setup, tap: str | None = None) -> DrillDepth:
    """Return how deep a setup's hole has to be drilled. tap: another than the setup's.

    Source: needed_depths.
    """
    boss, repair = setup.boss, setup.repair
    chosen = tap or (repair.tap if repair is not None and repair.tap is not None else DEFAULT_TAP)
    insert = boss.insert.length if boss.insert is not None else None
    tapped, needed = needed_depths(setup.stud.thread, chosen, boss.thread_depth, insert)
    return DrillDepth(chosen, tapped, needed, boss.hole_depth)


def floor_at(setup: Setup, depth: float, units: str | None = None) -> Floor:
    """Return what the drill that the plan names leaves of a setup's boss, mm. depth: of its full diameter, mm.

    units : "metric" or "inch", the series of the drill; None: that of the thread
    Source: drill_point, floor_left.
    """
    tolerance = setup.repair.drill_depth_tolerance if setup.repair is not None else None
    return floor_left(setup.boss.height, depth, drill_point(setup, units), tolerance)


def repair_plan(result: SetupResult, units: str | None = None) -> tuple[PlanNumber, ...]:
    """Return the repair plan of a solved setup, lengths in mm.

    units : "metric" or "inch", the series of the drill whose point is under the hole; None: that of the thread

    Source: geometry of the case; ISO 2306 tap drills; depths for inserts from public reprints of ASME metric insert
    data; FED-STD-H28 areas for the length at which the stud breaks first.
    """
    return (*_drilling(result), *_floor(result, units), *_engagement(result), *_nut_end(result))


def _drilling(result: SetupResult) -> list[PlanNumber]:
    setup = result.setup
    thread, boss = setup.stud.thread, setup.boss
    fitted = boss.insert is not None
    drill = hole_drill(thread, fitted)
    largest = _largest_bore(thread, fitted)
    usable = "how much larger a hole may be is not known"
    if largest is not None:
        words = "usable" if drill.inch <= largest else "too large"
        usable = f"{words}, the bore may be up to {largest:.3f} mm"
    rule = "oversize minor diameter of the insert hole" if fitted else "d - P"
    rows = [
        PlanNumber(
            "drill_mm",
            "drill",
            drill.metric,
            "mm",
            f"{rule} {drill.least:.3f} mm, the next drill in stock",
        ),
        PlanNumber("drill_inch", "drill of the inch series", drill.inch_name, "", f"{drill.inch:.3f} mm: {usable}"),
        PlanNumber("tap", "tap", tap_size(thread, fitted), "", _tap_note(result)),
    ]
    for tap in TAPS:
        need = drill_depth(setup, tap)
        deep = f"{need.short:.2f} mm short" if need.short else "deep enough"
        rows.append(
            PlanNumber(
                f"drilled_depth_{tap}_mm",
                f"depth to drill for a {tap} tap",
                need.needed,
                "mm",
                f"full diameter from the mouth; the case's {boss.hole_depth:g} mm is {deep}",
            )
        )
    chosen = drill_depth(setup)
    why = f"what a {chosen.tap} tap needs" if chosen.short else f"the case's depth, enough for a {chosen.tap} tap"
    rows.append(
        PlanNumber("drill_to_mm", "depth to drill", chosen.depth, "mm", f"{why}; the floor under it stands below")
    )
    rows.append(
        PlanNumber(
            "tapped_depth_mm",
            "full thread to tap",
            chosen.tapped,
            "mm",
            f"from the mouth; the case has {boss.thread_depth:g} mm"
            + (", needed: the insert, a pitch of set-down and one at its end" if fitted else ""),
        )
    )
    return rows


def _tap_note(result: SetupResult) -> str:
    repair = result.setup.repair
    if repair is None or repair.tap is None:
        return f"its chamfer is not stated ([repair] tap): a {DEFAULT_TAP} tap is taken"
    return f"{repair.tap} tap"


def _largest_bore(thread: Thread, insert: bool) -> float | None:
    """The largest minor diameter that the tolerance of the internal thread allows, mm; for an insert by the same
    tolerance (from memory)."""
    try:
        least, most = thread_limits(thread).internal_minor
    except ValueError:
        return None
    basic = minor_diameter(thread.nominal_diameter, thread.pitch)
    if insert:
        basic = insert_hole(thread.nominal_diameter, thread.pitch).minor_diameter
    return float(basic) + most - least


def _floor(result: SetupResult, units: str | None) -> list[PlanNumber]:
    setup = result.setup
    boss, repair = setup.boss, setup.repair
    tolerance = repair.drill_depth_tolerance if repair is not None else None
    unknown = "[repair] drill_depth_tolerance is not given"
    angle, point = boss.cone_angle or assumption("drill_point_angle"), drill_point(setup, units)
    rows = [
        PlanNumber(
            "floor_mm", "floor under the hole as given", boss.floor_thickness, "mm", f"hole end: {boss.hole_end}"
        )
    ]
    least = None if tolerance is None else boss.floor_thickness - tolerance
    rows.append(
        PlanNumber(
            "floor_least_mm",
            "floor under the hole, least",
            least,
            "mm",
            unknown if tolerance is None else f"the hole deeper by its tolerance of {tolerance:g} mm",
        )
    )
    drilled = drill_depth(setup)
    depth = drilled.depth
    words = f"the depth for a {drilled.tap} tap" if drilled.short else "the case's depth"
    left = floor_at(setup, depth, units)
    rows += [
        PlanNumber(
            "floor_under_point_mm",
            f"floor under a drill's point of {angle:g} deg",
            left.under_point,
            "mm",
            f"drilled to {words}, {depth:.2f} mm; the point goes {point:.2f} mm further",
        ),
        PlanNumber(
            "floor_under_point_least_mm",
            "floor under a drill's point, least",
            left.least,
            "mm",
            unknown if tolerance is None else f"the hole deeper by its tolerance of {tolerance:g} mm",
        ),
        PlanNumber(
            "floor_bottom_tapped_mm",
            "metal under the end of a bottoming tap",
            left.under_shoulder,
            "mm",
            "the tap ends with the full diameter, above the drill's point",
        ),
    ]
    return rows


def stud_first_of(result: SetupResult) -> tuple[str, StudFirst] | None:
    """Return (thread, lengths) at which the stud breaks before the boss's metal strips, None if that is not known."""
    strips = {s.name: s for s in thread_strips(result.built, result.timeline, result.history.temperatures)}
    name = "insert thread" if "insert thread" in strips else "boss thread"
    found = strips[name].stud_first
    return None if found is None else (name, found)


def _engagement(result: SetupResult) -> list[PlanNumber]:
    setup = result.setup
    stud, insert = setup.stud, setup.boss.insert
    rows = []
    found = stud_first_of(result)
    if found is None:
        reason = f"tensile strength of {setup.boss.material.name} is not known"
        rows.append(PlanNumber("stud_first_mm", "engagement from which the stud breaks first", None, "mm", reason))
    else:
        first = found[1]
        limits = "no limits of size" if first.limits is None else f"{first.limits:.2f} mm at limit sizes"
        where = "of insert, " if insert is not None else ""
        note = (
            f"{where}at limit sizes and the hottest the boss gets; cold {first.basic:.2f} mm at basic sizes, {limits}"
        )
        rows.append(PlanNumber("stud_first_mm", "engagement from which the stud breaks first", first.hot, "mm", note))
        if insert is not None:
            stock = stock_insert_for(stud.thread, first.hot)
            words = f"the case has {insert.length:g} mm"
            if stock is None:
                words = f"no insert in stock is so long; {words}"
            rows.append(
                PlanNumber("insert_mm", "shortest insert in stock with which the stud breaks first", stock, "mm", words)
            )
    rows.append(
        PlanNumber(
            "engaged_lost_mm",
            "engaged thread lost by backing off",
            setup.tip_gap,
            "mm",
            f"{stud.engaged_length:g} mm engaged with the tip on its seat, {setup.engaged_thread:.3f} mm as fitted",
        )
    )
    return rows


def _nut_end(result: SetupResult) -> list[PlanNumber]:
    setup = result.setup
    nut, stud, stands = setup.nut, setup.stud, fitted(result)
    less, given = length_tolerances(result.built)
    spread = (
        f"tolerances of stud and stack, {less:.2f} mm together"
        if given
        else "[repair] states no tolerance of stud or stack"
    )
    rows = []
    if nut.kind == "domed":
        room = nut.usable_thread_depth - stands.protrusion
        most = ""
        size = nut.thread.name.split("-" if nut.thread.form == "unified" else "x")[0]
        if size in stock_nut_names("domed"):
            deepest = stock_nut("domed", size).thread_depth_max
            most = "" if deepest is None else f"; a dome may be threaded up to {deepest:g} mm deep"
        note = (
            f"stud {stands.protrusion:.2f} mm of {nut.usable_thread_depth:g} mm{most}; washers free, before tightening"
        )
        rows.append(PlanNumber("dome_room_mm", "room left in the dome", room, "mm", note))
        rows.append(
            PlanNumber(
                "dome_room_least_mm", "room left in the dome, least", room - less if given else None, "mm", spread
            )
        )
    else:
        pitches = protruding_pitches(stands.protrusion, nut.height, stud.nut_thread.pitch)
        note = f"pitches; {out_of_nut(pitches)[1]} of common practice (no source)"
        rows.append(PlanNumber("protruding_pitches", "stud beyond the nut", pitches, "", note))
        shortest = pitches - less / stud.nut_thread.pitch if given else None
        rows.append(PlanNumber("protruding_pitches_least", "stud beyond the nut, least", shortest, "", spread))
    spare = setup.nut_face_least_z - (stands.top_z - stud.nut_thread_length)
    note = "from the end of the nut thread to the nut's face, washers pressed flat; below 0 the nut meets the end"
    rows.append(PlanNumber("nut_thread_spare_mm", "thread left under the nut", spare, "mm", note))
    rows.append(
        PlanNumber(
            "nut_thread_spare_least_mm",
            "thread left under the nut, least",
            spare - less if given else None,
            "mm",
            spread,
        )
    )
    return rows


def pitches_text(count: float) -> str:
    """Return a number of pitches in words, such as "1 pitch" or "2.5 pitches"."""
    shown = number_text(count, 2)
    return f"{shown} pitch" if shown == "1" else f"{shown} pitches"


def repair_findings(comparison: Comparison) -> list[Finding]:
    """Return a short line of the plan for the best-ranked setup of each hole: drill, depth, floor, engagement."""
    units = comparison.case.units
    found: list[Finding] = []
    seen: list[tuple[object, ...]] = []
    for item in comparison.results:
        hole = (item.setup.stud.thread, item.setup.boss.insert, item.setup.boss.hole_depth, item.setup.repair)
        if hole in seen:
            continue
        seen.append(hole)
        plan = {line.key: line for line in repair_plan(item, units)}

        def mm(key: str, plan: dict[str, PlanNumber] = plan) -> str:
            value = plan[key].value
            return as_text(value, "length", units, 3) if isinstance(value, float) else "unknown"

        drilled = drill_depth(item.setup)
        drill = plan["drill_inch"].value if units == "inch" else mm("drill_mm")
        deep = as_text(drilled.depth, "length", units, 4)
        text = f"Repair plan ({item.name}): drill {drill}, {deep} deep for a {drilled.tap} tap"
        if drilled.short:
            text += f" (the case's hole is {as_text(drilled.short, 'length', units, 3)} too short for it)"
        text += ", "
        known = plan["floor_under_point_least_mm"].value is not None
        least = (
            f"at least {mm('floor_under_point_least_mm')}"
            if known
            else "its least unknown without a tolerance of depth"
        )
        under = plan["floor_under_point_mm"].value
        if isinstance(under, float) and under <= 0.0:
            text += f"{plan['tap'].value}; so deep the drill's point comes through by {as_text(-under, 'length', units, 3)}; "
        else:
            text += f"{plan['tap'].value}; so deep the floor under a drill's point is {mm('floor_under_point_mm')}, {least}; "
        text += f"the stud breaks first from {mm('stud_first_mm')} engaged"
        text += f" ({as_text(item.setup.engaged_thread, 'length', units, 3)} here)"
        if "insert_mm" in plan:
            text += f", an insert of {mm('insert_mm')}"
        out = plan.get("protruding_pitches")
        if out is not None and isinstance(out.value, float):
            if out.value < 0.0:
                text += (
                    f"; the stud ends {pitches_text(-out.value)} inside the nut, whose last threads are empty: "
                    "take a longer stud or fewer washers"
                )
            else:
                text += f"; the stud stands {pitches_text(out.value)} out of the nut"
        found.append(Finding("repair", text + "."))
    return found
