"""The stages of a joint's life: seat the stud, tighten the nut, run the heat history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from studwell.case.records import Setup
from studwell.errors import NotConverged
from studwell.history.course import HeatCourse, between, given_course, solved_course
from studwell.history.flow import flow_warnings, with_zones
from studwell.history.heat import HeatModel
from studwell.history.pocket import filled_pocket, liquid_warnings, with_liquid
from studwell.history.result import HistoryResult
from studwell.history.seating import breaks, broken, named, seat_stud
from studwell.history.settling import settlement_of
from studwell.history.torques import Torques, torques_of
from studwell.joint.bodies import SectionBody
from studwell.joint.flank_law import ThreadFlanks
from studwell.joint.flow_zones import flowing_bodies
from studwell.joint.flowing import FlowingBodies, kept
from studwell.joint.forces import forces_of
from studwell.joint.grooves import turned
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import Control, PreparedSteps, solve_state
from studwell.joint.state import Heat, JointState, shank_tension, start_state
from studwell.section.layout import Layout
from studwell.section.seat import Seat
from studwell.units import as_text

Array = np.ndarray

PRESSED = 1e-6
"""mm past the first touch: rounding then leaves no flank open where the search for the first pull starts."""

TIGHTENING_STEPS = 10
BREAKING_WITHIN = 2e-3
"""Share of the torque to which the one that breaks a stud is found."""
AT_THE_HOLE = ("boss thread", "insert thread", "tip", "seat", "pocket")
"""Interfaces that a stud meets before anything is put over it."""

MOST_HALVINGS = 6
MOST_GIVEN_CYCLES = 3
"""Cycles of given temperatures that a history keeps whole; `history.cycles` repeats the last one for the rest."""


def live_through(
    setup: Setup,
    layout: Layout,
    bodies: tuple[SectionBody, ...],
    joint: ReducedJoint,
    seat: Seat,
    *,
    yield_strength: float,
    constant_modulus: bool = False,
    progress: Callable[[int], None] | None = None,
    solver: Callable[..., JointState] = solve_state,
    labels: tuple[tuple[int, str], ...] | None = None,
    flowing: FlowingBodies | None = None,
) -> HistoryResult:
    """Take a joint through seating, tightening and its heat history.

    yield_strength   : MPa of the stud's class at room temperature
    constant_modulus : True keeps moduli at their reference values (for checks against the full path)
    progress         : called with the number of steps done
    labels           : (index, label) of named instants of solved heat
    solver           : finds the state that follows another; `joint.full.FullJoint.solver` takes the reference path
    flowing          : the setup's bodies that may flow, if made before; None makes them where the setup asks for them
    raises Unknown      : a body is to flow whose material has no data for it
    raises NotConverged : naming stage and time, with the record of the last attempt
    """
    nodes = setup.history.node_names
    model = heat_model(setup, layout, bodies, joint, yield_strength, constant_modulus)
    course = course_of(setup, model, labels)
    torques = torques_of(setup, layout)
    later = frozenset(face.name for face in joint.interfaces if face.name not in AT_THE_HOLE)
    loose = start_state(joint, course.assembly, absent=later)
    if setup.inelastic is None:
        flowing = None
    else:
        flowing = flowing or flowing_bodies(setup.inelastic, layout, bodies, joint)
        course = with_zones(course, flowing, bodies, setup.history.assembly_temperature)
        solver = flowing.solver(solver)
        loose = replace(loose, heat=course.assembly, flow=flowing.start())
    liquid = filled_pocket(setup, joint)
    if liquid is not None:
        course = with_liquid(course, bodies, setup.history.assembly_temperature)
    if solver is solve_state:
        solver = PreparedSteps(joint, course.heats)
    if liquid is not None:
        solver = liquid.solver(solver)
        loose = liquid.at_first_contact(replace(loose, heat=course.assembly))
    seated, seating = seat_stud(setup, joint, loose, torques, layout, solver)
    if liquid is not None:
        seated = liquid.as_fitted(joint, seated)
    refinements: list[tuple[str, float, int]] = []

    tightening = _tighten(setup, joint, seated, torques, layout, solver)
    assembled = _locked(setup, joint, tightening[-1], solver)

    settlement = settlement_of(setup, layout, joint, course)
    crept = np.zeros(joint.n_ports)
    again = _retighten_index(setup, course)
    state, heat_before = assembled, course.assembly
    run: list[JointState] = []
    pressurised: list[JointState] = []
    retightened: JointState | None = None
    outside = pressure_load(setup)
    start = passed = course.times[0]
    for step, (time, heat) in enumerate(zip(course.times, course.heats, strict=True)):
        now = heat
        if settlement is not None:
            if step:
                crept = settlement.creep(state, crept, course.times[step - 1] - start, time - start)
            now = settlement.settled(heat, time - start, crept)
            state = settlement.with_springs_set(joint, state, settlement.share(time - start))
        state, cuts = _step(joint, state, heat_before, now, f"run, {time:.0f} s", solver, float(time - passed))
        passed = time
        if cuts:
            refinements.append(("run", float(time), cuts))
        if run:
            run[-1] = kept(run[-1])
        run.append(state)
        if outside:
            attempt = partial(solver, joint, state, state.heat, outside_load=outside)
            pressurised.append(kept(named("run under cylinder pressure", time, attempt)))
        heat_before = now
        if step == again:
            cold = course.assembly
            if settlement is not None:
                cold = settlement.settled(cold, time - start, crept)
            retightened = _retightened(setup, joint, state, now, cold, torques, solver)
            state, heat_before = retightened, cold
        if progress is not None:
            progress(step + 1)
    return HistoryResult(
        seated=kept(seated),
        tightening=tuple(kept(each) for each in tightening),
        run=tuple(run),
        pressurised=tuple(pressurised),
        times=course.times,
        temperatures=course.temperatures,
        node_names=nodes,
        labels=course.labels,
        seat=seat,
        seating=seating,
        torques=torques,
        refinements=tuple(refinements),
        seated_forces=forces_of(joint, [seated]),
        tightening_forces=forces_of(joint, tightening),
        run_forces=forces_of(joint, run),
        pressurised_forces=forces_of(joint, pressurised) if pressurised else None,
        course=course,
        settlement=settlement,
        crept=crept,
        retightened=None if retightened is None else kept(retightened),
        retightened_after=again if retightened is not None else None,
        flowing=flowing,
        liquid=liquid,
        warnings=(
            *flow_warnings(flowing, course, [*run, *pressurised]),
            *liquid_warnings(liquid, joint, course, [*run, *pressurised]),
        ),
    )


def heat_model(
    setup: Setup,
    layout: Layout,
    bodies: tuple[SectionBody, ...],
    joint: ReducedJoint,
    yield_strength: float,
    constant_modulus: bool = False,
) -> HeatModel:
    """Return what turns a setup's node temperatures into thermal states; arguments as in live_through."""
    nodes = setup.history.node_names
    return HeatModel(
        layout,
        bodies,
        joint,
        nodes,
        setup.history.assembly_temperature,
        _stretch_weights(layout, nodes),
        yield_strength,
        constant_modulus,
    )


