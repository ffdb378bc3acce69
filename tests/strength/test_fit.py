"""How parts go together: a false seat with tolerances, a hole that goes through its floor."""

from dataclasses import replace

import pytest
from pytest import approx

from studwell.case.records import Repair
from studwell.strength.fit import NO_TOLERANCE, false_seat, floor_breakthrough


def judged(result, mode, **changes):
    setup = result.built.setup
    repair = replace(setup.repair or Repair(None, None, None, None, None), **changes)
    built = replace(result.built, setup=replace(setup, repair=repair))
    return mode(built, result.timeline, result.history.temperatures)


def test_without_tolerances_breakthrough_is_unknown_and_says_what_is_missing(workshop):
    result = workshop["domed"]
    built = replace(result.built, setup=replace(result.built.setup, repair=None))
    bare = floor_breakthrough(built, result.timeline, result.history.temperatures)
    assert bare.unknown and "no [repair] table" in bare.reason
    assert judged(workshop["domed"], floor_breakthrough, drill_depth_tolerance=None).reason == NO_TOLERANCE
    missing = judged(workshop["insert"], floor_breakthrough, tap=None)
    assert missing.value is None and missing.unknown and "tap" in missing.reason


def test_a_hole_as_it_is_loses_the_drills_point_and_its_tolerance_of_the_floor_above_the_least_one(workshop):
    # a flat end; the point of the 6.8 mm drill, 118 deg: 3.4 mm / tan 59 deg = 2.043 mm deeper than the full diameter
    margin = workshop["domed"].verdict.margins["floor breakthrough"]
    assert margin.value == approx((2.043 + 0.5) / (6.0 - 3.0), rel=1e-3)
    assert judged(workshop["domed"], floor_breakthrough, least_floor=None).value == approx(2.543 / 6.0, rel=1e-3)
    assert judged(workshop["domed"], floor_breakthrough, least_floor=6.0).value == float("inf")
    assert judged(workshop["domed"], floor_breakthrough, drill_depth_tolerance=3.0).fails


def test_an_insert_whose_tap_needs_a_deeper_hole_takes_that_and_the_drills_point_from_the_floor(workshop):
    # 12 mm and four pitches are 17 mm, 2 mm more than the hole; point of 118 deg on the drill of 8.3 mm: 2.494 mm
    margin = workshop["insert"].verdict.margins["floor breakthrough"]
    assert margin.value == approx((2.0 + 2.494 + 0.5) / 6.0, rel=1e-3)
    plug = judged(workshop["insert"], floor_breakthrough, tap="plug")
    assert plug.fails and plug.load == approx(8.5 + 2.494 + 0.5, rel=1e-3)


@pytest.mark.parametrize(("stud", "stack"), [(0.0, 0.0), (0.1, None), (0.1, 0.05)])
def test_tolerances_use_up_room_in_the_dome(workshop, stud, stack):
    exact = judged(workshop["domed"], false_seat, stud_length_tolerance=0.0, stack_tolerance=None)
    with_them = judged(workshop["domed"], false_seat, stud_length_tolerance=stud, stack_tolerance=stack)
    assert exact.value < 1.0
    assert with_them.load - exact.load == approx(stud + (stack or 0.0))


def test_a_stud_that_clears_the_dome_only_as_drawn_is_a_false_seat_with_its_tolerances(workshop):
    drawn = judged(workshop["domed"], false_seat, stud_length_tolerance=None, stack_tolerance=None)
    assert not drawn.fails and "no tolerance" in drawn.reason
    margin = judged(workshop["domed"], false_seat, stud_length_tolerance=2.0, stack_tolerance=2.0)
    assert margin.fails and "tolerances take away" in margin.reason
