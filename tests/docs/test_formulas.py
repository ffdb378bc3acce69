"""Formulas as the theory page prints them, typed once more from the page, against the functions that the same row names."""

from math import atan, cos, exp, log, pi, radians, sin, sinh, sqrt, tan
from pathlib import Path

import pytest

from studwell.parts import (
    crack,
    fastener,
    fatigue,
    floor,
    insert,
    layer,
    members,
    pocket,
    settling,
    spring,
    thread,
    torque,
    torsion,
    weakest_link,
)

PAGE = (Path(__file__).parents[2] / "docs" / "theory.md").read_text()
FLANK = radians(30.0)
d, P = 8.0, 1.25
H = sqrt(3) / 2 * P
d2, D1, d3 = d - 3 / 4 * H, d - 5 / 4 * H, d - 17 / 12 * H
E, nu = 206_000.0, 0.3
De, Di, t, h0, s = 18.0, 9.2, 1.0, 0.4, 0.25
delta = De / Di
K1 = 1 / pi * ((delta - 1) / delta) ** 2 / ((delta + 1) / (delta - 1) - 2 / log(delta))
K2 = 6 / pi * ((delta - 1) / log(delta) - 1) / log(delta)
K3 = 3 / pi * (delta - 1) / log(delta)
A = 4 * E / (1 - nu**2) * t**2 / (K1 * De**2) * s / t
c = h0 / t - s / (2 * t)
Le, mu, mu_b = 12.0, 0.15, 0.14
ft, fb = P / (2 * pi) + mu * d2 / (2 * cos(FLANK)), mu_b * (13.0 + 9.0) / 4
W, a, b, floor_mm, z = 9000.0, 6.0, 2.0, 5.0, 1.5
half = z / sqrt(b**2 + z**2)
stresses = spring.spring_stresses(s, De, Di, t, h0, E, nu)


def tooth(depth):
    """The compliance of a tooth as the page prints it, per unit pitch."""
    width = 0.5
    root, plane = width + 2 * depth * tan(FLANK), E / (1 - nu**2)
    curly = (1 - (2 - width / root) ** 2 + 2 * log(root / width)) / tan(FLANK) ** 3 - 4 * (depth / root) ** 2 * tan(
        FLANK
    )
    bending = 3 / (4 * plane) * curly
    shear = 6 * (1 + nu) / (5 * E) / tan(FLANK) * log(root / width)
    rotation = 12 * depth / (pi * plane * root**2) * (depth - width / 2 * tan(FLANK))
    rim = 2 / (pi * plane) * (1 / root * log((1 + root / 2) / (1 - root / 2)) + 0.5 * log(4 / root**2 - 1))
    return bending + shear + rotation + rim


def frustum(t, D, d, slope):
    return pi * E * d * slope / log((2 * t * slope + D - d) * (D + d) / ((2 * t * slope + D + d) * (D - d)))


