"""Checks of crack growth and of critical distances."""

from math import pi, sqrt

import numpy as np
from scipy.integrate import quad, solve_ivp

from studwell.parts.crack import (
    crack_growth_cycles,
    critical_distance,
    edge_crack_intensity,
    kirsch_line_mean,
    kirsch_stress,
    line_method,
    penny_crack_intensity,
    point_method,
    short_crack_length,
)
from studwell.verify.registry import Row, check, printed, relative


@check(
    "crack-growth",
    subject="fracture",
    title="Cycles from 0.5 to 5 mm by a power law of growth",
    source="Paris & Erdogan 1963, integrated; and the differential equation by Runge-Kutta",
    status="computed",
    tolerance="1 cycle; 1e-6",
)
def crack_growth() -> list[Row]:
    """Compare the closed form with its worked figure and with a step-by-step integration of cycles by depth."""
    ours = float(crack_growth_cycles(1e-11, 3.0, 1.12, 60.0, 0.5, 5.0))

    def cycles_per_depth(depth: float, _: np.ndarray) -> list[float]:
        return [1.0 / (1e-11 * (1.12 * 60.0 * sqrt(pi * depth)) ** 3)]

    stepped = solve_ivp(cycles_per_depth, (0.5e-3, 5e-3), [0.0], rtol=1e-10, atol=1e-3).y[0, -1]
    return [
        Row("cycles, worked figure", 3_619_294.0, ours, 1.0, "1"),
        relative("cycles, stepped", float(stepped), ours, 1e-6, "1"),
    ]


@check(
    "critical-distance",
    subject="fracture",
    title="Critical distance of toughness 17.3 MPa m^0.5 and strength 280 MPa",
    source="Taylor 2007, The Theory of Critical Distances; strength illustrative",
    status="computed",
    tolerance="last place",
)
def critical_distances() -> list[Row]:
    """Compare L, half of it, and the fatigue lengths for a threshold of 5 over a range of 80."""
    length = float(critical_distance(17.3, 280.0))
    return [
        printed("critical distance", "1.2151", length, "mm"),
        printed("point at half of it", "0.6076", length / 2.0, "mm"),
        printed("fatigue critical distance", "1.2434", float(critical_distance(5.0, 80.0)), "mm"),
        printed("short crack length", "0.9886", float(short_crack_length(5.0, 80.0, 1.1215)), "mm"),
    ]


@check(
    "critical-distance-hole",
    subject="fracture",
    title="Point and line methods beside a round hole of 4 mm radius",
    source="Whitney & Nuismer 1974 on Kirsch 1898; quadrature",
    status="computed",
    tolerance="last place; sampled paths 0.02 %",
)
def critical_distance_hole() -> list[Row]:
    """Compare four lengths: closed forms, quadrature, and both methods on a sampled path."""
    table = {
        0.5: ("2.6199", "2.3760"),
        1.0: ("2.3315", "2.0370"),
        2.0: ("1.9344", "1.6875"),
        4.0: ("1.5185", "1.4074"),
    }
    distance = np.linspace(0.0, 8.0, 801)
    stress = kirsch_stress(4.0, distance, 1.0)
    rows = []
    for length, (point, line) in table.items():
        mean = quad(lambda place: float(kirsch_stress(4.0, place, 1.0)), 0.0, 2.0 * length)[0] / (2.0 * length)
        closed = float(kirsch_line_mean(4.0, 2.0 * length, 1.0))
        rows += [
            printed(f"point, L {length:g} mm", point, float(kirsch_stress(4.0, length / 2.0, 1.0)), "1"),
            printed(f"line, L {length:g} mm", line, closed, "1"),
            relative(f"line, L {length:g} mm, quadrature", mean, closed, 1e-9, "1"),
            relative(
                f"point, L {length:g} mm, sampled", float(point), point_method(distance, stress, length), 2e-4, "1"
            ),
            relative(f"line, L {length:g} mm, sampled", float(line), line_method(distance, stress, length), 2e-4, "1"),
        ]
    return rows


@check(
    "critical-distance-consistency",
    subject="fracture",
    title="A sharp crack at its critical intensity has the inherent strength at half the critical distance",
    source="Taylor 2007: point and line methods against linear fracture mechanics",
    status="computed",
    tolerance="1e-4; line 0.5 %",
)
def critical_distance_consistency() -> list[Row]:
    """Compare both methods on sigma = K/sqrt(2 pi r); the samples close in on the tip."""
    strength, length = 280.0, float(critical_distance(17.3, 280.0))
    distance = np.concatenate(([0.0], np.geomspace(1e-7, 3.0 * length, 4001)))
    stress = np.empty_like(distance)
    stress[1:] = 17.3 * sqrt(1000.0) / np.sqrt(2.0 * pi * distance[1:])
    stress[0] = 2.0 * stress[1]
    return [
        Row("stress at L/2 over strength", 1.0, point_method(distance, stress, length) / strength, 1e-4, "1"),
        Row("mean over 2L over strength", 1.0, line_method(distance, stress, length) / strength, 5e-3, "1"),
    ]


@check(
    "stress-intensity",
    subject="fracture",
    title="Stress intensity of a round inner crack and of a shallow edge crack, 1 mm, 100 MPa",
    source="Sneddon 1946; Koiter 1965; Tada, Paris & Irwin",
    status="computed",
    tolerance="last place",
)
def stress_intensity() -> list[Row]:
    """Compare both closed forms."""
    return [
        printed("inner crack", "3.56825", float(penny_crack_intensity(100.0, 1.0)), "MPa m^0.5"),
        printed("edge crack", "6.28600", float(edge_crack_intensity(100.0, 1.0)), "MPa m^0.5"),
    ]
