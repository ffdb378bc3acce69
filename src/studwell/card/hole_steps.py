"""Steps of the card for the hole: drill, depth, floor, tap, insert; clean and dry; threadlocker and corrosion."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.card.drilling import (
    can_be_tapped,
    chosen_reach,
    own_floor,
    own_point,
    reach_words,
    room_text,
    tap_words,
    through,
)
from studwell.card.record import Line, Step
from studwell.card.words import PRACTICE, both, one, plain, torque_text
from studwell.case.records import Case, Setup
from studwell.data import source_of, table
from studwell.parts.insert import set_down_range
from studwell.show.both_units import BothUnits, names_of
from studwell.study.fitted import Fitted, fitted
from studwell.study.lock import LOOSENING, lock_in_heat
from studwell.study.repair import (
    PlanNumber,
    drill_depth,
    repair_plan,
)
from studwell.study.results import SetupResult
from studwell.units import number_text, unmarked


@dataclass(frozen=True)
class Bench:
    """What the steps are made of: a solved setup, its repair plan by key, the case's units, how the stud stands as fitted.

    writer : writes texts of the rest of the program in the case's units; names of the user's stay as they are
    """

    result: SetupResult
    plan: dict[str, PlanNumber]
    units: str
    stands: Fitted
    writer: BothUnits

    @property
    def setup(self) -> Setup:
        """The setup as the user gave it."""
        return self.result.setup

    def length(self, value: float) -> str:
        """A length in both systems."""
        return both(value, "length", self.units)

    def said(self, text: str) -> str:
        """A text of the rest of the program in the case's units."""
        return unmarked(self.writer.words(text))

    @property
    def shut_in(self) -> bool:
        """Whether a liquid is shut in under the stud."""
        pocket = self.setup.pocket
        return pocket.fluid is not None and not self.result.outcomes["pocket_pressure_max"].absent

    def mm(self, key: str) -> float | None:
        """A length of the plan, mm, None if it is not known."""
        value = self.plan[key].value
        return value if isinstance(value, float) else None


def bench_of(case: Case, result: SetupResult) -> Bench:
    """Return what the steps of a solved setup of a case are made of."""
    plan = {line.key: line for line in repair_plan(result, case.units)}
    return Bench(result, plan, case.units, fitted(result), BothUnits(names_of(case), case.units))


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
    lines = (_drill(bench), _stop(bench), _floor(bench), *_tap(bench), *_deeper(bench), *_insert(bench))
    return Step("The hole, if it is new or renewed", lines)


def _drill(bench: Bench) -> Line:
    metric, inch = bench.mm("drill_mm"), bench.plan["drill_inch"]
    if metric is None:
        return Line("Drill", "unknown", bench.said(bench.plan["drill_mm"].note), "drill_mm")
    sizes = f"{number_text(metric)} mm", f"{inch.value} ({inch.note})"
    if bench.units == "inch":
        note = f"{bench.said(inch.note)}; metric series {sizes[0]}"
        return Line("Drill", str(inch.value), note, "drill_mm", metric, "mm", order=True)
    return Line("Drill", sizes[0], f"inch series {sizes[1]}", "drill_mm", metric, "mm", order=True)


def _stop(bench: Bench) -> Line:
    boss = bench.setup.boss
    note = "face to end of full diameter"
    if boss.hole_end == "cone":
        note += f"; the point goes {one(own_point(bench.setup, bench.units), 'length', bench.units)} further"
    else:
        end = "flat" if boss.hole_end == "flat" else "round"
        shown = one(boss.hole_depth, "length", bench.units, 4)
        first = boss.hole_depth - own_point(bench.setup, bench.units)
        note += f", cut {end}"
        if first > 0.0:
            note += f": a pointed drill only to {one(first, 'length', bench.units, 4)}, its tip at {shown}"
    return Line("Depth stop", bench.length(boss.hole_depth), note, "hole_depth_mm", boss.hole_depth, "mm", order=True)


def _floor(bench: Bench) -> Line:
    """The floor under the hole at the depth of the stop, whatever a tap would want."""
    boss = bench.setup.boss
    left = own_floor(bench.setup, boss.hole_depth, bench.units)
    if left.under_point <= 0.0:
        note = "A DRILL'S POINT COMES THROUGH"
    else:
        note = f"under this drill's point {one(left.under_point, 'length', bench.units)}"
    if left.least is None:
        note += f"; least unknown: {bench.said(bench.plan['floor_under_point_least_mm'].note)}"
    else:
        note += f"; least {_left_text(left.least, bench)}"
    text = bench.length(boss.floor_thickness)
    return Line("Floor", text, note, "floor_mm", boss.floor_thickness, "mm")


def _left_text(value: float, bench: Bench) -> str:
    return f"{one(value, 'length', bench.units)}{' (THROUGH)' if value <= 0.0 else ''}"


