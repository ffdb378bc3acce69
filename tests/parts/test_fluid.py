"""Liquids of the data and of the user's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.data import STATUSES
from studwell.parts.fluid import fluid_with, stock_fluid, stock_fluid_names


@pytest.mark.parametrize("name", stock_fluid_names())
def test_every_liquid_says_where_its_values_come_from(name):
    fluid = stock_fluid(name)
    for key in ("bulk_modulus", "expansion"):
        source, status = fluid.source(key)
        assert len(source) > 5 and status in STATUSES
    with pytest.raises(ValueError, match="no toughness"):
        fluid.source("toughness")


def test_water_follows_its_density_and_not_one_coefficient():
    water = stock_fluid("water")
    assert water.volume_ratio(100.0, 20.0) == approx(998.207 / 958.349, rel=1e-6)
    assert water.volume_ratio(4.0, 20.0) < water.volume_ratio(0.01, 20.0)  # densest at 4 degC
    assert stock_fluid("oil").volume_ratio(170.0, 20.0) == approx(1.105)


def test_freezing_takes_the_nine_per_cent_of_ice():
    water = stock_fluid("water")
    assert water.ice_ratio(0.0, 0.01) == approx(1.0907, abs=2e-4)
    with pytest.raises(ValueError, match="freezing"):
        stock_fluid("oil").ice_ratio(0.0, 20.0)


def test_the_melting_pressure_is_zero_where_ice_melts_and_is_held_where_denser_ice_takes_over():
    ice = stock_fluid("water").ice
    assert ice.melting_pressure([0.02, 20.0]) == approx([0.0, 0.0])
    assert ice.melting_pressure(-13.15) == approx(138.268, abs=1e-3)
    assert ice.melting_pressure([-22.0, -40.0]) == approx([208.566, 208.566], rel=2e-3)


@given(st.floats(-21.9, 0.0), st.floats(0.001, 5.0))
def test_colder_water_freezes_at_a_higher_pressure(temperature, colder):
    ice = stock_fluid("water").ice
    assert ice.melting_pressure(temperature - colder) >= ice.melting_pressure(temperature)


def test_own_values_replace_those_of_the_data():
    stiff = fluid_with("oil", stock_fluid("oil"), 1800.0, None)
    assert stiff.bulk_modulus.at(90.0) == 1800.0 and stiff.expansion == stock_fluid("oil").expansion
    assert stiff.source("bulk_modulus")[0] == "the case" and "mineral oil" in stiff.source("expansion")[0]
    straight = fluid_with("water", stock_fluid("water"), None, 4e-4)
    assert straight.volume_ratio(120.0, 20.0) == approx(1.04)
    assert straight.ice_ratio(0.0, 20.0) == approx(998.207 / 916.722, rel=1e-6)


def test_a_liquid_of_the_users_own_needs_both_values():
    assert fluid_with("own fluid", None, 1000.0, 1e-3).volume_ratio(30.0, 20.0) == approx(1.01)
    with pytest.raises(ValueError, match="needs bulk_modulus"):
        fluid_with("own fluid", None, None, 1e-3)
    with pytest.raises(ValueError, match="needs expansion"):
        fluid_with("own fluid", None, 1000.0, None)
    with pytest.raises(ValueError, match="bulk_modulus must be above zero"):
        fluid_with("own fluid", None, -5.0, 1e-3)


def test_an_unknown_liquid_is_refused_with_the_nearest_name():
    with pytest.raises(ValueError, match=r"watter.*water"):
        stock_fluid("watter")
    assert np.all(np.diff(stock_fluid("water").bulk_modulus.temperatures) > 0)
