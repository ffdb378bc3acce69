"""Torque and preload, seating and holding."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx

from studwell.parts import torque as tq
from studwell.parts.thread import pitch_diameter
from studwell.parts.torsion import combined_stress, locked_torsion, torsion_stress, wind_up

P, D2, BEARING = 1.25, float(pitch_diameter(8.0, 1.25)), 10.315
FRICTION = floats(0.0, 0.4)
PRELOADS = {0.08: 17243, 0.10: 14402, 0.12: 12365, 0.14: 10832, 0.16: 9638, 0.20: 7896}


@pytest.mark.parametrize(("friction", "force"), PRELOADS.items())
def test_long_form_preload_of_m8_at_twelve_foot_pounds(friction, force):
    assert tq.tightening_preload(16_270, P, D2, friction, BEARING, friction) == approx(force, abs=0.6)


def test_exact_and_short_forms_lie_just_below_the_long_form():
    case = (16_270, P, D2, 0.14, BEARING, 0.14)
    assert tq.tightening_preload_exact(*case) == approx(10_782, abs=1)
    assert tq.tightening_preload_short(*case) == approx(10_805, abs=1)


@given(torque=floats(1, 1e5), thread=FRICTION, bearing=FRICTION)
def test_tightening_torque_inverts_tightening_preload(torque, thread, bearing):
    force = tq.tightening_preload(torque, P, D2, thread, BEARING, bearing)
    assert tq.tightening_torque(force, P, D2, thread, BEARING, bearing) == approx(torque, rel=1e-12)


@given(torque=floats(1, 1e5))
def test_without_friction_one_turn_of_torque_is_the_work_of_one_pitch(torque):
    force = tq.tightening_preload(torque, P, D2, 0.0, BEARING, 0.0)
    assert 2 * np.pi * torque == approx(force * P, rel=1e-12)
    assert tq.tightening_preload_exact(torque, P, D2, 0.0, BEARING, 0.0) == approx(force, rel=1e-12)


@given(thread=FRICTION, bearing=FRICTION)
def test_torque_shares_make_one_and_belong_to_the_factors(thread, bearing):
    shares = tq.torque_shares(P, D2, thread, BEARING, bearing)
    assert shares.pitch + shares.thread + shares.bearing == approx(1.0, rel=1e-12)
    down = float(tq.thread_torque_factor(P, D2, thread))
    under = float(tq.bearing_torque_factor(BEARING, bearing))
    assert (shares.pitch + shares.thread) * (down + under) == approx(down, rel=1e-12)


def test_torque_shares_at_friction_014():
    shares = tq.torque_shares(P, D2, 0.14, BEARING, 0.14)
    assert [100 * float(s) for s in (shares.pitch, shares.thread, shares.bearing)] == approx(
        [13.25, 38.68, 48.07], abs=0.006
    )


def test_nut_factor_and_its_preload():
    assert tq.nut_factor(16_270, 10_832, 8.0) == approx(0.1878, abs=5e-5)
    assert tq.nut_factor_preload(16_269.8, [0.15, 0.2, 0.3], 8.0) == approx([13_558, 10_169, 6_779], abs=1)


def test_bearing_diameters():
    assert tq.mean_bearing_diameter(11.6, 9.0) == approx(10.3)
    assert tq.friction_diameter(11.6, 9.0) == approx(2 / 3 * (11.6**3 - 729) / (11.6**2 - 81))
    assert tq.friction_diameter(11.6, 1e-9) == approx(2 / 3 * 11.6)
    assert tq.friction_diameter(9.001, 9.0) == approx(9.0005, rel=1e-6)
    with pytest.raises(ValueError, match="exceed"):
        tq.mean_bearing_diameter(9.0, 11.6)


@given(torque=floats(1, 1e5), friction=FRICTION, radius=floats(0.5, 4))
def test_seating_torque_inverts_wedge_force(torque, friction, radius):
    tip = tq.flat_tip_torque_factor(radius, friction)
    force = tq.wedge_force(torque, P, D2, friction, tip)
    assert tq.seating_torque(force, P, D2, friction, tip) == approx(torque, rel=1e-12)


def test_ten_newton_metres_leave_the_wedge_force_of_a_flat_tip_worked_by_hand():
    # 10 000 / (1.25/2pi + 0.15 (7.1881/2)/cos 30 + 2/3 0.15 2.75) = 10 000 / (0.19894 + 0.62251 + 0.275)
    assert tq.wedge_force(10_000, P, D2, 0.15, tq.flat_tip_torque_factor(2.75, 0.15)) == approx(9120.3, abs=1)


def test_a_cone_rubs_more_than_a_ring_and_is_a_ring_at_ninety_degrees():
    ring = tq.cone_tip_torque_factor(2.75, np.pi / 2, 0.15)
    assert ring == approx(0.15 * 2.75)
    assert tq.cone_tip_torque_factor(2.75, np.radians(59), 0.15) == approx(0.4125 / np.sin(np.radians(59)))
    with pytest.raises(ValueError, match="half_angle"):
        tq.cone_tip_torque_factor(2.75, 2.0, 0.15)


def test_equal_threads_with_a_free_tip_stand_exactly_on_the_edge():
    factor = tq.thread_torque_factor(P, D2, 0.14)
    assert tq.hold_share(10_000, factor, 10_000, factor, 0.0, 0.0, 0.0) == approx(1.0, rel=1e-12)


def test_lock_and_wedge_hold_the_stud():
    factor, tip = tq.thread_torque_factor(P, D2, 0.14), tq.flat_tip_torque_factor(2.75, 0.15)
    assert tq.hold_share(1e4, factor, 1e4, factor, 0.0, 0.0, 5_000) == approx(
        1e4 * factor / (1e4 * factor + 5_000), rel=1e-12
    )
    assert tq.hold_share(1e4, factor, 1.5e4, factor, 5e3, tip, 0.0) == approx(
        1e4 * factor / (1.5e4 * factor + 5e3 * tip), rel=1e-12
    )


def test_a_stud_that_nothing_holds_is_unbounded_and_an_idle_one_is_zero():
    assert tq.hold_share([10.0, 0.0], 1.0, 0.0, 1.0, 0.0, 0.0, 0.0).tolist() == [np.inf, 0.0]


def test_torsion_left_in_the_shank():
    torque = locked_torsion(10_000, 0.78, 0.5)
    assert torque == approx(3_900)
    assert torsion_stress(torque, 6.5) == approx(16 * 3_900 / (np.pi * 6.5**3))
    assert combined_stress(300.0, 100.0) == approx(np.sqrt(9e4 + 3e4))
    assert wind_up(10_000, 20, 6.5, 79_000) == approx(10_000 * 20 * 32 / (np.pi * 79_000 * 6.5**4))
    with pytest.raises(ValueError, match="share"):
        locked_torsion(10_000, 0.78, 1.5)


@pytest.mark.parametrize("friction", [-0.1, float("nan"), float("inf")])
def test_impossible_friction_is_refused(friction):
    for call in (
        lambda: tq.tightening_preload(1, P, D2, friction, BEARING, 0.1),
        lambda: tq.tightening_preload_exact(1, P, D2, friction, BEARING, 0.1),
        lambda: tq.tightening_preload_short(1, P, D2, friction, BEARING, 0.1),
        lambda: tq.flat_tip_torque_factor(2.0, friction),
        lambda: tq.bearing_torque_factor(2.0, friction),
    ):
        with pytest.raises(ValueError, match="friction"):
            call()
