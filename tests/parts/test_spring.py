"""Disc springs and conical washers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import floats, integers
from pytest import approx

from studwell.parts import spring as sp

STEEL = (206_000.0, 0.3)
DISC = (16.0, 8.2, 0.9, 0.35, *STEEL)
TRAVEL = floats(0.0, 0.35)


def test_forces_and_centre_stresses_match_the_table_of_din_2093(published):
    for name, row in published("din-2093")["rows"].items():
        spring = sp.stock_spring(name)
        assert [spring.outer_diameter, spring.inner_diameter, spring.thickness, spring.cone_height] == row["size"]
        travel = 0.75 * spring.cone_height
        assert sp.spring_force(travel, *row["size"], *STEEL) == approx(row["force"], rel=0.02), name
        assert spring.table_load == row["force"]
        if "stress" in row:
            assert sp.spring_stresses(travel, *row["size"], *STEEL).centre == approx(row["stress"], rel=0.03), name


def test_conical_washers_match_din_6796_and_use_the_mean_height(published):
    for size, (hole, outside, thickness, high, low) in published("din-6796")["rows"].items():
        row = sp.stock_spring(f"DIN 6796 {size}")
        assert (row.inner_diameter, row.outer_diameter, row.thickness) == (hole, outside, thickness)
        assert row.cone_height_max == approx(high - thickness) and row.cone_height_min == approx(low - thickness)
        assert row.cone_height == approx((high + low) / 2 - thickness)
        assert row.kind == "conical" and row.table_load is None


def test_all_five_stresses_of_the_sixteen_millimetre_spring():
    s = sp.spring_stresses(0.2625, *DISC)
    ours = [float(x) for x in (s.inner_upper, s.inner_lower, s.outer_lower, s.outer_upper, s.centre)]
    assert ours == approx([-2018.8, 1301.1, 1080.4, -621.1, -1166.5], abs=0.06)


@given(travel=TRAVEL)
def test_stiffness_is_the_derivative_of_force(travel):
    step = 1e-5
    slope = (sp.spring_force(travel + step, *DISC) - sp.spring_force(travel - step, *DISC)) / (2 * step)
    assert sp.spring_stiffness(travel, *DISC) == approx(slope, rel=1e-6)


@given(travel=TRAVEL)
def test_travel_inverts_force(travel):
    assert sp.spring_travel(sp.spring_force(travel, *DISC), *DISC) == approx(travel, abs=1e-9)


def test_travel_stops_at_flat_and_is_refused_for_a_snapping_cone():
    assert sp.spring_travel([0.0, 5_000.0], *DISC) == approx([0.0, 0.35], abs=1e-9)
    with pytest.raises(ValueError, match="two travels"):
        sp.spring_travel(10.0, 16.0, 8.2, 0.2, 0.35, *STEEL)


def test_flat_load_is_the_force_at_the_cone_height():
    assert sp.flat_load(*DISC) == approx(1319, abs=1)
    assert sp.flat_share([1319.3214, 2638.6428], sp.flat_load(*DISC)) == approx([1.0, 2.0], rel=1e-6)


def test_stiffness_vanishes_at_flat_for_a_cone_of_root_two_thicknesses():
    tall = np.sqrt(2) * 0.9
    free = sp.spring_stiffness(0.0, 16.0, 8.2, 0.9, tall, *STEEL)
    assert sp.spring_stiffness(tall, 16.0, 8.2, 0.9, tall, *STEEL) / free == approx(0.0, abs=1e-12)


@given(scale=floats(0.2, 5), travel=TRAVEL)
def test_force_scales_with_size_squared(scale, travel):
    size = [scale * x for x in DISC[:4]]
    ours = sp.spring_force(scale * travel, *size, *STEEL)
    assert ours == approx(scale**2 * sp.spring_force(travel, *DISC), rel=1e-9, abs=1e-9)


@given(parallel=integers(1, 9), series=integers(1, 9))
def test_stack_is_n_over_i_times_as_stiff(parallel, series):
    force, travel, stiffness = 1012.9, 0.2625, 3538.0
    assert sp.stack_force(force, parallel) == approx(parallel * force)
    assert sp.stack_travel(travel, series) == approx(series * travel)
    assert sp.stack_stiffness(stiffness, parallel, series) == approx(stiffness * parallel / series)


def test_friction_opens_a_loop_round_the_frictionless_force():
    assert 2025.7 * sp.friction_factor(2, 0.015, 0.03, True) == approx(2121.2, abs=0.1)
    assert 2025.7 * sp.friction_factor(2, 0.015, 0.03, False) == approx(1938.5, abs=0.1)
    assert sp.friction_factor(1, 0.5, 0.0, True) == 1.0


@pytest.mark.parametrize("count", [0, -1, 1.5])
def test_a_stack_counts_whole_springs(count):
    with pytest.raises(ValueError, match="whole number"):
        sp.stack_force(1.0, count)
    with pytest.raises(ValueError, match="whole number"):
        sp.stack_stiffness(1.0, 1, count)
    with pytest.raises(ValueError, match="whole number"):
        sp.friction_factor(count, 0.01, 0.01, True)


def test_locking_or_negative_friction_is_refused():
    with pytest.raises(ValueError, match="whole force"):
        sp.friction_factor(50, 0.03, 0.03, True)
    with pytest.raises(ValueError, match="surface_friction"):
        sp.friction_factor(2, -0.1, 0.03, True)


def test_a_spring_turned_inside_out_is_refused():
    with pytest.raises(ValueError, match="exceed"):
        sp.spring_force(0.1, 8.2, 16.0, 0.9, 0.35, *STEEL)


def test_a_misspelt_spring_is_refused_with_the_nearest():
    with pytest.raises(ValueError, match=r"did you mean 'DIN 6796 M8'"):
        sp.stock_spring("DIN6796 M8")


def test_a_disc_conducts_from_edge_to_edge_as_a_hollow_cylinder_of_its_thickness():
    # edges that hinder nothing leave 2 pi k t / ln(De/Di): 2 pi 45 W/(m K) 0.9 mm / ln(16/8.2) = 0.38 W/K
    assert sp.spring_heat_conductance(16.0, 8.2, 0.9, 45.0, 1e9) == approx(
        2 * np.pi * 45.0 * 0.9 / np.log(16 / 8.2), rel=1e-6
    )


def test_edges_alone_conduct_by_the_area_of_the_ring():
    assert sp.spring_heat_conductance(16.0, 8.2, 0.9, 1e9, 1.5) == approx(
        1.5 * np.pi / 4 * (16.0**2 - 8.2**2), rel=1e-6
    )


@given(parallel=integers(1, 5), series=integers(1, 8))
def test_packets_on_end_add_their_thermal_resistances_and_nested_discs_their_conductances(parallel, series):
    def resistance(*count, edges=1.5):
        return 1.0 / sp.spring_heat_conductance(16.0, 8.2, 0.9, 45.0, edges, *count)

    assert resistance(parallel, series) == approx(series * resistance(parallel, 1))
    assert resistance(parallel, 1, edges=1e12) == approx(resistance(1, 1, edges=1e12) / parallel, rel=1e-6)
