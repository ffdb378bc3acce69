"""Measure samples of a spread case side by side: 100,000 on all processors, and the cost of one over a full history."""

from __future__ import annotations

import tempfile
import time
from dataclasses import replace
from pathlib import Path

from studwell.bench.measures import Measure
from studwell.case.records import Case, Setup
from studwell.history.stages import live_through
from studwell.odds.plan import BLOCK, SamplePlan, alone_case
from studwell.parts.fastener import property_class
from studwell.runs import execute

SAMPLES = 100_000


def odds_measures(case: Case, samples: int = SAMPLES, refinement: float = 1.0) -> list[Measure]:
    """Measure the samples of the first setup with plain washers and the first with spring washers that stay springs.

    case : with a [spread]; none: nothing is measured
    """
    if case.spread is None:
        return []
    plain = next((setup for setup in case.setups if not setup.springs), None)
    sprung = next((setup for setup in reversed(case.setups) if setup.springs and setup.boss.insert is None), None)
    measures = []
    for setup, words in ((plain, "plain"), (sprung, "spring")):
        if setup is not None:
            measures += _of(alone_case(case, setup), setup, words, samples, refinement)
    return measures


def _of(case: Case, setup: Setup, words: str, samples: int, refinement: float) -> list[Measure]:
    plan = SamplePlan(case, samples, 1, refinement, min(BLOCK, samples))
    model = plan.model
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        execute(plan, Path(folder) / "rows")
        seconds = time.perf_counter() - start
    start = time.process_time()
    plan.evaluate(0)
    one = (time.process_time() - start) / plan.block
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter).yield_strength
    built = model.base.built
    few = replace(setup, history=replace(setup.history, steps=8))
    start = time.process_time()
    live_through(few, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength)
    alone = time.process_time() - start
    return [
        Measure(f"{samples} samples, {words} washers, all processors", seconds, "s", 60.0 * samples / SAMPLES),
        Measure(f"one sample side by side, {words} washers", 1e6 * one, "us"),
        Measure(f"the same history solved alone over one side by side, {words} washers", alone / one, "times"),
    ]
