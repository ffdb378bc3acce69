"""Run the benchmark: the main job cold, then history steps on the condensed joint beside the full path."""

from __future__ import annotations

import platform
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from threadpoolctl import threadpool_limits

from studwell.bench.choose import choose_measures
from studwell.bench.crack import k_curve_seconds
from studwell.bench.flow import cost_by_size, inelastic_seconds
from studwell.bench.measures import Measure, cold_compare
from studwell.bench.odds import odds_measures
from studwell.bench.page import move_measures
from studwell.bench.pocket import liquid_ratio
from studwell.bench.teeth import groove_step
from studwell.case import read_case
from studwell.case.records import History, Setup
from studwell.history.cycles import one_cycle, prepared_cycle
from studwell.history.heat import step_times
from studwell.history.stages import HistoryResult, live_through
from studwell.joint.build import BuiltJoint
from studwell.joint.full import FullJoint
from studwell.joint.solve import solve_state
from studwell.parts.fastener import property_class
from studwell.study.compare import built_joint

REFINEMENTS = (0.66, 1.0, 1.65)
"""Mesh densities that give about 20,000, 40,000 and 100,000 unknowns on the demo."""

FULL_STEPS = 6
"""Steps of the history taken on the full path; the condensed joint takes the same ones, many times over."""


def run_bench(case_file: Path, progress: Callable[[int, int], None] | None = None) -> list[Measure]:
    """Measure the main job and the cost of history steps on this machine.

    case_file : case whose first setup is stepped
    progress  : called with measures done and their number
    raises BadCase, StudwellError
    """
    case = read_case(case_file)
    total = 9 + len(REFINEMENTS)
    measures = cold_compare(case_file)
    if progress is not None:
        progress(1, total)
    setup = case.setups[0]
    for done, refinement in enumerate(REFINEMENTS, start=2):
        with threadpool_limits(limits=1):
            measures += step_ratio(setup, refinement)
        if progress is not None:
            progress(done, total)
    with threadpool_limits(limits=1):
        last = (cycle_seconds, inelastic_seconds, cost_by_size, liquid_ratio, groove_step, k_curve_seconds)
        for more, measure in enumerate(last):
            measures += measure(setup)
            if progress is not None:
                progress(total - 1 - len(last) + more, total)
        measures += move_measures(case)
        if progress is not None:
            progress(total - 1, total)
        measures += choose_measures(case)
        measures += odds_measures(case)
    if progress is not None:
        progress(total, total)
    return measures


def cycle_seconds(setup: Setup, cycles: int = 1000, steps: int = 200) -> list[Measure]:
    """Measure so many elastic contact cycles of so many steps each, every one solved, on the standard mesh."""
    long = replace(setup, history=replace(setup.history, steps=steps, cycles=1))
    built = built_joint(long)
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    history = live_through(
        long, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength.yield_strength
    )
    repeated = prepared_cycle(built.joint, history.course, None, 0)
    crept = np.zeros(built.joint.n_ports)
    states = list(history.run[1:])
    start = time.perf_counter()
    for _ in range(cycles):
        states, crept = one_cycle(built.joint, repeated, states, None, crept, 0.0)
    seconds = time.perf_counter() - start
    return [Measure(f"{cycles} elastic contact cycles of {steps} steps, each solved", seconds, "s", 60.0)]


def step_ratio(setup: Setup, refinement: float) -> list[Measure]:
    """Measure one history step on the condensed joint and on the full path, same laws, same steps, same run.

    The full path keeps its factor as long as its tangent holds and renews it when it does not.
    """
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    start = time.perf_counter()
    built = built_joint(setup, refinement=refinement)
    condensing = time.perf_counter() - start
    few = replace(setup, history=first_steps(setup.history, FULL_STEPS))
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    full_start = _run_seconds(few, built, strength.yield_strength, full.solver)
    reduced = _run_seconds(setup, built, strength.yield_strength, solve_state)
    full_step = full_start / (FULL_STEPS + 1)
    reduced_step = reduced / (setup.history.steps + 1)
    size = f"{round(built.unknowns, -2):,} unknowns"
    exact = built.unknowns
    target = 100.0 if abs(exact - 40_000) < 8_000 else None
    return [
        Measure(f"meshing and condensing all bodies, {size}", condensing, "s"),
        Measure(f"history step, condensed, {size}", 1000.0 * reduced_step, "ms"),
        Measure(f"history step, full path, {size}", 1000.0 * full_step, "ms"),
        Measure(f"full path over condensed, a history step, {size}", full_step / reduced_step, "times", target, False),
    ]


def first_steps(history: History, count: int) -> History:
    """Return the first steps of a history, as large as they are in the whole of it."""
    ends = step_times(history.times, history.steps)[[0, count]]
    temperatures = tuple(tuple(np.interp(ends, history.times, row).tolist()) for row in history.temperatures)
    return replace(history, times=tuple(ends.tolist()), labels=("start", "end"), temperatures=temperatures, steps=count)


def _run_seconds(setup: Setup, built: BuiltJoint, yield_strength: float, solver: Any) -> float:
    """Return the seconds that the heat history alone takes: the whole history less seating and tightening."""
    marks: list[float] = []

    def mark(done: int) -> None:
        marks.append(time.perf_counter())

    history: HistoryResult = live_through(
        setup,
        built.layout,
        built.bodies,
        built.joint,
        built.seat,
        yield_strength=yield_strength,
        progress=mark,
        solver=solver,
    )
    steps = len(history.run)
    # the first step has no mark before it: scale the rest
    return (marks[-1] - marks[0]) * steps / (steps - 1)


def bench_record(measures: Sequence[Measure]) -> dict[str, Any]:
    """Return the record that bench.json holds."""
    return {
        "schema": 1,
        "python": sys.version.split()[0],
        "machine": platform.machine(),
        "system": platform.system(),
        "measures": [
            {
                "name": item.name,
                "value": float(f"{item.value:.4g}"),
                "unit": item.unit,
                "target": item.target,
                "at_most": item.at_most if item.target is not None else None,
                "met": item.met,
            }
            for item in measures
        ],
    }
