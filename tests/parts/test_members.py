"""Clamped parts and settling."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import booleans, floats
from pytest import approx
from scipy.integrate import quad, solve_ivp

from studwell.parts.members import (
    cone_compliance,
    differential_growth,
    fitted_member_stiffness,
    frustum_end_diameter,
    frustum_stiffness,
    joint_loads,
    load_factor,
    separation_load,
    thermal_load,
)
from studwell.parts.settling import embedding_loss, logarithmic_loss, norton_relaxation


def test_frusta_match_the_solution_manual(published):
    for row in published("shigley-member-stiffness")["frusta"]:
        ours = frustum_stiffness(row["modulus"], row["thickness"], row["start"], 0.5)
        assert ours == approx(row["stiffness"], rel=5e-3)


@given(start=floats(10.5, 20), thickness=floats(1, 30), angle=floats(0.1, 1.0))
def test_frustum_is_the_integral_of_its_slices(start, thickness, angle):
    def slice_compliance(z):
        return 4 / (np.pi * ((start + 2 * z * np.tan(angle)) ** 2 - 100)) / 70e3

    exact = quad(slice_compliance, 0, thickness, epsrel=1e-11)[0]
    assert 1 / frustum_stiffness(70e3, thickness, start, 10.0, angle) == approx(exact, rel=1e-8)


def test_a_cut_frustum_is_two_in_series():
    middle = frustum_end_diameter(5.0, 12.0)
    parts = 1 / frustum_stiffness(1.0, 5.0, 12.0, 9.0) + 1 / frustum_stiffness(1.0, 7.0, middle, 9.0)
    assert 1 / frustum_stiffness(1.0, 12.0, 12.0, 9.0) == approx(parts, rel=1e-12)


def test_exponential_fit_of_steel_matches_the_worked_example():
    assert fitted_member_stiffness(30.0, 0.5, 1.345, 0.78715, 0.62873) == approx(14.916, rel=1e-4)


@pytest.mark.parametrize(
    ("tapped", "wide", "tangent", "compliance"),
    [(False, 20, 0.4477, 2.8392), (False, 40, 0.5538, 2.4277), (True, 20, 0.4631, 2.1089), (True, 40, 0.5969, 1.3790)],
)
def test_cone_compliance_matches_the_worked_figures(tapped, wide, tangent, compliance):
    cone = cone_compliance(11.6, 9.0, 25.0, wide, 70e3, tapped)
    assert cone.tangent == approx(tangent, abs=5e-5) and cone.compliance * 1e6 == approx(compliance, rel=1e-4)


@given(tapped=booleans())
def test_cone_compliance_has_no_jump_where_the_sleeve_begins(tapped):
    wide = 25.0
    for _ in range(60):
        wide = cone_compliance(11.6, 9.0, 25.0, wide, 70e3, tapped).limit_diameter
    inside = cone_compliance(11.6, 9.0, 25.0, wide - 1e-6, 70e3, tapped).compliance
    outside = cone_compliance(11.6, 9.0, 25.0, wide + 1e-6, 70e3, tapped).compliance
    assert inside == approx(outside, rel=1e-6)


def test_a_part_no_wider_than_the_bearing_face_is_a_sleeve():
    cone = cone_compliance(11.6, 9.0, 25.0, 11.6, 70e3, False)
    assert cone.compliance == approx(25 / (70e3 * np.pi / 4 * (11.6**2 - 81)), rel=1e-9)


@given(preload=floats(1e3, 3e4), share=floats(0.05, 0.9), pull=floats(0, 6e4))
def test_bolt_less_clamp_is_always_the_outside_load(preload, share, pull):
    loads = joint_loads(preload, share, pull)
    assert loads.bolt - loads.clamp == approx(pull, rel=1e-9, abs=1e-6)
    assert loads.clamp >= 0
    assert (loads.clamp == 0) == (pull >= separation_load(preload, share))


def test_joint_diagram_of_the_worked_joint():
    factor = load_factor(167_697, 352_209)
    assert factor == approx(0.32255, abs=5e-6)
    assert separation_load(10_000, factor) == approx(14_761.3, abs=0.5)
    loads = joint_loads(10_000, factor, 8_000)
    assert (loads.bolt, loads.clamp) == (approx(12_580.4, abs=0.5), approx(4_580.4, abs=0.5))


def test_heat_and_embedding_of_the_worked_joint():
    plain = 5.963e-6 + 2.8392e-6
    growth = differential_growth(10e-6, 20.0, 150.0)
    assert growth == approx(0.03)
    assert thermal_load(growth, plain) == approx(3408.2, abs=0.5)
    assert thermal_load(-growth, plain) == approx(-3408.2, abs=0.5)
    assert embedding_loss(0.011, plain) == approx(1249.7, abs=0.5)
    assert embedding_loss(0.011, plain + 1 / 3538) == approx(37.7, abs=0.05)


@given(stress=floats(20, 200), exponent=floats(1.5, 8))
def test_norton_relaxation_solves_its_own_equation(stress, exponent):
    rate = 1e-5 / stress**exponent
    end = 500.0
    stepped = solve_ivp(lambda t, s: -70e3 * rate * s**exponent, (0, end), [stress], rtol=1e-10, atol=1e-10).y[0, -1]
    assert norton_relaxation(stress, end, 70e3, exponent, rate) == approx(stepped, rel=1e-6)


def test_logarithmic_loss_begins_at_its_first_time():
    assert logarithmic_loss(100.0, 0.03, [0.1, 1.0, 10.0, 1000.0], 1.0) == approx([100, 100, 97, 91])
    assert logarithmic_loss(100.0, 0.5, 1e6, 1.0) == 0.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: frustum_stiffness(1.0, 1.0, 0.4, 0.5),
        lambda: cone_compliance(9.0, 9.0, 25.0, 20.0, 70e3, False),
        lambda: cone_compliance(11.6, 9.0, 25.0, 11.0, 70e3, False),
        lambda: separation_load(1.0, 1.0),
        lambda: thermal_load(1.0, 0.0),
        lambda: embedding_loss(-1.0, 1e-6),
        lambda: norton_relaxation(100, 1, 70e3, 1.0, 1e-9),
        lambda: logarithmic_loss(1, 0.1, 0.0, 1.0),
    ],
)
def test_impossible_arguments_are_refused(call):
    with pytest.raises(ValueError):
        call()
