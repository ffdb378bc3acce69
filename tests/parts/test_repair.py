"""Numbers of a repair: drills in stock, depths to drill and tap, floors, inserts, what stands out of a nut."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.insert import assembled_length
from studwell.parts.repair import (
    floor_left,
    hole_drill,
    needed_depths,
    point_depth,
    protruding_pitches,
    stock_insert_for,
    stocked_drill,
    tap_size,
)
from studwell.parts.thread import parse_thread

M8 = parse_thread("M8")


@pytest.mark.parametrize(("size", "drill"), [("M5", 4.2), ("M6", 5.0), ("M8", 6.8), ("M10", 8.5)])
def test_tap_drills_are_those_of_the_coarse_series(size, drill):
    # ISO 2306
    assert hole_drill(parse_thread(size), False).metric == drill


def test_the_insert_hole_of_m8_takes_a_drill_of_8_3_mm_or_21_64_in():
    # basic minor diameter 8.2706 mm, ASME B18.29.2M
    drill = hole_drill(M8, True)
    assert (drill.metric, drill.inch_name) == (8.3, "21/64 in")
    assert drill.inch == approx(8.334, abs=5e-4)


@given(st.floats(1.0, 19.9))
def test_a_drill_in_stock_is_never_smaller_by_more_than_a_micrometre_and_never_a_step_larger(least):
    drill = stocked_drill(least)
    assert least - 1.1e-3 <= drill.metric < least + 0.1 and least - 1.1e-3 <= drill.inch < least + 25.4 / 64
    assert drill.inch_name.endswith(" in") or drill.inch_name.startswith("letter ")


def test_inch_threads_take_the_drills_that_charts_name():
    # 5/16-18 UNC: letter F, 3/8-16 UNC: 5/16 in; common charts of tap drills
    assert hole_drill(parse_thread("5/16-18"), False).inch_name == "letter F"
    assert hole_drill(parse_thread("3/8-16"), False).inch_name == "5/16 in"
    assert stocked_drill(12.7).inch_name == "1/2 in"


def test_a_drill_beyond_stock_is_refused():
    with pytest.raises(ValueError, match="1 mm to 20 mm"):
        stocked_drill(25.0)


def test_depths_for_an_insert_follow_the_rules_of_both_taps():
    # public reprint of ASME metric insert hole data: L + 4 P, and L + d/2 + 6 P up to 8 mm
    assert needed_depths(M8, "bottoming", 13.0, 12.0) == (approx(14.5), approx(17.0))
    assert needed_depths(M8, "plug", 13.0, 12.0) == (approx(14.5), approx(23.5))


def test_depths_without_an_insert_are_the_thread_and_the_taps_longest_chamfer():
    # bottoming 1 to 2 pitches, plug 3 to 5: Machinery's Handbook 31, Table 5b
    assert needed_depths(M8, "plug", 13.0, None)[1] == approx(13.0 + 5 * 1.25)
    assert needed_depths(M8, "bottoming", 13.0, None) == (approx(13.0), approx(13.0 + 2 * 1.25))
    assert needed_depths(M8, "plug", 13.0, None)[1] > needed_depths(M8, "bottoming", 13.0, None)[1]
    with pytest.raises(ValueError, match="taper"):
        needed_depths(M8, "taper", 13.0, None)


def test_a_drills_point_of_90_degrees_is_as_deep_as_its_radius():
    assert point_depth(6.8, 90.0) == approx(3.4)
    assert point_depth(6.8, 180.0) == approx(0.0, abs=1e-12)
    assert point_depth(8.2706, 118.0) == approx(8.2706 / 2.0 / np.tan(np.radians(59.0)))
    with pytest.raises(ValueError, match="180"):
        point_depth(6.8, 190.0)


def test_the_floor_is_what_depth_point_and_tolerance_leave():
    left = floor_left(21.0, 15.0, 2.0, 0.5)
    assert (left.under_point, left.under_shoulder, left.least) == (4.0, 6.0, 3.5)
    assert floor_left(21.0, 15.0, 2.0, None).least is None
    assert floor_left(15.0, 15.0, 2.0, 0.5).least == -2.5
    with pytest.raises(ValueError, match="tolerance"):
        floor_left(21.0, 15.0, 2.0, -0.5)


@given(st.floats(0.5, 22.0))
def test_the_insert_in_stock_is_the_shortest_that_engages_so_far_once_screwed_in(length):
    found = stock_insert_for(M8, length)
    assert found is not None and assembled_length(found, 1.25)[0] >= length - 1e-6
    shorter = [each * 8.0 for each in (1.0, 1.5, 2.0, 2.5, 3.0) if each * 8.0 < found]
    assert all(assembled_length(each, 1.25)[0] < length for each in shorter)


def test_no_insert_in_stock_is_longer_than_three_diameters():
    assert stock_insert_for(M8, 23.5) is None


def test_a_stud_that_ends_inside_the_nut_stands_out_by_less_than_nothing():
    assert protruding_pitches(9.3, 6.8, 1.25) == approx(2.0)
    assert protruding_pitches(6.0, 6.8, 1.25) < 0.0


def test_the_tap_for_an_insert_names_the_outside_that_it_cuts():
    assert tap_size(M8, False) == "M8x1.25"
    assert "9.62 mm" in tap_size(M8, True)
