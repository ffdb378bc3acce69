"""Many states of one reduced joint at once: the same ports with other gaps, heat and targets, solved side by side."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from studwell.joint.laws import CurveLaw, HistoryCurveLaw, LinearCompliance, UnilateralContact
from studwell.joint.reduced import ReducedJoint
from studwell.joint.state import JointState
from studwell.joint.step_system import LOOSE_STIFFNESS
from studwell.odds.many import Curve, Given, ManyHeat, ManyStates, Turned, curve_at, in_shares, law_of, wide
from studwell.odds.springs import ManySprings

Array = np.ndarray

WEIGHT = 1e5
"""N/mm that turns openings of linear ports into forces, so that all residuals are forces; it changes no answer."""
TOLERANCE = 1e-10
"""Largest residual that counts as solved, times the largest force in play."""
SHARED_ITERATIONS = 16
"""Iterations with the nominal moduli's steps, enough for all but a few samples; the others begin again."""

REFINEMENTS = 3
"""How often their steps are corrected by their own moduli: each leaves a few per cent of the error before."""

MOST_FACTORS = 400
"""Factors kept at each moment, one a set of closed pairs: the oldest goes first, so that memory stays flat."""
MOST_ITERATIONS = 60
UNDAMPED, MOST_HALVINGS = 8, 8
"""Iterations with whole steps, and how often a later step is halved that does not help."""


