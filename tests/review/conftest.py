"""A small review of the demo's bottomed setup on a coarse mesh, and what it is made of."""

from dataclasses import replace

import pytest

from studwell.case.records import Pocket
from studwell.review.trials import Trials


@pytest.fixture(scope="session")
def trials():
    return Trials(0.35)


@pytest.fixture(scope="session")
def bottomed(hut_pump, trials):
    setup = trials.plain(hut_pump.setup("bottomed, plain"))
    return replace(setup, history=replace(setup.history, steps=3), pocket=Pocket("empty"))


@pytest.fixture(scope="session")
def drive(trials, bottomed):
    return trials.drive(bottomed, 10_000.0)


@pytest.fixture(scope="session")
def driven(trials, bottomed, drive):
    return trials.live(bottomed, drive, 0.0)


@pytest.fixture(scope="session")
def reviewed(small_review):
    return small_review


@pytest.fixture(scope="session")
def small_case(small_review):
    return small_review.case
