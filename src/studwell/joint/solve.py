"""Semismooth Newton's method on the ports of a reduced joint: one state from the one before."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from studwell.errors import NotConverged
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat, JointState, SolveRecord
from studwell.joint.step_system import StepSystem, free_part, prepare, prepare_many

Array = np.ndarray

TOLERANCE = 1e-11
"""Largest residual that counts as solved, times the largest force in play."""

ROUNDING = 8.0 * float(np.finfo(float).eps)
"""Residual that rounding alone leaves, times the largest sum of terms in it. A loose stud that is turned back carries nothing,
yet its balance is the difference of large numbers (thread stiffness times travel): no step makes it smaller than this."""


@dataclass(frozen=True)
class Control:
    """A screw turned until a sum of port forces reaches a target: coefficients (n,) . forces = target (N or N mm).

    The screw must touch something at the start: a sum that no force can move yet makes the system singular.
    """

    travel: str
    coefficients: Array = field(repr=False)
    target: float


def solve_state(
    joint: ReducedJoint,
    before: JointState,
    heat: Heat,
    *,
    outside_load: float | None = None,
    shear: float | None = None,
    control: Control | None = None,
    travels: Mapping[str, float] | None = None,
    absent: frozenset[str] | None = None,
    most_iterations: int = 80,
) -> JointState:
    """Find the state that follows another one.

    heat          : thermal state of the new instant
    outside_load  : N that cylinder pressure takes from the clamped faces; None keeps the one before
    shear         : MPa of locked-in torsion in the stud's weakest length; None keeps the one before
    control       : a screw whose travel is unknown and the force sum that it must reach
    travels       : travels to impose (mm); the others stay as before
    absent        : interfaces that do not exist yet (the nut is off); None keeps the ones before
    returns       : JointState with its record
    raises NotConverged : with the record of residuals

    Source: semismooth Newton / primal-dual active set for unilateral contact, Hintermueller, Ito & Kunisch (2002).
    """
    system = prepare(
        joint,
        heat,
        before.outside_load if outside_load is None else outside_load,
        before.absent if absent is None else absent,
    )
    return advance(
        joint, system, before, shear=shear, control=control, travels=travels, most_iterations=most_iterations
    )


PREPARED_NUMBERS = 250_000
"""Numbers in the compliances of the instants that are prepared together: small enough to stay near the processor."""


class PreparedSteps:
    """`solve_state` where one step follows another: instants that are named are prepared together, any other one is kept
    for the next step at it, and a step to a named instant is sought from where the last two of them point.

    Serves one joint; the states are those of `solve_state` to its tolerance.
    """

    def __init__(self, joint: ReducedJoint, heats: Sequence[Heat]) -> None:
        """heats : (t,) thermal states in the order in which they come."""
        self._joint, self._heats = joint, heats
        self._number = {id(heat): number for number, heat in enumerate(heats)}
        self._chunk = max(1, PREPARED_NUMBERS // joint.n_ports**2)
        self._ready: dict[tuple[float, frozenset[str]], tuple[int, list[StepSystem]]] = {}
        self._last: StepSystem | None = None
        self._trail: dict[tuple[float, frozenset[str]], tuple[JointState, JointState] | None] = {}

    def __call__(
        self,
        joint: ReducedJoint,
        before: JointState,
        heat: Heat,
        *,
        outside_load: float | None = None,
        absent: frozenset[str] | None = None,
        **rest: Any,
    ) -> JointState:
        """Find the state that follows another one; arguments, result and errors as in `solve_state`."""
        load = before.outside_load if outside_load is None else outside_load
        gone = before.absent if absent is None else absent
        system, trail = self._system(heat, load, gone), self._trail.get((load, gone))
        state, onward = None, id(heat) in self._number and not rest
        if trail is not None and trail[1] is before and onward:
            ahead = {name: 2.0 * getattr(before, name) - getattr(trail[0], name) for name in ("forces", "shifts")}
            with contextlib.suppress(NotConverged):  # where the way bends too much, from the state before
                state = advance(joint, system, before, guess=replace(before, **ahead))
        if state is None:
            state = advance(joint, system, before, **rest)
        self._trail[load, gone] = (before, state) if onward else None
        return state

    def _system(self, heat: Heat, load: float, gone: frozenset[str]) -> StepSystem:
        number = self._number.get(id(heat))
        if number is not None:
            first, systems = self._ready.get((load, gone), (0, []))
            if not first <= number < first + len(systems):
                systems = prepare_many(self._joint, self._heats[number : number + self._chunk], load, gone)
                first = number
                self._ready[load, gone] = first, systems
            return systems[number - first]
        last = self._last
        if last is None or last.heat is not heat or last.outside_load != load or last.absent != gone:
            last = self._last = prepare(self._joint, heat, load, gone)
        return last


def advance(
    joint: ReducedJoint,
    system: StepSystem,
    before: JointState,
    *,
    shear: float | None = None,
    control: Control | None = None,
    travels: Mapping[str, float] | None = None,
    gap: Array | None = None,
    guess: JointState | None = None,
    most_iterations: int = 80,
) -> JointState:
    """Find the state at a prepared instant that follows another one; arguments as in solve_state.

    gap   : (n,) mm added to the ports' gaps (a gasket that crept, a body that flowed)
    guess : where the iteration starts (the same instant a cycle ago, say); None: the state before
    """
    shear = before.shear if shear is None else shear
    imposed = {**before.travels, **(travels or {})}
    nq, n_float = len(system.nonlinear), len(system.floating)
    size = system.rows.shape[1]
    travel_at = {name: nq + n_float + i for i, name in enumerate(system.travel_names)}
    unknown = np.zeros(size)
    near = before if guess is None else guess
    unknown[:nq] = near.forces[system.nonlinear]
    unknown[nq : nq + n_float] = near.shifts[system.floating]
    for name, place in travel_at.items():
        unknown[place] = imposed[name]
    if joint.shank is not None:
        unknown[-1] = near.stretch

    # known travels are held: their columns leave the system
    part_of = system.at_rest if control is None else free_part(system, control.travel)
    free, held = part_of.free, unknown[part_of.held]
    rows, balance, tension_row = part_of.rows, part_of.balance, part_of.tension
    weighted, own, template = part_of.weighted, part_of.own, part_of.template
    opening_at_rest = system.opening_at_rest + part_of.held_rows @ held
    balance_at_rest = system.balance_at_rest + part_of.held_balance @ held
    pushed = None
    if gap is not None:
        pushed = system.gap_to_linear @ gap[system.linear]
        opening_at_rest = opening_at_rest + gap[system.nonlinear] + pushed @ system.across
        balance_at_rest = balance_at_rest + pushed @ system.rigid_linear
    control_row, control_at_rest = None, 0.0
    if control is not None:
        sums, at_rest = system.sums(control.coefficients[None, :])
        control_row = sums[0, free]
        control_at_rest = float(at_rest[0] + sums[0, part_of.held] @ held) - control.target
        if pushed is not None:
            control_at_rest += float(control.coefficients[system.linear] @ pushed)
        template = template.copy()
        template[nq + n_float] = control_row
    shank, tension_at_rest = None, 0.0
    if joint.shank is not None and part_of.held_tension is not None:
        shank = joint.shank[2]
        tension_at_rest = system.tension_at_rest + float(part_of.held_tension @ held)
        if pushed is not None:
            tension_at_rest += float(system.tension_linear @ pushed)
    y = unknown[free]
    n_free = len(free)
    laws, explicit = [], []
    for i, part in system.others:
        law, state = joint.interfaces[i].law, before.law_states[i]
        if hasattr(law, "explicit"):
            explicit.append((law.explicit, state, part, np.arange(part.start, part.stop)))
        else:
            laws.append((law, state, part))

    def evaluate(y: Array) -> tuple[Array, Array, Array]:
        opening = rows @ y + opening_at_rest
        residual, jacobian = np.empty(n_free), template.copy()
        if len(system.contact):
            force, gap = y[system.contact], system.contact_weight * opening[system.contact]
            closed = force >= gap
            residual[system.contact] = np.where(closed, gap, force)
            jacobian[system.contact] = np.where(closed[:, None], weighted, own)
        for force_at, state, part, diagonal in explicit:
            force, slope = force_at(opening[part], state)
            residual[part] = y[part] - force
            jacobian[part] = slope[:, None] * rows[part]
            jacobian[diagonal, diagonal] += 1.0
        for law, state, part in laws:
            r, d_force, d_opening = law.linearise(y[part], opening[part], state)  # type: ignore[attr-defined]
            residual[part] = r
            jacobian[part] = d_opening @ rows[part]
            jacobian[part, part] += d_force
        row = nq + n_float
        residual[nq:row] = balance @ y + balance_at_rest
        if control_row is not None:
            residual[row] = control_row @ y + control_at_rest
            row += 1
        if shank is not None and tension_row is not None:
            tension = float(tension_row @ y) + tension_at_rest
            r, d_tension, d_stretch = shank.residual(
                tension, float(y[-1]), before.stretch, system.heat.stud_yield, shear
            )
            scale = shank.hardening * shank.area / shank.length  # as a force: the shank's own hardening stiffness
            residual[row] = scale * r
            jacobian[row] = scale * d_tension * tension_row
            jacobian[row, -1] += scale * d_stretch
        return residual, jacobian, opening

    def rounding(y: Array) -> float:
        size = np.abs(y)
        terms = np.abs(balance) @ size + np.abs(balance_at_rest)
        pressed = np.abs(weighted) @ size + system.contact_weight * np.abs(opening_at_rest[system.contact])
        return ROUNDING * max(float(terms.max(initial=0.0)), float(pressed.max(initial=0.0)))

    def unsolved(problem: str) -> NotConverged:
        rows_of = [(joint.interfaces[i].name, part) for i, part in system.parts]
        rows_of.append(("the balance of the bodies", slice(nq, nq + n_float)))
        rows_of.append(("what the screw must reach" if control_row is not None else "", slice(nq + n_float, None)))
        at = int(np.argmax(np.abs(residual)))
        where = next((name for name, part in rows_of if at in range(n_free)[part]), "")
        record = SolveRecord(iteration, worst, tuple(residuals), halvings, where)
        return NotConverged(record, f"{problem}{record.words}")

    residuals: list[float] = []
    halvings = 0
    residual, jacobian, opening = evaluate(y)
    worst = float(np.abs(residual).max(initial=0.0))
    iteration = 0
    solved = guess is not None and worst <= 10.0 * TOLERANCE * max(1.0, float(np.abs(y[:nq]).max(initial=0.0)))
    while not solved:
        if iteration == most_iterations:
            raise unsolved("too many iterations")
        iteration += 1
        try:
            step = np.linalg.solve(jacobian, -residual)
        except np.linalg.LinAlgError as problem:
            raise unsolved("singular system") from problem
        if not np.all(np.isfinite(step)):
            raise unsolved("not finite")
        candidate = y + step
        residual, jacobian, opening = evaluate(candidate)
        found = float(np.abs(residual).max(initial=0.0))
        if iteration > 12:
            # past a dozen steps the set of closed pairs may be cycling: shorten the step until the residual falls
            fraction = 1.0
            while found > worst and fraction > 1e-3:
                fraction *= 0.5
                halvings += 1
                candidate = y + fraction * step
                residual, jacobian, opening = evaluate(candidate)
                found = float(np.abs(residual).max(initial=0.0))
        falls, y, worst = found < worst, candidate, found
        residuals.append(worst)
        reach = max(1.0, float(np.abs(y[:nq]).max(initial=0.0)), abs(control.target) if control else 0.0)
        solved = worst <= 10.0 * TOLERANCE * reach or (not falls and worst <= rounding(y))

    unknown[free] = y
    forces = np.zeros(joint.n_ports)
    forces[system.nonlinear] = unknown[:nq]
    forces[system.linear] = system.back @ unknown + system.force_at_rest
    if pushed is not None:
        forces[system.linear] += pushed
    shifts = np.zeros(len(joint.bodies))
    shifts[system.floating] = unknown[nq : nq + n_float]
    if control is not None:
        imposed[control.travel] = float(unknown[travel_at[control.travel]])
    law_states = list(before.law_states)
    for index, part in system.parts:
        law_states[index] = joint.interfaces[index].law.commit(unknown[part], opening[part], before.law_states[index])  # type: ignore[attr-defined]
    openings = system.compliance @ forces + system.extra @ unknown[nq:] + system.constant
    if gap is not None:
        openings += gap
    return JointState(
        forces=forces,
        openings=openings,
        shifts=shifts,
        travels=imposed,
        stretch=float(unknown[-1]) if joint.shank is not None else before.stretch,
        law_states=tuple(law_states),
        heat=system.heat,
        outside_load=system.outside_load,
        shear=shear,
        absent=system.absent,
        record=SolveRecord(iteration, worst, tuple(residuals), halvings),
    )
