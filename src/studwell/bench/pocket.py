"""Measure what a liquid under the tip adds to a history step."""

from __future__ import annotations

import time
from dataclasses import replace

from studwell.bench.measures import Measure
from studwell.case.records import Pocket, Setup
from studwell.history.stages import live_through
from studwell.joint.build import BuiltJoint
from studwell.parts.fastener import property_class
from studwell.parts.fluid import stock_fluid
from studwell.study.compare import built_joint

REPEATS = 5
"""Histories of each kind; the fastest counts, since anything else on the machine only slows them."""


def liquid_ratio(setup: Setup, refinement: float = 1.0) -> list[Measure]:
    """Measure a history step of a setup with its pocket full of oil over one with it empty, each on its own joint."""
    oil = Pocket("oil", 1.0, "as fitted", "leaking", 600.0, stock_fluid("oil"))
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter).yield_strength
    seconds = []
    for pocket in (Pocket("empty"), oil):
        variant = replace(setup, pocket=pocket)
        built = built_joint(variant, refinement=refinement)
        seconds.append(min(_run(variant, built, strength) for _ in range(REPEATS)))
    return [Measure("history step with a leaking liquid over one without", seconds[1] / seconds[0], "times", 2.0)]


def _run(setup: Setup, built: BuiltJoint, strength: float) -> float:
    marks: list[float] = []
    live_through(
        setup,
        built.layout,
        built.bodies,
        built.joint,
        built.seat,
        yield_strength=strength,
        progress=lambda done: marks.append(time.perf_counter()),
    )
    return marks[-1] - marks[0]
