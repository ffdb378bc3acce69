"""Any damage mode beside its own modes, and samples in which it is not known."""

from dataclasses import replace

import numpy as np
import pytest

from studwell.odds.combined import any_damage, counted_in_part, while_staying
from studwell.odds.limits import COLUMNS
from studwell.odds.node import NO_SOLUTION, SIDE_BY_SIDE
from studwell.odds.probability import Probability, counted
from studwell.odds.tally import damage_seen, tally

DAMAGE = ("stud yield", "floor split", "stud break")


def rows_of(**margins):
    """Rows of one input and the margins given, by mode with _ for spaces; all else unknown."""
    count = len(next(iter(margins.values())))
    rows = np.full((count, 1 + len(COLUMNS) + 1), np.nan)
    rows[:, 0], rows[:, -1] = 0.0, SIDE_BY_SIDE
    for mode, values in margins.items():
        rows[:, 1 + COLUMNS.index(mode.replace("_", " "))] = values
    return rows


NAN = np.nan
ROWS = rows_of(
    stud_yield=[1.2, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5],
    floor_split=[0.1, NAN, NAN, 1.1, 0.2, 0.2, 0.2, 0.2],
    hold=[0.9, 0.9, 1.1, 1.1, 0.9, 0.9, 0.9, 1.2],
)


def test_a_sample_is_undecided_where_no_known_mode_fails_and_another_is_not_known():
    found = tally([ROWS[:3], ROWS[3:]], 1, DAMAGE)  # stud break is known in no sample: it has no part in this
    assert (found.any_failed, found.undecided, found.follows) == (2, 2, 3)
    assert (found.staying.samples, found.staying.any_failed, found.staying.undecided) == (5, 1, 1)
    fails, known = damage_seen(ROWS[:, [1 + COLUMNS.index(mode) for mode in DAMAGE[:2]]])
    assert fails.sum() == 2 and known.sum() == 6


def test_samples_without_a_solution_are_neither_failures_nor_undecided():
    lost = rows_of(stud_yield=[NAN])
    lost[:, -1] = NO_SOLUTION
    found = tally([np.concatenate([ROWS, lost])], 1, DAMAGE)
    assert (found.any_failed, found.undecided, found.no_solution) == (2, 2, 1)


def test_the_interval_takes_unknown_samples_either_way():
    found = counted_in_part(10, 60, 100)
    assert found.value == 10 / 60
    assert found.low == counted(10, 100).low and found.high == counted(50, 100).high
    assert "not in 40 % of the samples" in found.method and counted_in_part(3, 9, 9) == counted(3, 9)


def test_counted_any_damage_is_at_least_each_counted_mode():
    found = tally([ROWS], 1, DAMAGE)
    modes = {mode: counted_in_part(found.failed[mode], found.judged[mode], 8) for mode in DAMAGE[:2]}
    whole = any_damage(found, modes, DAMAGE)
    assert whole.value == 2 / 6 and all(each.value <= whole.value for each in modes.values())


def test_a_mode_that_a_search_finds_more_likely_lifts_any_damage():
    found = tally([ROWS], 1, DAMAGE)
    rare = Probability(0.4, 0.3, 0.5, 1, 8, "subset simulation")
    whole = any_damage(found, {"stud yield": rare}, DAMAGE)
    assert (whole.value, whole.low) == (0.4, 0.3) and whole.method.endswith("at least its largest mode, stud yield")
    searched = Probability(0.45, 0.35, 0.6, 1, 8, "subset simulation, 2 runs")
    whole = any_damage(found, {"stud yield": rare}, DAMAGE, searched)
    assert (whole.value, whole.low) == (0.45, 0.35)
    assert whole.high == counted(4, 8).high and "not in 25 % of the samples" in whole.method  # 2 fail, 2 are not known
    assert any_damage(replace(found, undecided=0), {"stud yield": rare}, DAMAGE, searched) == searched


def test_damage_while_the_stud_stays_is_of_studs_that_stay_alone():
    found = tally([ROWS], 1, DAMAGE)
    whole = any_damage(found, {}, DAMAGE)
    assert while_staying(found, whole).value == 1 / 4
    together = Probability(0.05, 0.04, 0.06, 1, 8, "subset simulation")  # damage and a stud that stays, of all samples
    assert while_staying(found, whole, together).value == pytest.approx(0.05 / (5 / 8))
    assert while_staying(replace(found, follows=0), whole) is None