PRINTED = {
    "thread.profile_height": (H, thread.profile_height(P)),
    "thread.pitch_diameter": (d2, thread.pitch_diameter(d, P)),
    "thread.minor_diameter": (D1, thread.minor_diameter(d, P)),
    "thread.root_diameter": (d3, thread.root_diameter(d, P)),
    "thread.tensile_stress_area": (pi / 4 * ((d2 + d3) / 2) ** 2, thread.tensile_stress_area(d, P)),
    "thread.unified_stress_area": (pi / 4 * (d - 0.9743 * P) ** 2, thread.unified_stress_area(d, P)),
    "thread.helix_angle": (atan(P / (pi * d2)), thread.helix_angle(d, P)),
    "thread.external_shear_area": (
        pi * Le / P * D1 * (P / 2 + (d2 - D1) * tan(FLANK)),
        thread.external_shear_area(Le, P, D1, d2),
    ),
    "thread.internal_shear_area": (
        pi * Le / P * d * (P / 2 + (d - d2) * tan(FLANK)),
        thread.internal_shear_area(Le, P, d, d2),
    ),
    "thread.basic_external_shear_area": (3 / 4 * pi * D1 * Le, thread.basic_external_shear_area(d, P, Le)),
    "thread.basic_internal_shear_area": (7 / 8 * pi * d * Le, thread.basic_internal_shear_area(d, P, Le)),
    "torque.thread_torque_factor": (ft, torque.thread_torque_factor(P, d2, mu)),
    "torque.bearing_torque_factor": (
        fb,
        torque.bearing_torque_factor(torque.mean_bearing_diameter(13.0, 9.0), mu_b),
    ),
    "torque.friction_diameter": (2 / 3 * (13.0**3 - 9.0**3) / (13.0**2 - 9.0**2), torque.friction_diameter(13.0, 9.0)),
    "torque.tightening_preload": (16e3 / (ft + fb), torque.tightening_preload(16e3, P, d2, mu, mu_b, 11.0)),
    "torque.tightening_preload_exact": (
        16e3 / (d2 / 2 * tan(atan(P / (pi * d2)) + atan(mu / cos(FLANK))) + fb),
        torque.tightening_preload_exact(16e3, P, d2, mu, mu_b, 11.0),
    ),
    "torque.tightening_preload_short": (
        16e3 / (0.16 * P + 0.58 * d2 * mu + mu_b * 11.0 / 2),
        torque.tightening_preload_short(16e3, P, d2, mu, mu_b, 11.0),
    ),
    "torque.flat_tip_torque_factor": (2 / 3 * mu * 2.75, torque.flat_tip_torque_factor(2.75, mu)),
    "torque.cone_tip_torque_factor": (mu * 2.75 / sin(1.03), torque.cone_tip_torque_factor(2.75, 1.03, mu)),
    "torque.wedge_force": (10e3 / (ft + 0.275), torque.wedge_force(10e3, P, d2, mu, 0.275)),
    "torque.hold_share": (
        10e3 * ft / (18e3 * 0.6 + 8e3 * 0.275 + 900.0),
        torque.hold_share(10e3, ft, 18e3, 0.6, 8e3, 0.275, 900.0),
    ),
    "torsion.torsion_stress": (16 * 5e3 / (pi * d**3), torsion.torsion_stress(5e3, d)),
    "torsion.wind_up": (32 * 5e3 * 40 / (pi * 79e3 * d**4), torsion.wind_up(5e3, 40.0, d, 79e3)),
    "torsion.combined_stress": (sqrt(300.0**2 + 3 * 90.0**2), torsion.combined_stress(300.0, 90.0)),
    "spring.spring_force": (
        4 * E / (1 - nu**2) * t**4 / (K1 * De**2) * s / t * ((h0 / t - s / t) * (h0 / t - s / (2 * t)) + 1),
        spring.spring_force(s, De, Di, t, h0, E, nu),
    ),
    "spring.flat_load": (
        4 * E / (1 - nu**2) * t**3 * h0 / (K1 * De**2),
        spring.flat_load(De, Di, t, h0, E, nu),
    ),
    "spring.friction_factor": (1 / (1 - 0.015 * (3 - 1) - 0.03), spring.friction_factor(3, 0.015, 0.03, True)),
    "settling.norton_relaxation": (
        (200.0 ** (1 - 4.0) + (4.0 - 1) * 70e3 * 1e-18 * 1e6) ** (1 / (1 - 4.0)),
        settling.norton_relaxation(200.0, 1e6, 70e3, 4.0, 1e-18),
    ),
    "fastener.bolt_stiffness": (
        50.3 * 36.6 * E / (50.3 * 12 + 36.6 * 40),
        fastener.bolt_stiffness(50.3, 40, 36.6, 12, E),
    ),
    "fastener.thread_load_left": (sinh(2.4 * (1 - 0.3)) / sinh(2.4), fastener.thread_load_left(0.3, 2.4)),
    "members.frustum_stiffness": (frustum(20.0, 13.0, 9.0, tan(FLANK)), members.frustum_stiffness(E, 20.0, 13.0, 9.0)),
    "members.fitted_member_stiffness": (
        E * d * 0.79670 * exp(0.63816 * d / 60.0),
        members.fitted_member_stiffness(E, d, 60.0, 0.79670, 0.63816),
    ),
    "insert.insert_hole": (d + 3 / 2 * H, insert.insert_hole(d, P).major_diameter),
    "pocket.heated_pocket_pressure": (
        (7e-4 - 3 * 22e-6) * 60.0 / (1 / 1500.0 + 1e-4),
        pocket.heated_pocket_pressure(7e-4, 1500.0, 22e-6, 1e-4, 60.0),
    ),
    "layer.tooth_compliance": (tooth(0.3), layer.tooth_compliance(0.3, E, nu).total),
    "floor.punch_shear": (W / (pi * 4.0 * floor_mm), floor.punch_shear(W, 4.0, floor_mm)),
    "floor.disc_centre_tension": (
        6 * W * (1 + nu) / (4 * pi) * (log(a / b) + b**2 / (4 * a**2)) / floor_mm**2,
        floor.disc_centre_tension(W, floor_mm, a, b, nu),
    ),
    "floor.disc_ring_tension": (
        6 * W * (1 + nu) / (4 * pi) * (log(a / b) - (a**2 - b**2) / (2 * a**2)) / floor_mm**2,
        floor.disc_ring_tension(W, floor_mm, a, b, nu),
    ),
    "floor.disc_edge_tension": (
        6 * W / (4 * pi) * (1 - b**2 / (2 * a**2)) / floor_mm**2,
        floor.disc_edge_tension(W, floor_mm, a, b),
    ),
    "floor.half_space_axis_stress": (
        -100.0 / 2 * (1 + 2 * nu - 2 * (1 + nu) * half + half**3),
        floor.half_space_axis_stress(100.0, b, z, nu)[0],
    ),
    "crack.critical_distance": ((17.3 / 235.0) ** 2 / pi * 1e3, crack.critical_distance(17.3, 235.0)),
    "crack.edge_crack_intensity": (1.1215 * 100 * sqrt(pi * 0.5e-3), crack.edge_crack_intensity(100.0, 0.5)),
    "crack.penny_crack_intensity": (2 * 100 * sqrt(0.5e-3 / pi), crack.penny_crack_intensity(100.0, 0.5)),
    "crack.kirsch_stress": (
        50.0 * (2 + (4.0 / 5.5) ** 2 + 3 * (4.0 / 5.5) ** 4),
        crack.kirsch_stress(4.0, 1.5, 100.0),
    ),
    "crack.short_crack_length": ((3.0 / (1.1215 * 90.0)) ** 2 / pi * 1e3, crack.short_crack_length(3.0, 90.0, 1.1215)),
    "weakest_link.failure_probability": (
        1 - exp(-((120 / 400) ** 11 * 50 / 1000 + (300 / 400) ** 11 * 20 / 1000)),
        weakest_link.failure_probability([120.0, 300.0], [50.0, 20.0], 11.0, 400.0, 1000.0),
    ),
    "fatigue.sines_ratio": ((30.0 + 60.0 / 240.0 * 150.0) / 60.0, fatigue.sines_ratio(30.0, 150.0, 60.0, 240.0)),
}


@pytest.mark.parametrize("name", PRINTED)
def test_a_formula_of_the_page_gives_what_its_function_gives(name):
    printed, computed = PRINTED[name]
    assert f"`parts.{name}`" in PAGE
    assert float(computed) == pytest.approx(printed, rel=1e-9)


def test_corner_stresses_of_a_disc_spring_have_the_signs_that_the_page_prints():
    found = (stresses.inner_upper, stresses.inner_lower, stresses.outer_lower, stresses.outer_upper, stresses.centre)
    thin = K2 - 2 * K3
    printed = (
        -A * (K2 * c + K3),
        -A * (K2 * c - K3),
        -A / delta * (thin * c - K3),
        -A / delta * (thin * c + K3),
        -3 / pi * A,
    )
    assert [float(each) for each in found] == pytest.approx(printed, rel=1e-9)
