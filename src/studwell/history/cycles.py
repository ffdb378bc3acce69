"""Many cycles of the same heat: every one solved while they are few, jumps with an error estimate when they are many."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.errors import NotConverged
from studwell.history.course import HeatCourse, between
from studwell.history.settling import Settlement
from studwell.history.zone_cycles import ZoneCycles, ZoneWatch, worst_verdict
from studwell.joint.flowing import FlowingBodies, kept
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import StepSystem, advance, prepare
from studwell.joint.state import JointState

Array = np.ndarray

SOLVED_CYCLES = 30
"""Cycles that are solved one by one before the first jump."""

JUMPS_A_DECADE = 4
"""Jumps in each tenfold of cycles."""

FLOWING_CYCLES = 100
"""Cycles that are solved, at most, of a joint whose bodies flow: nothing jumps over plastic strain."""

MOST_HALVINGS = 4
"""How often a step of a flowing joint is cut in two before it counts as unsolved."""


@dataclass(frozen=True)
class CycleMark:
    """What is left after so many cycles. Forces in N at the lowest face; stretch mm; jumped: reached by a jump."""

    cycle: int
    clamp_end: float
    clamp_min: float
    clamp_max: float
    stretch: float
    jumped: bool


@dataclass(frozen=True)
class CycleResult:
    """Many cycles of one joint.

    marks       : at 1, 10, 100 ... cycles and at the last one
    error       : N, estimated error of the last clamp by jumping; 0 where every cycle was solved
    solved      : cycles that were solved step by step; verdict: 'elastic', 'settles', 'shakes down', 'ratchets'
    last        : states of the last cycle
    reached     : cycles done in all; fewer than asked for where a body still flowed after FLOWING_CYCLES
    zones       : body that may flow -> what its plastic strain did; empty if all is elastic. The verdict is the worst
    """

    marks: tuple[CycleMark, ...]
    error: float
    solved: int
    verdict: str
    last: tuple[JointState, ...] = field(repr=False)
    reached: int = 0
    zones: Mapping[str, ZoneCycles] = field(default_factory=dict)


@dataclass(frozen=True)
class Repeated:
    """One cycle's instants prepared once: systems (steps,), times (steps,) s from the cycle's start, its length s."""

    systems: tuple[StepSystem, ...] = field(repr=False)
    times: Array = field(repr=False)
    length: float


def prepared_cycle(joint: ReducedJoint, course: HeatCourse, settlement: Settlement | None, first: int) -> Repeated:
    """Return the last cycle of a course, prepared once for all repetitions.

    first : index of the instant at which the last cycle starts; embedding is complete by then
    """
    heats = course.heats[first + 1 :]
    times = course.times[first + 1 :] - course.times[first]
    nothing = np.zeros(joint.n_ports)
    systems = []
    for heat in heats:
        now = heat if settlement is None else settlement.settled(heat, np.inf, nothing)
        systems.append(prepare(joint, now, 0.0, frozenset()))
    return Repeated(tuple(systems), times, float(times[-1]))


def many_cycles(
    joint: ReducedJoint,
    repeated: Repeated,
    states: Sequence[JointState],
    settlement: Settlement | None,
    crept: Array,
    *,
    done: int,
    cycles: int,
    start: float,
    solved_cycles: int = SOLVED_CYCLES,
    progress: Callable[[int], None] | None = None,
    flowing: FlowingBodies | None = None,
) -> CycleResult:
    """Repeat a cycle until so many are done.

    states : of the last cycle solved so far (steps,); done: how many cycles that makes; cycles: how many in the end
    crept  : (n,) mm that gaskets have crept by then; start: s from tightening to the end of that cycle
    solved_cycles : cycles to solve one by one before jumping
    progress : called with the number of cycles done
    flowing  : bodies that may flow; then up to FLOWING_CYCLES cycles are solved, and none jumped over

    Gaskets creep in tenfolds of time and a ratcheting stud in numbers of cycles: a jump carries both on at the rates of
    the cycle before it, solves one whole cycle at its end, and repeats itself with the mean of both rates (Heun). The
    error estimate is half the difference of the two, summed over jumps. raises NotConverged
    """
    clamp_face = next(face.name for face in joint.interfaces if face.name.startswith("face "))
    current = list(states)
    first_stretch = states[-1].stretch

    def mark(cycle: int, jumped: bool) -> CycleMark:
        clamps = np.array([float(joint.axial_load(clamp_face, s.forces)) for s in current])
        return CycleMark(
            cycle, float(clamps[-1]), float(clamps.min()), float(clamps.max()), float(current[-1].stretch), jumped
        )

    wanted = sorted({10**k for k in range(9) if done < 10**k < cycles} | {cycles})
    marks = [mark(done, False)]
    error, solved, cycle, time = 0.0, 0, done, start
    steady = False
    watch = None if flowing is None else ZoneWatch(flowing, current[-1])
    if flowing is not None:
        solved_cycles = max(solved_cycles, FLOWING_CYCLES)
    while cycle < min(cycles, done + solved_cycles) and not steady:
        before = current[-1]
        current, crept = one_cycle(joint, repeated, current, settlement, crept, time, flowing)
        cycle, time, solved = cycle + 1, time + repeated.length, solved + 1
        if cycle in wanted:
            marks.append(mark(cycle, False))
        steady = not _creeps(settlement) and _unchanged(before, current[-1])
        if watch is not None:
            watch.cycle_done(current[-1])
            steady = steady and watch.still
        if progress is not None:
            progress(cycle)
    growing = current[-1].stretch - current[0].stretch > 1e-9
    if watch is not None and not steady and cycle < cycles:
        if marks[-1].cycle != cycle:
            marks.append(mark(cycle, False))
        wanted = []
    while cycle < cycles and wanted:
        if steady:
            # nothing moves from one cycle to the next: the rest are copies
            marks += [replace(mark(c, False), cycle=c) for c in wanted if c > cycle]
            cycle = cycles
            break
        aim = min(
            next(c for c in wanted if c > cycle), max(cycle + 1, int(np.ceil(cycle * 10 ** (1 / JUMPS_A_DECADE))))
        )
        current, crept, missed = _jump(joint, repeated, current, settlement, crept, time, aim - cycle)
        time += (aim - cycle) * repeated.length
        error, solved, cycle = error + missed, solved + 2, aim
        if cycle in wanted:
            marks.append(mark(cycle, True))
        if progress is not None:
            progress(cycle)
    stretched = current[-1].stretch - first_stretch
    if growing and stretched > 1e-6:
        verdict = "ratchets"
    elif current[-1].stretch > 1e-9:
        verdict = "shakes down"
    elif settlement is not None:
        verdict = "settles"
    else:
        verdict = "elastic"
    zones = {} if watch is None else watch.results()
    verdict = worst_verdict([verdict, *[zone.verdict for zone in zones.values()]])
    return CycleResult(tuple(marks), error, solved, verdict, tuple(current), cycle, zones)


def _creeps(settlement: Settlement | None) -> bool:
    return settlement is not None and bool(settlement.creeping)


def _unchanged(before: JointState, after: JointState) -> bool:
    largest = max(1.0, float(np.abs(after.forces).max(initial=0.0)))
    return bool(np.abs(before.forces - after.forces).max(initial=0.0) <= 1e-9 * largest)


def one_cycle(
    joint: ReducedJoint,
    repeated: Repeated,
    states: Sequence[JointState],
    settlement: Settlement | None,
    crept: Array,
    start: float,
    flowing: FlowingBodies | None = None,
) -> tuple[list[JointState], Array]:
    """Solve every step of one cycle that starts `start` s after tightening; states are those of the cycle before.

    flowing : bodies that may flow; the last state before must hold their points
    """
    state = states[-1]
    result: list[JointState] = []
    before = start
    for system, time, guess in zip(repeated.systems, repeated.times, states, strict=True):
        now = start + float(time)
        if settlement is not None:
            crept = settlement.creep(state, crept, before, now)
        if flowing is None:
            state = advance(joint, system, state, gap=crept, guess=guess)
        else:
            state = _flowing_step(joint, flowing, system, state, crept, now - before)
        if result:
            result[-1] = kept(result[-1])
        result.append(state)
        before = now
    return result, crept


def _flowing_step(
    joint: ReducedJoint,
    flowing: FlowingBodies,
    system: StepSystem,
    state: JointState,
    crept: Array,
    duration: float,
    depth: int = 0,
) -> JointState:
    """One step of a joint whose bodies flow; cut in two where it is not solved, at most MOST_HALVINGS times."""
    try:
        return flowing.step(joint, state, system, crept, duration)
    except NotConverged:
        if depth >= MOST_HALVINGS:
            raise
    half = prepare(joint, between(state.heat, system.heat), system.outside_load, system.absent)
    for part in (half, system):
        state = _flowing_step(joint, flowing, part, state, crept, 0.5 * duration, depth + 1)
    return state


def _jump(
    joint: ReducedJoint,
    repeated: Repeated,
    states: Sequence[JointState],
    settlement: Settlement | None,
    crept: Array,
    start: float,
    count: int,
) -> tuple[list[JointState], Array, float]:
    """Jump over cycles: the last of them is solved, what crept and stretched before it is carried on; error in N."""
    face = next(face.name for face in joint.interfaces if face.name.startswith("face "))
    length = repeated.length
    skipped = count - 1
    tenfolds = float(np.log10((start + skipped * length) / start)) if skipped else 0.0
    one = float(np.log10((start + length) / start))
    trial, trial_crept = one_cycle(joint, repeated, states, settlement, crept, start)
    rate = (trial_crept - crept) / one
    stretch_rate = trial[-1].stretch - states[-1].stretch

    def landed(creep_rate: Array, stretch_a_cycle: float) -> tuple[list[JointState], Array]:
        carried = crept + creep_rate * tenfolds
        moved = [replace(s, stretch=s.stretch + stretch_a_cycle * skipped) for s in states]
        return one_cycle(joint, repeated, moved, settlement, carried, start + skipped * length)

    first, first_crept = landed(rate, stretch_rate)
    if not skipped:
        return first, first_crept, 0.0
    end = start + skipped * length
    other_one = float(np.log10((end + length) / end))
    new_rate = (first_crept - (crept + rate * tenfolds)) / other_one
    new_stretch = first[-1].stretch - (states[-1].stretch + stretch_rate * skipped)
    second, second_crept = landed(0.5 * (rate + new_rate), 0.5 * (stretch_rate + new_stretch))
    clamps = [float(joint.axial_load(face, s[-1].forces)) for s in (first, second)]
    return second, second_crept, 0.5 * abs(clamps[1] - clamps[0])
