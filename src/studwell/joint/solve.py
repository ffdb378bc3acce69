"""Semismooth Newton's method on the ports of a reduced joint: one state from the one before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import scipy.linalg

from studwell.errors import NotConverged
from studwell.joint.laws import UnilateralContact
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat, JointState, SolveRecord, mode_amplitudes

Array = np.ndarray

LOOSE_STIFFNESS = 1e-8
"""N/mm that keeps a body in place which nothing touches; at 1 mm it carries 1e-8 N. A numerical device, no part."""

TOLERANCE = 1e-11
"""Largest residual that counts as solved, times the largest force in play."""


@dataclass(frozen=True)
class Control:
    """A screw turned until a sum of port forces reaches a target: coefficients (n,) . forces = target (N or N mm).

    The screw must touch something at the start: a sum that no force can move yet makes the system singular.
    """

    travel: str
    coefficients: Array = field(repr=False)
    target: float


@dataclass(frozen=True)
class StepSystem:
    """A joint at one thermal state with its linear laws eliminated: what every state at that instant shares.

    Unknowns: forces of the q nonlinear ports, shifts of the floating bodies, travels of all screws, plastic stretch.
    opening of the nonlinear ports = rows @ unknowns + opening_at_rest
    forces of the linear ports     = back @ unknowns + force_at_rest
    gap_to_linear (l, l): what a gap added to the linear ports adds to force_at_rest; across (l, q), rigid_linear and
    tension_linear carry that on to the openings, the balances and the tension
    net force on floating bodies   = balance @ unknowns + balance_at_rest
    """

    heat: Heat
    outside_load: float
    absent: frozenset[str]
    compliance: Array = field(repr=False)
    extra: Array = field(repr=False)
    constant: Array = field(repr=False)
    nonlinear: Array = field(repr=False)
    linear: Array = field(repr=False)
    floating: Array = field(repr=False)
    travel_names: tuple[str, ...]
    rows: Array = field(repr=False)
    opening_at_rest: Array = field(repr=False)
    back: Array = field(repr=False)
    force_at_rest: Array = field(repr=False)
    balance: Array = field(repr=False)
    balance_at_rest: Array = field(repr=False)
    tension: Array | None = field(repr=False)
    tension_at_rest: float
    contact: Array = field(repr=False)
    contact_weight: Array = field(repr=False)
    others: tuple[tuple[int, slice], ...]
    parts: tuple[tuple[int, slice], ...]
    gap_to_linear: Array = field(repr=False)
    across: Array = field(repr=False)
    rigid_linear: Array = field(repr=False)
    tension_linear: Array = field(repr=False)

    @cached_property
    def at_rest(self) -> _Free:
        """The system with every screw held where it is: what most steps solve."""
        return _free(self, None)

    def sums(self, vectors: Array) -> tuple[Array, Array]:
        """Return sums of all port forces, vectors (k, n), as (k, unknowns) and (k,) at rest."""
        nq = len(self.nonlinear)
        result = vectors[:, self.linear] @ self.back
        result[:, :nq] += vectors[:, self.nonlinear]
        return result, vectors[:, self.linear] @ self.force_at_rest


@dataclass(frozen=True)
class _Free:
    """The part of a system that moves, with one screw turned or none: arrays that every iteration uses again."""

    free: Array
    held: Array
    rows: Array
    held_rows: Array
    balance: Array
    held_balance: Array
    tension: Array | None
    held_tension: Array | None
    weighted: Array
    own: Array
    template: Array


def _free(system: StepSystem, turned: str | None) -> _Free:
    nq, n_float = len(system.nonlinear), len(system.floating)
    moving = np.ones(system.rows.shape[1], dtype=bool)
    for i, name in enumerate(system.travel_names):
        moving[nq + n_float + i] = name == turned
    free, held = np.flatnonzero(moving), np.flatnonzero(~moving)
    rows, balance = system.rows[:, free], system.balance[:, free]
    template = np.zeros((len(free), len(free)))
    template[nq : nq + n_float] = balance
    return _Free(
        free=free,
        held=held,
        rows=rows,
        held_rows=system.rows[:, held],
        balance=balance,
        held_balance=system.balance[:, held],
        tension=None if system.tension is None else system.tension[free],
        held_tension=None if system.tension is None else system.tension[held],
        weighted=system.contact_weight[:, None] * rows[system.contact],
        own=np.eye(len(free))[system.contact],
        template=template,
    )


def prepare(joint: ReducedJoint, heat: Heat, outside_load: float, absent: frozenset[str]) -> StepSystem:
    """Return the joint at one thermal state with its linear laws eliminated.

    outside_load : N that cylinder pressure takes from the clamped faces
    absent       : interfaces that do not exist yet
    """
    n, bodies = joint.n_ports, len(joint.bodies)
    present = np.ones(n, dtype=bool)
    for name in absent:
        if joint.has(name):
            present[joint.slices[name]] = False
    ratios = heat.modulus_ratio
    compliance = np.tensordot(1.0 / ratios, joint.body_compliance, axes=1)
    constant = joint.gap.copy()
    if heat.gap_change is not None:
        constant += heat.gap_change
    for index in range(bodies):
        constant += joint.strain_response[index] @ mode_amplitudes(joint, index, heat, 0.0)
        if outside_load:
            body = joint.bodies[index]
            constant += (outside_load / ratios[index]) * (
                joint.weights[index].T @ (body.compliance @ joint.outside[index])
            )
    floating = np.array([i for i in range(bodies) if joint.bodies[i].floating], dtype=int)
    names = tuple(joint.travels)
    columns = [joint.rigid[:, floating], *[joint.travels[name][:, None] for name in names]]
    if joint.shank is not None:
        body_index, mode, law = joint.shank
        columns.append(joint.strain_response[body_index][:, mode][:, None] / law.length)
    extra = np.concatenate(columns, axis=1)

    linear = np.flatnonzero(joint.linear & present)
    q = np.flatnonzero(~joint.linear & present)
    nq, n_extra, n_float = len(q), extra.shape[1], len(floating)
    rows = np.concatenate([compliance[np.ix_(q, q)], extra[q]], axis=1)
    at_rest = constant[q]
    if len(linear):
        block = compliance[np.ix_(linear, linear)]
        block[np.diag_indices(len(linear))] += joint.linear_compliance[linear]
        across = compliance[np.ix_(linear, q)]
        right = np.concatenate([across, extra[linear], constant[linear][:, None], np.eye(len(linear))], axis=1)
        factor = scipy.linalg.cho_factor(block, lower=True, overwrite_a=True, check_finite=False)
        solved = -scipy.linalg.cho_solve(factor, right, overwrite_b=True, check_finite=False)
        width = nq + n_extra
        back, force_at_rest, gap_to_linear = solved[:, :width], solved[:, width], solved[:, width + 1 :]
        rows += across.T @ back
        at_rest = at_rest + across.T @ force_at_rest
    else:
        back, force_at_rest = np.zeros((0, nq + n_extra)), np.zeros(0)
        gap_to_linear, across = np.zeros((0, 0)), np.zeros((0, nq))

    rigid = joint.rigid[:, floating]
    balance = rigid[linear].T @ back
    balance[:, :nq] += rigid[q].T
    balance[np.arange(n_float), nq + np.arange(n_float)] -= LOOSE_STIFFNESS
    outside_axial = np.array([joint.bodies[i].axial_resultant @ joint.outside[i] for i in floating])
    balance_at_rest = rigid[linear].T @ force_at_rest + outside_load * outside_axial

    tension, tension_at_rest, tension_linear = None, 0.0, np.zeros(len(linear))
    if joint.shank is not None:
        tension_rows = joint.bodies[joint.shank[0]].tension
        assert tension_rows is not None
        tension_linear = (tension_rows[0] @ joint.weights[joint.shank[0]])[linear]
        tension, tension_at_rest = _tension_row(joint, heat, outside_load, q, linear, back, force_at_rest, n_extra)

    contact, weights, others, parts = [], [], [], []
    position = 0
    for index, face in enumerate(joint.interfaces):
        if face.law.linear or face.name in absent:
            continue
        part = slice(position, position + face.count)
        parts.append((index, part))
        if isinstance(face.law, UnilateralContact):
            contact.append(np.arange(part.start, part.stop))
            weights.append(np.full(face.count, face.law.weight))
        else:
            others.append((index, part))
        position += face.count
    return StepSystem(
        heat=heat,
        outside_load=outside_load,
        absent=absent,
        compliance=compliance,
        extra=extra,
        constant=constant,
        nonlinear=q,
        linear=linear,
        floating=floating,
        travel_names=names,
        rows=rows,
        opening_at_rest=at_rest,
        back=back,
        force_at_rest=force_at_rest,
        balance=balance,
        balance_at_rest=balance_at_rest,
        tension=tension,
        tension_at_rest=tension_at_rest,
        contact=np.concatenate(contact) if contact else np.zeros(0, dtype=int),
        contact_weight=np.concatenate(weights) if weights else np.zeros(0),
        others=tuple(others),
        parts=tuple(parts),
        gap_to_linear=gap_to_linear,
        across=across,
        rigid_linear=rigid[linear],
        tension_linear=tension_linear,
    )


def _tension_row(
    joint: ReducedJoint,
    heat: Heat,
    outside_load: float,
    q: Array,
    linear: Array,
    back: Array,
    force_at_rest: Array,
    n_extra: int,
) -> tuple[Array, float]:
    """Return the stud's tension as a row over the unknowns and its value at rest."""
    assert joint.shank is not None
    body_index, mode, law = joint.shank
    rows = joint.bodies[body_index].tension
    assert rows is not None
    force_row, strain_row = rows
    ports = force_row @ joint.weights[body_index]
    row = ports[linear] @ back
    row[: len(q)] += ports[q]
    ratio = float(heat.modulus_ratio[body_index])
    row[len(q) + n_extra - 1] += ratio * strain_row[mode] / law.length
    at_rest = float(ports[linear] @ force_at_rest)
    at_rest += ratio * float(strain_row @ mode_amplitudes(joint, body_index, heat, 0.0))
    at_rest += outside_load * float(force_row @ joint.outside[body_index])
    return row, at_rest


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
    part_of = system.at_rest if control is None else _free(system, control.travel)
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
    laws = [(joint.interfaces[i].law, before.law_states[i], part) for i, part in system.others]

    def evaluate(y: Array) -> tuple[Array, Array, Array]:
        opening = rows @ y + opening_at_rest
        residual, jacobian = np.empty(n_free), template.copy()
        if len(system.contact):
            force, gap = y[system.contact], system.contact_weight * opening[system.contact]
            closed = force >= gap
            residual[system.contact] = np.where(closed, gap, force)
            jacobian[system.contact] = np.where(closed[:, None], weighted, own)
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

    residuals: list[float] = []
    halvings = 0
    residual, jacobian, opening = evaluate(y)
    worst = float(np.abs(residual).max(initial=0.0))
    iteration = 0
    solved = guess is not None and worst <= 10.0 * TOLERANCE * max(1.0, float(np.abs(y[:nq]).max(initial=0.0)))
    while not solved:
        iteration += 1
        if iteration > most_iterations:
            raise NotConverged(SolveRecord(most_iterations, worst, tuple(residuals), halvings), "too many iterations")
        try:
            step = np.linalg.solve(jacobian, -residual)
        except np.linalg.LinAlgError as problem:
            raise NotConverged(
                SolveRecord(iteration, worst, tuple(residuals), halvings), "singular system"
            ) from problem
        if not np.all(np.isfinite(step)):
            raise NotConverged(SolveRecord(iteration, worst, tuple(residuals), halvings), "not finite")
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
        y, worst = candidate, found
        residuals.append(worst)
        reach = max(1.0, float(np.abs(y[:nq]).max(initial=0.0)), abs(control.target) if control else 0.0)
        solved = worst <= 10.0 * TOLERANCE * reach

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
