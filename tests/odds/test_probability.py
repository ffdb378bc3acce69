"""Probabilities against exact ones."""

import numpy as np
import pytest
from scipy.special import ndtr

from studwell.odds.probability import counted, rare, subset_simulation


def test_the_interval_of_no_failure_is_the_exact_one():
    found = counted(0, 100)
    assert found.low == 0.0
    assert found.high == pytest.approx(1.0 - 0.025 ** (1 / 100))


def test_the_interval_covers_the_truth_as_often_as_it_says():
    random = np.random.default_rng(1)
    inside = [(p := counted(int(random.binomial(200, 0.03)), 200)).low <= 0.03 <= p.high for _ in range(500)]
    assert np.mean(inside) >= 0.95


def test_subset_simulation_finds_the_exact_probability_of_a_linear_limit_state_within_its_interval():
    beta = 3.0
    runs = [subset_simulation(lambda z: z.sum(axis=1) / 2.0 / beta, 4, samples=2000, seed=s) for s in range(3)]
    found = rare(runs, 0, 1000)
    assert found.low <= ndtr(-beta) <= found.high
    assert found.high < 2.0 * found.low


def test_a_limit_out_of_reach_keeps_the_counted_interval():
    runs = [subset_simulation(lambda z: np.tanh(z[:, 0]) / 3.0, 1, samples=500, seed=s) for s in range(2)]
    found = rare(runs, 0, 300)
    assert found.value == 0.0 and found.high == counted(0, 300).high
