"""Many cycles of the same heat: every one solved while they are few, jumps with an error estimate when they are many."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.errors import NotConverged
from studwell.history.course import HeatCourse, between
from studwell.history.flow_jumps import JUMPS_A_DECADE, Carried, Reached, carry_on
from studwell.history.pocket import FilledPocket
from studwell.history.settling import HOUR, Settlement
from studwell.history.zone_cycles import ZoneCycles, ZoneWatch, worst_verdict
from studwell.joint.flowing import FlowingBodies, kept
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import advance
from studwell.joint.state import JointState
from studwell.joint.step_system import StepSystem, prepare

Array = np.ndarray

SOLVED_CYCLES = 30
"""Cycles that are solved one by one before the first jump."""

STILL_STRETCH = 1e-8
"""mm, stretch of the stud in a cycle that counts as none."""

FLOWING_CYCLES = 100
"""Cycles that are solved, at most, of a joint whose bodies flow, those behind jumps too."""

LEAKING_CYCLES = 300
"""Cycles that are solved, at most, of a joint whose pocket leaks."""

MOST_HALVINGS = 4
"""How often a step of a flowing joint is cut in two before it counts as unsolved."""


@dataclass(frozen=True)
class CycleMark:
    """What is left after so many cycles. Forces in N at the lowest face; stretch mm; jumped: reached by a jump; error:
    N, estimated error of the clamps by jumping so far."""

    cycle: int
    clamp_end: float
    clamp_min: float
    clamp_max: float
    stretch: float
    jumped: bool
    error: float = 0.0


@dataclass(frozen=True)
class CycleResult:
    """Many cycles of one joint.

    marks       : at 1, 10, 100 ... cycles and at the last one
    error       : N, estimated error of the last clamp by jumping; 0 where every cycle was solved
    solved      : cycles that were solved step by step; verdict: 'elastic', 'settles', 'shakes down', 'ratchets'
    last        : states of the last cycle
    reached     : cycles done in all; fewer than asked for where `stopped` says why
    zones       : body that may flow -> what its plastic strain did; empty if all is elastic. The verdict is the worst
    stopped     : "" if all cycles asked for were done
    """

    marks: tuple[CycleMark, ...]
    error: float
    solved: int
    verdict: str
    last: tuple[JointState, ...] = field(repr=False)
    reached: int = 0
    zones: Mapping[str, ZoneCycles] = field(default_factory=dict)
    stopped: str = ""


@dataclass(frozen=True)
class Repeated:
    """One cycle's instants prepared once: systems (steps,), times (steps,) s from its start, length s; liquid under the tip."""

    systems: tuple[StepSystem, ...] = field(repr=False)
    times: Array = field(repr=False)
    length: float
    liquid: FilledPocket | None = field(default=None, repr=False)


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
    flowing  : bodies that may flow; then jumps carry on what flows and creeps too, see `history.flow_jumps`

    Gaskets creep in tenfolds of time and a ratcheting stud in numbers of cycles: a jump carries both on at the rates of
    the cycle before it, solves one whole cycle at its end, and repeats itself with the mean of both rates (Heun). The
    error estimate is half the difference of the two, summed over jumps. raises NotConverged
    """
    wanted = sorted({10**k for k in range(9) if done < 10**k < cycles} | {cycles})
    if flowing is not None:
        start_of = Lived(tuple(states), crept, start)
        solver = JointCycles(joint, repeated, settlement, flowing)
        return _flowing_cycles(solver, start_of, done, cycles, solved_cycles, wanted, progress)
    current = list(states)
    first_stretch = states[-1].stretch
    marks = [_mark(joint, current, done)]
    error, solved, cycle, time = 0.0, 0, done, start
    steady = False
    leaks = repeated.liquid is not None and repeated.liquid.leaks
    if leaks:
        solved_cycles = max(solved_cycles, LEAKING_CYCLES)
    while cycle < min(cycles, done + solved_cycles) and not steady:
        before = current[-1]
        current, crept = one_cycle(joint, repeated, current, settlement, crept, time)
        cycle, time, solved = cycle + 1, time + repeated.length, solved + 1
        if cycle in wanted:
            marks.append(_mark(joint, current, cycle))
        steady = not _creeps(settlement) and _unchanged(before, current[-1])
        if progress is not None:
            progress(cycle)
    growing = current[-1].stretch - current[0].stretch > 1e-9
    stopped = ""
    while cycle < cycles:
        if steady:
            # nothing moves from one cycle to the next: the rest are copies
            marks += [replace(_mark(joint, current, c), cycle=c) for c in wanted if c > cycle]
            cycle = cycles
            break
        if leaks:
            stopped = f"the liquid under the tip still leaks after {cycle} cycles, and no jump is made over a leak"
            if marks[-1].cycle != cycle:
                marks.append(_mark(joint, current, cycle))
            break
        aim = min(
            next(c for c in wanted if c > cycle), max(cycle + 1, int(np.ceil(cycle * 10 ** (1 / JUMPS_A_DECADE))))
        )
        current, crept, missed = _jump(joint, repeated, current, settlement, crept, time, aim - cycle)
        time += (aim - cycle) * repeated.length
        error, solved, cycle = error + missed, solved + 2, aim
        if cycle in wanted:
            marks.append(_mark(joint, current, cycle, True, error))
        if progress is not None:
            progress(cycle)
    verdict = _stud_verdict(current[-1].stretch, growing and current[-1].stretch - first_stretch > 1e-6, settlement)
    return CycleResult(tuple(marks), error, solved, verdict, tuple(current), cycle, stopped=stopped)


@dataclass(frozen=True)
class Lived:
    """The last cycle of a flowing joint: its states, how far gaskets have crept (n,) mm, s from tightening to its end."""

    states: tuple[JointState, ...] = field(repr=False)
    crept: Array = field(repr=False)
    time: float


@dataclass(frozen=True)
class JointCycles:
    """Cycles of a joint whose bodies flow, as `flow_jumps.Cycles`; the measure is the clamp at the cycle's end, N."""

    joint: ReducedJoint
    repeated: Repeated
    settlement: Settlement | None
    flowing: FlowingBodies

    @property
    def creeps(self) -> bool:
        """True if gaskets creep."""
        return _creeps(self.settlement)

    def following(self, state: Lived) -> Lived:
        """Return the next cycle, solved."""
        states, crept = one_cycle(
            self.joint, self.repeated, state.states, self.settlement, state.crept, state.time, self.flowing
        )
        return Lived(tuple(states), crept, state.time + self.repeated.length)

    def carried(self, state: Lived) -> Carried:
        """Return the points of all zones, the stud's stretch and how far gaskets crept."""
        last = state.states[-1]
        if last.flow is None or not last.flow.zones:
            raise ValueError("the state that ends the cycle does not hold its zones' points")
        return Carried(last.flow.zones, last.stretch, state.crept)

    def moved(self, state: Lived, carried: Carried, skipped: int) -> Lived:
        """Return a cycle's end with other things carried on, so many cycles later."""
        last = state.states[-1]
        assert last.flow is not None
        strain = {name: zone.inelastic.astype(np.float32) for name, zone in carried.zones.items()}
        flow = replace(last.flow, zones=carried.zones, strain=strain, effects={})
        states = (*state.states[:-1], replace(last, stretch=carried.stretch, flow=flow))
        return Lived(states, np.asarray(carried.crept), state.time + skipped * self.repeated.length)

    def clock(self, state: Lived, later: int) -> float:
        """Return tenfolds of time from tightening, or cycles where no gasket creeps yet; see `flow_jumps.Cycles`."""
        time = state.time + later * self.repeated.length
        if not self.creeps or state.time - self.repeated.length < HOUR:
            return time / self.repeated.length
        return float(np.log10(time))

    def measure(self, state: Lived) -> float:
        """Return the clamp at the cycle's end, N."""
        return float(self.joint.axial_load(_clamp_face(self.joint), state.states[-1].forces))


