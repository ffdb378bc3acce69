"""Blocks of summary.json for the workshop: what strips and by which route, the repair plan, the threadlocker."""

from __future__ import annotations

from typing import Any

from studwell.store.cycle_records import rounded
from studwell.strength.strip import ThreadStrip, thread_strips
from studwell.study.lock import lock_in_heat
from studwell.study.repair import repair_plan
from studwell.study.results import SetupResult

WORKSHOP_FIELDS = ("threads", "repair", "threadlocker")
"""Keys of summary.json that this module fills."""


def workshop_record(result: SetupResult) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the fields of WORKSHOP_FIELDS and the reasons of those that are null, inner ones by "block.key"."""
    reasons: dict[str, str] = {}
    threads = {}
    for strip in thread_strips(result.built, result.timeline, result.history.temperatures):
        threads[strip.name] = _thread(result, strip, reasons)
    plan = {}
    for line in repair_plan(result):
        plan[line.key] = rounded(line.value) if isinstance(line.value, float) else line.value
        if line.value is None:
            reasons[f"repair.{line.key}"] = line.note
    heat = lock_in_heat(result)
    lock: dict[str, Any] | None = None
    if isinstance(heat, str):
        reasons["threadlocker"] = heat
    else:
        lock = {
            "grade": heat.grade,
            "fill": rounded(heat.fill),
            "bond_torque_assembled_Nmm": rounded(heat.assembled),
            "bond_torque_hottest_Nmm": rounded(heat.hottest),
            "share_left_hottest": rounded(heat.share),
            "hottest_degC": rounded(heat.temperature),
            "when": heat.when,
            "known_at_hottest": heat.covered,
        }
    return {"threads": threads, "repair": plan, "threadlocker": lock}, reasons


def _thread(result: SetupResult, strip: ThreadStrip, reasons: dict[str, str]) -> dict[str, Any]:
    routes = {}
    for route in strip.routes:
        routes[route.name] = {
            "load_N": rounded(route.load),
            "capacity_N": rounded(route.capacity),
            "ratio": rounded(route.ratio),
            "when": route.when,
            "basis": route.basis,
        }
        if route.ratio is None:
            reasons[f"threads.{strip.name}.{route.name}"] = route.reason
    first, pitches = strip.stud_first, strip.pitches
    if strip.governing is None:
        reasons[f"threads.{strip.name}.governing"] = strip.reason
    if first is None:
        reasons[f"threads.{strip.name}.stud_first"] = strip.reason
    elif first.limits is None:
        reasons[f"threads.{strip.name}.stud_first.limit_sizes_mm"] = "no limits of size of this thread in the tables"
    if pitches is None:
        reasons[f"threads.{strip.name}.pitches"] = (
            "this joint has no interface of that name: the load of each pitch is not known"
        )
    return {
        "engaged_mm": rounded(strip.engaged),
        "routes": routes,
        "governing": strip.governing,
        "stud_first": None
        if first is None
        else {
            "basic_sizes_mm": rounded(first.basic),
            "limit_sizes_mm": rounded(first.limits),
            "hot_mm": rounded(first.hot),
        },
        "pitches": None
        if pitches is None
        else {
            "lengths_mm": [rounded(float(x)) for x in pitches.lengths],
            "load_assembled_N": [rounded(float(x)) for x in pitches.loads[strip.assembled]],
            "load_worst_N": [rounded(float(x)) for x in pitches.loads[strip.worst]],
            "worst_when": result.timeline.when(strip.worst),
        },
    }
