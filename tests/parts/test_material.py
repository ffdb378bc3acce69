"""Materials and their curves."""

import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx

from studwell.parts.material import Curve, material_from, stock_material, stock_material_names

CAST = ("a356-t6 sand", "a356-t6 permanent mould", "a319-t6", "a380 die cast", "adc12 die cast")


def test_curve_is_straight_between_points_and_held_beyond_them():
    curve = Curve((20.0, 120.0), (100.0, 50.0))
    assert curve.at([-40.0, 20.0, 70.0, 120.0, 300.0]).tolist() == [100.0, 100.0, 75.0, 50.0, 50.0]


def test_curve_covers_only_its_own_range_and_a_constant_covers_all():
    curve = Curve((20.0, 120.0), (100.0, 50.0))
    assert curve.covers([20.0, 120.0]) and not curve.covers(-15.0) and not curve.covers([50.0, 121.0])
    assert Curve((20.0,), (1.0,)).covers(-200.0)


@pytest.mark.parametrize(
    ("temperatures", "values"),
    [((), ()), ((20.0, 20.0), (1.0, 2.0)), ((20.0,), (1.0, 2.0)), ((20.0,), (float("nan"),))],
)
def test_curve_refuses_points_that_make_no_curve(temperatures, values):
    with pytest.raises(ValueError):
        Curve(temperatures, values)


@pytest.mark.parametrize("name", stock_material_names())
def test_stocked_material_is_physical_and_names_a_source_for_each_value(name):
    metal = stock_material(name)
    assert hash(metal) == hash(stock_material(name))
    assert 60e3 < metal.youngs_modulus.at(20.0) < 220e3
    assert 0.2 < metal.poisson < 0.35
    assert 9e-6 < metal.expansion.at(100.0) < 25e-6
    assert metal.youngs_modulus.at(200.0) < metal.youngs_modulus.at(20.0)
    for key in ("youngs_modulus", "poisson", "expansion", "conductivity", "density", "heat_capacity"):
        source, status = metal.source(key)
        assert source and status
    if metal.yield_strength and metal.ultimate_strength:
        assert metal.yield_strength.at(20.0) <= metal.ultimate_strength.at(20.0)


@pytest.mark.parametrize("name", CAST)
def test_cast_aluminium_loses_five_to_eight_percent_of_stiffness_at_150_degrees(name):
    modulus = stock_material(name).youngs_modulus
    assert 0.05 <= 1.0 - modulus.at(150.0) / modulus.at(20.0) <= 0.08


@pytest.mark.parametrize("name", CAST)
def test_cast_aluminium_keeps_the_expected_share_of_its_yield_strength(name):
    strength = stock_material(name).yield_strength
    assert 0.8 <= strength.at(150.0) / strength.at(20.0) <= 0.9
    assert 0.6 <= strength.at(200.0) / strength.at(20.0) <= 0.75


def test_a_temperature_history_from_cold_to_hot_is_covered_by_the_cast_alloys():
    for name in CAST[:3]:
        metal = stock_material(name)
        assert all(c.covers([-15.0, 180.0]) for c in (metal.youngs_modulus, metal.expansion, metal.yield_strength))


def test_only_sand_cast_a356_has_a_fracture_toughness():
    tough = {name: stock_material(name).fracture_toughness for name in stock_material_names()}
    assert {name for name, value in tough.items() if value is not None} == {"a356-t6 sand"}
    assert tough["a356-t6 sand"] == approx(17.3)
    assert stock_material("a356-t6 sand").source("fracture_toughness")[1] == "confirmed"


def test_an_unknown_property_stays_unknown():
    assert stock_material("steel 8.8").fracture_toughness is None
    with pytest.raises(ValueError, match="fracture_toughness is unknown"):
        stock_material("steel 8.8").source("fracture_toughness")


def test_a380_values_lie_in_the_published_ranges(published):
    metal = stock_material("a380 die cast")
    for key, (low, high) in published("nadca-a380")["ranges"].items():
        value = getattr(metal, key)
        assert low <= float(value.at(20.0) if isinstance(value, Curve) else value) <= high, key


def test_thermal_strain_uses_the_secant_from_20_degrees():
    metal = material_from("m", "steel 8.8", {"expansion": Curve((20.0, 120.0), (10e-6, 12e-6))})
    assert metal.thermal_strain(120.0) == approx(12e-6 * 100.0, rel=1e-12)
    assert metal.thermal_strain(70.0) == approx(11e-6 * 50.0, rel=1e-12)
    assert metal.thermal_strain(120.0, 70.0) == approx(12e-4 - 5.5e-4, rel=1e-12)
    assert metal.thermal_strain(20.0) == 0.0


@given(a=floats(-40, 250), b=floats(-40, 250), c=floats(-40, 250))
def test_thermal_strain_adds_up_over_any_stop_on_the_way(a, b, c):
    metal = stock_material("a356-t6 sand")
    whole = metal.thermal_strain(c, a)
    assert whole == approx(metal.thermal_strain(b, a) + metal.thermal_strain(c, b), abs=1e-15)


def test_volumetric_heat_capacity_is_in_newtons_and_millimetres():
    assert stock_material("a356-t6 sand").volumetric_heat_capacity == approx(2680 * 963 * 1e-6)


def test_own_material_keeps_the_rest_of_its_base():
    base = stock_material("a319-t6")
    own = material_from("my alloy", "a319-t6", {"youngs_modulus": 70e3, "fracture_toughness": 18.0})
    assert own.name == "my alloy" and own.family == base.family
    assert own.youngs_modulus.at([20.0, 200.0]).tolist() == [70e3, 70e3]
    assert own.fracture_toughness == 18.0 and own.yield_strength == base.yield_strength
    assert own.source("youngs_modulus")[1] == "given by the user"
    assert own.source("yield_strength") == base.source("yield_strength")


@pytest.mark.parametrize(
    ("overrides", "message"),
    [
        ({"young_modulus": 1.0}, "youngs_modulus"),
        ({"youngs_modulus": -1.0}, "youngs_modulus"),
        ({"poisson": 0.5}, "poisson"),
        ({"density": float("nan")}, "density"),
        ({"poisson": Curve((20.0,), (0.3,))}, "poisson"),
    ],
)
def test_own_material_refuses_what_cannot_be(overrides, message):
    with pytest.raises(ValueError, match=message):
        material_from("mine", "steel 8.8", overrides)


def test_a_misspelt_material_is_refused_with_the_nearest():
    with pytest.raises(ValueError, match=r"did you mean 'a380 die cast'"):
        stock_material("a380 diecast")