class Moment:
    """One instant of a history, for any number of samples near a nominal one.

    nominal : its state at this instant, where every iteration starts and whose slopes the factors are made of
    absent  : interfaces that do not exist yet;  turned: name of the screw whose travel is unknown, None if all are held
    outside : N that cylinder pressure takes from the clamped faces
    """

    def __init__(
        self,
        joint: ReducedJoint,
        nominal: JointState,
        absent: frozenset[str],
        turned: Turned | None = None,
        outside: float = 0.0,
    ) -> None:
        assert joint.shank is not None
        self.joint, self.nominal, self.outside = joint, nominal, outside
        self.turn = None if turned is None else turned.travel
        present = np.ones(joint.n_ports, dtype=bool)
        for name in absent:
            if joint.has(name):
                present[joint.slices[name]] = False
        self.ports = np.flatnonzero(present)
        place = np.full(joint.n_ports, -1)
        place[self.ports] = np.arange(len(self.ports))
        self.floating = np.array([i for i, body in enumerate(joint.bodies) if body.floating], dtype=int)
        stud, mode, law = joint.shank
        columns = [joint.rigid[:, self.floating]]
        if turned is not None:
            columns.append(joint.travels[turned.travel][:, None])
        columns.append(joint.strain_response[stud][:, mode][:, None] / law.length)
        self.extra = np.concatenate(columns, axis=1)[self.ports]
        self.n = len(self.ports)
        self.size = self.n + self.extra.shape[1]
        self.control_row = self.n + len(self.floating) if turned is not None else -1

        # each body's compliance on its own ports
        self.parts: list[tuple[slice | Array, Array]] = []
        for number in range(len(joint.bodies)):
            own = np.flatnonzero(np.any(joint.weights[number] != 0.0, axis=0) & present)
            compliance = joint.body_compliance[number][np.ix_(own, own)]
            where = place[own]
            run = len(where) and np.array_equal(where, np.arange(where[0], where[0] + len(where)))
            self.parts.append((slice(int(where[0]), int(where[-1]) + 1) if run else where, compliance))
        self.outside_gap = np.zeros((len(joint.bodies), self.n))
        if outside:
            for index, body in enumerate(joint.bodies):
                self.outside_gap[index] = (
                    outside * (joint.weights[index].T @ (body.compliance @ joint.outside[index]))[self.ports]
                )
        rigid = joint.rigid[self.ports][:, self.floating]
        self.balance = rigid.T.copy()
        axial = np.array([joint.bodies[i].axial_resultant @ joint.outside[i] for i in self.floating])
        self.balance_at_rest = (outside * axial)[:, None]

        rows = joint.bodies[stud].tension
        assert rows is not None
        self.tension_ports = (rows[0] @ joint.weights[stud])[self.ports]
        self.tension_outside = outside * float(rows[0] @ joint.outside[stud])
        self.tension_stretch = float(rows[1][mode]) / law.length
        self.stud, self.shank = stud, law
        self.shank_scale = law.hardening * law.area / law.length

        linear, contact, weights, compliances = [], [], [], []
        self.curves: list[tuple[int, Curve, slice]] = []
        for index, face in enumerate(joint.interfaces):
            if face.name in absent:
                continue
            part = place[joint.slices[face.name]]
            if isinstance(face.law, LinearCompliance):
                linear.append(part)
                compliances.append(face.law.compliance)
            elif isinstance(face.law, UnilateralContact):
                contact.append(part)
                weights.append(np.full(face.count, face.law.weight))
            else:
                self.curves.append((index, law_of(face), slice(int(part[0]), int(part[-1]) + 1)))
        nothing = np.zeros(0, dtype=int)
        self.linear = np.concatenate(linear) if linear else nothing
        self.compliance = np.concatenate(compliances)[:, None] if linear else np.zeros((0, 1))
        self.contact = np.concatenate(contact) if contact else nothing
        self.weights = np.concatenate(weights)[:, None] if contact else np.zeros((0, 1))
        self.curved = (
            np.concatenate([np.arange(part.start, part.stop) for _, _, part in self.curves]) if self.curves else nothing
        )
        self._prepare(turned)
        self.factors: dict[bytes, tuple[Array, Array, Array]] = {}

    def _prepare(self, turned: Turned | None) -> None:
        """The nominal sample's Jacobian without its contact rows."""
        ratio = self.nominal.heat.modulus_ratio
        whole = np.zeros((self.n, self.n))
        for (where, compliance), r in zip(self.parts, ratio, strict=True):
            index = np.arange(self.n)[where]
            whole[np.ix_(index, index)] += compliance / r
        self.rows = np.concatenate([whole, self.extra], axis=1)
        tension = np.zeros(self.size)
        tension[: self.n] = self.tension_ports
        tension[-1] = ratio[self.stud] * self.tension_stretch
        jacobian = np.zeros((self.size, self.size))
        jacobian[self.linear] = WEIGHT * self.rows[self.linear]
        jacobian[self.linear, self.linear] += WEIGHT * self.compliance[:, 0]
        slopes = np.concatenate([self._slope(*each) for each in self.curves]) if self.curves else np.zeros(0)
        self.slopes = slopes[:, None]
        jacobian[self.curved] = slopes[:, None] * self.rows[self.curved]
        jacobian[self.curved, self.curved] += 1.0
        at = slice(self.n, self.n + len(self.floating))
        jacobian[at, : self.n] = self.balance
        jacobian[np.arange(at.start, at.stop), np.arange(at.start, at.stop)] -= LOOSE_STIFFNESS
        if turned is not None:
            amounts = turned.amounts.mean(axis=1)
            jacobian[self.control_row, : self.n] = (amounts / amounts.sum()) @ turned.basis[:, self.ports]
        jacobian[-1, -1] = self.shank_scale
        self.jacobian = jacobian
        # rows whose slope is a sample's own: each a multiple of one row of numbers
        self.own = np.concatenate([self.curved, [self.size - 1]])
        self.own_rows = np.concatenate([self.rows[self.curved], tension[None, :]])

    def _slope(self, index: int, law: Curve, part: slice) -> Array:
        state = self.nominal
        opening = state.openings[self.ports][part]
        if isinstance(law, HistoryCurveLaw):
            return np.asarray(law.curve(-opening, state.law_states[index])[1])
        return np.asarray(law.force(-opening, (-opening, state.forces[self.ports][part]))[1])

    def start(self) -> Array:
        """Return the nominal sample's unknowns (unknowns, 1)."""
        state = self.nominal
        parts = [state.forces[self.ports], state.shifts[self.floating]]
        if self.turn is not None:
            parts.append(np.array([state.travels[self.turn]]))
        return np.concatenate([*parts, [state.stretch]])[:, None]

    def after(self, state: ManyStates, moment: Moment) -> Array:
        """Return a guess (unknowns, S): as far from the nominal sample as the states of an earlier moment were.

        For moments at which no screw is turned. moment: the earlier one, with the same interfaces
        """
        nominal = moment.nominal
        base = np.concatenate([nominal.forces[self.ports], nominal.shifts[self.floating], [nominal.stretch]])
        return np.asarray(self.start() + self._unknowns(state) - base[:, None])

    def _unknowns(self, state: ManyStates) -> Array:
        """Unknowns (unknowns, S) of states; for moments at which no screw is turned."""
        return np.concatenate([state.forces[self.ports], state.shifts[self.floating], state.stretch[None, :]])

    def solve(
        self,
        before: ManyStates,
        heat: ManyHeat,
        turned: Turned | None = None,
        shear: Array | None = None,
        travels: Mapping[str, Array] | None = None,
        guess: Array | None = None,
        outside: Array | float = 1.0,
        springs: ManySprings | None = None,
    ) -> ManyStates:
        """Find the states that follow others; samples that do not converge come back with `solved` False.

        turned : the screw that is turned, as at the making;  shear (S,) MPa;  travels: name -> (S,) mm to impose
        guess  : (unknowns, S) where the iteration starts; None: the nominal sample;  outside: times the moment's load
        springs: laws of the spring washers, where samples have their own

        Source: semismooth Newton / primal-dual active set, Hintermueller, Ito & Kunisch (2002), with the nominal sample's
        factor for each set of closed pairs, corrected exactly for own slopes (Woodbury) and by iteration for own moduli.
        """
        joint, count = self.joint, before.forces.shape[1]
        travels = {**before.travels, **(travels or {})}
        shear = before.shear if shear is None else shear
        constant = joint.gap[:, None] + heat.gap
        for name, column in joint.travels.items():
            if name != self.turn:
                constant = constant + column[:, None] * travels[name]
        constant = constant[self.ports]
        if self.outside:
            constant = constant + outside * (self.outside_gap.T @ wide(heat.softness, count))
        given = Given(
            wide(constant, count),
            wide(heat.softness, count),
            wide(heat.tension, count) + outside * self.tension_outside,
            wide(heat.stud_yield, count),
            wide(shear, count),
            before.stretch,
            wide(np.array([outside]).reshape(-1), count),
            tuple(before.memory[index] for index, _, _ in self.curves),
            tuple(springs if springs and isinstance(law, CurveLaw) else law for _, law, _ in self.curves),
            *in_shares(turned, count),
        )
        self.basis = None if turned is None else turned.basis[:, self.ports]
        unknown = np.array(np.broadcast_to(self.start() if guess is None else guess, (self.size, count)))
        found, opening = np.zeros_like(unknown), np.zeros((self.n, count))
        done = np.zeros(count, dtype=bool)
        active, y, here = np.arange(count), unknown, given
        residual, closed, slopes, openings = self._residual(y, here)
        second = min(SHARED_ITERATIONS, MOST_ITERATIONS)
        for iteration in range(second + MOST_ITERATIONS):
            refined = iteration >= second
            if iteration == second:
                # a second start, where these samples were before, with steps that know their own moduli
                y = (
                    self.start().repeat(len(active), axis=1)
                    if self.turn is not None
                    else self._unknowns(before)[:, active]
                )
                residual, closed, slopes, openings = self._residual(y, here)
            worst = np.abs(residual).max(axis=0)
            ready = worst <= TOLERANCE * np.maximum(1.0, np.abs(y[: self.n]).max(axis=0))
            if ready.any():
                took = active[ready]
                found[:, took], opening[:, took], done[took] = y[:, ready], openings[:, ready], True
                left = ~ready
                active = active[left]
                if not len(active):
                    break
                y, residual, closed, slopes = y[:, left], residual[:, left], closed[:, left], slopes[:, left]
                here, worst = here.among(left), worst[left]
            newton = self._newton(closed, slopes)
            step = newton(residual)
            for _ in range(REFINEMENTS if refined else 0):
                step += newton(residual - self._applied(step, closed, slopes, here))
            candidate = y - step
            residual, closed, slopes, openings = self._residual(candidate, here)
            if (iteration - second if refined else iteration) >= UNDAMPED:
                # sets of closed pairs, or branches of a loop, may be cycling: shorten the steps that do not help
                fraction = 1.0
                for _ in range(MOST_HALVINGS):
                    bad = np.abs(residual).max(axis=0) > worst
                    if not bad.any():
                        break
                    fraction *= 0.5
                    candidate[:, bad] = y[:, bad] - fraction * step[:, bad]
                    part = self._residual(candidate[:, bad], here.among(bad))
                    residual[:, bad], closed[:, bad], slopes[:, bad], openings[:, bad] = part
            y = candidate
        return self._states(before, found, opening, travels, given, done & before.solved)

    def _residual(self, y: Array, given: Given) -> tuple[Array, Array, Array, Array]:
        """Residuals (unknowns, S) N, closed pairs (contacts, S), slopes of own rows (own, S), openings (ports, S)."""
        force = y[: self.n]
        opening = self.extra @ y[self.n :]
        opening += given.constant
        for (where, compliance), soft in zip(self.parts, given.softness, strict=True):
            opening[where] += (compliance @ force[where]) * soft
        residual = np.empty_like(y)
        residual[self.linear] = WEIGHT * (opening[self.linear] + self.compliance * force[self.linear])
        gaps, pushes = self.weights * opening[self.contact], force[self.contact]
        closed = pushes >= gaps
        residual[self.contact] = np.where(closed, gaps, pushes)
        slopes = np.empty((len(self.own), y.shape[1]))
        at = 0
        for (_, _, part), law, memory in zip(self.curves, given.laws, given.memory, strict=True):
            value, slope = curve_at(law, -opening[part], memory)
            residual[part] = force[part] - value
            slopes[at : at + part.stop - part.start] = slope
            at += part.stop - part.start
        rows = slice(self.n, self.n + len(self.floating))
        residual[rows] = self.balance @ force - LOOSE_STIFFNESS * y[rows] + self.balance_at_rest * given.outside
        if self.basis is not None:
            residual[self.control_row] = np.einsum("gs,gs->s", given.amounts, self.basis @ force) - given.target
        tension = self.tension_ports @ force + given.tension + self.tension_stretch * y[-1] / given.softness[self.stud]
        shank = self.shank
        equivalent = np.sqrt((tension / shank.area) ** 2 + 3.0 * given.shear**2)
        flow = given.stud_yield + shank.hardening * y[-1] / shank.length
        scale = shank.length / shank.hardening
        over = equivalent - flow
        yields = (y[-1] - given.stretch + scale * over > 0.0) & (tension > 0.0)
        residual[-1] = self.shank_scale * np.where(yields, -scale * over, y[-1] - given.stretch)
        safe = np.where(equivalent > 0.0, equivalent, 1.0)
        slopes[-1] = np.where(yields, -self.shank_scale * scale * tension / shank.area**2 / safe, 0.0)
        return residual, closed, slopes, opening

    def _applied(self, step: Array, closed: Array, slopes: Array, given: Given) -> Array:
        """Change of the residuals (unknowns, S) that steps (unknowns, S) make by each sample's own Jacobian."""
        force = step[: self.n]
        opening = self.extra @ step[self.n :]
        for (where, compliance), soft in zip(self.parts, given.softness, strict=True):
            opening[where] += (compliance @ force[where]) * soft
        change = np.empty_like(step)
        change[self.linear] = WEIGHT * (opening[self.linear] + self.compliance * force[self.linear])
        change[self.contact] = np.where(closed, self.weights * opening[self.contact], force[self.contact])
        change[self.curved] = force[self.curved] + slopes[:-1] * opening[self.curved]
        rows = slice(self.n, self.n + len(self.floating))
        change[rows] = self.balance @ force - LOOSE_STIFFNESS * step[rows]
        if self.basis is not None:
            change[self.control_row] = np.einsum("gs,gs->s", given.amounts, self.basis @ force)
        tension = self.tension_ports @ force + self.tension_stretch * step[-1] / given.softness[self.stud]
        change[-1] = slopes[-1] * tension + self.shank_scale * step[-1]
        return change

    def _newton(self, closed: Array, slopes: Array) -> Callable[[Array], Array]:
        """What turns residuals (unknowns, S) into Newton steps (unknowns, S), samples of one set of closed pairs together."""
        keys = np.packbits(closed, axis=0)
        order = np.lexsort(keys) if len(keys) else np.arange(closed.shape[1])
        ordered = keys[:, order]
        starts = np.flatnonzero(np.concatenate([[True], np.any(ordered[:, 1:] != ordered[:, :-1], axis=0)]))
        parts = []
        for a, b in zip(starts, [*starts[1:], len(order)], strict=True):
            among = order[a:b]
            inverse, small, pushed = self._factor(closed[:, among[0]])
            change = slopes[:, among].copy()
            change[:-1] -= self.slopes
            matter = np.any(np.abs(change) > 1e-9 * (1.0 + np.abs(self.slopes).max(initial=0.0)), axis=1)
            which = np.flatnonzero(matter)
            amount = change[which].T
            matrix = amount[:, :, None] * small[np.ix_(which, which)]
            matrix[:, np.arange(len(which)), np.arange(len(which))] += 1.0
            parts.append((among, inverse, pushed[:, which], self.own_rows[which], amount, matrix))

        def step(residual: Array) -> Array:
            found = np.empty_like(residual)
            for among, inverse, pushed, rows, amount, matrix in parts:
                first = inverse @ residual[:, among]
                if len(rows):
                    right = amount * (rows @ first).T
                    first -= pushed @ np.linalg.solve(matrix, right[:, :, None])[:, :, 0].T
                found[:, among] = first
            return found

        return step

    def _factor(self, closed: Array) -> tuple[Array, Array, Array]:
        """The inverse for one set of closed pairs, its part on own rows, and its columns there."""
        key = np.packbits(closed).tobytes()
        if key not in self.factors:
            jacobian = self.jacobian.copy()
            rows = self.weights * self.rows[self.contact]
            free = np.eye(self.size)[self.contact]
            jacobian[self.contact] = np.where(closed[:, None], rows, free)
            inverse = np.linalg.inv(jacobian)
            pushed = inverse[:, self.own]
            while len(self.factors) >= MOST_FACTORS:
                del self.factors[next(iter(self.factors))]
            self.factors[key] = (inverse, self.own_rows @ pushed, pushed)
        return self.factors[key]

    def _states(
        self,
        before: ManyStates,
        unknown: Array,
        opening: Array,
        travels: Mapping[str, Array],
        given: Given,
        solved: Array,
    ) -> ManyStates:
        joint, count = self.joint, unknown.shape[1]
        forces, openings = np.zeros((joint.n_ports, count)), np.zeros((joint.n_ports, count))
        forces[self.ports], openings[self.ports] = unknown[: self.n], opening
        shifts = np.zeros((len(joint.bodies), count))
        shifts[self.floating] = unknown[self.n : self.n + len(self.floating)]
        moved = {name: wide(value, count) for name, value in travels.items()}
        if self.turn is not None:
            moved[self.turn] = unknown[self.control_row]
        memory = list(before.memory)
        for (index, _, part), law in zip(self.curves, given.laws, strict=True):
            if isinstance(law, HistoryCurveLaw):
                reached = before.memory[index]
                assert isinstance(reached, np.ndarray)
                memory[index] = np.maximum(reached, -opening[part])
            else:
                memory[index] = (-opening[part], curve_at(law, -opening[part], before.memory[index])[0])
        return replace(
            before, forces=forces, openings=openings, shifts=shifts, travels=moved, stretch=unknown[-1],
            memory=tuple(memory), shear=given.shear, solved=solved,
        )  # fmt: skip
