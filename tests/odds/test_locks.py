"""What holds a stud that follows the nut."""

import numpy as np
import pytest

from studwell.odds.levers import cheapest
from studwell.odds.limits import COLUMNS
from studwell.odds.locks import LOCK, STEP, lock_needed, lock_words, own_lock

from .conftest import model_of


@pytest.fixture(scope="module")
def free(demo):
    return model_of(demo, "backed off, plain")


def follows(model, inputs, lock=None):
    """Share of the samples whose stud follows the nut."""
    table, _ = model.rows(inputs, None if lock is None else {LOCK: np.full(len(inputs), lock)})
    return float(np.mean(table[:, COLUMNS.index("hold")] >= 1.0)), table


@pytest.mark.parametrize("wanted", [0.05, 0.0])
def test_the_lock_torque_is_the_smallest_step_that_holds_as_many_studs_as_wanted(free, wanted):
    inputs = free.sampler.draw(1, 0, 200)
    now, table = follows(free, inputs)
    needed = lock_needed(free, inputs, table, wanted)
    assert now > 0.2
    assert follows(free, inputs, needed)[0] <= wanted < follows(free, inputs, needed - 1.5 * STEP)[0]


def test_hold_is_brought_down_by_a_lock_and_the_user_is_told_why_by_nothing_else(free):
    wanted = cheapest(free, "hold", 0.05, 1, (), 200)
    (change,) = wanted.changes
    assert change.key == LOCK and change.before == own_lock(free.setup) == 0.0
    assert change.probability.value <= 0.05 < wanted.now.value
    assert "ratio" in wanted.note and '"medium" (' in wanted.note
    assert not cheapest(free, "hold", 1.0 - 1e-9, 1, (), 200).note


def test_a_lock_that_no_threadlocker_gives_is_said(free):
    assert "no threadlocker of the stock gives it" in lock_words(free.setup, 1e9)
