"""Interface laws: force and opening at a pair of edges in, residual and slopes out.

A port has a force (N, positive pushes the two sides apart) and an opening (mm, positive is open), conjugate to
each other. A law says which pairs are allowed. Two kinds:

* linear laws (`compliance` in mm/N): opening + compliance * force = 0; eliminated before any iteration;
* nonlinear laws with `linearise(force, opening, state) -> (residual in N, d residual / d force (n, n),
  d residual / d opening (n, n))` and `commit(force, opening, state) -> state`.

A new law is one class here and one row in the table of section/interfaces.py. No file and no mesh is known here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np

Array = np.ndarray
State = Any


class Law(Protocol):
    """What the solver asks of a law."""

    @property
    def linear(self) -> bool: ...

    def start(self, count: int) -> State: ...


class NonlinearLaw(Law, Protocol):
    """A law with a residual that Newton's method closes."""

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]: ...

    def commit(self, force: Array, opening: Array, state: State) -> State: ...

    def violation(self, force: Array, opening: Array, state: State) -> float: ...


@dataclass(frozen=True)
class LinearCompliance:
    """opening + compliance * force = 0: a compliant layer, or a bond where the compliance is zero.

    compliance : (n,) mm/N, not negative
    """

    compliance: Array = field(repr=False)
    linear: bool = True

    def start(self, count: int) -> State:
        return None


@dataclass(frozen=True)
class UnilateralContact:
    """Either open without force or closed without opening: 0 <= opening, 0 <= force, product zero.

    weight : N/mm, turns an opening into a force when the set of closed pairs is guessed; it changes the path
             of the iteration, never the answer.
    """

    weight: float = 1e5
    linear: bool = False

    def start(self, count: int) -> State:
        return None

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]:
        closed = force - self.weight * opening >= 0.0
        residual = np.where(closed, self.weight * opening, force)
        return residual, np.diag(np.where(closed, 0.0, 1.0)), np.diag(np.where(closed, self.weight, 0.0))

    def commit(self, force: Array, opening: Array, state: State) -> State:
        return None

    def violation(self, force: Array, opening: Array, state: State) -> float:
        """Largest of: tension, penetration, force across an open gap; all as force, N."""
        return float(np.max(np.abs(np.minimum(force, self.weight * opening)), initial=0.0))


@dataclass(frozen=True)
class FrictionalContact:
    """Unilateral contact with Coulomb friction; ports are n normal pairs and then n tangential pairs.

    friction : coefficient, not negative
    weight   : N/mm, as in UnilateralContact
    State: tangential opening at which each pair last stuck (n,), and which pairs were closed (n,).
    A pair that was open re-enters sliding freely: its stick point is where it touches down.
    """

    friction: float
    weight: float = 1e5
    linear: bool = False

    def start(self, count: int) -> State:
        return np.zeros(count // 2), np.zeros(count // 2, dtype=bool)

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]:
        stuck_at, was_closed = state
        n = len(force) // 2
        normal, shear = force[:n], force[n:]
        gap, slide = opening[:n], opening[n:]
        closed = normal - self.weight * gap >= 0.0
        d_force, d_opening = np.zeros((2 * n, 2 * n)), np.zeros((2 * n, 2 * n))
        i = np.arange(n)
        residual = np.empty(2 * n)
        residual[:n] = np.where(closed, self.weight * gap, normal)
        d_force[i, i] = np.where(closed, 0.0, 1.0)
        d_opening[i, i] = np.where(closed, self.weight, 0.0)
        bound = self.friction * np.maximum(normal, 0.0)
        trial = shear - self.weight * (slide - stuck_at)
        stick = closed & was_closed & (np.abs(trial) < bound)
        slip = closed & was_closed & ~stick
        sign = np.sign(trial)
        residual[n:] = np.where(stick, self.weight * (slide - stuck_at), np.where(slip, shear - sign * bound, shear))
        d_force[n + i, n + i] = np.where(stick, 0.0, 1.0)
        d_force[n + i, i] = np.where(slip & (normal > 0.0), -sign * self.friction, 0.0)
        d_opening[n + i, n + i] = np.where(stick, self.weight, 0.0)
        return residual, d_force, d_opening

    def commit(self, force: Array, opening: Array, state: State) -> State:
        n = len(force) // 2
        return opening[n:].copy(), force[:n] > 0.0

    def violation(self, force: Array, opening: Array, state: State) -> float:
        residual, _, _ = self.linearise(force, opening, state)
        return float(np.max(np.abs(residual), initial=0.0))


