"""Checks of plasticity and creep against closed forms: thick cylinder, ratcheting of bars and walls, relaxation."""

from __future__ import annotations

from functools import cache
from math import log, pi, sqrt

import numpy as np

from studwell.fem import (
    Elastic,
    ElastoplasticHistory,
    Increment,
    Inelastic,
    NortonCreep,
    Plasticity,
    solve_elastic,
    solve_elastoplastic,
    von_mises,
)
from studwell.mesh.reference import ring
from studwell.verify.cycle_jumps import ALUMINIUM, EXPANSION, HOUR, MODULUS, ROOM, YIELD, TwoBars
from studwell.verify.registry import Row, check, relative

Array = np.ndarray

BORE, OUTSIDE, HEIGHT = 100.0, 200.0, 5.0
STEEL = Inelastic(youngs_modulus=210_000.0, poisson=0.3, plasticity=Plasticity(240.0))
SHEAR_YIELD_TWICE = 2 * 240.0 / sqrt(3)
"""MPa, difference of hoop and radial stress at yield in plane strain, 2 Y / sqrt 3."""


def _cylinder(increments: list[Increment], supports: dict[str, str] | None = None) -> ElastoplasticHistory:
    """The steel cylinder between rigid ends."""
    mesh = ring(BORE, OUTSIDE, HEIGHT, (80, 1))
    held = {"bottom": "z", "top": "z"} | (supports or {})
    return solve_elastoplastic(mesh, {"ring": STEEL}, increments, start_temperature=ROOM, supports=held)


@cache
def _driven_cylinder() -> tuple[Array, Array]:
    """Pressure and radius of the plastic front while the bore is driven outwards (plane strain), MPa and mm."""
    moves = np.linspace(0.08, 0.4, 33)
    field = _cylinder([Increment(supports={"bore": ("r", u)}) for u in moves], {"bore": "r"})
    pressure = field.reaction("bore")[:, 0] / (2 * pi * BORE * HEIGHT)
    weights = field.space.weights
    volume = [(weights * (field.plastic_strain(k) > 0)).sum() for k in range(len(moves))]
    return pressure, np.sqrt(BORE**2 + np.array(volume) / (pi * HEIGHT))


def front_pressure(front: float) -> float:
    """Return the bore pressure (MPa) at which a cylinder has yielded out to a radius (mm): Hill's closed form."""
    return SHEAR_YIELD_TWICE / 2 * (1 - (front / OUTSIDE) ** 2 + 2 * log(front / BORE))


@check(
    "cylinder-plastic-front",
    subject="plasticity",
    title="Pressure that spreads yielding through a thick cylinder",
    source="Hill, The Mathematical Theory of Plasticity, 1950, thick tube in plane strain, Y -> 2 Y / sqrt 3 for Mises",
    status="computed",
    tolerance="1 % (the closed form takes the material as incompressible)",
)
def cylinder_plastic_front() -> list[Row]:
    """Compare p = (k/2)(1 - c^2/b^2 + 2 ln(c/a)), k = 2 Y / sqrt 3, and u(b) = (1 - nu^2) k c^2 / (E b)."""
    pressure, front = _driven_cylinder()
    rows = [
        relative(f"pressure with the front at {c:g} mm", front_pressure(c), np.interp(c, front, pressure), 0.01, "MPa")
        for c in (120.0, 150.0, 180.0)
    ]
    c = 150.0
    field = _cylinder([Increment(pressures={"bore": share * front_pressure(c)}) for share in (0.8, 1.0)])
    moved = field.displacement_at([[OUTSIDE, 0.0]])[-1, 0, 0]
    exact = (1 - STEEL.poisson**2) * SHEAR_YIELD_TWICE * c**2 / (STEEL.youngs_modulus * OUTSIDE)
    return [*rows, relative("outside displacement, front at 150 mm", exact, moved, 0.01, "mm")]


