"""The reference path: the same joint on the whole assembled sparse system, nothing condensed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from studwell.errors import NotConverged
from studwell.joint.condense import BodySpec, BodySystem, body_system, tension_section
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import LOOSE_STIFFNESS, TOLERANCE, Control
from studwell.joint.state import Heat, JointState, SolveRecord, mode_amplitudes

Array = np.ndarray

LINEAR_WEIGHT = 1e5
"""N/mm, turns the misfit of a linear port (mm) into a force, so that one tolerance judges all rows."""

STALE_SLOPE = 0.1
"""Relative change of slopes and moduli up to which an old factor still serves as Newton's matrix."""

TOUCHING = 1e-9
"""mm, openings that rounding may leave in a state before; its pairs start as touching."""

LEAST_GAIN = 0.2
"""A stale factor that leaves more than this share of the residual is renewed."""


@dataclass(frozen=True)
class FullState(JointState):
    """A joint state with every body's displacements (2 N,), mm, and the stud's tension (N) from its own stresses."""

    displacements: tuple[Array, ...] = field(default=(), repr=False, compare=False)
    tension: float | None = None
    factors: int = 0


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
    changes: the set of closed pairs, or slopes and moduli by more than STALE_SLOPE.

    joint  : supplies interfaces, weights, travels, shank and outside load; its compliances are not used
    bodies : what each body was condensed from, in the joint's order
    raises ValueError : bodies that do not belong to the joint
    """

    def __init__(self, joint: ReducedJoint, bodies: Sequence[BodySpec]) -> None:
        if [spec.name for spec in bodies] != [body.name for body in joint.bodies]:
            raise ValueError("the bodies are not those of the joint, or in another order")
        self.joint = joint
        self.systems: tuple[BodySystem, ...] = tuple(body_system(spec) for spec in bodies)
        self.stiffness, self.ground, columns = [], [], []
        for system, weights in zip(self.systems, joint.weights, strict=True):
            kept = system.kept
            grip = sp.csc_matrix(system.grip[kept][:, None])
            self.stiffness.append(sp.csc_matrix(system.stiffness)[kept][:, kept])
            strength = LOOSE_STIFFNESS if system.spec.floating else system.ground_stiffness
            self.ground.append(strength * (grip @ grip.T))
            columns.append((system.columns @ sp.csc_matrix(weights)).tocsc()[kept])
        sizes = [matrix.shape[0] for matrix in self.stiffness]
        edges = np.concatenate([[0], np.cumsum(sizes)])
        self.parts = [slice(int(a), int(b)) for a, b in pairwise(edges)]
        self.unknowns = int(edges[-1])
        self.ports = sp.vstack(columns, format="csc")
        # N per mm of movement that rounding alone leaves in the bodies' balance
        self.noise = 16.0 * float(np.finfo(float).eps) * max(float(abs(k).sum(axis=0).max()) for k in self.stiffness)
        self.section: tuple[Array, Array] | None = None
        if joint.shank is not None:
            self.section = tension_section(self.systems[joint.shank[0]])
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
        step = _Step(self, before, heat, outside_load, shear, control, imposed, absent)
        count = self.factorisations

        u, f, y = step.start()
        residuals: list[float] = []
        halvings = 0
        errors, slopes, size = step.residual(u, f, y, touching=TOUCHING)
        gain = 0.0
        for iteration in range(1, most_iterations + 1):
            tangent = self._fitting(step, slopes, renew=gain > LEAST_GAIN)
            change = step.change(tangent, errors, u, f, y)
            if not all(np.all(np.isfinite(part)) for part in change):
                raise NotConverged(SolveRecord(iteration, size, tuple(residuals), halvings), "not finite")
            fraction = 1.0
            trial = tuple(old + new for old, new in zip((u, f, y), change, strict=True))
            new = step.residual(*trial)
            while iteration > 12 and new[2] > size and fraction > 1e-3:
                # the set of closed pairs may be cycling: shorten the step until the residual falls
                fraction *= 0.5
                halvings += 1
                trial = tuple(old + fraction * part for old, part in zip((u, f, y), change, strict=True))
                new = step.residual(*trial)
            gain = new[2] / size if size else 0.0
            (u, f, y), (errors, slopes, size) = trial, new
            residuals.append(size)
            reach = max(1.0, float(np.max(np.abs(f), initial=0.0)), abs(control.target) if control else 0.0)
            if size <= TOLERANCE * reach * 10.0 + self.noise * min(1.0, float(np.max(np.abs(u)))):
                break
        else:
            raise NotConverged(SolveRecord(most_iterations, size, tuple(residuals), halvings), "too many iterations")
        record = SolveRecord(iteration, size, tuple(residuals), halvings)
        return step.state(u, f, y, record, self.factorisations - count)

    def _fitting(self, step: _Step, slopes: Array, renew: bool) -> _Tangent:
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


class _Step:
    """One step's equations: residuals and tangent rows of bodies, ports and scalars (screw travel, plastic stretch)."""

    def __init__(
        self,
        full: FullJoint,
        before: JointState,
        heat: Heat,
        outside_load: float,
        shear: float,
        control: Control | None,
        imposed: Mapping[str, float],
        absent: frozenset[str],
    ) -> None:
        joint = full.joint
        self.full, self.joint, self.before, self.heat = full, joint, before, heat
        self.outside_load, self.shear, self.control = outside_load, shear, control
        self.imposed, self.absent = dict(imposed), absent
        present = np.ones(joint.n_ports, dtype=bool)
        for name in absent & set(joint.slices):
            present[joint.slices[name]] = False
        self.present = np.flatnonzero(present)
        self.ports = full.ports[:, self.present]
        self.across = self.ports.T.tocsr()
        self.faces = []
        position = 0
        for index, face in enumerate(joint.interfaces):
            if face.name not in absent:
                self.faces.append((index, slice(position, position + face.count)))
                position += face.count
        loads = np.zeros(full.unknowns)
        for index, (system, part) in enumerate(zip(full.systems, full.parts, strict=True)):
            own = heat.modulus_ratio[index] * (system.mode_loads @ mode_amplitudes(joint, index, heat, 0.0))
            if outside_load:
                own = own + outside_load * (system.columns @ joint.outside[index])
            loads[part] = own[system.kept]
        self.loads = loads
        opening = joint.gap.copy()
        if heat.gap_change is not None:
            opening += heat.gap_change
        for name, value in self.imposed.items():
            if control is None or name != control.travel:
                opening += joint.travels[name] * value
        self.opening = opening
        self.stretch_load = np.zeros(full.unknowns)
        if joint.shank is not None:
            body, mode, law = joint.shank
            kept = full.systems[body].kept
            column = full.systems[body].mode_loads[kept, mode] / law.length
            self.stretch_load[full.parts[body]] = heat.modulus_ratio[body] * column
        self.n_scalars = (control is not None) + (joint.shank is not None)

    def start(self) -> tuple[Array, Array, Array]:
        """Displacements, port forces and scalars of the state before."""
        u = np.zeros(self.full.unknowns)
        if isinstance(self.before, FullState) and self.before.displacements:
            for system, part, old in zip(self.full.systems, self.full.parts, self.before.displacements, strict=True):
                u[part] = old[system.kept]
        else:
            for index, part in enumerate(self.full.parts):
                system = self.full.systems[index]
                if system.spec.floating:
                    u[part] = np.where(system.kept % 2 == 1, self.before.shifts[index], 0.0)
        scalars = [] if self.control is None else [self.before.travels[self.control.travel]]
        if self.joint.shank is not None:
            scalars.append(self.before.stretch)
        return u, self.before.forces[self.present].copy(), np.array(scalars)

    def openings(self, u: Array, y: Array) -> Array:
        """Openings (n,) mm of all ports."""
        result = self.opening + self.full.ports.T @ u
        if self.control is not None:
            result = result + self.joint.travels[self.control.travel] * y[0]
        return result

    def tension(self, u: Array, stretch: float) -> float:
        """Stud tension (N) from the stresses in its section."""
        assert self.joint.shank is not None and self.full.section is not None
        body = self.joint.shank[0]
        row, own = self.full.section
        amplitudes = mode_amplitudes(self.joint, body, self.heat, stretch)
        kept = self.full.systems[body].kept
        stress = row[kept] @ u[self.full.parts[body]] - own @ amplitudes
        return float(self.heat.modulus_ratio[body] * stress)

    def residual(
        self, u: Array, f: Array, y: Array, touching: float = 0.0
    ) -> tuple[tuple[Array, Array, Array], Array, float]:
        """Residuals (N) of bodies, ports and scalars, the ports' slopes, and the largest residual.

        touching : mm, openings smaller than this count as none
        """
        stretch = float(y[-1]) if self.joint.shank is not None else 0.0
        bodies = -self.ports @ f - self.loads - self.stretch_load * stretch
        for k, ground, ratio, part, system in zip(
            self.full.stiffness,
            self.full.ground,
            self.heat.modulus_ratio,
            self.full.parts,
            self.full.systems,
            strict=True,
        ):
            hold = 1.0 if system.spec.floating else ratio
            bodies[part] += ratio * (k @ u[part]) + hold * (ground @ u[part])
        opening = self.openings(u, y)[self.present]
        opening[np.abs(opening) < touching] = 0.0
        ports = np.empty(len(f))
        slopes = []
        for index, part in self.faces:
            law = self.joint.interfaces[index].law
            if law.linear:
                compliance = law.compliance  # type: ignore[attr-defined]
                ports[part] = LINEAR_WEIGHT * (opening[part] + compliance * f[part])
                d_force, d_opening = np.diag(LINEAR_WEIGHT * compliance), np.eye(len(compliance)) * LINEAR_WEIGHT
            else:
                ports[part], d_force, d_opening = law.linearise(  # type: ignore[attr-defined]
                    f[part], opening[part], self.before.law_states[index]
                )
            slopes += [d_force.ravel(), d_opening.ravel()]
        scalars = np.zeros(self.n_scalars)
        if self.control is not None:
            scalars[0] = self.control.coefficients[self.present] @ f - self.control.target
        if self.joint.shank is not None:
            scalars[-1] = self._shank(u, stretch)[0]
        largest = max(float(np.max(np.abs(part), initial=0.0)) for part in (bodies, ports, scalars))
        return (bodies, ports, scalars), np.concatenate(slopes) if slopes else np.zeros(0), largest

    def _shank(self, u: Array, stretch: float) -> tuple[float, float, float]:
        """Residual (N) of the shank's flow rule, its slopes with tension and stretch."""
        assert self.joint.shank is not None
        law = self.joint.shank[2]
        answer = law.residual(self.tension(u, stretch), stretch, self.before.stretch, self.heat.stud_yield, self.shear)
        scale = law.hardening * law.area / law.length
        return scale * answer[0], scale * answer[1], scale * answer[2]

    def matrix(self, slopes: Array) -> tuple[sp.csc_matrix, Array]:
        """Return the tangent [[K, -P], [-O P^T, -F]] of bodies and ports, its port rows scaled, and those scales."""
        bodies = []
        for k, ground, ratio, system in zip(
            self.full.stiffness, self.full.ground, self.heat.modulus_ratio, self.full.systems, strict=True
        ):
            bodies.append(ratio * k + (1.0 if system.spec.floating else ratio) * ground)
        force_blocks, opening_blocks = [], []
        position = 0
        for _, part in self.faces:
            n = part.stop - part.start
            force_blocks.append(slopes[position : position + n * n].reshape(n, n))
            opening_blocks.append(slopes[position + n * n : position + 2 * n * n].reshape(n, n))
            position += 2 * n * n
        d_force, d_opening = sp.block_diag(force_blocks, format="csc"), sp.block_diag(opening_blocks, format="csc")
        scale = 1.0 / np.maximum(1.0, np.abs(d_opening).max(axis=1).toarray().ravel())
        rows = sp.diags(scale)
        matrix = sp.bmat(
            [
                [sp.block_diag(bodies, format="csc"), -self.ports],
                [-(rows @ d_opening) @ self.across, -(rows @ d_force)],
            ],
            format="csc",
        )
        matrix.eliminate_zeros()
        return matrix, scale

    def border(self, slopes: Array, scale: Array) -> Array:
        """Columns of the scalars in the tangent's rows, (unknowns + ports, scalars)."""
        size = self.full.unknowns
        columns = np.zeros((size + len(self.present), self.n_scalars))
        if self.control is not None:
            travel = self.joint.travels[self.control.travel][self.present]
            position = 0
            for _, part in self.faces:
                n = part.stop - part.start
                block = slopes[position + n * n : position + 2 * n * n].reshape(n, n)
                columns[size:][part, 0] = block @ travel[part]
                position += 2 * n * n
            columns[size:, 0] *= -scale
        if self.joint.shank is not None:
            columns[:size, -1] = -self.stretch_load
        return columns

    def change(
        self, tangent: _Tangent, errors: tuple[Array, Array, Array], u: Array, f: Array, y: Array
    ) -> tuple[Array, Array, Array]:
        """Newton's step of displacements, forces and scalars by elimination of the scalars."""
        size = self.full.unknowns
        right = -np.concatenate([errors[0], -tangent.scale * errors[1]])
        answer = tangent.factor.solve(right)
        if not self.n_scalars:
            return answer[:size], answer[size:], np.zeros(0)
        rows = np.zeros((self.n_scalars, len(answer)))
        corner = np.zeros((self.n_scalars, self.n_scalars))
        if self.control is not None:
            rows[0, size:] = self.control.coefficients[self.present]
        if self.joint.shank is not None and self.full.section is not None:
            body = self.joint.shank[0]
            row, own = self.full.section
            ratio = self.heat.modulus_ratio[body]
            _, d_tension, d_stretch = self._shank(u, float(y[-1]))
            rows[-1, :size][self.full.parts[body]] = d_tension * ratio * row[self.full.systems[body].kept]
            corner[-1, -1] = d_stretch - d_tension * ratio * own[self.joint.shank[1]] / self.joint.shank[2].length
        short = np.linalg.solve(corner - rows @ tangent.border, -errors[2] - rows @ answer)
        answer = answer - tangent.border @ short
        return answer[:size], answer[size:], short

    def state(self, u: Array, f: Array, y: Array, record: SolveRecord, factors: int) -> FullState:
        """The solved state."""
        joint, before = self.joint, self.before
        forces = np.zeros(joint.n_ports)
        forces[self.present] = f
        openings = self.openings(u, y)
        law_states = list(before.law_states)
        for index, part in self.faces:
            law = joint.interfaces[index].law
            if not law.linear:
                law_states[index] = law.commit(  # type: ignore[attr-defined]
                    f[part], openings[self.present][part], before.law_states[index]
                )
        shifts = np.zeros(len(self.full.systems))
        displacements = []
        for index, (system, part) in enumerate(zip(self.full.systems, self.full.parts, strict=True)):
            whole = np.zeros(len(system.grip))
            whole[system.kept] = u[part]
            displacements.append(whole)
            if system.spec.floating:
                shifts[index] = system.grip @ whole
        travels = dict(self.imposed)
        if self.control is not None:
            travels[self.control.travel] = float(y[0])
        stretch = float(y[-1]) if joint.shank is not None else before.stretch
        return FullState(
            forces=forces,
            openings=openings,
            shifts=shifts,
            travels=travels,
            stretch=stretch,
            law_states=tuple(law_states),
            heat=self.heat,
            outside_load=self.outside_load,
            shear=self.shear,
            absent=self.absent,
            record=record,
            displacements=tuple(displacements),
            tension=self.tension(u, stretch) if joint.shank is not None else None,
            factors=factors,
        )


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
