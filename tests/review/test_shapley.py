import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studwell.review.shapley import shapley

CAUSES = ("a", "b", "c", "d")
SUBSETS = [frozenset(s) for k in range(5) for s in itertools.combinations(CAUSES, k)]


@given(st.lists(st.floats(-1e3, 1e3), min_size=16, max_size=16))
def test_shares_sum_to_the_total_whatever_the_values(numbers):
    values = dict(zip(SUBSETS, numbers, strict=True))
    shares = shapley(CAUSES, values.__getitem__)
    assert math.fsum(shares.share.values()) == pytest.approx(shares.total, rel=1e-12, abs=1e-9)


@given(st.lists(st.floats(-1e3, 1e3), min_size=8, max_size=8))
def test_a_cause_that_changes_nothing_has_exactly_no_share_and_no_interaction(numbers):
    rest = [s for s in SUBSETS if "d" not in s]
    values = dict(zip(rest, numbers, strict=True))
    shares = shapley(CAUSES, lambda s: values[s - {"d"}])
    assert shares.share["d"] == shares.alone["d"] == shares.last["d"] == 0.0
    assert all(value == 0.0 for pair, value in shares.pairs.items() if "d" in pair)


def test_shares_equal_the_mean_over_all_orders_and_a_product_is_shared_evenly():
    values = {s: float("a" in s and "b" in s) * 6.0 + 2.0 * ("c" in s) for s in SUBSETS}
    shares = shapley(CAUSES, values.__getitem__)
    assert shares.share == pytest.approx({"a": 3.0, "b": 3.0, "c": 2.0, "d": 0.0})
    assert shares.pairs["a", "b"] == pytest.approx(6.0)
    assert shares.alone["a"] == 0.0 and shares.last["a"] == 6.0
    orders = list(itertools.permutations(CAUSES))
    mean = sum(values[frozenset(o[: o.index("b") + 1])] - values[frozenset(o[: o.index("b")])] for o in orders)
    assert shares.share["b"] == pytest.approx(mean / len(orders))
