"""Checks of heat conduction, steady and in time, against closed forms and published benchmarks."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from math import exp, log, pi

import numpy as np
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from studwell.fem import (
    AirGap,
    Contact,
    Film,
    HeatSystem,
    Held,
    ThermalBody,
    air_gap_conductance,
    solve_conduction,
    solve_steady,
    solve_transient,
)
from studwell.fem.radiation import ABSOLUTE_ZERO, STEFAN_BOLTZMANN
from studwell.mesh import Block, build, graded
from studwell.mesh.mesh import Floats, Mesh
from studwell.mesh.reference import ring
from studwell.verify.registry import Row, check, printed, relative

STEEL, ALUMINIUM = 45.0, 150.0
"""Conductivities, N/(s K), the same numbers as in W/(m K)."""

ALUMINIUM_HEAT = 2700.0 * 900.0 * 1e-6
"""Density times specific heat, MPa/K."""


def _bar(length: float, cells: int, name: str = "bar", start: float = 0.0) -> Mesh:
    corners = [[0.0, start], [1.0, start], [1.0, start + length], [0.0, start + length]]
    return build([Block(corners, (1, cells), name, {"south": "near", "north": "far"})])


def _bisect(function: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(function, low, high, xtol=1e-13, rtol=1e-14))


# Steady


@cache
def _radiating_bar() -> float:
    """Temperature of the radiating end, K."""
    held, around = 1000.0 + ABSOLUTE_ZERO, 300.0 + ABSOLUTE_ZERO
    field = solve_conduction(
        _bar(100.0, 4), {"bar": 55.6}, {"near": held}, axisymmetric=False, radiating={"far": (0.98, around)}
    )
    return float(field.at([[0.5, 100.0]])[0]) - ABSOLUTE_ZERO


@check(
    "radiating-bar",
    subject="conduction",
    title="Bar between a held end and an end that radiates",
    source="Heat balance k (TA - T) / L = emissivity sigma (T^4 - Ta^4); data as in NAFEMS benchmark T2",
    status="computed",
    tolerance="1e-4 K",
)
def radiating_bar() -> list[Row]:
    """Compare the radiating end: L 0.1 m, k 55.6 W/(m K), TA 1000 K, Ta 300 K, emissivity 0.98."""
    exact = _bisect(
        lambda t: 55.6 * (1000 - t) / 100 - 0.98 * STEFAN_BOLTZMANN * (t**4 - 300.0**4),
        300,
        1000,
    )
    return [Row("temperature of the radiating end", exact, _radiating_bar(), 1e-4, "K")]


@cache
def _cooled_rectangle() -> float:
    """Temperature at (0.6, 0.2) m, degC, of the rectangle of `cooled_rectangle`."""
    tags = {"south": "bottom", "east": "right", "north": "top"}
    corners = [[0.0, 0.0], [600.0, 0.0], [600.0, 1000.0], [0.0, 1000.0]]
    across, along = 1 - graded(18, 12.0)[::-1], graded(24, 40.0)  # small elements at the corner (0.6, 0)
    mesh = build([Block(corners, (18, 24), "plate", tags, u_spacing=across, v_spacing=along)])
    films = {"right": (0.75, 0.0), "top": (0.75, 0.0)}
    field = solve_conduction(mesh, {"plate": 52.0}, {"bottom": 100.0}, films=films, axisymmetric=False)
    return float(field.at([[600.0, 200.0]])[0])


@check(
    "cooled-rectangle",
    subject="conduction",
    title="Rectangle held hot below, cooled by films on two sides",
    source="Series of separated variables; data as in NAFEMS benchmark T4 and a public verification page",
    status="computed",
    tolerance="0.02 %",
)
def cooled_rectangle() -> list[Row]:
    """Compare T at (0.6, 0.2) m: 0.6 x 1.0 m, bottom 100 degC, left insulated, h 750 to 0 degC, k 52."""
    a, high, ratio = 0.6, 1.0, 750.0 / 52.0
    exact = 0.0
    for n in range(4000):
        b = _bisect(lambda x: x * a * np.sin(x * a) - ratio * a * np.cos(x * a), n * pi / a, (n + 0.5) * pi / a)
        share = 4 * np.sin(b * a) / (2 * b * a + np.sin(2 * b * a))
        # cosh(b (H - y)) + (h/k b) sinh(b (H - y)) over the same at y = 0, written without overflow
        top = (1 - ratio / b) / (1 + ratio / b)
        along = exp(-b * 0.2) * (1 + top * exp(-2 * b * (high - 0.2))) / (1 + top * exp(-2 * b * high))
        exact += 100 * share * np.cos(b * a) * along
    return [
        relative("temperature at (0.6, 0.2) m", exact, _cooled_rectangle(), 2e-4, "degC"),
        printed("the series itself", "18.2538", exact, "degC"),
    ]


@check(
    "cylinder-two-films",
    subject="conduction",
    title="Hollow cylinder with convection inside and outside",
    source="Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, radial conduction, resistances in series",
    status="computed",
    tolerance="1e-6",
)
def cylinder_two_films() -> list[Row]:
    """Compare flow and surface temperatures: radii 10 and 20 mm, k 150, h 500 and 50 W/(m^2 K), 200 and 20 degC."""
    mesh = ring(10.0, 20.0, 5.0, (8, 1))
    field = solve_conduction(mesh, {"ring": ALUMINIUM}, films={"bore": (0.5, 200.0), "outside": (0.05, 20.0)})
    inside, outside = field.at([[10.0, 2.5], [20.0, 2.5]])
    films = 1 / (500 * 2 * pi * 0.01), 1 / (50 * 2 * pi * 0.02)
    flow = 180.0 / (sum(films) + log(2) / (2 * pi * 150))
    return [
        relative("heat flow a metre", flow, (200.0 - inside) / films[0], 1e-6, "W/m"),
        relative("inner surface", 200 - flow * films[0], inside, 1e-6, "degC"),
        relative("outer surface", 20 + flow * films[1], outside, 1e-6, "degC"),
    ]


@check(
    "bars-in-contact",
    subject="conduction",
    title="Two bars in series with contact conductance",
    source="Thermal resistances in series, L1/k1 + 1/h + L2/k2",
    status="computed",
    tolerance="1e-9",
)
def bars_in_contact() -> list[Row]:
    """Compare flow and jump: steel and aluminium, 20 mm each, 5000 W/(m^2 K), 100 to 0 degC."""
    heat = {"bar": ALUMINIUM_HEAT}
    bodies = [
        ThermalBody("steel", _bar(20.0, 2), {"bar": STEEL}, heat),
        ThermalBody("aluminium", _bar(20.0, 3, start=20.0), {"bar": ALUMINIUM}, heat),
    ]
    contact = Contact(("steel", "far"), ("aluminium", "near"), 5.0, name="contact")
    ends = Held("steel", "near", 100.0), Held("aluminium", "far", 0.0)
    system = HeatSystem(bodies, [contact, *ends], axisymmetric=False)
    steady = solve_steady(system)
    hot = float((system.operator("steel", [[0.5, 20.0]]) @ steady.temperature)[0])
    cold = float((system.operator("aluminium", [[0.5, 20.0]]) @ steady.temperature)[0])
    flow = 100.0 / (20.0 / STEEL + 1 / 5.0 + 20.0 / ALUMINIUM)
    return [
        relative("heat flow", flow * 1e3, steady.flows["contact"] * 1e3, 1e-9, "W/m^2"),
        relative("jump of temperature", flow / 5.0, hot - cold, 1e-9, "K"),
        relative("steel side", 100.0 - flow * 20.0 / STEEL, hot, 1e-9, "degC"),
    ]


@check(
    "air-gap",
    subject="conduction",
    title="Rod in a sleeve, heat across the air between them; meshes that do not match",
    source="Thermal resistance of a hollow cylinder of air in series with the sleeve, ln(ro/ri) / (2 pi k)",
    status="computed",
    tolerance="1e-6",
)
def air_gap() -> list[Row]:
    """Compare the flow from a rod held at 150 degC through 0.5 mm of air and an aluminium sleeve to 20 degC."""
    rod = ThermalBody("rod", ring(0.0, 4.0, 30.0, (2, 7)), {"ring": STEEL}, {"ring": ALUMINIUM_HEAT})
    sleeve = ThermalBody("sleeve", ring(4.5, 12.0, 30.0, (6, 4)), {"ring": ALUMINIUM}, {"ring": ALUMINIUM_HEAT})
    across = AirGap(("rod", "outside"), ("sleeve", "bore"), air_gap_conductance(0.03, 4.0, 4.5), name="air")
    held = [Held("rod", "outside", 150.0), Held("sleeve", "outside", 20.0)]
    steady = solve_steady(HeatSystem([rod, sleeve], [across, *held]))
    exact = 2 * pi * 30.0 * 130.0 / (log(4.5 / 4.0) / 0.03 + log(12.0 / 4.5) / ALUMINIUM)
    arrived = -steady.flows["sleeve/outside"]
    return [
        relative("heat across the air", exact, steady.flows["air"], 1e-6, "mW"),
        relative("heat that leaves the sleeve", exact, arrived, 1e-6, "mW"),
    ]


# In time


@cache
def _swinging_bar() -> float:
    """Temperature at 0.08 m after 32 s, degC, of the bar of `swinging_bar`."""
    body = ThermalBody("bar", _bar(100.0, 40), {"bar": 35.0}, {"bar": 7200 * 440.5 * 1e-6})
    ends = [Held("bar", "near", 0.0), Held("bar", "far", lambda t: 100.0 * float(np.sin(pi * t / 40.0)))]
    system = HeatSystem([body], ends, axisymmetric=False)
    history = solve_transient(system, system.field(0.0), np.linspace(0.0, 32.0, 257), keep=[32.0])
    return float(history.at("bar", [[0.5, 80.0]])[0, 0])


@check(
    "swinging-end",
    subject="conduction",
    title="Bar whose end temperature swings",
    source="Fourier series (Carslaw & Jaeger, Conduction of Heat in Solids); data as in NAFEMS benchmark T3",
    status="computed",
    tolerance="0.001 K",
)
def swinging_end() -> list[Row]:
    """Compare T(0.08 m, 32 s): L 0.1 m, k 35, c 440.5, density 7200, end at 100 sin(pi t / 40) degC."""
    diffusivity, length, swing, t = 35.0 / (440.5 * 7200), 0.1, pi / 40, 32.0
    n = np.arange(1, 4000)
    rate = diffusivity * (n * pi / length) ** 2
    # u = x/L f(t) + sum v_n sin(n pi x / L), v_n' + rate v_n = -2 (-1)^(n+1) / (n pi) f'(t)
    drive = -2 * (-1.0) ** (n + 1) / (n * pi) * 100 * swing
    v = drive * (rate * (np.cos(swing * t) - np.exp(-rate * t)) + swing * np.sin(swing * t)) / (rate**2 + swing**2)
    exact = 100 * np.sin(swing * t) * 0.8 + float((v * np.sin(n * pi * 0.8)).sum())
    return [
        Row("temperature at 0.08 m, 32 s", exact, _swinging_bar(), 1e-3, "degC"),
        printed("the series itself", "36.6031", exact, "degC"),
    ]


@check(
    "nafems-heat-quoted",
    subject="conduction",
    title="Temperatures quoted for NAFEMS benchmarks T2, T3, T4",
    source="NAFEMS, The Standard NAFEMS Benchmarks, tests T2, T3, T4; quoted figures from memory",
    status="from memory",
    tolerance="half a unit of the last figure quoted (0.06 K for T4)",
)
def nafems_heat_quoted() -> list[Row]:
    """Compare with the figures as quoted; the gates are the closed forms of the same problems."""
    return [
        printed("T2, radiating end", "927.0", _radiating_bar(), "K"),
        printed("T3, at 0.08 m after 32 s", "36.60", _swinging_bar(), "degC"),
        Row("T4, at (0.6, 0.2) m", 18.3, _cooled_rectangle(), 0.06, "degC"),
    ]


def _roots(biot: float, count: int) -> Floats:
    """Roots of x J1(x) = biot J0(x), one between each pair of zeros of J1."""
    zeros = [0.0, *jn_zeros(1, count)]
    return np.array([_bisect(lambda x: x * j1(x) - biot * j0(x), a + 1e-9, b) for a, b in pairwise(zeros)])


def _coefficients(roots: Floats) -> Floats:
    return 2 / roots * j1(roots) / (j0(roots) ** 2 + j1(roots) ** 2)


RADIUS = 10.0


def _cooled_cylinder(biot: float, fourier: Floats, cells: int = 12) -> tuple[Floats, Floats]:
    """Centre and surface of a long cylinder at 1 degC in a fluid at 0 degC, at Fourier numbers (n,)."""
    body = ThermalBody("rod", ring(0.0, RADIUS, 2.0, (cells, 1)), {"ring": ALUMINIUM}, {"ring": ALUMINIUM_HEAT})
    system = HeatSystem([body], [Film("rod", "outside", biot * ALUMINIUM / RADIUS, 0.0)])
    times = fourier * RADIUS**2 * ALUMINIUM_HEAT / ALUMINIUM
    history = solve_transient(system, system.field(1.0), times)
    centre, surface = history.at("rod", [[0.0, 1.0], [RADIUS, 1.0]]).T
    return centre, surface


@check(
    "cooled-cylinder-roots",
    subject="conduction",
    title="Slowest decay of a long cylinder in sudden convection",
    source="Carslaw & Jaeger, Conduction of Heat in Solids, ch. 7; printed as in Incropera & DeWitt, table 5.1",
    status="computed",
    tolerance="0.01 % of the exact root; half a unit of the last printed figure",
)
def cooled_cylinder_roots() -> list[Row]:
    """Compare root and coefficient of theta = C1 exp(-root^2 Fo), taken from two late times, for five Biot numbers."""
    figures = {0.1: "1.02458", 0.5: "1.11425", 1.0: "1.20709", 2.0: "1.33838", 5.0: "1.50287"}
    roots = {0.1: "0.441682", 0.5: "0.940771", 1.0: "1.255784", 2.0: "1.599449", 5.0: "1.989815"}
    rows = []
    for biot, coefficient in figures.items():
        fourier = np.linspace(0.0, 1.2, 301)
        centre, _ = _cooled_cylinder(biot, fourier)
        late, early = 300, 200
        square = -np.log(centre[late] / centre[early]) / (fourier[late] - fourier[early])
        first = _roots(biot, 1)
        rows += [
            relative(f"root at Bi {biot:g}", first[0], float(np.sqrt(square)), 1e-4, ""),
            relative(
                f"coefficient at Bi {biot:g}",
                float(_coefficients(first)[0]),
                float(centre[late] * np.exp(square * fourier[late])),
                1e-4,
                "",
            ),
            printed(f"exact root at Bi {biot:g}", roots[biot], first[0], ""),
            printed(f"exact coefficient at Bi {biot:g}", coefficient, float(_coefficients(first)[0]), ""),
        ]
    return rows


@check(
    "cooled-cylinder",
    subject="conduction",
    title="Long cylinder in sudden convection, Bi 1, Fo 0.4",
    source="Carslaw & Jaeger, Conduction of Heat in Solids, ch. 7, series of Bessel functions",
    status="computed",
    tolerance="1e-5",
)
def cooled_cylinder() -> list[Row]:
    """Compare centre and surface with the full series."""
    centre, surface = _cooled_cylinder(1.0, np.linspace(0.0, 0.4, 201))
    roots = _roots(1.0, 30)
    terms = _coefficients(roots) * np.exp(-(roots**2) * 0.4)
    return [
        relative("centre", float(terms.sum()), centre[-1], 1e-5, ""),
        relative("surface", float((terms * j0(roots)).sum()), surface[-1], 1e-5, ""),
        printed("the series, centre", "0.642002", float(terms.sum()), ""),
        printed("the series, surface", "0.413160", float((terms * j0(roots)).sum()), ""),
    ]


@check(
    "lumped-cylinder",
    subject="conduction",
    title="Cylinder in slow convection cools as one lump",
    source="Lumped capacity: theta = exp(-2 Bi Fo) as Bi tends to 0",
    status="computed",
    tolerance="1 % at Bi 0.01",
)
def lumped_cylinder() -> list[Row]:
    """Compare centre and surface at Bi 0.01, Fo 50."""
    centre, surface = _cooled_cylinder(0.01, np.linspace(0.0, 50.0, 101), cells=4)
    exact = exp(-2 * 0.01 * 50)
    return [relative("centre", exact, centre[-1], 0.01, ""), relative("surface", exact, surface[-1], 0.01, "")]


@check(
    "diffusion-time",
    subject="conduction",
    title="How long heat takes through 10 mm of aluminium",
    source="Diffusion time L^2/a, a = k/(density c); slab with one held face decays by (pi/2)^2 a/L^2",
    status="computed",
    tolerance="0.1 %",
)
def diffusion_time() -> list[Row]:
    """Compare L^2/a, found from the late decay of a slab of 10 mm: k 150, density 2700, c 900; 1.62 s."""
    body = ThermalBody("slab", _bar(10.0, 10), {"bar": ALUMINIUM}, {"bar": ALUMINIUM_HEAT})
    system = HeatSystem([body], [Held("slab", "near", 0.0)], axisymmetric=False)
    times = np.linspace(0.0, 2.0, 201)
    far = solve_transient(system, system.field(1.0), times).at("slab", [[0.5, 10.0]])[:, 0]
    rate = -np.log(far[200] / far[100]) / (times[200] - times[100])
    return [relative("diffusion time", 1.62, float((pi / 2) ** 2 / rate), 1e-3, "s")]