def _flowing_cycles(
    solver: JointCycles,
    start: Lived,
    done: int,
    cycles: int,
    first: int,
    wanted: Sequence[int],
    progress: Callable[[int], None] | None,
) -> CycleResult:
    """Repeat the cycle of a joint whose bodies flow; arguments as in `many_cycles`."""
    marks = [_mark(solver.joint, start.states, done)]
    watch = ZoneWatch(solver.carried(start).zones)

    def tell(reached: Reached) -> None:
        if reached.solved:
            watch.take(reached)
        if reached.cycle in wanted:
            marks.append(_mark(solver.joint, reached.state.states, reached.cycle, reached.jumped, reached.error))
        if progress is not None:
            progress(reached.cycle)

    end = carry_on(
        solver,
        start,
        done=done,
        aim=cycles,
        first=first,
        most=max(first, FLOWING_CYCLES),
        wanted=wanted,
        tell=tell,
    )
    last: Lived = start if end.last is None else end.last.state
    error = 0.0 if end.last is None else end.last.error
    if end.stopped and marks[-1].cycle != end.reached:
        marks.append(_mark(solver.joint, last.states, end.reached, end.last is not None and end.last.jumped, error))
    stretch = last.states[-1].stretch
    growing = end.last is not None and end.last.more.stretch > STILL_STRETCH
    zones = watch.results()
    verdict = worst_verdict(
        [_stud_verdict(stretch, growing, solver.settlement), *[zone.verdict for zone in zones.values()]]
    )
    return CycleResult(
        tuple(marks), max(error, marks[-1].error), end.solved, verdict, last.states, end.reached, zones, end.stopped
    )


def _clamp_face(joint: ReducedJoint) -> str:
    return next(face.name for face in joint.interfaces if face.name.startswith("face "))


def _mark(
    joint: ReducedJoint, states: Sequence[JointState], cycle: int, jumped: bool = False, error: float = 0.0
) -> CycleMark:
    """What the states of a cycle leave."""
    face = _clamp_face(joint)
    clamps = np.array([float(joint.axial_load(face, s.forces)) for s in states])
    ends = (float(clamps[-1]), float(clamps.min()), float(clamps.max()))
    return CycleMark(cycle, *ends, float(states[-1].stretch), jumped, error)


def _stud_verdict(stretch: float, growing: bool, settlement: Settlement | None) -> str:
    if growing:
        return "ratchets"
    if stretch > 1e-9:
        return "shakes down"
    return "elastic" if settlement is None else "settles"


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
        if repeated.liquid is not None:
            state = repeated.liquid.ready(state, system.heat, now - before)
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
