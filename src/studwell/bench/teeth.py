"""The cost of thread teeth: condensing their bodies, and a history step with all flanks in contact."""

from __future__ import annotations

import time
from dataclasses import replace

from studwell.bench.measures import Measure
from studwell.case.records import Setup
from studwell.history.stages import live_through
from studwell.parts.fastener import property_class
from studwell.study.compare import built_joint


def groove_step(setup: Setup) -> list[Measure]:
    """Measure one history step of the grooves model, friction on its flanks, seating and tightening left out."""
    stud = replace(setup.stud, thread_model="grooves", nut_thread_model="grooves")
    toothed = replace(setup, stud=stud)
    strength = property_class(stud.property_class, stud.thread.nominal_diameter)
    start = time.perf_counter()
    built = built_joint(toothed)
    condensing = time.perf_counter() - start
    marks: list[float] = []
    live_through(
        toothed,
        built.layout,
        built.bodies,
        built.joint,
        built.seat,
        yield_strength=strength.yield_strength,
        progress=lambda done: marks.append(time.perf_counter()),
    )
    size = f"{round(built.unknowns, -2):,} unknowns, {built.joint.n_ports} ports"
    step = (marks[-1] - marks[0]) / (len(marks) - 1)
    return [
        Measure(f"condensing bodies with thread teeth, {size}", condensing, "s"),
        Measure(f"history step with thread teeth, {size}", 1000.0 * step, "ms", 20.0),
    ]
