"""Steps of the card for the hole: drill, depth, floor, tap, insert; clean and dry; threadlocker and corrosion."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.card.record import Line, Step
from studwell.card.words import PRACTICE, both, one, plain, torque_text
from studwell.case.records import Setup
from studwell.data import source_of, table
from studwell.parts.insert import set_down_range
from studwell.study.lock import LOOSENING, lock_in_heat
from studwell.study.repair import (
    DEFAULT_TAP,
    DrillDepth,
    PlanNumber,
    drill_depth,
    drill_point,
    floor_at,
    repair_plan,
)
from studwell.study.results import SetupResult
from studwell.units import number_text


@dataclass(frozen=True)
class Bench:
    """What the steps are made of: a solved setup, its repair plan by key, the case's units."""

    result: SetupResult
    plan: dict[str, PlanNumber]
    units: str

    @property
    def setup(self) -> Setup:
        """The setup as the user gave it."""
        return self.result.setup

    def length(self, value: float) -> str:
        """A length in both systems."""
        return both(value, "length", self.units)

    def mm(self, key: str) -> float | None:
        """A length of the plan, mm, None if it is not known."""
        value = self.plan[key].value
        return value if isinstance(value, float) else None


def bench_of(result: SetupResult, units: str) -> Bench:
    """Return what the steps of a solved setup are made of."""
    return Bench(result, {line.key: line for line in repair_plan(result)}, units)


def practice(key: str) -> dict[str, object]:
    """Return an entry of the workshop's data: its value or text, with source and status checked to be there."""
    entry = table("workshop")[key]
    source_of(entry)
    return dict(entry)


def practice_number(key: str) -> float:
    """Return a number of the workshop's data, in the unit that it states there."""
    return float(table("workshop")[key]["value"])


def hole_step(bench: Bench) -> Step:
    """Return how the hole is drilled and tapped, and what is left under it."""
    lines = (_drill(bench), _stop(bench), _floor(bench), _tap(bench), *_too_short(bench), *_insert(bench))
    return Step("The hole, if it is new or renewed", lines)


def _drill(bench: Bench) -> Line:
    metric, inch = bench.mm("drill_mm"), bench.plan["drill_inch"]
    if metric is None:
        return Line("Drill", "unknown", bench.plan["drill_mm"].note, "drill_mm")
    sizes = f"{number_text(metric)} mm", f"{inch.value} ({inch.note})"
    if bench.units == "inch":
        return Line("Drill", str(inch.value), f"{inch.note}; metric series {sizes[0]}", "drill_mm", metric, "mm")
    return Line("Drill", sizes[0], f"inch series {sizes[1]}", "drill_mm", metric, "mm")


def _stop(bench: Bench) -> Line:
    boss = bench.setup.boss
    note = "face to end of full diameter"
    if boss.hole_end == "cone":
        note += f"; the point goes {one(boss.cone_depth, 'length', bench.units)} further"
    else:
        end = "flat" if boss.hole_end == "flat" else "round"
        point = one(drill_point(bench.setup), "length", bench.units)
        note += f"; a drill's point goes {point} further: cut the end {end}, without it"
    return Line("Depth stop", bench.length(boss.hole_depth), note, "hole_depth_mm", boss.hole_depth, "mm")


def _floor(bench: Bench) -> Line:
    """The floor under the hole at the depth of the stop, whatever a tap would want."""
    boss = bench.setup.boss
    left = floor_at(bench.setup, boss.hole_depth)
    if boss.hole_end == "cone":
        note = "under the point"
    elif left.under_point <= 0.0:
        note = "A DRILL'S POINT COMES THROUGH"
    else:
        note = f"under a drill's point {one(left.under_point, 'length', bench.units)}"
    if left.least is None:
        note += f"; least unknown: {bench.plan['floor_under_point_least_mm'].note}"
    else:
        note += f"; least {_left_text(left.least, bench)}"
    text = bench.length(boss.floor_thickness)
    return Line("Floor left", text, note, "floor_mm", boss.floor_thickness, "mm")