def course_of(setup: Setup, model: HeatModel, labels: tuple[tuple[int, str], ...] | None) -> HeatCourse:
    """Return a setup's course of heat: solved where its bodies carry solved fields, else as given at points."""
    history = setup.history
    temperatures = np.array(history.temperatures, dtype=float)
    if any(body.solved is not None for body in model.bodies):
        return solved_course(model, np.array(history.times), temperatures.T, labels or ())
    return given_course(
        model, history.times, temperatures, history.labels, history.steps, min(history.cycles, MOST_GIVEN_CYCLES)
    )


def _locked(setup: Setup, joint: ReducedJoint, tight: JointState, solver: Callable[..., JointState]) -> JointState:
    """The nut locked where it stands; part of the wrench's twist springs back."""
    locked = replace(tight, shear=setup.tightening.locked_torsion_share * tight.shear)
    if not locked.shear:
        return locked
    return named("tighten", 0.0, lambda: solver(joint, locked, locked.heat))


def _cycle_time(setup: Setup) -> float:
    """Length of one cycle, s; a history of solved heat lists the instants of all cycles in its times."""
    phases = setup.history.phases
    return sum(phase.duration for phase in phases) if phases else setup.history.cycle_time


def _retighten_index(setup: Setup, course: HeatCourse) -> int | None:
    """Step after which the nut is tightened again, None if it is not."""
    wanted = setup.retighten
    if wanted is None:
        return None
    if wanted.kind == "first heat":
        return course.first_heat_ends
    start = course.times[0]
    time = wanted.time if wanted.kind == "time" else (wanted.cycle or 0) * _cycle_time(setup)
    return int(np.argmin(np.abs(course.times - (start + float(time or 0.0)))))


def _retightened(
    setup: Setup,
    joint: ReducedJoint,
    state: JointState,
    hot: Heat,
    cold: Heat,
    torques: Torques,
    solver: Callable[..., JointState],
) -> JointState:
    """The joint brought to its assembly temperature and its nut turned on until the wrench clicks again.

    A nut that needs more than the torque to turn stays where it is.
    """
    cooled, _ = _step(joint, state, hot, cold, "re-tighten, cooling", solver)
    coefficients, target = torques.tightening_control(joint)
    if float(coefficients @ cooled.forces) >= target:
        return cooled
    shear = torques.shear_while_tightening(1.0)
    control = Control("nut", coefficients, target)
    cooled = turned(joint, cooled, "nut thread")
    tight = named("re-tighten", 0.0, lambda: solver(joint, cooled, cold, control=control, shear=shear))
    return _locked(setup, joint, tight, solver)


