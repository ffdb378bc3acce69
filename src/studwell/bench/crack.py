"""The cost of a crack's K curve: twenty sizes, every state of the history, nothing kept from before."""

from __future__ import annotations

import time

from studwell.bench.measures import Measure
from studwell.case.records import Setup
from studwell.crack.curves import crack_curve
from studwell.crack.lines import SIZES, crack_lines
from studwell.history.stages import live_through
from studwell.parts.fastener import property_class
from studwell.strength.timeline import timeline_of
from studwell.study.compare import built_joint


def k_curve_seconds(setup: Setup, refinement: float = 1.0) -> list[Measure]:
    """Measure the K curve of one crack at the floor's fillet: meshing, one factor a size, all states of the history."""
    built = built_joint(setup, refinement=refinement)
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter).yield_strength
    history = live_through(setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength)
    states = timeline_of(history).states
    lines = crack_lines(built)
    start = time.perf_counter()
    crack_curve(built, states, lines[len(lines) // 2])
    seconds = time.perf_counter() - start
    return [Measure(f"K curve of {SIZES} crack sizes, {len(states)} states", seconds, "s", 60.0)]
