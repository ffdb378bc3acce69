import math

import numpy as np
import pytest

from studwell.review.mechanisms import COLD, HOTTER, LIQUID, MECHANISMS, STACK, STEADY, WEDGE, mechanisms_apart
from studwell.review.sweep import POCKETS, with_pocket


@pytest.fixture(scope="module")
def hot(trials, bottomed, drive, driven):
    step = int(np.argmax(driven.history.temperatures.mean(axis=1)))
    return mechanisms_apart(trials, bottomed, drive, driven, step, 0.5)


def test_shares_sum_to_what_all_mechanisms_add(hot):
    assert set(hot.shares) == {"floor stress", "thread load", "crack driving force"}
    for shares in hot.shares.values():
        assert math.fsum(shares.share.values()) == pytest.approx(shares.total, rel=1e-12)


def test_a_mechanism_that_is_not_there_has_exactly_no_share(hot):
    assert not hot.amplitudes[COLD] and not hot.amplitudes[LIQUID]
    for shares in hot.shares.values():
        assert shares.share[COLD] == shares.share[LIQUID] == 0.0
    assert hot.solves == 2 ** sum(hot.amplitudes.values())


def test_all_mechanisms_together_are_what_the_history_reached_in_many_steps(hot):
    for name, value in hot.lived.items():
        assert hot.shares[name].everything == pytest.approx(value, rel=0.02)


def test_signs_are_those_of_an_aluminium_boss_and_a_steel_stud(hot):
    stress, load = hot.shares["floor stress"].share, hot.shares["thread load"].share
    assert stress[WEDGE] > 0.0 > stress[STEADY]
    assert stress[HOTTER] > 0.0
    assert load[STACK] > 0.0


def test_without_a_drive_the_wedge_has_no_share(trials, bottomed):
    hand = trials.drive(bottomed, 0.0)
    trial = trials.live(bottomed, hand, 0.0)
    apart = mechanisms_apart(trials, bottomed, hand, trial, len(trial.history.run) - 2, 0.5)
    assert not apart.amplitudes[WEDGE]
    assert all(shares.share[WEDGE] == 0.0 for shares in apart.shares.values())


def test_a_liquid_shut_in_has_a_share_when_it_is_hot(trials, bottomed, drive):
    wet = with_pocket(bottomed, POCKETS[1])
    trial = trials.live(wet, drive, 0.0)
    step = int(np.argmax(trial.history.temperatures.mean(axis=1)))
    apart = mechanisms_apart(trials, wet, drive, trial, step, 0.5)
    assert apart.amplitudes[LIQUID] and apart.shares["thread load"].share[LIQUID] != 0.0
    assert apart.solves == 32


def test_an_instant_at_the_assembly_temperature_leaves_the_wedge_alone(trials, bottomed, drive, driven):
    apart = mechanisms_apart(trials, bottomed, drive, driven, 0, 0.5)
    assert [name for name in MECHANISMS if apart.amplitudes[name]] == [WEDGE]
    shares = apart.shares["floor stress"]
    assert shares.share[WEDGE] == pytest.approx(shares.total, rel=1e-12) and shares.total > 0.0
    assert apart.stack == 0.0


@pytest.fixture(scope="module")
def cold_pair(trials, bottomed, drive, driven):
    """Mechanisms at the coldest instant, with what turning back by the rule relieves, and the turned back trial."""
    step = int(np.argmin(driven.history.temperatures.mean(axis=1)))
    back = trials.live(bottomed, drive, 0.22)
    return mechanisms_apart(trials, bottomed, drive, driven, step, 0.5, 0.22), back, step


def test_what_turning_back_relieves_is_the_difference_of_the_two_histories(cold_pair, driven):
    apart, back, step = cold_pair
    pair = [trial.timeline.forces.thread[trial.timeline.run[step]] for trial in (driven, back)]
    relieved = apart.relieved["thread load"]
    assert math.fsum(relieved.share.values()) == pytest.approx(relieved.total, rel=1e-9)
    assert relieved.total == pytest.approx(pair[0] - pair[1], rel=0.02)


def test_a_mechanism_that_is_there_with_or_without_the_gap_relieves_next_to_nothing(cold_pair):
    apart, _, _ = cold_pair
    driven, relieved = apart.shares["thread load"].share, apart.relieved["thread load"].share
    assert relieved[WEDGE] == pytest.approx(driven[WEDGE], rel=1e-9)  # a turned back stud has no wedge to add
    assert abs(relieved[STACK]) < 0.6 * abs(driven[STACK])


def test_without_turns_nothing_is_relieved_and_nothing_more_is_solved(hot):
    assert hot.relieved == {}
