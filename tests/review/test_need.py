import math
from dataclasses import replace

import pytest

from studwell.parts.material import stock_material
from studwell.review.inputs import review_inputs
from studwell.review.need import Need, free_need, needed
from studwell.review.thresholds import colder
from studwell.review.trials import Drive


@pytest.fixture(scope="module")
def need(trials, bottomed, drive):
    return needed(trials, bottomed, drive, review_inputs(bottomed))[0]


def hand(setup):
    return Drive(0.0, 0.0, 0.0, 0.0, setup.stud.thread.pitch)


def test_the_budget_is_combined_by_root_of_squares_and_by_its_sum(need):
    sizes = [item.mm for item in need.items if item.mm is not None]
    assert need.rms == pytest.approx(math.sqrt(sum(mm * mm for mm in sizes)))
    assert need.sum == pytest.approx(sum(sizes))
    assert need.heat <= need.likely <= need.worst
    assert {item.status for item in need.items} <= {"from memory", "computed", "given"}


def test_turns_from_the_driven_seat_hold_the_wedge_and_the_twist(need):
    assert need.turns(0.0, driven=True) == pytest.approx(need.seat / need.pitch + need.wind_up)
    assert need.lift(need.turns(0.1, driven=True), driven=True) == pytest.approx(0.1)


def test_the_smallest_back_off_is_where_the_tip_just_stays_free(trials, bottomed):
    """In a boss that shrinks more than the stud: the cold closes the gap by a known amount, found from one free history."""
    tight = replace(bottomed, tightening=replace(bottomed.tightening, torque=1000.0))
    cold = colder(tight, -15.0, -60.0)
    heat, _ = free_need(trials, cold, 0.22, hand(cold))
    assert heat > 0.0
    pitch = cold.stud.thread.pitch
    assert not trials.live(cold, hand(cold), 1.02 * heat / pitch).touches
    assert trials.live(cold, hand(cold), 0.9 * heat / pitch).touches


def test_an_iron_boss_closes_the_gap_less_in_the_cold(trials, bottomed):
    tight = replace(bottomed, tightening=replace(bottomed.tightening, torque=1000.0))
    cold = colder(tight, -15.0, -60.0)
    iron = replace(cold, boss=replace(cold.boss, material=stock_material("en-gjl-250")))
    assert free_need(trials, iron, 0.22, hand(iron))[0] < free_need(trials, cold, 0.22, hand(cold))[0]


def test_words_follow_from_the_gap_that_the_rule_leaves(need):
    assert need.word == "more than enough"
    assert replace(need, rule=(0.0, 0.01, 0.25)).word == "not enough"
    assert replace(need, heat=0.0, rms=0.3, sum=0.5).word == "enough only if nothing scatters"
    assert replace(need, heat=0.0, rms=0.05, sum=0.5).word == "enough"
    assert isinstance(need, Need)


def test_a_stud_that_follows_the_nut_has_no_back_off_that_covers_it(trials, bottomed, drive):
    smooth = replace(bottomed, seating=replace(bottomed.seating, thread_friction=0.05))
    found, _ = needed(trials, smooth, trials.drive(smooth, 10_000.0), review_inputs(smooth))
    item = next(each for each in found.items if each.name == "stud following the nut")
    assert item.mm is None and found.hold > 1.0
    assert drive.torque == 10_000.0
