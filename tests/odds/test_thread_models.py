"""How one margin follows from the other, by pairs whose law is known."""

import numpy as np
import pytest
from scipy.stats import norm

from studwell.odds.limits import MODES
from studwell.odds.thread_models import Fit, fits_of


def _pairs(own: np.ndarray, there: np.ndarray) -> np.ndarray:
    pairs = np.full((len(own), 2 * len(MODES)), np.nan)
    pairs[:, MODES.index("leak")] = own
    pairs[:, len(MODES) + MODES.index("leak")] = there
    return pairs


def test_a_straight_law_is_found_with_its_scatter_and_gives_the_exact_probability():
    random = np.random.default_rng(1)
    own = random.normal(0.9, 0.1, 2000)
    fit = fits_of(_pairs(own, 0.05 + 1.02 * own + random.normal(0.0, 0.01, 2000)))["leak"]
    assert fit.slope == pytest.approx(1.02, abs=0.02)
    assert fit.scatter == pytest.approx(0.01, rel=0.1)
    exact = norm.sf(1.0, 0.05 + 1.02 * 0.9, np.hypot(1.02 * 0.1, 0.01))
    many = random.normal(0.9, 0.1, 200_000)
    assert fit.probability(many).mean() == pytest.approx(exact, rel=0.02)


def test_a_law_without_scatter_is_a_step():
    assert Fit(0.1, 1.0, 0.0).probability(np.array([0.89, 0.91])).tolist() == [0.0, 1.0]


def test_too_few_pairs_say_nothing_and_unknown_ones_are_left_out():
    own = np.linspace(0.5, 1.5, 12)
    there = own + 0.2
    there[:6] = np.nan
    assert "leak" not in fits_of(_pairs(own, there))
    there[2:6] = np.inf
    assert "leak" not in fits_of(_pairs(own, there))
