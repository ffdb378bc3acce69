"""What the report and the screen say of stripping and of the repair plan, as plain rows of text in the case's units."""

from __future__ import annotations

import math

from studwell.show.heat_content import Rows
from studwell.strength.strip import ThreadStrip, thread_strips
from studwell.study.repair import PlanNumber, repair_plan
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text

LEAST_FORCE = 1e-6
"""N; a smaller force is noise of the arithmetic and shown as 0. Our own choice."""


def thread_tables(comparison: Comparison) -> tuple[Rows, ...]:
    """Return one table a setup of the routes by which its threads may strip."""
    return tuple(thread_table(result, comparison.case.units) for result in comparison.results)


def thread_table(result: SetupResult, units: str) -> Rows:
    """Return the routes of a setup's engaged threads: load, capacity, ratio, moment and what each rests on."""
    rows: list[tuple[str, ...]] = []
    for strip in thread_strips(result.built, result.timeline, result.history.temperatures):
        for route in strip.routes:
            governs = ", governs" if route.name == strip.governing else ""
            ratio = "unknown" if route.ratio is None else number_text(route.ratio, 3)
            rows.append(
                (
                    f"{strip.words}: {route.name}{governs}",
                    _force(route.load, units),
                    _force(route.capacity, units),
                    ratio,
                    route.when,
                    route.reason or route.basis,
                )
            )
        rows += _stud_first(strip, units)
    return Rows(
        f"{result.name}: what strips, by route. All pitches at their limit together is the most that a ductile thread "
        "stands, the most loaded pitch alone the onset of yielding: a strip lies between. The smaller capacity governs.",
        ("Thread and route", "Load", "Capacity", "Load over capacity", "Worst moment", "Basis"),
        tuple(rows),
    )


def _stud_first(strip: ThreadStrip, units: str) -> list[tuple[str, ...]]:
    first = strip.stud_first
    if first is None:
        return []
    hot, basic = as_text(first.hot, "length", units, 4), as_text(first.basic, "length", units, 4)
    limits = "unknown" if first.limits is None else as_text(first.limits, "length", units, 4)
    return [
        (
            f"{strip.words}: length from which the stud breaks first",
            hot,
            as_text(strip.engaged, "length", units, 4),
            number_text(first.hot / strip.engaged, 3),
            "hottest",
            f"against the engaged length; cold {basic} at basic and {limits} at limit sizes",
        )
    ]


def _force(value: float | None, units: str) -> str:
    if value is None:
        return "unknown"
    return as_text(value if abs(value) >= LEAST_FORCE else 0.0, "force", units, 4)


def repair_tables(comparison: Comparison) -> tuple[Rows, ...]:
    """Return one table a setup of its repair plan."""
    return tuple(repair_table(result, comparison.case.units) for result in comparison.results)


def repair_table(result: SetupResult, units: str) -> Rows:
    """Return a setup's repair plan."""
    rows = tuple((line.words, plan_text(line, units), line.note) for line in repair_plan(result, units))
    return Rows(f"{result.name}: repair plan", ("What", "Value", "What to know"), rows)


def plan_text(line: PlanNumber, units: str) -> str:
    """Return a plan's value as text, "unknown" if it is not known."""
    if line.value is None:
        return "unknown"
    if isinstance(line.value, str):
        return line.value
    value = 0.0 if abs(line.value) < 1e-9 else line.value
    if math.isinf(value):
        return "unbounded"
    return as_text(value, "length", units, 4) if line.unit == "mm" else number_text(value, 3)