def _left_text(value: float, bench: Bench) -> str:
    return f"{one(value, 'length', bench.units)}{' (THROUGH)' if value <= 0.0 else ''}"


def _too_short(bench: Bench) -> list[Line]:
    """What is said where the hole as given ends too early for the tap: both ways out, each with its depth."""
    setup, units = bench.setup, bench.units
    drilled = drill_depth(setup)
    if not drilled.short:
        return []
    wanted = one(drilled.tapped, "length", units, 4)
    text = f"this hole is too short for full thread to {wanted} with a {drilled.tap} tap"
    left = floor_at(setup, drilled.needed)
    deeper = one(drilled.needed, "length", units, 4)
    least = left.under_point if left.least is None else left.least
    if least <= 0.0:
        through = f"THROUGH by {one(-left.under_point, 'length', units)}"
        if left.under_point > 0.0:
            through = f"THROUGH by {one(-least, 'length', units)} at the tolerance of its depth"
        floor = f"NOT deeper, to the {deeper} it needs: a drill's point comes {through}"
    else:
        floor = f"either drill to {deeper}, which leaves {one(left.under_point, 'length', units)} under a drill's point"
        floor += "" if left.least is None else f", least {one(left.least, 'length', units)}"
        floor += ", and put that hole into the case"
    stays = "no full thread at all"
    if drilled.reach > 0.0:
        stays = f"full thread only to {one(drilled.reach, 'length', units, 4)}"
    joined = "but" if least <= 0.0 else "or"
    note = f"{floor}; {joined} keep {one(drilled.given, 'length', units, 4)}: {stays}{_other_tap(bench, drilled)}"
    return [Line("Mind", text, note, "drill_to_mm", drilled.needed, "mm")]


def _other_tap(bench: Bench, drilled: DrillDepth) -> str:
    """What is left in the hole as given: another tap, a shorter insert, and why full thread ends early."""
    told = ""
    if drilled.tap != DEFAULT_TAP:
        other = drill_depth(bench.setup, DEFAULT_TAP)
        if not other.short:
            return f", all of it with a {DEFAULT_TAP} tap"
        if other.reach > 0.0:
            told = f", with a {DEFAULT_TAP} tap to {one(other.reach, 'length', bench.units, 4)}"
    if bench.setup.boss.insert is not None:
        return f"{told}; then a shorter insert"
    idle = (drilled.needed - drilled.tapped) / bench.setup.stud.thread.pitch
    return f"{told}; the tap's last {number_text(idle, 2)} pitches cut none{PRACTICE}"


def _tap(bench: Bench) -> Line:
    boss, repair = bench.setup.boss, bench.setup.repair
    kind = f"{drill_depth(bench.setup).tap} tap"
    if repair is None or repair.tap is None:
        kind += " taken, [repair] tap is not stated"
    note = f"{kind}; full thread {bench.length(boss.thread_depth)} deep"
    needed = bench.mm("tapped_depth_mm")
    if boss.insert is not None and needed is not None and needed > boss.thread_depth + 1e-9:
        note += f"; the insert wants {one(needed, 'length', bench.units)}"
    return Line("Tap", str(bench.plan["tap"].value), note, "thread_depth_mm", boss.thread_depth, "mm")


def _insert(bench: Bench) -> list[Line]:
    insert = bench.setup.boss.insert
    if insert is None:
        return []
    note = (
        f"screwed in {one(insert.assembled, 'length', bench.units)} long; break off its tang and take it out{PRACTICE}"
    )
    below = "its upper end below the face"
    low, high = (float(each) for each in set_down_range(bench.setup.stud.thread.pitch))
    if not low - 1e-9 <= insert.set_down <= high + 1e-9:
        below += f"; OUTSIDE the usual {one(low, 'length', bench.units)} to {one(high, 'length', bench.units)}"
    return [
        Line("Insert", bench.length(insert.length), note, "insert_mm", insert.length, "mm"),
        Line("Set down", bench.length(insert.set_down), below, "set_down_mm", insert.set_down, "mm"),
    ]


