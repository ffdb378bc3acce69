"""Shares of variance against closed forms."""

import numpy as np
import pytest

from studwell.odds.sensitivity import narrows_most, sobol_indices


def test_a_sum_shares_its_variance_as_its_terms_do():
    found = sobol_indices(lambda u: u @ np.array([1.0, 2.0, 0.0]), 3, rows=512, repeats=3)
    assert found.first[:, 0] == pytest.approx([0.2, 0.8, 0.0], abs=0.03)
    assert found.total[:, 0] == pytest.approx([0.2, 0.8, 0.0], abs=0.03)


def test_a_product_of_centred_inputs_is_all_interaction():
    found = sobol_indices(lambda u: (u[:, 0] - 0.5) * (u[:, 1] - 0.5), 2, rows=1024, repeats=3)
    assert found.first[:, 0] == pytest.approx([0.0, 0.0], abs=0.05)
    assert found.total[:, 0] == pytest.approx([1.0, 1.0], abs=0.05)


def test_inputs_of_a_group_are_told_together():
    found = sobol_indices(lambda u: u[:, 0] * u[:, 1] + u[:, 2], 3, groups=[(0, 1), (2,)], rows=1024, repeats=2)
    assert found.first[:, 0].sum() == pytest.approx(1.0, abs=0.03)


def test_the_measurement_that_narrows_most_leaves_the_rest_of_the_variance():
    found = sobol_indices(lambda u: u @ np.array([1.0, 2.0]), 2, rows=1024, repeats=2)
    best, narrower = narrows_most(found, 0)
    assert best == 1
    assert narrower == pytest.approx(1.0 - np.sqrt(0.2), abs=0.02)