@check(
    "cylinder-first-yield",
    subject="plasticity",
    title="Pressure at which a thick cylinder first yields (von Mises, rigid ends)",
    source="Timoshenko & Goodier, thick cylinder, and von Mises yield with the elastic axial stress 2 nu f",
    status="computed",
    tolerance="0.2 %",
)
def cylinder_first_yield() -> list[Row]:
    """Compare the pressure from the elastic bore stress, and the pressures between which points begin to flow."""
    f = BORE**2 / (OUTSIDE**2 - BORE**2)
    square = (OUTSIDE / BORE) ** 2
    exact = 240.0 / float(von_mises([f * (1 - square), f * (1 + square), 2 * 0.3 * f, 0.0]))
    mesh = ring(BORE, OUTSIDE, HEIGHT, (80, 1))
    elastic = solve_elastic(
        mesh, {"ring": Elastic(STEEL.youngs_modulus, STEEL.poisson)}, {"bottom": "z", "top": "z"}, {"bore": 1.0}
    )
    found = 240.0 / float(von_mises(elastic.at([[BORE, 0.5 * HEIGHT]])[0]))
    tries = np.linspace(0.998, 1.006, 17) * exact
    field = _cylinder([Increment(pressures={"bore": p}) for p in tries])
    flows = [bool(field.plastic_strain(k).any()) for k in range(len(tries))]
    first = float(tries[flows.index(True)]) if any(flows) else float("nan")
    inner = float(field.space.points[..., 0].min())
    return [
        relative("pressure, from the stress at the bore", exact, found, 2e-3, "MPa"),
        # the innermost point lies a little outside the bore, where the stress is (bore / r)^2 of it
        relative("pressure at which the innermost point flows", exact * (inner / BORE) ** 2, first, 2e-3, "MPa"),
    ]


@check(
    "cylinder-limit-pressure",
    subject="plasticity",
    title="Limit pressure of a thick cylinder, bore driven outwards",
    source="Hill, The Mathematical Theory of Plasticity, 1950: p = (2 / sqrt 3) Y ln(b / a)",
    status="computed",
    tolerance="0.5 %",
)
def cylinder_limit_pressure() -> list[Row]:
    """Compare the pressure when the whole wall has yielded."""
    moves = (0.1, 0.2, 0.4, 0.8, 1.6)
    field = _cylinder([Increment(supports={"bore": ("r", u)}) for u in moves], {"bore": "r"})
    pressure = field.reaction("bore")[-1, 0] / (2 * pi * BORE * HEIGHT)
    return [relative("limit pressure", SHEAR_YIELD_TWICE * log(OUTSIDE / BORE), pressure, 5e-3, "MPa")]


def two_bar_growth(mean_stress: float, heating: float, cycles: int = 5) -> float:
    """Return the growth per cycle (strain) of two equal aluminium bars of equal length, one heated and cooled.

    mean_stress : MPa, of both bars together;  heating : K of the first bar
    """
    bars = TwoBars(ALUMINIUM, mean_stress, heating)
    states = [bars.loaded()]
    for _ in range(cycles):
        states.append(bars.following(states[-1]))
    return states[-1].strain - states[-2].strain


@check(
    "two-bar-ratchet",
    subject="plasticity",
    title="Two bars of equal length under load, one heated and cooled: growth per cycle",
    source="Equilibrium of two perfectly plastic bars: growth = alpha dT - 4 (Y - s) / E where positive",
    status="computed",
    tolerance="1e-6 of the strain at yield; 1e-6",
)
def two_bar_ratchet() -> list[Row]:
    """Compare growth at loads and heats given as shares of yield, and the heating at which aluminium starts to grow."""
    rows = []
    at_yield = YIELD / MODULUS
    for mean, heat, expected in ((0.5, 0.9, 0.0), (0.5, 1.1, 0.2), (0.8, 0.5, 0.2), (0.8, 0.35, 0.0), (0.25, 1.6, 0.2)):
        heating = 2 * heat * at_yield / EXPANSION
        growth = two_bar_growth(mean * YIELD, heating) / at_yield
        rows.append(Row(f"growth at {mean:g} Y with thermal stress {heat:g} Y", expected, growth, 1e-6, "Y/E"))
    least = 4 * (YIELD - 75.0) / (MODULUS * EXPANSION)
    low, high = two_bar_growth(75.0, 210.0), two_bar_growth(75.0, 220.0)
    rows.append(relative("growth of aluminium at 220 K", EXPANSION * (220.0 - least), high, 1e-6, "1"))
    rows.append(relative("heating at which growth starts", least, 210.0 - low * 10.0 / (high - low), 1e-6, "K"))
    return rows


def wall_growth(load: float, heat: float, cycles: int = 5, layers: int = 16) -> float:
    """Return the growth per cycle, in Y/E, of a thin ring under pressure whose wall is heated through and cooled.

    load : membrane stress over yield;  heat : largest thermal stress over yield (straight through the wall)
    layers : elements through the wall, three integration layers each

    The ring is free axially; its radius is 1000 times its thickness, so that only hoop stress matters.
    """
    radius, thickness = 1000.0, 1.0
    mesh = ring(radius - thickness / 2, radius + thickness / 2, 0.02, (layers, 1))
    hottest = heat * YIELD / (MODULUS * EXPANSION)

    def profile(r: Array, z: Array) -> Array:
        return hottest * (radius - r) / (thickness / 2)

    pressures = {"bore": load * YIELD * thickness / radius}
    cold, hot = Increment(pressures), Increment(pressures, temperature_change=profile)
    field = solve_elastoplastic(
        mesh,
        {"ring": ALUMINIUM},
        [cold, *[hot, cold] * cycles],
        start_temperature=ROOM,
        supports={"bottom": "z"},
    )
    moved = field.displacement_at([[radius, 0.0]])[:, 0, 0]
    return float(moved[-1] - moved[-3]) / radius * MODULUS / YIELD


