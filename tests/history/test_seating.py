"""A stud turned back from its driven seat: nothing, less than relieves the wedge, and more."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.errors import Unknown
from studwell.history.seating import travel_left

TORQUE = "10 N*m"


@pytest.fixture(scope="module")
def built(make_setup, build):
    return build(make_setup(f'seating = {{ torque = "{TORQUE}" }}'))


@pytest.fixture(scope="module")
def bottomed(built, live):
    return live(built)


@pytest.fixture
def back(built, live):
    """Function: turns from the driven seat -> history."""

    def function(turns):
        seating = replace(built.setup.seating, mode="backed off", turns=turns, counted_from="driven seat")
        return live(replace(built, setup=replace(built.setup, seating=seating)))

    return function


def test_a_stud_that_breaks_on_driving_breaks_where_it_is_driven_and_not_under_a_nut(make_setup, build, live):
    built = build(make_setup('seating = { torque = "70 N*m" }'))
    with pytest.raises(Unknown, match="on driving it") as caught:
        live(built)
    assert "under the nut" not in str(caught.value)


def test_no_turns_back_from_a_driven_seat_leave_it_bottomed(bottomed, back):
    history = back(0.0)
    assert history.seated.shear == bottomed.seated.shear > 0.0
    for name in ("tip", "thread", "tension", "clamp"):
        assert np.array_equal(getattr(history.run_forces, name), getattr(bottomed.run_forces, name))
    assert history.seating == bottomed.seating


def test_the_wedge_goes_by_degrees_and_without_a_jump(bottomed, back):
    seating = bottomed.seating
    whole = seating.wind_up_turns + seating.drive_approach / 1.25
    turns = [seating.wind_up_turns, *np.linspace(seating.wind_up_turns, whole, 6)[1:-1], 0.9999 * whole, 1.0001 * whole]
    found = [back(float(each)) for each in turns]
    wedges = [float(each.seated_forces.tip[0]) for each in found]
    assert wedges[0] == approx(bottomed.seating.drive_wedge, rel=1e-9)
    steps = -np.diff(wedges[:-1])
    assert np.all(steps > 0.0) and np.max(steps[:-1]) < 0.5 * wedges[0]
    assert wedges[-2] < 2e-3 * wedges[0] and wedges[-1] == approx(0.0, abs=1e-9)
    shears = [each.seated.shear for each in found]
    assert np.all(np.diff(shears) <= 0.0) and shears[-1] == 0.0 and shears[-2] < 2e-3 * shears[0]
    for one in found:
        assert one.seated.travels["stud"] == approx(one.seating.travel, abs=1e-12)


def test_turns_unwind_the_twist_before_the_thread_moves():
    assert travel_left(0.03, 0.002, 1.25, 0.001) == 0.03
    assert travel_left(0.03, 0.002, 1.25, 0.002 + 0.01 / 1.25) == approx(0.02)
    assert travel_left(0.03, 0.002, 1.25, 0.202) == approx(-0.22)
