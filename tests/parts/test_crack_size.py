import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.crack_size import growth_scale_size, intensity_between, interpolation_errors, small_scale_size

SIZES = np.geomspace(0.1, 5.0, 9)


@given(factor=st.floats(0.1, 50.0), at=st.floats(0.01, 9.0))
def test_a_crack_under_even_stress_is_met_exactly_between_and_beyond_its_sizes(factor, at):
    k = factor * np.sqrt(np.pi * SIZES / 1000.0)
    assert intensity_between(SIZES, [k, -k], at)[:, 0] == approx(
        np.array([1.0, -1.0]) * factor * np.sqrt(np.pi * at / 1000.0)
    )


def test_a_solved_size_is_met_exactly_and_a_size_between_never_leaves_its_neighbours():
    k = np.array([[5.5, 5.8, 7.3, 8.6, 9.6, 9.57, 9.7, 11.0, 19.0]])
    assert intensity_between(SIZES, k, SIZES) == approx(k)
    fine = np.geomspace(0.1, 5.0, 300)
    shape = (intensity_between(SIZES, k, fine) / np.sqrt(fine))[0]
    ends = (k / np.sqrt(SIZES))[0]
    left = np.clip(np.searchsorted(SIZES, fine, side="right") - 1, 0, 7)
    assert (shape <= np.maximum(ends[left], ends[left + 1]) + 1e-12).all()
    assert (shape >= np.minimum(ends[left], ends[left + 1]) - 1e-12).all()


def test_a_size_between_two_that_rise_and_fall_is_nearer_than_a_straight_line_in_the_size():
    # K / sqrt(a) falls as 1/sqrt(a) where K is steady: straight between 0.748 and 1.118 mm it says 1.3 % too much
    sizes = np.array([0.334, 0.5, 0.748, 1.118, 1.671])
    told = intensity_between(sizes, np.full((1, 5), 9.6), 1.0)[0, 0]
    assert told == approx(9.6, rel=2e-3)


def test_what_is_left_out_is_missed_by_nothing_under_even_stress_and_by_much_at_a_kink():
    even = np.sqrt(SIZES)
    assert interpolation_errors(SIZES, even) == approx(np.zeros(7), abs=1e-12)
    kinked = even.copy()
    kinked[4] *= 1.2
    errors = interpolation_errors(SIZES, kinked)
    assert int(np.argmax(errors)) == 3 and errors[3] == approx(1.0 - 1.0 / 1.2, rel=0.02)
    assert len(interpolation_errors(SIZES[:3], even[:3])) == 0


def test_the_sizes_from_which_an_intensity_rules_by_hand():
    # ASTM E399: 2.5 (9.6/180)^2 m; ASTM E647: 4/pi (9.6/180)^2 m
    assert small_scale_size(9.6, 180.0) == approx(7.11, abs=0.005)
    assert growth_scale_size(9.6, 180.0) == approx(3.62, abs=0.005)


@pytest.mark.parametrize("sizes", [[1.0, 1.0], [2.0, 1.0], [-1.0, 1.0]])
def test_sizes_that_do_not_rise_are_refused(sizes):
    with pytest.raises(ValueError):
        intensity_between(sizes, [[1.0, 2.0]], 1.0)