@dataclass(frozen=True)
class CurveLaw:
    """force = curve(travel) with travel = -opening, one scalar curve for each port (a spring washer, say).

    curve       : travel (n,) mm -> force (n,) N and slope (n,) N/mm; zero force for negative travel
    load_factor, unload_factor : the friction loop's two branches as multiples of the curve; 1 and 1 without friction
    stick_stiffness : N/mm between the branches when the direction turns round
    State: travel and force (n,) at the last committed state.
    """

    curve: Callable[[Array], tuple[Array, Array]]
    load_factor: float = 1.0
    unload_factor: float = 1.0
    stick_stiffness: float = 0.0
    linear: bool = False

    def start(self, count: int) -> State:
        return np.zeros(count), np.zeros(count)

    def force(self, travel: Array, state: State) -> tuple[Array, Array]:
        """Return force (n,) N and its slope (n,) N/mm at a travel (n,) mm from the committed state."""
        base, slope = self.curve(travel)
        if self.load_factor == self.unload_factor:
            return base * self.load_factor, slope * self.load_factor
        travel_before, force_before = state
        trial = force_before + self.stick_stiffness * (travel - travel_before)
        upper, lower = self.load_factor * base, self.unload_factor * base
        value = np.minimum(np.maximum(trial, lower), upper)
        d_value = np.where(
            trial >= upper,
            self.load_factor * slope,
            np.where(trial <= lower, self.unload_factor * slope, self.stick_stiffness),
        )
        return value, d_value

    def explicit(self, opening: Array, state: State) -> tuple[Array, Array]:
        """Return the force (n,) N at an opening (n,) mm and its slope (n,) N/mm by the closure, port by port."""
        return self.force(-opening, state)

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]:
        value, slope = self.force(-opening, state)
        return force - value, np.eye(len(force)), np.diag(slope)

    def commit(self, force: Array, opening: Array, state: State) -> State:
        return -opening, self.force(-opening, state)[0]

    def violation(self, force: Array, opening: Array, state: State) -> float:
        return float(np.max(np.abs(force - self.force(-opening, state)[0]), initial=0.0))


@dataclass(frozen=True)
class SettingCurveLaw:
    """A CurveLaw of a part that loses travel for good when it sets, as springs do in their first heat.

    after : lost travel of the whole part (mm) -> its CurveLaw then, in the travel counted from the height it had when new
    State: the travel lost so far (mm) and the state of the curve's law. What sets the part is `settle`, between two steps.
    """

    after: Callable[[float], CurveLaw]
    linear: bool = False

    def start(self, count: int) -> State:
        return 0.0, self.after(0.0).start(count)

    def explicit(self, opening: Array, state: State) -> tuple[Array, Array]:
        """Return force and slope as those of its CurveLaw."""
        return self.after(state[0]).explicit(opening, state[1])

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]:
        return self.after(state[0]).linearise(force, opening, state[1])

    def commit(self, force: Array, opening: Array, state: State) -> State:
        return state[0], self.after(state[0]).commit(force, opening, state[1])

    def violation(self, force: Array, opening: Array, state: State) -> float:
        return self.after(state[0]).violation(force, opening, state[1])

    def settle(self, state: State, lost: float) -> State:
        """Return the state once so much travel (mm) is lost: the travel held, the force lower as the curve is.

        Where friction had left the force within its loop it stays there: the force falls by the curve's own share.
        """
        before, (travel, force) = state
        was, now = (self.after(each).curve(travel)[0] for each in (before, lost))
        return lost, (travel, force * np.where(was > 0.0, now / np.where(was > 0.0, was, 1.0), 1.0))


@dataclass(frozen=True)
class HistoryCurveLaw:
    """force = curve(closure, largest closure so far), closure = -opening: a gasket's loading and unloading.

    curve : (closure (n,) mm, largest (n,) mm) -> force (n,) N and slope (n,) N/mm
    State: the largest closure (n,) reached in any committed state.
    """

    curve: Callable[[Array, Array], tuple[Array, Array]]
    linear: bool = False

    def start(self, count: int) -> State:
        return np.zeros(count)

    def explicit(self, opening: Array, state: State) -> tuple[Array, Array]:
        """Return the force (n,) N at an opening (n,) mm and its slope (n,) N/mm by the closure, port by port."""
        return self.curve(-opening, state)

    def linearise(self, force: Array, opening: Array, state: State) -> tuple[Array, Array, Array]:
        value, slope = self.curve(-opening, state)
        return force - value, np.eye(len(force)), np.diag(slope)

    def commit(self, force: Array, opening: Array, state: State) -> State:
        return np.maximum(state, -opening)

    def violation(self, force: Array, opening: Array, state: State) -> float:
        return float(np.max(np.abs(force - self.curve(-opening, state)[0]), initial=0.0))


@dataclass(frozen=True)
class ShankLaw:
    """Plastic stretch of the stud's weakest length under tension and locked-in torsion (von Mises, tension only).

    area            : mm^2, stress area of that length
    length          : mm over which the stretch spreads
    yield_strength  : MPa at the state's temperature is passed in at each step
    hardening       : MPa per unit plastic strain, positive
    Source: von Mises yield of a round bar in tension and torsion, sqrt(sigma^2 + 3 tau^2) = Y + H e_p.
    """

    area: float
    length: float
    hardening: float

    def residual(
        self, tension: float, stretch: float, stretch_before: float, yield_strength: float, shear: float
    ) -> tuple[float, float, float]:
        """Return residual (mm), d/d tension (mm/N), d/d stretch (-) of the yield condition.

        tension N, stretch and stretch_before mm, yield_strength MPa, shear MPa (locked-in torsion).
        """
        stress = tension / self.area
        equivalent = float(np.sqrt(stress**2 + 3.0 * shear**2))
        flow = yield_strength + self.hardening * stretch / self.length
        over = equivalent - flow
        scale = self.length / self.hardening  # mm of stretch that hardens by 1 MPa
        trial = stretch - stretch_before + scale * over
        if trial > 0.0 and tension > 0.0:
            slope = stress / equivalent / self.area if equivalent > 0.0 else 0.0
            return -scale * over, -scale * slope, 1.0
        return stretch - stretch_before, 0.0, 1.0
