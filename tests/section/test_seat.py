"""Which surface a driven stud meets first."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.section.seat import SEATS, SOLVED, first_seat

FEW = settings(derandomize=True, max_examples=15, deadline=None)

SHORT = 'engaged_length = "10 mm"'


def test_a_full_thread_to_the_floor_lets_the_tip_land_on_the_floor(make_setup):
    seat = first_seat(make_setup())
    assert (seat.name, seat.clearance, seat.said_by) == ("tip on floor", 0.0, "the geometry")


def test_a_drilled_end_lets_the_tips_edge_land_on_the_cone(make_setup):
    cone = 'hole_end = "cone", cone_angle = "118 deg"'
    seat = first_seat(make_setup(f'boss = {{ {cone}, thread_depth = "13.5 mm" }}'))
    assert seat.name == "tip on cone" and seat.clearance == 0.0
    # a tip that sinks into the cone takes its thread deeper: with half a millimetre less of thread it binds first
    assert first_seat(make_setup(f"boss = {{ {cone} }}")).name == "thread run-out in the hole"


@given(st.floats(10.6, 11.7))
@FEW
def test_a_shallow_thread_stops_the_stud_on_the_taps_run_out(make_setup, thread_depth):
    depth = round(thread_depth, 2)
    setup = make_setup(f'boss = {{ thread_depth = "{depth} mm" }}\nstud = {{ {SHORT} }}')
    seat = first_seat(setup)
    assert seat.name == "thread run-out in the hole"
    # the first full thread cannot go below the last full one: 15 mm hole, 2.2 mm tip
    assert seat.clearance >= 15.0 - depth - 2.2 - 1e-9
    assert f"{seat.clearance:.2f} mm" in seat.reason


def test_a_shallower_thread_stops_the_stud_higher(make_setup):
    clearances = [
        first_seat(make_setup(f'boss = {{ thread_depth = "{depth} mm" }}\nstud = {{ {SHORT} }}')).clearance
        for depth in (11.5, 11.0, 10.6)
    ]
    assert clearances == sorted(clearances) and clearances[0] < clearances[-1]


def test_a_short_stud_thread_stops_at_the_mouth(make_setup):
    setup = make_setup(f'stud = {{ {SHORT}, boss_thread_length = "13 mm" }}')
    seat = first_seat(setup)
    assert seat.name == "thread run-out at the mouth"
    assert seat.clearance == approx(15.0 - 0.5 - 13.0)


@pytest.mark.parametrize("name", SEATS)
def test_a_named_seat_is_believed(make_setup, name):
    seat = first_seat(make_setup(f'seating = {{ seat = "{name}" }}'))
    assert (seat.name, seat.said_by) == (name, "the case")
    assert seat.clearance >= 0.0


def test_a_named_tip_seat_beats_the_geometry(make_setup):
    setup = make_setup(f'stud = {{ {SHORT}, boss_thread_length = "13 mm" }}\nseating = {{ seat = "tip on floor" }}')
    assert first_seat(setup).clearance == 0.0


def test_only_tip_seats_are_solved():
    assert set(SOLVED) < set(SEATS) and all(name.startswith("tip") for name in SOLVED)
