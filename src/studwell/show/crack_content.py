"""What the report and the screen say of cracks: four views side by side, as plain rows of text in the case's units."""

from __future__ import annotations

import math

from studwell.parts.growth import GrowthLife
from studwell.show.heat_content import Rows
from studwell.strength.crack import ONCE, CrackViews
from studwell.strength.crack_said import Said
from studwell.strength.distances import Distance
from studwell.strength.flaws import FlawView
from studwell.study.floor_crack import VIEWS, FloorCrackStudy
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


def crack_tables(comparison: Comparison) -> tuple[Rows, ...]:
    """Return the tables of every setup of a comparison."""
    return tuple(table for result in comparison.results for table in crack_tables_of(result, comparison.case.units))


def crack_tables_of(result: SetupResult, units: str) -> tuple[Rows, ...]:
    """Return one setup's tables: the views side by side, then each with its places."""
    views, name = result.verdict.cracks, result.name
    return (
        Rows(
            f"{name}: cracks, four views side by side. Load over capacity; 1 is the limit",
            ("View", "Once", "Repeated", "What it rests on, or why it is not known"),
            _side_by_side(views),
        ),
        Rows(
            f"{name}: critical distances",
            ("Place", "Once", "Repeated", "L once; L repeated", "Needed to be safe"),
            tuple(_distance_row(view, units) for view in views.distances),
        ),
        Rows(
            f"{name}: cracks by fracture mechanics",
            (
                "Crack, and how it was chosen",
                "At the flaw: largest; range",
                "Once; repeated",
                "Breaks at",
                "Life from flaw; from inspection",
                "How far it holds",
            ),
            tuple(_flaw_row(view, units) for view in views.flaws),
        ),
        Rows(
            f"{name}: fatigue by the multiaxial cycle, {views_criterion()}",
            ("Place", "Load over capacity", "Amplitude; means in sum", "Strength", "Needed to be safe"),
            tuple(_cycle_row(view, units) for view in views.fatigue),
        ),
    )


def views_criterion() -> str:
    """Return the name of the criterion of the multiaxial cycle with its source."""
    from studwell.strength.fatigue import SINES

    return SINES


def _side_by_side(views: CrackViews) -> tuple[tuple[str, ...], ...]:
    once, repeated = ({said.view: said for said in each} for each in (views.once, views.repeated))
    rows: list[tuple[str, ...]] = []
    for view in dict.fromkeys([*once, *repeated]):
        told = "; ".join(dict.fromkeys(_told(s) for s in (once.get(view), repeated.get(view)) if s is not None))
        rows.append((view, _value(once.get(view)), _value(repeated.get(view)), told))
    for mode, trust in views.trust.items():
        apart = views.disagreement[mode]
        known = sum(said.value is not None for said in (views.once if mode == ONCE else views.repeated))
        far = ("no view is known", "only one view is known")[min(known, 1)]
        if apart is not None:
            far = f"the known views lie a factor of {number_text(apart, 2)} apart"
        rows.append((f"which to trust: {mode}", "", "", f"{far}; {trust}"))
    return tuple(rows)


def _told(said: Said) -> str:
    return f"{said.where}: {said.method}" if said.value is not None else said.reason


def _value(said: Said | None) -> str:
    return "" if said is None else _number(said.value)


def _number(value: float | None) -> str:
    return "unknown" if value is None else number_text(value, 3)


def _distance_row(view, units: str) -> tuple[str, ...]:
    def one(found: Distance | None, reason: str) -> str:
        if found is None:
            return f"unknown: {reason}"
        point, line = ("too short" if v is None else number_text(v, 3) for v in (found.point, found.line))
        return f"{number_text(found.value, 3)} (point {point}, line {line})"

    lengths = "; ".join("-" if d is None else as_text(d.length, "length", units, 3) for d in (view.once, view.repeated))
    needs = [
        f"{word} {as_text(value, 'toughness', units, 3)}"
        for word, value in (("toughness", view.needed_toughness), ("threshold", view.needed_threshold))
        if value is not None
    ]
    place = f"{view.place} ({view.body})"
    return (
        place,
        one(view.once, view.once_reason),
        one(view.repeated, view.repeated_reason),
        lengths,
        "; ".join(needs),
    )


def _flaw_row(view: FlawView, units: str) -> tuple[str, ...]:
    sizes = f"{view.history.place} ({view.history.body})"
    if view.history.chosen:
        sizes += f": {view.history.chosen}"
    if view.intensity is None:
        largest = float(view.largest[-1])
        top = as_text(largest if abs(largest) >= 1e-6 else 0.0, "toughness", units, 3)  # less is noise
        at = f"no value: {view.once_reason}; {top} at {as_text(float(view.history.sizes[-1]), 'length', units, 3)}"
    else:
        at = "; ".join(as_text(v or 0.0, "toughness", units, 3) for v in (view.intensity, view.swing))
    ratios = f"{_number(view.once)}; {_number(view.repeated)}"
    if view.ratio_problem and view.repeated is not None:
        ratios += " (at least)"
    critical = "not within its sizes" if view.critical is None else as_text(view.critical, "length", units, 3)
    if view.critical is None and view.once is None and view.intensity is not None:
        critical = "unknown"
    lives = "; ".join(life_text(life, units, bool(view.life_problem)) for life in (view.life, view.inspected))
    lives = f"{lives} ({view.life_reason})" if view.life_reason else lives
    return (sizes, at, ratios, critical, lives, _held(view, units))


