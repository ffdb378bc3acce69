"""Results of the public face, made once: a comparison, a review, odds of one setup."""

import matplotlib
import pytest

from studwell import api

matplotlib.use("Agg")


@pytest.fixture(scope="session")
def result(comparison):
    return api.ComparisonResult(comparison)


@pytest.fixture(scope="session")
def heated(solved_heat):
    return api.ComparisonResult(solved_heat)


@pytest.fixture(scope="session")
def backoff(small_review):
    return api.BackoffResult(small_review)


@pytest.fixture(scope="session")
def odds(hut_pump, tmp_path_factory):
    return api.odds(
        hut_pump, 32, folder=tmp_path_factory.mktemp("rows"), setup="bottomed, plain", check=0, refinement=0.35, workers=1
    )  # fmt: skip
