from dataclasses import replace

import numpy as np
import pytest

from studwell.history.stages import live_through
from studwell.review.trials import Drive


def test_a_wedge_is_relieved_by_degrees_and_gone_at_first_contact(trials, bottomed, drive, driven):
    half, none = (trials.live(bottomed, drive, share * drive.turns) for share in (0.5, 1.0))
    assert driven.wedge == pytest.approx(drive.wedge, rel=1e-9)
    assert 0.2 * drive.wedge < half.wedge < 0.7 * drive.wedge
    assert none.wedge < 1e-3 * drive.wedge
    assert drive.turns * 360.0 == pytest.approx(8.6, rel=0.1)


def test_beyond_first_contact_more_turns_lift_the_tip_by_as_much_and_change_no_force(trials, bottomed, drive):
    less, more = trials.live(bottomed, drive, 0.2), trials.live(bottomed, drive, 0.6)
    assert not less.touches and not more.touches
    assert more.gap_min - less.gap_min == pytest.approx(0.4 * 1.25, abs=1e-9)
    assert more.thread == pytest.approx(less.thread, rel=1e-9)
    assert less.engaged - more.engaged == pytest.approx(0.4 * 1.25)
    assert more.margins["boss thread strip"] > less.margins["boss thread strip"]


def test_turns_that_only_unwind_the_stud_leave_it_where_it_is():
    drive = Drive(10_000.0, 0.03, 0.002, 9000.0, 1.25)
    assert drive.travel(0.002) == drive.approach
    assert drive.travel(drive.turns) == pytest.approx(0.0, abs=1e-15)


def test_a_smaller_torque_drives_less_deep_to_the_travel_asked_for(trials, bottomed, drive):
    torque = trials.torque_at(bottomed, 0.5 * drive.approach)
    assert 0.0 < torque < drive.torque
    assert trials.drive(bottomed, torque).approach == pytest.approx(0.5 * drive.approach, rel=1e-6)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.98, 3.0])
def test_a_case_counted_from_the_driven_seat_lives_as_the_review_says(trials, bottomed, drive, share):
    turns = share * drive.turns
    seating = replace(bottomed.seating, mode="backed off", turns=turns, counted_from="driven seat", torque=drive.torque)
    setup = replace(bottomed, seating=seating)
    built = trials.joint(setup)
    history = live_through(setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=640.0)
    trial = trials.live(bottomed, drive, turns)
    assert history.seated_forces.tip[0] == pytest.approx(trial.wedge, rel=1e-6, abs=1e-6)
    assert history.seated.shear == pytest.approx(trial.history.seated.shear, rel=1e-6, abs=1e-9)
    assert np.allclose(history.run_forces.tip, trial.history.run_forces.tip, rtol=1e-6, atol=1e-3)
    assert np.allclose(history.run_forces.thread, trial.history.run_forces.thread, rtol=1e-6)
