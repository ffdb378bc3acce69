"""Stripping: both sides, basic and limit sizes, the length that breaks the stud first, loads cut into pitches."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.fastener import strip_load, thread_load_left, thread_load_shares
from studwell.parts.strip import (
    capacity_per_pitch,
    hole_areas,
    insert_hole_areas,
    loads_per_pitch,
    points_per_pitch,
    stud_areas,
    stud_first_length,
)
from studwell.parts.thread import Thread, parse_thread, stress_area

M8 = parse_thread("M8")


def test_the_four_areas_of_m8_are_those_worked_by_hand():
    # FED-STD-H28 at basic sizes and at the limits of ISO 965-2 for 6g/6H, 12 mm engaged
    hole, stud = hole_areas(M8, 12.0), stud_areas(M8, 12.0)
    assert (hole.basic, stud.basic) == (approx(263.89, abs=0.01), approx(187.94, abs=0.01))
    assert (hole.limits, stud.limits) == (approx(201.94, rel=1e-4), approx(145.93, rel=3e-4))
    assert hole.fit == "M8x1.25 6g/6H"


@given(st.sampled_from(["M5", "M6", "M8", "M10", "M12", "1/4-20", "5/16-18", "3/8-24"]), st.floats(1.0, 30.0))
def test_limits_take_area_away_from_both_sides_and_areas_grow_with_length(name, length):
    thread = parse_thread(name)
    for rule in (hole_areas, stud_areas, insert_hole_areas):
        areas = rule(thread, length)
        assert 0.0 < areas.limits < areas.basic and areas.smaller == areas.limits
        assert rule(thread, 2.0 * length).limits == approx(2.0 * areas.limits)


def test_the_external_area_takes_the_minor_diameter_of_the_hole_and_not_the_studs_major():
    # a public page prints d min in the place of D1 max: that gives a third of it
    by_trap = np.pi * 12.0 / 1.25 * 7.76 * (0.625 + np.tan(np.pi / 6) * (7.042 - 7.76))
    assert stud_areas(M8, 12.0).limits == approx(146.0, abs=0.1)
    assert abs(by_trap - 146.0) > 30.0


def test_a_thread_without_limits_in_the_tables_says_so_and_keeps_its_basic_area():
    areas = hole_areas(Thread("M8x0.6", 8.0, 0.6), 10.0)
    assert areas.limits is None and "no limits of size" in areas.fit
    assert areas.smaller == areas.basic > 0.0


def test_an_insert_gains_a_fifth_of_area_on_m8():
    # basic sizes of ASME B18.29.2M over those of ISO 724
    assert insert_hole_areas(M8, 12.0).basic / hole_areas(M8, 12.0).basic == approx(1.2030, abs=5e-5)


@pytest.mark.parametrize(("name", "strength", "length"), [("8.8", 800.0, 12.61), ("10.9", 1040.0, 16.39)])
def test_the_stud_breaks_first_from_the_length_at_which_both_loads_are_equal(name, strength, length):
    per_mm = hole_areas(M8, 1.0).limits
    load = stress_area(M8) * strength
    needed = float(stud_first_length(load, per_mm, 230.0, 0.6))
    assert needed == approx(length, abs=0.01)
    assert float(strip_load(hole_areas(M8, needed).limits, 230.0, 0.6)) == approx(load)


def test_pitch_loads_of_the_sinh_law_are_its_shares():
    # Goodier 1940; Sopwith 1948: the list 34, 23, 16, 11, 9, 7 % of six turns
    edges = np.linspace(0.0, 6 * 1.25, 6 * 40 + 1)
    left = np.asarray(thread_load_left((edges[-1] - edges) / edges[-1], 2.4347))
    pitches = loads_per_pitch(edges, np.diff(left), 1.25)
    assert pitches.shares == approx(thread_load_shares(6, 2.4347))
    assert np.round(100 * pitches.shares).tolist() == [34, 23, 16, 11, 9, 7]


@given(
    st.lists(st.floats(0.05, 2.0), min_size=1, max_size=12),
    st.floats(0.3, 3.0),
    st.sampled_from(["top", "bottom"]),
)
def test_pitches_lose_no_load_and_no_length(steps, pitch, end):
    edges = np.concatenate([[-3.0], -3.0 + np.cumsum(steps)])
    loads = np.linspace(-1.0, 4.0, len(steps))
    pitches = loads_per_pitch(edges, np.stack([loads, 2.0 * loads]), pitch, end)
    assert pitches.loads.sum(axis=-1) == approx(np.array([1.0, 2.0]) * loads.sum())
    assert pitches.lengths.sum() == approx(sum(steps)) and np.all(pitches.lengths > 0.0)
    assert np.all(pitches.lengths[:-1] == approx(pitch))


def test_pitches_count_from_the_loaded_end():
    up = loads_per_pitch([0.0, 1.0, 2.0], [1.0, 3.0], 1.0, "bottom")
    assert up.loads.tolist() == [1.0, 3.0]
    assert loads_per_pitch([0.0, 1.0, 2.0], [1.0, 3.0], 1.0, "top").loads.tolist() == [3.0, 1.0]


def test_loads_of_single_flanks_go_whole_to_their_pitch():
    found = points_per_pitch(0.0, 3.0, [0.2, 0.4, 1.3, 2.3], [1.0, 2.0, 4.0, 8.0], 1.0, "top")
    assert found.loads.tolist() == [8.0, 4.0, 3.0]
    assert points_per_pitch(0.0, 3.0, [0.2, 2.3], [[1.0, 2.0]], 1.0, "bottom").loads.tolist() == [[1.0, 0.0, 2.0]]


def test_equal_shares_put_every_pitch_at_the_ratio_of_the_whole():
    pitches = loads_per_pitch([0.0, 4.0], [1000.0], 1.25)
    alone = capacity_per_pitch(pitches.lengths, 16.8, np.array([100.0, 50.0]))
    assert alone.shape == (2, 4)
    assert pitches.loads / alone[0] == approx(1000.0 / (4.0 * 16.8 * 100.0))
    assert alone[1] == approx(alone[0] / 2.0)


def test_an_unloaded_thread_has_no_shares():
    assert loads_per_pitch([0.0, 1.0, 2.0], [0.0, 0.0], 1.0).shares.tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("edges", "loads", "end"),
    [([0.0, 0.0], [1.0], "top"), ([0.0, 1.0], [1.0, 2.0], "top"), ([0.0, 1.0], [1.0], "left")],
)
def test_edges_that_do_not_rise_and_loads_without_an_edge_are_refused(edges, loads, end):
    with pytest.raises(ValueError, match=r"edges|loaded_end"):
        loads_per_pitch(edges, loads, 1.0, end)