def clean_step(bench: Bench) -> Step:
    """Return how the hole is cleaned and dried, what threadlocker does, and what corrodes."""
    lines = [
        Line(
            "Hole and thread",
            "clean, degreased, dry down to the floor",
            f"no swarf, oil, water or wet threadlocker may be left under the stud{PRACTICE}",
        )
    ]
    pocket = bench.setup.pocket
    if pocket.fluid is not None:
        worst = bench.result.outcomes["pocket_pressure_max"]
        pressure = "unknown" if worst.value is None else both(worst.value, "pressure", bench.units)
        when = f", {worst.when}" if worst.when else ""
        note = f"worst pressure {pressure}{when}; dry the hole: the card of a dry setup holds then"
        shown = f"this setup has {plain(pocket.contents, 40)} in the hole"
        lines.append(Line("CAUTION", shown, note, "pocket_pressure_MPa", worst.value, "MPa"))
    lines += [*_threadlocker(bench), _corrosion(bench.setup)]
    return Step("Clean and dry", tuple(lines))


def _threadlocker(bench: Bench) -> list[Line]:
    setup, units = bench.setup, bench.units
    lock = setup.seating.threadlocker
    if lock is None:
        if setup.seating.lock_torque > 0.0:
            held = setup.seating.lock_torque
            return [Line("Locked by", torque_text(held, units), "as the case says", "lock_torque_Nmm", held, "N mm")]
        return [Line("Threadlocker", "none", "it would be a liquid under the stud while it is wet")]
    grade = f"{plain(lock.grade.name, 30)} strength"
    if not lock.cured:
        return [
            Line(
                "Threadlocker", f"{grade}, not cured", "a liquid bonds nothing and can shut in pressure under the stud"
            )
        ]
    hours = practice_number("threadlocker_cure")
    cold = both(practice_number("threadlocker_cold"), "temperature", units)
    cure = f"let it cure {hours:g} h (from memory; its own sheet comes first), not below {cold}"
    cure += f"; {practice('threadlocker_inactive')['text']}"
    lines = [
        Line(
            "Threadlocker",
            f"{grade} on {number_text(100.0 * lock.fill, 2)} % of the thread",
            f"sparingly, on the stud, none at the tip{PRACTICE}; {cure}",
            "threadlocker_fill",
            lock.fill,
        )
    ]
    heat = lock_in_heat(bench.result)
    if not isinstance(heat, str):
        holds = f"{torque_text(heat.assembled, units)} cold, {torque_text(heat.hottest, units)} at its hottest"
        apart = f"{lock.grade.words}; to take it apart heat to about {both(LOOSENING, 'temperature', units)}{PRACTICE}"
        lines.append(Line("It holds", holds, apart, "bond_torque_Nmm", heat.assembled, "N mm"))
    return lines


def _corrosion(setup: Setup) -> Line:
    stud, boss = setup.stud.material.family, setup.boss.material.family
    base = "aluminium" if "aluminium" in boss else "iron" if "iron" in boss else ""
    kind = "stainless" if "stainless" in stud else "steel" if "steel" in stud else ""
    key = f"corrosion_{kind}_{base}"
    if key not in table("workshop"):
        return Line("Corrosion", "unknown", f"nothing is in the data on {plain(stud, 40)} in {plain(boss, 40)}")
    text = str(practice(key)["text"])
    if setup.boss.insert is not None and base == "aluminium" and kind == "steel":
        text = str(practice("corrosion_stainless_aluminium")["text"]).replace("stainless", "stainless insert", 1)
    head, _, rest = text.partition(": ")
    return Line("Corrosion", head, f"{rest} (from memory)")
