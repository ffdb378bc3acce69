"""Steps of the card for the hole: drill, depth, floor, tap, insert; clean and dry; threadlocker and corrosion."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.card.record import Line, Step
from studwell.card.words import PRACTICE, both, one, plain, torque_text
from studwell.case.records import Setup
from studwell.data import assumption, source_of, table
from studwell.parts.repair import point_depth
from studwell.study.lock import LOOSENING, lock_in_heat
from studwell.study.repair import PlanNumber, repair_plan
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
    return Step("The hole", (_drill(bench), _stop(bench), _floor(bench), _tap(bench), *_insert(bench)))


def _drill(bench: Bench) -> Line:
    metric, inch = bench.mm("drill_mm"), bench.plan["drill_inch"]
    if metric is None:
        return Line("Drill", "unknown", bench.plan["drill_mm"].note, "drill_mm")
    sizes = f"{number_text(metric)} mm", f"{inch.value} ({inch.note})"
    if bench.units == "inch":
        return Line("Drill", str(inch.value), f"{inch.note}; metric series {sizes[0]}", "drill_mm", metric, "mm")
    return Line("Drill", sizes[0], f"inch series {sizes[1]}", "drill_mm", metric, "mm")


def _stop(bench: Bench) -> Line:
    boss, repair = bench.setup.boss, bench.setup.repair
    note = "face to end of full diameter"
    if boss.hole_end == "cone":
        note += f"; the point goes {one(boss.cone_depth, 'length', bench.units)} further"
    else:
        point = point_depth(boss.drill_diameter, boss.cone_angle or assumption("drill_point_angle"))
        end = "flat" if boss.hole_end == "flat" else "round"
        note += f"; a drill's point goes {one(point, 'length', bench.units)} further: cut the end {end}, without it"
    tap = repair.tap if repair is not None and repair.tap is not None else "bottoming"
    wanted = bench.mm(f"drilled_depth_{tap}_mm")
    if wanted is not None and wanted > boss.hole_depth + 1e-9:
        short = one(wanted - boss.hole_depth, "length", bench.units)
        note += f". A {tap} tap wants {one(wanted, 'length', bench.units, 4)}: {short} short"
    return Line("Depth stop", bench.length(boss.hole_depth), note, "hole_depth_mm", boss.hole_depth, "mm")


def _floor(bench: Bench) -> Line:
    boss = bench.setup.boss
    under, least = bench.mm("floor_under_point_mm"), bench.mm("floor_under_point_least_mm")
    note = ""
    if under is not None and boss.hole_end == "cone":
        note = "under the point"
    elif under is not None:
        note = f"under a drill's point {one(under, 'length', bench.units)}{_deeper(bench)}"
        if under <= 0.0:
            note = "A DRILL'S POINT COMES THROUGH"
    if least is None:
        note += f"; least unknown: {bench.plan['floor_under_point_least_mm'].note}"
    else:
        through = " (THROUGH)" if least <= 0.0 else ""
        note += f"; least {one(least, 'length', bench.units)}{through}"
    text = bench.length(boss.floor_thickness)
    return Line("Floor left", text, note, "floor_mm", boss.floor_thickness, "mm")


def _deeper(bench: Bench) -> str:
    """Words where the plan drills deeper than the case's hole: what the tap of an insert needs."""
    boss, repair = bench.setup.boss, bench.setup.repair
    wanted = None if repair is None or repair.tap is None else bench.mm(f"drilled_depth_{repair.tap}_mm")
    if boss.insert is None or wanted is None or wanted <= boss.hole_depth + 1e-9:
        return ""
    return f" once drilled to {one(wanted, 'length', bench.units, 4)} for the tap"


def _tap(bench: Bench) -> Line:
    boss, repair = bench.setup.boss, bench.setup.repair
    kind = "chamfer not stated ([repair] tap)" if repair is None or repair.tap is None else f"{repair.tap} tap"
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
    return [
        Line("Insert", bench.length(insert.length), note, "insert_mm", insert.length, "mm"),
        Line(
            "Set down",
            bench.length(insert.set_down),
            "its upper end below the face",
            "set_down_mm",
            insert.set_down,
            "mm",
        ),
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