def _stretch_weights(layout: Layout, nodes: tuple[str, ...]) -> Array:
    """Temperature of the stud's weakest length from the two stud nodes, linear in z."""
    low, high = layout.stud.stretch
    share = (0.5 * (low + high) - layout.tip_z) / (layout.stud_top - layout.tip_z)
    weights = np.zeros(len(nodes))
    weights[nodes.index("stud_tip")] += 1.0 - share
    weights[nodes.index("stud_top")] += share
    return weights


def pressure_load(setup: Setup) -> float:
    """Return what cylinder pressure takes off the clamped faces at each stud, N; 0 without pressure."""
    if setup.pressure is None:
        return 0.0
    return setup.pressure.peak * np.pi / 4 * setup.pressure.bore**2 / setup.n_studs


def _tighten(
    setup: Setup,
    joint: ReducedJoint,
    seated: JointState,
    torques: Torques,
    layout: Layout,
    solver: Callable[..., JointState],
) -> list[JointState]:
    coefficients, target = torques.tightening_control(joint)
    states: list[JointState] = []
    state = seated
    # the nut run down by hand until it has pulled the stud's teeth against the boss's: where the search starts
    stud, play = joint.body_index("stud"), thread_play(joint, seated)
    pressed = PRESSED if play else 0.0
    shifts = seated.shifts.copy()
    shifts[stud] += play + pressed
    reach = float(shifts[stud]) + layout.nut_lift + pressed
    state = replace(state, shifts=shifts, travels={**state.travels, "nut": max(reach, 0.0)})

    def tightened(before: JointState, share: float) -> tuple[JointState, bool]:
        """The nut on at a share of what is asked for, and whether the stud has broken by then."""
        shear = torques.shear_while_tightening(share)
        control = Control("nut", coefficients, target * share)
        start = turned(joint, before, "nut thread")
        found = named(
            f"tighten, {100 * share:.0f} %",
            0.0,
            lambda: solver(joint, start, start.heat, control=control, shear=shear, absent=frozenset()),
        )
        return found, breaks(setup, shear, shank_tension(joint, found), layout)

    def is_broken_at(before: JointState, share: float) -> bool:
        return tightened(before, share)[1]

    done = 0.0
    for step in range(1, TIGHTENING_STEPS + 1):
        share = step / TIGHTENING_STEPS
        after, is_broken = tightened(state, share)
        if is_broken:
            where = _breaking_share(partial(is_broken_at, state), done, share)
            kind = "force" if torques.by_preload else "torque"
            reached, asked = (as_text(target * part, kind, digits=3) for part in (where, 1.0))
            raise broken(setup, layout, f"tightening, at {reached} of the {asked} that is asked for")
        states.append(after)
        state, done = after, share
    return states


def thread_play(joint: ReducedJoint, seated: JointState) -> float:
    """Return how far a pull lifts the stud, mm, before the carrying flanks of its boss thread meet; 0 without play."""
    law = joint.interface("boss thread").law
    if not isinstance(law, ThreadFlanks):
        return 0.0
    ports = np.arange(joint.n_ports)[joint.slices["boss thread"]][: law.carrying]
    closing = -joint.rigid[ports, joint.body_index("stud")]
    meets = closing > 0.0
    if not meets.any():
        return 0.0
    return max(0.0, float((seated.openings[ports][meets] / closing[meets]).min()))


def _breaking_share(is_broken: Callable[[float], bool], whole: float, share: float) -> float:
    """Return the share of the target, between one at which the stud is whole and one at which it is not, where it breaks."""
    low, high = whole, share
    while high - low > BREAKING_WITHIN * high:
        middle = 0.5 * (low + high)
        try:
            low, high = (low, middle) if is_broken(middle) else (middle, high)
        except NotConverged:
            high = middle
    return high


def _step(
    joint: ReducedJoint,
    state: JointState,
    before: Heat,
    now: Heat,
    name: str,
    solver: Callable[..., JointState],
    duration: float = 0.0,
) -> tuple[JointState, int]:
    """One step from a thermal state to the next, duration s; halved on failure, at most MOST_HALVINGS times."""
    pending = [(before, now, 0)]
    cuts = 0
    while pending:
        start, end, depth = pending.pop()
        try:
            timed = state.flow is not None or end.pocket is not None
            state = solver(joint, state, end, **({"duration": duration * 0.5**depth} if timed else {}))
        except NotConverged as problem:
            if depth >= MOST_HALVINGS:
                raise NotConverged(problem.record, f"{name}: {problem.problem}, after {depth} halvings") from problem
            middle = between(start, end)
            pending += [(middle, end, depth + 1), (start, middle, depth + 1)]
            cuts = max(cuts, depth + 1)
    return state, cuts
