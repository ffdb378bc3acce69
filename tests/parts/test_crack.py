"""Critical distances, stress intensity, growth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx
from scipy.integrate import quad

from studwell.parts import crack as ck


def test_critical_distance_of_the_worked_alloy():
    assert ck.critical_distance(17.3, 280.0) == approx(1.2151, abs=5e-5)
    assert ck.short_crack_length(5.0, 80.0, 1.1215) == approx(0.9886, abs=5e-5)


@given(toughness=floats(1, 50), strength=floats(50, 1000))
def test_a_crack_at_its_toughness_carries_the_inherent_strength_at_half_the_critical_distance(toughness, strength):
    place = ck.critical_distance(toughness, strength) / 2 / 1000  # m
    assert toughness / np.sqrt(2 * np.pi * place) == approx(strength, rel=1e-12)


@given(radius=floats(0.5, 10), span=floats(0.1, 20))
def test_line_mean_beside_a_hole_is_the_integral_of_kirsch(radius, span):
    mean = quad(lambda s: float(ck.kirsch_stress(radius, s, 1.0)), 0, span)[0] / span
    assert ck.kirsch_line_mean(radius, span, 1.0) == approx(mean, rel=1e-8)


def test_kirsch_is_three_at_the_edge_and_one_far_away():
    assert ck.kirsch_stress(4.0, 0.0, 100.0) == approx(300.0)
    assert ck.kirsch_stress(4.0, 4000.0, 100.0) == approx(100.0, rel=1e-5)


@pytest.mark.parametrize(
    ("length", "point", "line"), [(0.5, 2.6199, 2.3760), (1, 2.3315, 2.0370), (2, 1.9344, 1.6875), (4, 1.5185, 1.4074)]
)
def test_sampled_methods_match_the_hole(length, point, line):
    distance = np.linspace(0, 10, 2001)
    stress = ck.kirsch_stress(4.0, distance, 1.0)
    assert ck.point_method(distance, stress, length) == approx(point, abs=1e-4)
    assert ck.line_method(distance, stress, length) == approx(line, abs=1e-4)


@given(slope=floats(-50, 50), length=floats(0.1, 1.9))
def test_both_methods_are_exact_on_a_straight_line_whatever_the_samples(slope, length):
    distance = np.array([0.0, 0.13, 0.9, 1.7, 4.0])
    stress = 200 + slope * distance
    assert ck.point_method(distance, stress, length) == approx(200 + slope * length / 2, rel=1e-9)
    assert ck.line_method(distance, stress, length) == approx(200 + slope * length, rel=1e-9)


@pytest.mark.parametrize(
    ("distance", "stress", "length"),
    [
        ([0, 1], [1, 1], 3.0),
        ([0.1, 9], [1, 1], 1.0),
        ([0, 2, 1], [1, 1, 1], 0.5),
        ([0, 1, 2], [1, 1], 0.5),
        ([0, 1, 2], [1, float("nan"), 1], 0.5),
        ([0, 1, 2], [1, 1, 1], 0.0),
    ],
)
def test_a_path_that_does_not_serve_is_refused(distance, stress, length):
    with pytest.raises(ValueError):
        ck.line_method(distance, stress, length)


def test_a_path_too_short_or_starting_too_late_for_the_point_is_refused():
    with pytest.raises(ValueError, match="short of"):
        ck.point_method([0, 1], [1, 1], 3.0)
    with pytest.raises(ValueError, match="short of"):
        ck.point_method([0.5, 1], [1, 1], 0.4)


def test_stress_intensities_of_one_millimetre():
    assert ck.penny_crack_intensity(100, 1) == approx(3.56825, abs=5e-6)
    assert ck.edge_crack_intensity(100, 1) == approx(6.28600, abs=5e-6)


def test_crack_growth_of_the_worked_example():
    assert ck.crack_growth_cycles(1e-11, 3, 1.12, 60, 0.5, 5) == approx(3_619_294, abs=1)


@given(middle=floats(0.6, 4.9), exponent=floats(2.1, 5))
def test_cycles_add_up_over_any_depth_on_the_way(middle, exponent):
    def cycles(start, end):
        return ck.crack_growth_cycles(1e-11, exponent, 1.12, 60, start, end)

    assert cycles(0.5, middle) + cycles(middle, 5) == approx(cycles(0.5, 5), rel=1e-9)


def test_growth_backwards_or_with_exponent_two_is_refused():
    with pytest.raises(ValueError, match="last_depth"):
        ck.crack_growth_cycles(1e-11, 3, 1.12, 60, 5, 0.5)
    with pytest.raises(ValueError, match="logarithmic"):
        ck.crack_growth_cycles(1e-11, 2, 1.12, 60, 0.5, 5)
