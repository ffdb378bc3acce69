"""Checks of jumps over cycles of bodies that flow: two bars that ratchet, against the closed form and cycle by cycle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.fem import Backstress, Inelastic, NortonCreep, Plasticity
from studwell.fem.fixed_point import fixed_point
from studwell.fem.plastic_laws import PointState, advance, virgin
from studwell.history.flow_jumps import Carried, CarriedOn, Reached, carry_on
from studwell.verify.registry import Row, check, relative

Array = np.ndarray

MODULUS, EXPANSION, YIELD = 70_000.0, 21.5e-6, 150.0
ALUMINIUM = Inelastic(MODULUS, 0.33, EXPANSION, Plasticity(YIELD))
ROOM = 20.0
HOUR = 3600.0

MARKS = (10, 100, 1000)


@dataclass(frozen=True)
class BarsState:
    """The bars' points (2,) and their common strain."""

    points: PointState
    strain: float


@dataclass(frozen=True)
class TwoBars:
    """Two equal bars of equal length under one load, the first heated and cooled in cycles; the measure is their strain.

    As `history.flow_jumps.Cycles` takes them.

    material : of both;  mean_stress : MPa, of both together;  heating : K of the first;  hours : of each half cycle
    """

    material: Inelastic
    mean_stress: float
    heating: float
    hours: float = 0.0

    creeps = False

    def loaded(self) -> BarsState:
        """Return the bars when the load has come, before any heat."""
        return self.stepped(virgin(self.material, (2,)), 0.0)

    def stepped(self, points: PointState, heated: float, duration: float = 0.0) -> BarsState:
        """Return the bars' state that follows another one; heated: K of the first bar, duration: s."""
        modulus, nu = self.material.youngs_modulus, self.material.poisson
        uniaxial = np.array([-nu, -nu, 1.0, 0.0]) / modulus
        free = np.array([float(self.material.expansion) * heated, 0.0])
        plasticity = self.material.plasticity
        scale = modulus if plasticity is None else float(np.min(plasticity.strength(np.zeros(1), np.array([ROOM]))[0]))
        found = {}

        def change(x: Array) -> tuple[Array, float]:
            inelastic = x.reshape(2, 4)
            own = inelastic[:, 2] + free
            strain = self.mean_stress / modulus + float(own.mean())
            stress = modulus * (strain - own)
            after = advance(self.material, points, stress[:, None] * uniaxial + inelastic, ROOM, duration)
            found["state"] = BarsState(after, strain)
            step = after.inelastic - inelastic
            return step.ravel(), float(np.abs(step).max()) / (scale / modulus)

        fixed_point(change, points.inelastic.ravel(), 1e-12, 200)
        return found["state"]

    def following(self, state: BarsState) -> BarsState:
        """Return the bars after the next cycle."""
        hot = self.stepped(state.points, self.heating, HOUR * self.hours)
        return self.stepped(hot.points, 0.0, HOUR * self.hours)

    def carried(self, state: BarsState) -> Carried:
        """Return the points of both bars."""
        return Carried({"bars": state.points})

    def moved(self, state: BarsState, carried: Carried, skipped: int) -> BarsState:
        """Return the state with other points."""
        return BarsState(carried.zones["bars"], state.strain)

    def clock(self, state: BarsState, later: int) -> float:
        """Return the number of cycles: there is no gasket."""
        return float(later)

    def measure(self, state: BarsState) -> float:
        """Return the common strain."""
        return state.strain


def jumped(bars: TwoBars, aim: int, first: int, most: int = 150) -> tuple[CarriedOn, dict[int, Reached]]:
    """Return how the bars came through their cycles, and every number of cycles reached."""
    reached: dict[int, Reached] = {}
    wanted = sorted({mark for mark in MARKS if mark < aim} | {aim})
    end = carry_on(
        bars,
        bars.loaded(),
        done=0,
        aim=aim,
        first=first,
        most=most,
        wanted=wanted,
        tell=lambda one: reached.__setitem__(one.cycle, one),
    )
    return end, reached


def solved(bars: TwoBars, aim: int) -> list[float]:
    """Return the bars' strain after 0, 1, 2 ... cycles, every one solved."""
    state = bars.loaded()
    strains = [state.strain]
    for _ in range(aim):
        state = bars.following(state)
        strains.append(state.strain)
    return strains


@check(
    "two-bar-ratchet-jumped",
    subject="plasticity",
    title="A thousand cycles of two bars that ratchet, most of them jumped over: growth in all",
    source="Equilibrium of two perfectly plastic bars: growth a cycle = alpha dT - 4 (Y - s) / E",
    status="computed",
    tolerance="1e-6",
)
def two_bar_ratchet_jumped() -> list[Row]:
    """Compare growth from cycle 10 on with the closed form."""
    heating, mean = 201.0, 75.0
    each = EXPANSION * heating - 4 * (YIELD - mean) / MODULUS
    _, reached = jumped(TwoBars(ALUMINIUM, mean, heating), 1000, 10)
    return [
        relative(
            f"growth from 10 to {n} cycles", (n - 10) * each, _strain(reached[n]) - _strain(reached[10]), 1e-6, "1"
        )
        for n in (100, 1000)
    ]


HARDENING = {
    "isotropic hardening": (Plasticity(YIELD, 500.0), None, 75.0, 300.0, 0.0),
    "moving and growing surface": (
        Plasticity(YIELD, 0.0, 50.0, 60.0, (Backstress(3000.0, 60.0),)),
        None,
        120.0,
        300.0,
        0.0,
    ),
    "backstress that fades": (Plasticity(YIELD, backstresses=(Backstress(20_000.0, 400.0),)), None, 120.0, 200.0, 0.0),
    "creep": (Plasticity(YIELD), NortonCreep(5.0, 3.6e-14 / HOUR, (0.0, 300.0)), 75.0, 150.0, 0.5),
}
"""Name -> hardening, creep, mean stress (MPa), heating (K), hours of each half cycle."""


@check(
    "two-bar-jump-error",
    subject="plasticity",
    title="Strain of two bars after 60 cycles by jumps, against every cycle solved: difference over estimated error",
    source="The same bars without jumps",
    status="computed",
    tolerance="1: the estimate holds; estimates up to 5 % of the growth",
)
def two_bar_jump_error() -> list[Row]:
    """Compare the largest difference of the strain over its estimated error, for bars whose growth falls."""
    rows = []
    for name, (plasticity, creep, mean, heating, hours) in HARDENING.items():
        bars = TwoBars(Inelastic(MODULUS, 0.33, EXPANSION, plasticity, creep), mean, heating, hours)
        end, reached = jumped(bars, 60, 10)
        strains = solved(bars, end.reached)
        worst = max(
            abs(_strain(one) - strains[cycle]) / max(one.error, 1e-9 * abs(strains[cycle]))
            for cycle, one in reached.items()
        )
        rows.append(Row(f"difference over estimate, {name}", 0.0, float(worst), 1.0, "1"))
        rows.append(Row(f"error estimate over growth, {name}", 0.0, _share(reached, strains), 0.05, "1"))
    return rows


def _strain(one: Reached) -> float:
    return float(one.state.strain)


def _share(reached: dict[int, Reached], strains: list[float]) -> float:
    last = reached[max(reached)]
    return float(last.error / np.abs(strains[last.cycle] - strains[0]))
