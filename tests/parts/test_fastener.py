"""Stud compliance and the load along a thread."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import floats, integers
from pytest import approx

from studwell.parts.fastener import (
    bolt_stiffness,
    strip_load,
    stud_compliance,
    thread_load_ladder,
    thread_load_left,
    thread_load_peak,
    thread_load_shares,
)
from studwell.parts.thread import root_area


def test_stud_compliance_is_springs_in_series_by_hand():
    stud = stud_compliance(8.0, 1.25, 25.0, 205e3, 70e3, shank_length=40.0, shank_diameter=7.0)
    core, nominal = float(root_area(8.0, 1.25)), np.pi * 16
    by_hand = [
        40 / (205e3 * np.pi / 4 * 49),
        25 / (205e3 * core),
        4 / (205e3 * core),
        3.2 / (205e3 * nominal),
        4 / (205e3 * core),
        2.64 / (70e3 * nominal),
    ]
    ours = [stud.shank, stud.free_thread, stud.nut_core, stud.nut_thread, stud.boss_core, stud.boss_thread]
    assert ours == approx(by_hand, rel=1e-12)
    assert stud.total == approx(sum(by_hand), rel=1e-12)


def test_stud_without_shank_matches_the_worked_figure():
    assert 1 / stud_compliance(8.0, 1.25, 25.0, 205e3, 70e3).total == approx(167_697, rel=2e-4)


def test_full_shank_is_the_nominal_section():
    full = stud_compliance(8.0, 1.25, 0.0, 205e3, 70e3, shank_length=10.0)
    assert full.shank == approx(10 / (205e3 * np.pi * 16))


def test_bolt_stiffness_is_shank_and_thread_in_series():
    assert bolt_stiffness(50.0, 10.0, 36.6, 20.0, 205e3) == approx(1 / (10 / 50 / 205e3 + 20 / 36.6 / 205e3))


def test_strip_load_is_area_times_shear_strength():
    assert strip_load(201.94, [180, 310], 0.6) == approx([21_810, 37_561], abs=1)


@given(turns=integers(1, 12), spread=floats(0.05, 8))
def test_thread_load_shares_fall_and_make_one(turns, spread):
    shares = thread_load_shares(turns, spread)
    assert shares.sum() == approx(1.0, rel=1e-9)
    assert np.all(np.diff(shares) < 0)


@given(spread=floats(0.05, 8))
def test_peak_is_the_slope_of_the_load_at_the_loaded_end(spread):
    step = 1e-6
    slope = (1.0 - thread_load_left(step, spread)) / step
    assert thread_load_peak(spread) == approx(slope, rel=1e-4)


def test_the_quoted_list_of_six_threads_is_the_sinh_law():
    assert np.round(100 * thread_load_shares(6, 2.4347)).tolist() == [34, 23, 16, 11, 9, 7]


def test_ladder_of_three_equal_springs_by_hand():
    assert thread_load_ladder(3, 1.0, 1.0) == approx([0.625, 0.25, 0.125], rel=1e-12)


@given(stiffness=floats(0.1, 10))
def test_ladder_of_two_threads_by_hand(stiffness):
    # u2 (k + s) = s u1, so the second takes s/(k + 2s)
    assert thread_load_ladder(2, 1.0, stiffness)[1] == approx(stiffness / (1 + 2 * stiffness), rel=1e-9)


def test_a_fine_ladder_tends_to_the_sinh_law():
    # n teeth of stiffness k/n on segments of stiffness n/1: lambda L = sqrt(k)
    fine = thread_load_ladder(600, 4.0 / 600, 600.0).reshape(6, 100).sum(axis=1)
    assert fine == approx(thread_load_shares(6, 2.0), rel=5e-3)


@pytest.mark.parametrize(
    "call",
    [
        lambda: thread_load_shares(0, 1.0),
        lambda: thread_load_shares(2.5, 1.0),
        lambda: thread_load_left(1.1, 1.0),
        lambda: thread_load_peak(0.0),
        lambda: thread_load_ladder(0, 1.0, 1.0),
        lambda: stud_compliance(8.0, 1.25, -1.0, 205e3, 70e3),
    ],
)
def test_impossible_arguments_are_refused(call):
    with pytest.raises(ValueError):
        call()
