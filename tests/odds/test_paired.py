"""Two setups by the same draws."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import binomtest

from studwell.case.spread_keys import spread_keys
from studwell.odds.limits import COLUMNS
from studwell.odds.paired import paired, told_apart_by
from studwell.odds.probability import counted
from studwell.odds.spread import sampler


class Rows:
    """Blocks of two samples; some may be missing, as where a run was stopped."""

    def __init__(self, margins, missing=()):
        self.rows = np.full((len(margins), 1 + len(COLUMNS) + 1), np.nan)
        self.rows[:, 1 + COLUMNS.index("stud yield")] = margins
        self.missing = missing

    def chunks(self):
        for start in range(0, len(self.rows), 2):
            if start not in self.missing:
                yield range(start, start + 2), self.rows[start : start + 2]


def setup(margins, missing=(), undecided=0):
    margins = np.asarray(margins, dtype=float)
    judged = int(np.isfinite(margins).sum())
    tally = SimpleNamespace(judged={"stud yield": judged, "leak": 0}, samples=len(margins), undecided=undecided)
    found = counted(int((margins >= 1.0).sum()), judged)
    rows = Rows(margins, missing)
    return SimpleNamespace(names=("input",), damage=("stud yield", "leak"), tally=tally, rows=rows, any_damage=found)


def test_one_failure_against_four_is_not_told_apart_and_says_how_many_samples_would_do():
    one, four = np.zeros(256), np.zeros(256)
    one[0], four[1:5] = 1.0, 1.0
    (pair,) = paired([setup(one), setup(four)])
    assert (pair.first_alone, pair.second_alone, pair.both, pair.judged) == (1, 4, 0, 256)
    assert pair.chance == binomtest(1, 5).pvalue and not pair.apart
    assert pair.needed == told_apart_by(5 / 256, 3 / 256) > 256


def test_failures_that_both_share_do_not_hide_the_difference():
    one, other = np.zeros(100), np.zeros(100)
    one[:30], other[:38] = 1.0, 1.0
    (pair,) = paired([setup(one), setup(other)])
    assert (pair.both, pair.first_alone, pair.second_alone) == (30, 0, 8) and pair.apart
    assert counted(30, 100).high > counted(38, 100).low  # their intervals meet: only the same draws tell them apart


def test_what_is_not_known_of_the_better_setup_keeps_them_from_being_told_apart():
    one, other = np.zeros(100), np.zeros(100)
    one[:30], other[:38] = 1.0, 1.0
    (pair,) = paired([setup(one, undecided=10), setup(other)])
    assert not pair.apart and pair.needed is None
    (pair,) = paired([setup(one), setup(other, undecided=10)])
    assert pair.apart


def test_setups_without_a_failure_are_not_told_apart_by_any_number():
    (pair,) = paired([setup(np.zeros(10)), setup(np.zeros(10))])
    assert not pair.apart and pair.needed is None


def test_blocks_and_samples_that_only_one_setup_knows_are_left_out():
    first = setup([1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0], missing=(2,))
    other = setup([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, np.nan, 0.0], missing=(4,))
    (pair,) = paired([first, other])
    assert (pair.judged, pair.first_alone) == (3, 1)


def test_the_number_of_samples_tells_two_probabilities_apart_as_often_as_it_says():
    random, needed = np.random.default_rng(1), told_apart_by(0.05, 0.02)
    found = 0
    for _ in range(400):
        first, second = random.multinomial(needed, [0.035, 0.015, 0.95])[:2]
        found += bool(binomtest(int(first), int(first + second)).pvalue < 0.05)
    assert found / 400 == pytest.approx(0.8, abs=0.06)


def test_setups_share_the_draws_of_the_keys_that_they_share(demo):
    names = ("bottomed, plain", "backed off, plain")
    one, other = (sampler(demo.spread, demo.setup(name), spread_keys(demo)) for name in names)
    assert set(other.names) - set(one.names) == {"seating.back_off"}
    drawn = other.draw(3, 5, 20)[:, [other.names.index(name) for name in one.names]]
    at = [i for i, name in enumerate(one.names) if one.marginals[i].own == other.marginals[other.names.index(name)].own]
    assert len(at) > 4 and np.array_equal(one.draw(3, 5, 20)[:, at], drawn[:, at])
