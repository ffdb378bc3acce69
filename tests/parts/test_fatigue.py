import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.fatigue import THREADS_MADE, sines_ratio, sines_swing, thread_endurance, thread_made

PULSATING = np.array([[0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 80.0, 0.0]])


@given(amplitude=st.floats(0.0, 500.0), mean=st.floats(-500.0, 500.0))
def test_a_mean_pull_costs_and_a_mean_pressure_is_not_credited(amplitude, mean):
    ratio = float(sines_ratio(amplitude, mean, 60.0, 240.0))
    assert ratio == approx(amplitude / 60.0 + max(mean, 0.0) / 240.0)


def test_the_worst_pair_is_found_whatever_comes_between():
    between = np.array([[10.0, 0.0, 30.0, 5.0], [0.0, 0.0, 40.0, 0.0]])
    swing = sines_swing(np.vstack([PULSATING[:1], between, PULSATING[1:]]), 60.0, 240.0)
    assert {swing.first, swing.second} == {0, 3}
    assert swing.ratio == approx(sines_swing(PULSATING, 60.0, 240.0).ratio)


def test_a_path_that_turns_has_an_amplitude_though_its_von_mises_stress_is_steady():
    turning = np.array([[0.0, 50.0, 0.0, 0.0], [0.0, 0.0, 50.0, 0.0]])
    assert sines_swing(turning, 60.0, 240.0).amplitude == approx(np.sqrt(3.0) * 25.0)


def test_the_hotter_instant_lowers_the_strength_of_a_pair():
    cold, hot = sines_swing(PULSATING, 60.0, 240.0), sines_swing(PULSATING, np.array([60.0, 30.0]), 240.0)
    assert hot.ratio > cold.ratio


def test_residual_tension_counts_in_both_directions_of_the_surface():
    assert sines_swing(PULSATING, 60.0, 240.0, 20.0).mean == approx(40.0 + 40.0)


def test_threads_rolled_after_heat_treatment_stand_more_and_less_under_a_higher_mean():
    before, low, high = (
        thread_endurance("10.9", 8.0, share, made).long_life
        for share, made in ((0.5, THREADS_MADE[0]), (0.5, THREADS_MADE[1]), (0.8, THREADS_MADE[1]))
    )
    assert before < high < low
    with pytest.raises(ValueError, match="beyond"):
        thread_endurance("10.9", 8.0, 1.1, THREADS_MADE[1])


def test_the_cycles_that_an_amplitude_is_stood_are_those_whose_amplitude_it_is():
    endurance = thread_endurance("8.8", 8.0, 0.5, cycles=5e4)
    assert endurance.cycles(endurance.at_cycles) == approx(5e4, rel=1e-9)
    assert endurance.cycles(endurance.long_life) == np.inf
    assert endurance.cycles(10.0 * endurance.at_cycles) == 0.0


def test_a_class_without_a_source_has_no_endurance():
    assert thread_made("A2-70") is None
    with pytest.raises(ValueError, match="no source"):
        thread_endurance("A2-70", 8.0, 0.5)
