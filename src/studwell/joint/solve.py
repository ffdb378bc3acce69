"""Semismooth Newton's method on the ports of a reduced joint: one state from the one before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import scipy.linalg

from studwell.errors import NotConverged
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import Heat, JointState, SolveRecord, mode_amplitudes

Array = np.ndarray

LOOSE_STIFFNESS = 1e-8
"""N/mm that keeps a body in place which nothing touches; at 1 mm it carries 1e-8 N. A numerical device, no part."""

TOLERANCE = 1e-11
"""Largest residual that counts as solved, times the largest force in play."""


@dataclass(frozen=True)
class Control:
    """A screw turned until a sum of port forces reaches a target: coefficients (n,) . forces = target (N or N mm)."""

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
    absent = before.absent if absent is None else absent
    outside_load = before.outside_load if outside_load is None else outside_load
    shear = before.shear if shear is None else shear
    imposed = {**before.travels, **(travels or {})}
    n, bodies = joint.n_ports, len(joint.bodies)
    present = np.ones(n, dtype=bool)
    for name in absent:
        if joint.has(name):
            present[joint.slices[name]] = False

    compliance = np.einsum("b,bij->ij", 1.0 / heat.modulus_ratio, joint.body_compliance)
    constant = joint.gap.copy()
    if heat.gap_change is not None:
        constant += heat.gap_change
    for index in range(bodies):
        amplitudes = mode_amplitudes(joint, index, heat, 0.0)
        constant += joint.strain_response[index] @ amplitudes
        if outside_load:
            body = joint.bodies[index]
            constant += (outside_load / heat.modulus_ratio[index]) * (
                joint.weights[index].T @ (body.compliance @ joint.outside[index])
            )
    for name, value in imposed.items():
        if control is None or name != control.travel:
            constant += joint.travels[name] * value
    floating = np.array([i for i in range(bodies) if joint.bodies[i].floating], dtype=int)
    rigid = joint.rigid[:, floating]
    outside_axial = np.array([outside_load * (joint.bodies[i].axial_resultant @ joint.outside[i]) for i in floating])

    # columns that follow the nonlinear ports: shifts of floating bodies, the turned screw, the plastic strain
    extra = [rigid]
    if control is not None:
        extra.append(joint.travels[control.travel][:, None])
    plastic_column = np.zeros(n)
    if joint.shank is not None:
        shank_body, shank_mode, shank_law = joint.shank
        plastic_column = joint.strain_response[shank_body][:, shank_mode] / shank_law.length
        extra.append(plastic_column[:, None])
    extra_columns = np.concatenate(extra, axis=1)
    n_extra = extra_columns.shape[1]

    linear = np.flatnonzero(joint.linear & present)
    q = np.flatnonzero(~joint.linear & present)
    nq = len(q)
    # opening = compliance @ force + extra @ z + constant; on linear ports opening = -compliance_l * force
    block = compliance[np.ix_(linear, linear)] + np.diag(joint.linear_compliance[linear])
    right = np.concatenate([compliance[np.ix_(linear, q)], extra_columns[linear], constant[linear][:, None]], axis=1)
    if len(linear):
        factor = scipy.linalg.cho_factor(block, check_finite=False)
        back = -scipy.linalg.cho_solve(factor, right, check_finite=False)
    else:
        back = right
    # forces on linear ports = back @ [force_q, z, 1]
    rows = np.concatenate([compliance[np.ix_(q, q)], extra_columns[q], constant[q][:, None]], axis=1)
    if len(linear):
        rows = rows + compliance[np.ix_(q, linear)] @ back

    def sum_rows(vectors: Array) -> Array:
        """(k, n) sums of all port forces -> (k, nq + n_extra + 1) in the reduced unknowns."""
        result = np.zeros((vectors.shape[0], nq + n_extra + 1))
        result[:, :nq] = vectors[:, q]
        if len(linear):
            result += vectors[:, linear] @ back
        return result

    balance = sum_rows(rigid.T)
    balance[:, -1] += outside_axial
    n_float = len(floating)
    balance[np.arange(n_float), nq + np.arange(n_float)] -= LOOSE_STIFFNESS
    control_row = None
    if control is not None:
        control_row = sum_rows(control.coefficients[None, :])[0]
    tension_row = None
    if joint.shank is not None:
        tension_row = _tension_row(joint, heat, outside_load, sum_rows, n_extra, nq)

    unknown = np.zeros(nq + n_extra)
    unknown[:nq] = before.forces[q]
    unknown[nq : nq + n_float] = before.shifts[floating]
    if control is not None:
        unknown[nq + n_float] = before.travels[control.travel]
    if joint.shank is not None:
        unknown[-1] = before.stretch

    segments = []
    position = 0
    for index, face in enumerate(joint.interfaces):
        if face.law.linear or face.name in absent:
            continue
        segments.append((index, slice(position, position + face.count)))
        position += face.count

    def evaluate(y: Array) -> tuple[Array, Array, Array]:
        opening = rows[:, :-1] @ y + rows[:, -1]
        size = nq + n_extra
        residual, jacobian = np.empty(size), np.zeros((size, size))
        for index, part in segments:
            law = joint.interfaces[index].law
            r, d_force, d_opening = law.linearise(y[part], opening[part], before.law_states[index])  # type: ignore[attr-defined]
            residual[part] = r
            jacobian[part] = d_opening @ rows[part, :-1]
            jacobian[part, part] += d_force
        residual[nq : nq + n_float] = balance[:, :-1] @ y + balance[:, -1]
        jacobian[nq : nq + n_float] = balance[:, :-1]
        row = nq + n_float
        if control is not None and control_row is not None:
            residual[row] = control_row[:-1] @ y + control_row[-1] - control.target
            jacobian[row] = control_row[:-1]
            row += 1
        if joint.shank is not None and tension_row is not None:
            shank = joint.shank[2]
            tension = float(tension_row[:-1] @ y + tension_row[-1])
            r, d_tension, d_stretch = shank.residual(tension, float(y[-1]), before.stretch, heat.stud_yield, shear)
            # as a force: the shank's own hardening stiffness
            scale = shank.hardening * shank.area / shank.length
            residual[row] = scale * r
            jacobian[row] = scale * d_tension * tension_row[:-1]
            jacobian[row, -1] += scale * d_stretch
        return residual, jacobian, opening

    residuals: list[float] = []
    halvings = 0
    residual, jacobian, opening = evaluate(unknown)
    for iteration in range(1, most_iterations + 1):
        size = float(np.max(np.abs(residual), initial=0.0))
        try:
            step = np.linalg.solve(jacobian, -residual)
        except (np.linalg.LinAlgError, ValueError) as problem:
            raise NotConverged(SolveRecord(iteration, size, tuple(residuals), halvings), "singular system") from problem
        if not np.all(np.isfinite(step)):
            raise NotConverged(SolveRecord(iteration, size, tuple(residuals), halvings), "not finite")
        fraction = 1.0
        candidate = unknown + step
        new_residual, new_jacobian, new_opening = evaluate(candidate)
        if iteration > 12:
            # past a dozen steps the set of closed pairs may be cycling: shorten the step until the residual falls
            best = float(np.max(np.abs(new_residual), initial=0.0))
            while best > size and fraction > 1e-3:
                fraction *= 0.5
                halvings += 1
                candidate = unknown + fraction * step
                new_residual, new_jacobian, new_opening = evaluate(candidate)
                best = float(np.max(np.abs(new_residual), initial=0.0))
        unknown, residual, jacobian, opening = candidate, new_residual, new_jacobian, new_opening
        size = float(np.max(np.abs(residual), initial=0.0))
        residuals.append(size)
        reach = max(1.0, float(np.max(np.abs(unknown[:nq]), initial=0.0)), abs(control.target) if control else 0.0)
        if size <= TOLERANCE * reach * 10.0:
            break
    else:
        raise NotConverged(SolveRecord(most_iterations, size, tuple(residuals), halvings), "too many iterations")

    forces = np.zeros(n)
    forces[q] = unknown[:nq]
    if len(linear):
        forces[linear] = back[:, :-1] @ unknown + back[:, -1]
    shifts = np.zeros(bodies)
    shifts[floating] = unknown[nq : nq + n_float]
    new_travels = dict(imposed)
    if control is not None:
        new_travels[control.travel] = float(unknown[nq + n_float])
    stretch = float(unknown[-1]) if joint.shank is not None else before.stretch
    openings = compliance @ forces + extra_columns @ unknown[nq:] + constant
    law_states = list(before.law_states)
    for index, part in segments:
        law_states[index] = joint.interfaces[index].law.commit(unknown[part], opening[part], before.law_states[index])  # type: ignore[attr-defined]
    return JointState(
        forces=forces,
        openings=openings,
        shifts=shifts,
        travels=new_travels,
        stretch=stretch,
        law_states=tuple(law_states),
        heat=heat,
        outside_load=outside_load,
        shear=shear,
        absent=absent,
        record=SolveRecord(iteration, size, tuple(residuals), halvings),
    )


def _tension_row(joint: ReducedJoint, heat: Heat, outside_load: float, sum_rows, n_extra: int, nq: int) -> Array:
    """Return the row that gives the stud's tension from the reduced unknowns and one."""
    assert joint.shank is not None
    body_index, mode, law = joint.shank
    tension = joint.bodies[body_index].tension
    assert tension is not None
    force_row, strain_row = tension
    row = sum_rows((force_row @ joint.weights[body_index])[None, :])[0]
    ratio = heat.modulus_ratio[body_index]
    row[-1] += ratio * (strain_row @ mode_amplitudes(joint, body_index, heat, 0.0))
    row[-1] += outside_load * (force_row @ joint.outside[body_index])
    row[nq + n_extra - 1] += ratio * strain_row[mode] / law.length
    return row