def _held(view: FlawView, units: str) -> str:
    """What a crack's figures rest on: shear below its tip, stress ratio, small-scale yielding, interpolation."""
    told = []
    if view.net is not None:
        told.append(f"shear below its tip {_number(view.net)} of what is stood")
    if view.gives_way is not None:
        at = as_text(view.gives_way, "length", units, 3)
        told.append(f"gives way at {at}" if view.gives_way > 0.0 else "gives way without a flaw")
    if view.ratio is not None:
        told.append(f"stress ratio {number_text(view.ratio, 2)}")
    if view.zone is not None and view.growth_zone is not None and view.room is not None:
        once, growing, has = (as_text(size, "length", units, 2) for size in (view.zone, view.growth_zone, view.room))
        holds = (
            "does not hold"
            if view.growth_zone > view.room
            else "holds growing only"
            if view.zone > view.room
            else "holds"
        )
        told.append(f"small-scale yielding {holds}: needs {once} once, {growing} growing, has {has}")
    if view.error:
        told.append(f"between sizes within {100.0 * view.error:.1g} %")
    return "; ".join(told)


def life_text(life: GrowthLife | None, units: str = "metric", upper: bool = False) -> str:
    """Return a life in histories in words, with where it ends; upper: it is an upper bound."""
    if life is None or life.histories is None or (upper and math.isinf(life.histories)):
        return "unknown"
    if math.isinf(life.histories):
        return "does not grow"
    how = "where it breaks" if life.breaks else "followed to there"
    bound = "at most " if upper else ""
    return f"{bound}{number_text(life.histories, 3)} histories to {as_text(life.end, 'length', units, 3)}, {how}"


def _cycle_row(view, units: str) -> tuple[str, ...]:
    place = f"{view.place} ({view.body})"
    if view.ratio is None:
        return (place, "unknown", "", "", view.reason)
    stresses = "; ".join(as_text(v, "pressure", units, 3) for v in (view.amplitude, view.mean))
    if view.held:
        stresses += " (held down by yielding)"
    stresses += f", over {as_text(view.averaged, 'length', units, 3)}" if view.averaged else ", at the surface"
    need = "none would do" if view.needed is None else as_text(view.needed, "pressure", units, 3)
    return (place, _number(view.ratio), stresses, as_text(view.strength, "pressure", units, 3), need)


def _critical(size: float | None, units: str) -> str:
    if size is None:
        return "none followed"
    return as_text(size, "length", units, 2) if size > 0.0 else "sheared without one"


def floor_crack_text(study: FloorCrackStudy, units: str = "metric") -> str:
    """Return a study of floors and seating torques as two tables in Markdown: every row, and where each view reaches 1."""
    size = as_text(study.flaw, "length", units, 3)
    heads = (
        "floor",
        "seating torque",
        "tip force",
        "elastic",
        "yielding",
        "plastic strain",
        f"K at {size} flaw",
        "flaw",
    )
    lines = ["| " + " | ".join((*heads, "critical flaw")) + " |", "|" + "---:|" * 9]
    for row in study.rows:
        cells = [
            as_text(row.floor, "length", units, 3),
            as_text(row.torque, "torque", units, 3),
            as_text(row.tip_force, "force", units, 3),
            _number(row.elastic),
            _number(row.yielding),
            "unknown" if row.plastic is None else f"{100.0 * row.plastic:.2g} %",
            "unknown" if row.intensity is None else as_text(row.intensity, "toughness", units, 3),
            _number(row.flaw),
            _critical(row.critical, units),
        ]
        lines.append("| " + " | ".join(cells) + " |")
    lines += [
        "",
        "| floor | cracks at, elastic | cracks at, yielding | cracks at, flaw | solved to |",
        "|" + "---:|" * 4 + ":---|",
    ]
    for floor, (torque, why) in study.solved_to.items():
        ends = [study.cracks_at[floor, view] for view in VIEWS]
        open_ = [any(getattr(row, view) is None for row in study.rows if row.floor == floor) for view in VIEWS]
        cells = [as_text(floor, "length", units, 3)]
        for end, unknown in zip(ends, open_, strict=True):
            never = "not known" if unknown else "not reached"
            cells.append(never if end is None else as_text(end, "torque", units, 3))
        cells.append(as_text(torque, "torque", units, 3) + (f": {why}" if why else ""))
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"
