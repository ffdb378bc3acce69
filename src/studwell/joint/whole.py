"""All bodies and ports of a joint as one sparse system, and the equations of one step on it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import scipy.sparse as sp

from studwell.joint.condense import BodySpec, BodySystem, body_system, tension_section
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import Control
from studwell.joint.state import Heat, JointState, SolveRecord, mode_amplitudes
from studwell.joint.step_system import LOOSE_STIFFNESS

Array = np.ndarray
Errors = tuple[Array, Array, Array]

LINEAR_WEIGHT = 1e5
"""N/mm, turns the misfit of a linear port (mm) into a force, so that one tolerance judges all rows."""


@dataclass(frozen=True)
class FullState(JointState):
    """A joint state with every body's displacements (2 N,), mm, and the stud's tension (N) from its own stresses."""

    displacements: tuple[Array, ...] = field(default=(), repr=False, compare=False)
    tension: float | None = None
    factors: int = 0


class WholeSystem:
    """The joint's bodies as assembled, nothing condensed: stiffness, weak or real supports, port columns.

    joint  : supplies interfaces, weights, travels, shank and outside load; its compliances are not used
    bodies : what each body was condensed from, in the joint's order
    """

    def __init__(self, joint: ReducedJoint, bodies: Sequence[BodySpec]) -> None:
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


class StepEquations:
    """One step's equations: residuals and tangent rows of bodies, ports and scalars (screw travel, plastic stretch)."""

    def __init__(
        self,
        whole: WholeSystem,
        before: JointState,
        heat: Heat,
        outside_load: float,
        shear: float,
        control: Control | None,
        imposed: Mapping[str, float],
        absent: frozenset[str],
    ) -> None:
        joint = whole.joint
        self.whole, self.joint, self.before, self.heat = whole, joint, before, heat
        self.outside_load, self.shear, self.control = outside_load, shear, control
        self.imposed, self.absent = dict(imposed), absent
        present = np.ones(joint.n_ports, dtype=bool)
        for name in absent & set(joint.slices):
            present[joint.slices[name]] = False
        self.present = np.flatnonzero(present)
        self.ports = whole.ports[:, self.present]
        self.across = self.ports.T.tocsr()
        self.faces = []
        position = 0
        for index, face in enumerate(joint.interfaces):
            if face.name not in absent:
                self.faces.append((index, slice(position, position + face.count)))
                position += face.count
        loads = np.zeros(whole.unknowns)
        for index, (system, part) in enumerate(zip(whole.systems, whole.parts, strict=True)):
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
        self.stretch_load = np.zeros(whole.unknowns)
        if joint.shank is not None:
            body, mode, law = joint.shank
            kept = whole.systems[body].kept
            column = whole.systems[body].mode_loads[kept, mode] / law.length
            self.stretch_load[whole.parts[body]] = heat.modulus_ratio[body] * column
        self.n_scalars = (control is not None) + (joint.shank is not None)

    def start(self) -> tuple[Array, Array, Array]:
        """Displacements, port forces and scalars of the state before."""
        u = np.zeros(self.whole.unknowns)
        if isinstance(self.before, FullState) and self.before.displacements:
            parts = zip(
                self.whole.systems, self.whole.parts, self.before.displacements, self.before.shifts, strict=True
            )
            for system, part, old, shift in parts:
                u[part] = old[system.kept]
                if system.spec.floating:  # a body that was moved by hand since
                    u[part] += np.where(system.kept % 2 == 1, shift - system.grip @ old, 0.0)
        else:
            for index, part in enumerate(self.whole.parts):
                system = self.whole.systems[index]
                if system.spec.floating:
                    u[part] = np.where(system.kept % 2 == 1, self.before.shifts[index], 0.0)
        scalars = [] if self.control is None else [self.before.travels[self.control.travel]]
        if self.joint.shank is not None:
            scalars.append(self.before.stretch)
        return u, self.before.forces[self.present].copy(), np.array(scalars)

    def openings(self, u: Array, y: Array) -> Array:
        """Openings (n,) mm of all ports."""
        result = self.opening + self.whole.ports.T @ u
        if self.control is not None:
            result = result + self.joint.travels[self.control.travel] * y[0]
        return result

    def tension(self, u: Array, stretch: float) -> float:
        """Stud tension (N) from the stresses in its section."""
        assert self.joint.shank is not None and self.whole.section is not None
        body = self.joint.shank[0]
        row, own = self.whole.section
        amplitudes = mode_amplitudes(self.joint, body, self.heat, stretch)
        kept = self.whole.systems[body].kept
        stress = row[kept] @ u[self.whole.parts[body]] - own @ amplitudes
        return float(self.heat.modulus_ratio[body] * stress)

    def residual(self, u: Array, f: Array, y: Array, touching: float = 0.0) -> tuple[Errors, Array, float]:
        """Residuals (N) of bodies, ports and scalars, the ports' slopes, and the largest residual.

        touching : mm, openings smaller than this count as none
        """
        stretch = float(y[-1]) if self.joint.shank is not None else 0.0
        bodies = -self.ports @ f - self.loads - self.stretch_load * stretch
        for k, ground, ratio, part, system in zip(
            self.whole.stiffness,
            self.whole.ground,
            self.heat.modulus_ratio,
            self.whole.parts,
            self.whole.systems,
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
            self.whole.stiffness, self.whole.ground, self.heat.modulus_ratio, self.whole.systems, strict=True
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
        size = self.whole.unknowns
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
        self, solve: Callable[[Array], Array], border: Array, scale: Array, errors: Errors, u: Array, y: Array
    ) -> Errors:
        """Newton's step of displacements, forces and scalars by elimination of the scalars.

        solve : with the factorised matrix; border : the scalars' columns so solved; scale : of the port rows
        """
        size = self.whole.unknowns
        answer = solve(-np.concatenate([errors[0], -scale * errors[1]]))
        if not self.n_scalars:
            return answer[:size], answer[size:], np.zeros(0)
        rows = np.zeros((self.n_scalars, len(answer)))
        corner = np.zeros((self.n_scalars, self.n_scalars))
        if self.control is not None:
            rows[0, size:] = self.control.coefficients[self.present]
        if self.joint.shank is not None and self.whole.section is not None:
            body = self.joint.shank[0]
            row, own = self.whole.section
            ratio = self.heat.modulus_ratio[body]
            _, d_tension, d_stretch = self._shank(u, float(y[-1]))
            rows[-1, :size][self.whole.parts[body]] = d_tension * ratio * row[self.whole.systems[body].kept]
            corner[-1, -1] = d_stretch - d_tension * ratio * own[self.joint.shank[1]] / self.joint.shank[2].length
        short = np.linalg.solve(corner - rows @ border, -errors[2] - rows @ answer)
        answer = answer - border @ short
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
        shifts = np.zeros(len(self.whole.systems))
        displacements = []
        for index, (system, part) in enumerate(zip(self.whole.systems, self.whole.parts, strict=True)):
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