def _tap(bench: Bench) -> list[Line]:
    """The tap that is needed in the hole as given, and the full thread that every form leaves there."""
    setup, units = bench.setup, bench.units
    boss, repair, mine = setup.boss, setup.repair, chosen_reach(setup)
    text, note = bench.said(str(bench.plan["tap"].value)), tap_words(setup)
    if mine.fits != "always":
        text += f", chamfer {room_text(setup, units)} at most" if can_be_tapped(setup) else ": NO TAP"
    if repair is None or repair.tap is None:
        note += f" ({mine.name} tap taken: no [repair] tap)"
    note += f"; full thread to {bench.length(boss.thread_depth)}"
    needed = bench.mm("tapped_depth_mm")
    if boss.insert is not None and needed is not None and needed > boss.thread_depth + 1e-9:
        note += f"; the insert wants {one(needed, 'length', units)}"
    return [
        Line("Tap", text, note, "thread_depth_mm", boss.thread_depth, "mm", order=can_be_tapped(setup)),
        Line("Full thread it leaves", *reach_words(setup, units), spare=9),
    ]


def _deeper(bench: Bench) -> list[Line]:
    """What a deeper hole would do where the hole as given is too short for some taps of the kind that is chosen."""
    setup, units = bench.setup, bench.units
    drilled = drill_depth(setup)
    if not drilled.short:
        return []
    needed, kept = (one(each, "length", units, 4) for each in (drilled.needed, drilled.given))
    spoiled = through(setup, drilled.needed, units)
    if spoiled:
        note = f"the {needed} that any {drilled.tap} tap would do with: {spoiled}"
        return [Line("Mind", f"NOT deeper than {kept}", note, "drill_to_mm", drilled.needed, "mm")]
    left = own_floor(setup, drilled.needed, units)
    note = f"leaves {one(left.under_point, 'length', units)} under this drill's point"
    note += "" if left.least is None else f", least {one(left.least, 'length', units)}"
    text = f"{needed} would do for any {drilled.tap} tap, on a new card"
    note += "; put it into the case first: forces, heights and figures here hold for this hole only"
    return [Line("A deeper hole", text, note, "drill_to_mm", drilled.needed, "mm", spare=5)]


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
        Line("Insert", bench.length(insert.length), note, "insert_mm", insert.length, "mm", order=True),
        Line("Set down", bench.length(insert.set_down), below, "set_down_mm", insert.set_down, "mm", order=True),
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
        note = f"worst pressure {pressure_text(bench)}; dry the hole: the card of a dry setup holds then"
        if worst.absent:
            note = f"{bench.said(worst.reason)}; dry the hole all the same"
        shown = f"this setup has {plain(pocket.contents, 40)} in the hole"
        lines.append(Line("CAUTION", shown, note, "pocket_pressure_MPa", worst.value, "MPa"))
    lines += [*_threadlocker(bench), _corrosion(bench.setup)]
    return Step("Clean and dry", tuple(lines))


def pressure_text(bench: Bench) -> str:
    """Return the worst pressure of a liquid shut in under the stud, and when, in words."""
    worst = bench.result.outcomes["pocket_pressure_max"]
    if worst.value is None:
        return f"unknown ({plain(bench.said(worst.reason), 100)})"
    return both(worst.value, "pressure", bench.units) + (f", {bench.said(worst.when)}" if worst.when else "")


def cure_step(bench: Bench) -> list[Line]:
    """Return the wait for a threadlocker that cures, once the stud stands as it is to stay; none without one."""
    lock = bench.setup.seating.threadlocker
    if lock is None or not lock.cured:
        return []
    hours = practice_number("threadlocker_cure")
    cold = both(practice_number("threadlocker_cold"), "temperature", bench.units)
    done = "driven" if bench.setup.seating.mode == "bottomed" else "turned back"
    note = f"once {done}, before the nut goes on (from memory; its own sheet comes first), not below {cold}; "
    note += str(practice("threadlocker_inactive")["text"])
    return [Line("Let it cure", f"{hours:g} h, untouched", note, "threadlocker_cure_h", hours, "h", order=True)]


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
    done = "driven" if setup.seating.mode == "bottomed" else "turned back"
    lines = [
        Line(
            "Threadlocker",
            f"{grade} on {number_text(100.0 * lock.fill, 2)} % of the thread",
            f"sparingly, on the stud, none at the tip{PRACTICE}; it cures once the stud is {done}: step 3",
            "threadlocker_fill",
            lock.fill,
            order=True,
        )
    ]
    heat = lock_in_heat(bench.result)
    if not isinstance(heat, str):
        holds = f"{torque_text(heat.assembled, units)} cold, {torque_text(heat.hottest, units)} at its hottest"
        apart = f"{lock.grade.words}; to take it apart heat to about {both(LOOSENING, 'temperature', units)}{PRACTICE}"
        lines.append(Line("It holds", holds, apart, "bond_torque_Nmm", heat.assembled, "N mm", spare=7))
    return lines


def _corrosion(setup: Setup) -> Line:
    stud, boss = setup.stud.material.family, setup.boss.material.family
    base = "aluminium" if "aluminium" in boss else "iron" if "iron" in boss else ""
    kind = "stainless" if "stainless" in stud else "steel" if "steel" in stud else ""
    key = f"corrosion_{kind}_{base}"
    if key not in table("workshop"):
        note = f"nothing is in the data on {plain(stud, 40)} in {plain(boss, 40)}"
        return Line("Corrosion", "unknown", note, spare=6)
    text = str(practice(key)["text"])
    if setup.boss.insert is not None and base == "aluminium" and kind == "steel":
        text = str(practice("corrosion_stainless_aluminium")["text"]).replace("stainless", "stainless insert", 1)
    head, _, rest = text.partition(": ")
    return Line("Corrosion", head, f"{rest} (from memory)", spare=6)
