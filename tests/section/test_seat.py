"""Which surface a driven stud meets first."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.data import assumption
from studwell.section.layout import lay_out
from studwell.section.seat import SEATS, TIP_SEATS, first_seat, wedge_of

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


def test_a_tips_edge_lands_on_the_radius_of_a_rounded_end_unless_the_flat_left_is_wide_enough(make_setup):
    def round_end(radius, tip):
        boss = f'boss = {{ hole_end = "radiused", corner_radius = "{radius} mm", thread_depth = "13.5 mm" }}'
        return make_setup(f'{boss}\nstud = {{ {SHORT}, tip_diameter = "{tip} mm" }}')

    assert first_seat(round_end(2.0, 5.6)).name == "tip on radius"
    # the hole's end keeps a flat of 6.65 - 2 x 2.0 mm
    assert first_seat(round_end(2.0, 2.5)).name == "tip on floor"
    setup = round_end(2.0, 5.6)
    out = 0.5 * 5.6 - 0.5 * setup.boss.drill_diameter + 2.0
    assert setup.tip_seat_z == approx(2.0 - np.sqrt(4.0 - out**2))


WEDGED = {
    "thread run-out in the hole": f'boss = {{ thread_depth = "11.2 mm" }}\nstud = {{ {SHORT} }}',
    "thread run-out at the mouth": f'stud = {{ {SHORT}, boss_thread_length = "13 mm" }}',
}


@pytest.mark.parametrize("name", WEDGED)
def test_a_wedge_is_as_steep_as_the_thread_runs_out(make_setup, name):
    setup = make_setup(WEDGED[name])
    wedge = wedge_of(setup, first_seat(setup))
    # ISO 68-1: an M8 thread is 0.541 P high in the hole; ISO 898-1: 1.2269 P / 2 on the stud, its root's depth
    height, length = (5 / 8 * np.sqrt(3) / 2, "tap") if "hole" in name else (0.61343, "stud")
    assert np.tan(wedge.half_angle) == approx(height / assumption(f"{length}_run_out_pitches"), rel=1e-4)


@pytest.mark.parametrize("name", WEDGED)
def test_a_stud_that_wedges_stands_off_its_floor_and_engages_no_thread_beyond_the_mouth(make_setup, name):
    setup = make_setup(WEDGED[name])
    seat, layout = first_seat(setup), lay_out(setup, 0.1)
    assert seat.name == name
    assert layout.tip_z == approx(seat.clearance) and layout.tip_lift == approx(seat.clearance)
    assert layout.stud.thread_lines[-1] <= setup.boss.hole_depth - setup.boss.mouth_depth + 1e-9
    assert layout.stud_top == approx(setup.stud.length + seat.clearance)


def test_a_tip_that_seats_has_no_wedge_and_is_laid_out_on_its_floor(make_setup):
    layout = lay_out(make_setup(), 0.1)
    assert layout.wedge is None and layout.tip_z == 0.0 and layout.tip_lift == 0.0


def test_tip_seats_are_told_from_the_others(make_setup):
    assert set(TIP_SEATS) < set(SEATS) and all(name.startswith("tip") for name in TIP_SEATS)
    assert first_seat(make_setup()).by_tip
    assert not first_seat(make_setup(WEDGED["thread run-out in the hole"])).by_tip
