"""The reference path: the same joint on the whole assembled sparse system, nothing condensed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from studwell.errors import NotConverged
from studwell.joint.condense import BodySpec
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import TOLERANCE, Control
from studwell.joint.state import Heat, JointState, SolveRecord, mode_amplitudes
from studwell.joint.whole import FullState, StepEquations, WholeSystem

Array = np.ndarray

STALE_SLOPE = 0.1
"""Relative change of slopes and moduli up to which an old factor still serves as Newton's matrix."""

TOUCHING = 1e-9
"""mm, openings that rounding may leave in a state before; its pairs start as touching."""

LEAST_GAIN = 0.2
"""A stale factor that leaves more than this share of the residual is renewed."""


@dataclass
class _Tangent:
    """A factorised tangent and what it was made of."""

    key: tuple[frozenset[str], str, bytes]
    ratios: Array
    slopes: Array
    factor: Any
    matrix: sp.csc_matrix
    border: Array
    scale: Array


class FullJoint:
    """Bodies and interfaces as one sparse system: displacements of all bodies, forces at the ports, then scalars.

    Contact and bonds are multipliers (the port forces themselves), without any penalty:
    K u - P f = loads;  law(f, gap + P^T u + travels) = 0. The matrix is factorised again only when the tangent
    changes: another set of closed pairs, or slopes and moduli so far off that a step with the old factor gains little.

    joint  : supplies interfaces, weights, travels, shank and outside load; its compliances are not used
    bodies : what each body was condensed from, in the joint's order
    raises ValueError : bodies that do not belong to the joint
    """

    def __init__(self, joint: ReducedJoint, bodies: Sequence[BodySpec]) -> None:
        if [spec.name for spec in bodies] != [body.name for body in joint.bodies]:
            raise ValueError("the bodies are not those of the joint, or in another order")
        self.joint = joint
        self.whole = WholeSystem(joint, bodies)
        self.factorisations = 0
        self._tangent: _Tangent | None = None

    def solver(self, joint: ReducedJoint, before: JointState, heat: Heat, **controls: Any) -> FullState:
        """Solve a state through the interface of `joint.solve.solve_state`, so that histories run on either path.

        raises ValueError : another joint than this one's
        """
        if joint is not self.joint:
            raise ValueError("this full-order joint was made for another reduced joint")
        return self.solve_state(before, heat, **controls)

    def solve_state(
        self,
        before: JointState,
        heat: Heat,
        *,
        outside_load: float | None = None,
        shear: float | None = None,
        control: Control | None = None,
        travels: Mapping[str, float] | None = None,
        absent: frozenset[str] | None = None,
        most_iterations: int = 80,
    ) -> FullState:
        """Find the state that follows another one; arguments as in `joint.solve.solve_state`.

        returns : FullState with displacements (2 N,) mm of each body
        raises NotConverged : with the record of residuals

        Source: semismooth Newton's method, Hintermueller, Ito & Kunisch (2002), on the saddle-point system.
        """
        absent = before.absent if absent is None else absent
        outside_load = before.outside_load if outside_load is None else outside_load
        shear = before.shear if shear is None else shear
        imposed = {**before.travels, **(travels or {})}
        if control is not None:
            imposed[control.travel] = before.travels[control.travel]
        step = StepEquations(self.whole, before, heat, outside_load, shear, control, imposed, absent)
        count = self.factorisations

        u, f, y = step.start()
        residuals: list[float] = []
        halvings = 0
        errors, slopes, size = step.residual(u, f, y, touching=TOUCHING)
        gain = 0.0

        def unsolved(problem: str) -> NotConverged:
            record = SolveRecord(iteration, size, tuple(residuals), halvings)
            return NotConverged(record, f"{problem}{record.words}")

        for iteration in range(1, most_iterations + 1):
            tangent = self._fitting(step, slopes, renew=gain > LEAST_GAIN)
            try:
                change = step.change(tangent.factor.solve, tangent.border, tangent.scale, errors, u, y)
            except np.linalg.LinAlgError as problem:  # a screw that moves nothing
                raise unsolved("singular system") from problem
            if not all(np.all(np.isfinite(part)) for part in change):
                raise unsolved("not finite")
            fraction = 1.0
            trial = (u + change[0], f + change[1], y + change[2])
            new = step.residual(*trial)
            while iteration > 12 and new[2] > size and fraction > 1e-3:
                # the set of closed pairs may be cycling: shorten the step until the residual falls
                fraction *= 0.5
                halvings += 1
                trial = (u + fraction * change[0], f + fraction * change[1], y + fraction * change[2])
                new = step.residual(*trial)
            gain = new[2] / size if size else 0.0
            (u, f, y), (errors, slopes, size) = trial, new
            residuals.append(size)
            reach = max(1.0, float(np.max(np.abs(f), initial=0.0)), abs(control.target) if control else 0.0)
            if size <= TOLERANCE * reach * 10.0 + self.whole.noise * min(1.0, float(np.max(np.abs(u)))):
                break
        else:
            raise unsolved("too many iterations")
        record = SolveRecord(iteration, size, tuple(residuals), halvings)
        return step.state(u, f, y, record, self.factorisations - count)

    def _fitting(self, step: StepEquations, slopes: Array, renew: bool) -> _Tangent:
        """Return the factor at hand if it still fits the tangent, else a new one."""
        old = self._tangent
        ratios = step.heat.modulus_ratio
        key = (step.absent, step.control.travel if step.control else "", (slopes != 0.0).tobytes())
        if old is not None and old.key == key:
            far = float(np.max(np.abs(ratios / old.ratios - 1.0)))
            moved = np.abs(slopes - old.slopes) > STALE_SLOPE * np.abs(slopes)
            same = far == 0.0 and np.array_equal(slopes, old.slopes)
            if same or not (renew or far > STALE_SLOPE or moved.any()):
                return old
        matrix, scale = step.matrix(slopes)
        try:
            # measured at 20k to 90k unknowns: half the time of partial pivoting, a third of COLAMD, same residual
            factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0)
        except RuntimeError as problem:
            raise NotConverged(SolveRecord(0, float("inf"), ()), "singular system") from problem
        self.factorisations += 1
        border = step.border(slopes, scale)
        if border.shape[1]:
            border = _refined(factor, matrix, border)
        self._tangent = _Tangent(key, ratios.copy(), slopes.copy(), factor, matrix, border, scale)
        return self._tangent


def _refined(factor: Any, matrix: sp.csc_matrix, right: Array) -> Array:
    """Solve with one step of iterative refinement, which diagonal pivots call for."""
    answer = factor.solve(np.asfortranarray(right))
    return answer + factor.solve(np.asfortranarray(right - matrix @ answer))


def condensed_displacement(joint: ReducedJoint, state: JointState, name: str) -> Array:
    """Return a body's displacements (2 N,), mm, of a reduced state, to compare with those of a `FullState`.

    name              : of the body
    raises ValueError : the body was condensed without its fields
    """
    index = joint.body_index(name)
    body = joint.bodies[index]
    if body.displacement is None:
        raise ValueError(f"{name} was condensed without its displacement fields")
    ratio = float(state.heat.modulus_ratio[index])
    columns = joint.column_forces(index, state.forces, state.outside_load) / ratio
    amplitudes = mode_amplitudes(joint, index, state.heat, state.stretch)
    answer = body.displacement @ np.concatenate([columns, amplitudes])
    answer[1::2] += state.shifts[index]
    return answer
