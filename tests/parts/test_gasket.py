"""Gaskets: loading, unloading, reloading."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis.strategies import floats, lists, sampled_from
from pytest import approx

from studwell.parts.gasket import (
    gasket_conductance,
    gasket_pressure,
    loading_closure,
    loading_pressure,
    stock_gasket,
    stock_gasket_names,
    with_conductivity,
    with_thickness,
)

SHEET = stock_gasket("fibre sheet 0.5")
ANY = sampled_from([stock_gasket(name) for name in stock_gasket_names()])


def test_first_loading_follows_the_curve_and_its_last_slope():
    closures = np.array([0.0, 0.05, 0.08, 0.09])
    assert loading_pressure(SHEET, closures) == approx([0.0, 34.5, 87.0, 87.0 + 1100 * 0.02])
    assert loading_pressure(SHEET, -0.1) == 0.0


@given(gasket=ANY, pressure=floats(0.0, 300.0))
def test_closure_inverts_pressure(gasket, pressure):
    assert loading_pressure(gasket, loading_closure(gasket, pressure)) == approx(pressure, rel=1e-9, abs=1e-9)


def test_a_sheet_loaded_to_34_5_megapascals_recovers_about_half():
    loaded = gasket_pressure(SHEET, 0.05, 0.0)
    assert loaded.pressure == approx(34.5) and loaded.largest_closure == approx(0.05)
    thickness_left = 0.05 - 34.5 / 700.0 * 0.5
    just_open = gasket_pressure(SHEET, thickness_left, loaded.largest_closure)
    assert just_open.pressure == approx(0.0, abs=1e-9)
    assert 0.4 < 1 - thickness_left / 0.05 < 0.6


def test_unloading_is_stiffer_than_loading_and_reloading_returns_the_same_way():
    down = gasket_pressure(SHEET, 0.045, 0.05)
    assert down.pressure == approx(34.5 - 700 * 0.01)
    assert down.tangent == approx(700 / 0.5) and down.largest_closure == approx(0.05)
    assert gasket_pressure(SHEET, 0.05, down.largest_closure).pressure == approx(34.5)
    beyond = gasket_pressure(SHEET, 0.055, down.largest_closure)
    assert beyond.pressure == approx(loading_pressure(SHEET, 0.055)) and beyond.largest_closure == approx(0.055)


def test_an_open_gasket_pulls_nothing_and_forgets_nothing():
    gone = gasket_pressure(SHEET, [-1.0, 0.01], 0.05)
    assert gone.pressure.tolist() == [0.0, 0.0] and gone.tangent.tolist() == [0.0, 0.0]
    assert gone.largest_closure == approx([0.05, 0.05])


@given(gasket=ANY, path=lists(floats(-0.2, 0.15), min_size=2, max_size=8))
def test_any_path_keeps_pressure_below_first_loading_and_its_state_rising(gasket, path):
    state = 0.0
    for share in path:
        answer = gasket_pressure(gasket, share * gasket.thickness, state)
        assert answer.largest_closure >= state
        assert 0.0 <= answer.pressure <= loading_pressure(gasket, share * gasket.thickness) + 1e-9
        state = float(answer.largest_closure)


@given(gasket=ANY, share=floats(0.001, 0.14), peak=floats(0.0, 0.14))
def test_tangent_is_the_derivative_of_pressure_away_from_the_corners(gasket, share, peak):
    at, before, step = share * gasket.thickness, peak * gasket.thickness, 1e-8
    answer = gasket_pressure(gasket, at, before)
    high, low = (gasket_pressure(gasket, at + move, before).pressure for move in (step, -step))
    gone = before > at and gasket_pressure(gasket, at, before).pressure < 1e-3 and high > 0.0
    assume(min(abs(share - corner) for corner in (*gasket.compression, peak)) > 1e-6 and not gone)
    assert answer.tangent == approx((high - low) / (2 * step), rel=1e-4, abs=1e-3)


def test_thickness_scales_the_closure_and_not_the_pressure():
    thick = with_thickness(SHEET, 1.0)
    assert loading_pressure(thick, 0.1) == approx(loading_pressure(SHEET, 0.05))


@pytest.mark.parametrize(
    "change",
    [
        {"compression": (0.0, 0.1)},
        {"pressure": (1.0, *SHEET.pressure[1:])},
        {"unloading_modulus": (10.0, 10.0, 10.0)},
        {"unloading_modulus": (700.0,)},
    ],
)
def test_a_gasket_that_cannot_be_is_refused(change):
    with pytest.raises(ValueError, match="fibre sheet"):
        replace(SHEET, **change)


@pytest.mark.parametrize("name", stock_gasket_names())
def test_stocked_gaskets_are_marked_as_remembered_and_consistent(name):
    gasket = stock_gasket(name)
    assert gasket.status == "from memory"
    assert 0.0 < gasket.minimum_sealing_pressure < gasket.maximum_pressure
    assert 0.0 <= gasket.relaxation < 0.5


def test_heat_meets_both_contacts_of_a_gasket_and_its_thickness_in_series():
    # 5000 W/(m2 K) on either face and 0.5 mm of 0.35 W/(m K): 1/5000 + 0.0005/0.35 + 1/5000 m2 K/W
    assert gasket_conductance(replace(SHEET, conductivity=0.35), 5.0) == approx(
        1e-3 / (1 / 5000 + 5e-4 / 0.35 + 1 / 5000)
    )
    assert gasket_conductance(with_conductivity(SHEET, 1e9), 5.0) == approx(2.5)
    assert gasket_conductance(with_thickness(SHEET, 2.0), 5.0) < gasket_conductance(SHEET, 5.0)


def test_a_gasket_of_unknown_conductivity_has_no_conductance():
    with pytest.raises(ValueError, match="conductivity of gasket 'fibre sheet 0\\.5' is not known"):
        gasket_conductance(replace(SHEET, conductivity=None), 5.0)
