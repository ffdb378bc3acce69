import numpy as np
import pytest
from hypothesis import given
from hypothesis.extra.numpy import arrays
from hypothesis.strategies import floats

from studwell.choose.objectives import FUNCTION, OBJECTIVES, front, objectives, order_keys, told_apart
from studwell.strength.verdict import mode_names

pytestmark = pytest.mark.slow

NAMES = mode_names()


def margins(**known):
    row = np.full(len(NAMES), -1.0)
    for name, value in known.items():
        row[NAMES.index(name.replace("_", " "))] = value
    return row


def test_every_mode_of_the_objectives_is_a_mode():
    assert {mode for modes in OBJECTIVES.values() for mode in modes} <= set(NAMES)
    assert set(NAMES) >= FUNCTION


def test_function_modes_are_those_that_the_verdict_calls_so(choice):
    kinds = {m.mode: m.kind for m in choice.result.verdict.margins.values()}
    assert set(kinds) == set(NAMES)
    assert {mode for mode, kind in kinds.items() if kind == "function"} == FUNCTION


def test_an_unknown_mode_is_never_better_and_a_missing_part_costs_nothing():
    values = objectives(np.stack([margins(leak=np.nan), margins(leak=0.4, hold=0.9)]))
    assert values[0, 0] == np.inf and values[1, 0] == 0.4
    assert np.all(values[:, list(OBJECTIVES).index("washer flat")] == 0.0)


def test_the_order_puts_failures_then_unknowns_then_lost_functions_then_the_largest_damage():
    rows = np.stack(
        [
            margins(leak=0.3, stud_yield=0.4, hold=0.5),
            margins(leak=0.5, stud_yield=0.4, hold=0.1),
            margins(leak=0.1, stud_yield=0.1, hold=1.2),
            margins(leak=0.1, stud_yield=np.nan, hold=0.1),
            margins(leak=0.1, stud_yield=1.1, hold=0.1),
            np.full(len(NAMES), np.nan),
        ]
    )
    keys = order_keys(rows)
    assert sorted(range(6), key=lambda i: keys[i]) == [0, 1, 2, 3, 4, 5]


def test_an_unbounded_margin_is_worse_than_any_number():
    keys = order_keys(np.stack([margins(leak=np.inf), margins(leak=50.0)]))
    assert keys[0] > keys[1]


@given(arrays(float, (12, 3), elements=floats(0, 2)))
def test_nothing_beats_a_row_of_the_front_and_something_beats_every_other(values):
    kept = front(values)
    steps = np.round(values / 0.001)
    assert len(kept) >= 1
    for row in range(len(values)):
        beaten = any(np.all(other <= steps[row]) and np.any(other < steps[row]) for other in steps)
        twin = any(np.array_equal(steps[row], steps[other]) for other in kept if other != row)
        assert (row in kept) == (not beaten and not twin)


def test_shown_rows_start_with_the_first_and_hold_the_best_of_each_objective():
    values = np.array([[0.5, 0.5], [0.1, 0.9], [0.9, 0.1], [0.5, 0.49], [0.3, 0.7]])
    shown = told_apart(values, np.array([0, 1, 2, 3, 4]), 0, 4)
    assert shown[0] == 0 and {1, 2} <= set(shown) and shown[3] == 4