def closed_wall_growth(load: float, heat: float) -> float:
    """Return Bree's growth per cycle, in Y/E, for shares of yield as in `wall_growth`."""
    if heat * (1 - load) < 1:
        return max(0.0, 2 * heat * (1 - 2 * sqrt((1 - load) / heat)))
    return max(0.0, 2 * (load * heat - 1))


@check(
    "wall-ratchet",
    subject="plasticity",
    title="A pressurised wall heated through and cooled: growth per cycle",
    source="Bree 1967, Journal of Strain Analysis 2, 226-238",
    status="computed",
    tolerance="1 %; 1e-6 Y/E where nothing grows (48 integration layers)",
)
def wall_ratchet() -> list[Row]:
    """Compare 2 Yt (1 - 2 sqrt((1 - X) / Yt)) where Yt (1 - X) < 1, else 2 (X Yt - 1)."""
    rows = []
    for load, heat in ((0.6, 1.7), (0.8, 1.0), (0.25, 4.2), (0.6, 1.5), (0.8, 0.7)):
        expected = closed_wall_growth(load, heat)
        name = f"growth at pressure {load:g} Y, thermal stress {heat:g} Y"
        rows.append(Row(name, expected, wall_growth(load, heat), max(0.01 * expected, 1e-6), "Y/E"))
    return rows


@check(
    "wall-ratchet-boundary",
    subject="plasticity",
    title="Thermal stress at which a pressurised wall starts to grow",
    source="Bree 1967, Journal of Strain Analysis 2, 226-238",
    status="computed",
    tolerance="1 %",
)
def wall_ratchet_boundary() -> list[Row]:
    """Compare Yt = 4 (1 - X) for X >= 1/2, 1 / X below: where a straight line through two growths vanishes."""
    rows = []
    for load in (0.6, 0.8, 0.25):
        exact = 4 * (1 - load) if load >= 0.5 else 1 / load
        heats = exact * np.array([1.03, 1.06])
        low, high = (wall_growth(load, float(heat)) for heat in heats)
        found = heats[0] - low * (heats[1] - heats[0]) / (high - low)
        rows.append(relative(f"thermal stress at pressure {load:g} Y", exact, found, 0.01, "Y"))
    return rows


@check(
    "creep-relaxation",
    subject="plasticity",
    title="Stress of a bar held at its length while it creeps",
    source="Norton creep at fixed strain: s = (s0^(1-n) + (n-1) E B t)^(1/(1-n))",
    status="computed",
    tolerance="0.1 %",
)
def creep_relaxation() -> list[Row]:
    """Compare the stress after 10, 100 and 1000 h, and the time to half the stress; n = 5, B = 1e-16 per hour."""
    exponent, coefficient, start = 5.0, 1e-16, 100.0
    material = Inelastic(MODULUS, 0.33, creep=NortonCreep(exponent, coefficient / HOUR, (0.0, 100.0)))
    length, radius = 10.0, 5.0
    hours = np.concatenate([[0.0], np.geomspace(1.0, 10.0, 6), np.geomspace(10.0, 6000.0, 65)[1:], [100.0, 1000.0]])
    hours = np.unique(hours)
    field = solve_elastoplastic(
        ring(0.0, radius, length, (2, 2)),
        {"ring": material},
        [Increment(duration=HOUR * float(step)) for step in np.diff(hours, prepend=0.0)],
        start_temperature=ROOM,
        supports={"bottom": "z", "top": ("z", start / MODULUS * length)},
    )
    stress = field.reaction("top")[:, 1] / (pi * radius**2)
    power = 1 - exponent
    rows = []
    for t in (10.0, 100.0, 1000.0):
        exact = (start**power - power * MODULUS * coefficient * t) ** (1 / power)
        rows.append(relative(f"stress after {t:g} h", exact, stress[np.argmin(np.abs(hours - t))], 1e-3, "MPa"))
    half = ((start / 2) ** power - start**power) / (-power * MODULUS * coefficient)
    # s^(1-n) rises evenly in time, so that a straight line between increments is the closed form's own
    found = np.interp((start / 2) ** power, stress**power, hours)
    return [*rows, relative("time to half the stress", half, float(found), 1e-3, "h")]
