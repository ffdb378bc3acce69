"""Measure histories of a boss that yields, and how the cost of condensing and of a step grows with the mesh."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from studwell.bench.measures import Measure
from studwell.case.records import Inelastic, Setup
from studwell.history.cycles import one_cycle, prepared_cycle
from studwell.history.stages import live_through
from studwell.joint.full import FullJoint
from studwell.joint.solve import advance
from studwell.joint.step_system import prepare
from studwell.parts.fastener import property_class
from studwell.study.compare import built_joint

ZONE = 2.0
"""mm from the corner fillet that may yield."""

SIZES = (0.66, 1.45, 2.93)
"""Mesh densities that give about 20,000, 80,000 and 300,000 unknowns on the demo."""

FULL_STEPS = 3
REPEATS = 50


def inelastic_seconds(setup: Setup, cycles: int = 100, steps: int = 40, sample: int = 15) -> list[Measure]:
    """Measure cycles of a joint whose floor yields, and its steps on the full path, on the standard mesh.

    cycles, steps : of the figure; sample: cycles that are really run, the rest is in proportion
    """
    flowing = replace(
        setup, history=replace(setup.history, steps=steps, cycles=1), inelastic=Inelastic(ZONE, creep=False)
    )
    built = built_joint(flowing)
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    start = time.perf_counter()
    history = live_through(
        flowing, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength.yield_strength
    )
    first = time.perf_counter() - start
    assert history.flowing is not None
    repeated = prepared_cycle(built.joint, history.course, None, 0)
    crept = np.zeros(built.joint.n_ports)
    states = list(history.run[1:])
    start = time.perf_counter()
    for _ in range(sample):
        states, crept = one_cycle(built.joint, repeated, states, None, crept, 0.0, history.flowing)
    seconds = time.perf_counter() - start
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    solve = history.flowing.solver(full.solver)
    state = states[-1]
    start = time.perf_counter()
    for heat in history.course.heats[1 : 1 + FULL_STEPS]:
        state = solve(built.joint, state, heat)
    full_step = (time.perf_counter() - start) / FULL_STEPS
    step = seconds / (sample * steps)
    whole = first + step * steps * (cycles - 1)
    name = f"{cycles} inelastic cycles of {steps} steps"
    return [
        Measure(f"{name}, seating and first cycle run, {sample} more run, the rest in proportion", whole, "s", 180.0),
        Measure(f"inelastic history step, condensed, mean of {sample * steps}", 1000.0 * step, "ms"),
        Measure(f"inelastic history step, full path, mean of {FULL_STEPS}", 1000.0 * full_step, "ms"),
        Measure(f"{name} on the full path, from {FULL_STEPS} of its steps", full_step * steps * cycles, "s"),
    ]


def cost_by_size(setup: Setup) -> list[Measure]:
    """Measure condensing and one history step on three meshes, and fit time = factor x unknowns^exponent to each."""
    unknowns, condensing, stepping = [], [], []
    measures = []
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    few = replace(setup, history=replace(setup.history, steps=10, cycles=1))
    for refinement in SIZES:
        start = time.perf_counter()
        built = built_joint(few, refinement=refinement)
        condensing.append(time.perf_counter() - start)
        history = live_through(
            few, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength.yield_strength
        )
        state, heat = history.run[3], history.course.heats[4]
        start = time.perf_counter()
        for _ in range(REPEATS):
            advance(built.joint, prepare(built.joint, heat, 0.0, frozenset()), state)
        stepping.append((time.perf_counter() - start) / REPEATS)
        unknowns.append(built.unknowns)
        size = f"{round(built.unknowns, -3):,} unknowns"
        measures += [
            Measure(f"cost by size: meshing and condensing, {size}", condensing[-1], "s"),
            Measure(f"cost by size: history step, {size}, {built.joint.n_ports} ports", 1000.0 * stepping[-1], "ms"),
        ]
    for what, seconds in (("meshing and condensing", condensing), ("a history step", stepping)):
        exponent = float(np.polyfit(np.log(unknowns), np.log(seconds), 1)[0])
        measures.append(Measure(f"exponent of {what} against unknowns, fitted to {len(SIZES)} meshes", exponent, "1"))
    return measures
