"""Two setups of the demo with their spread, on a coarse mesh, made once."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.case import Case, read_case
from studwell.case.spread_keys import spread_keys
from studwell.odds.model import SetupModel

CASES = Path(__file__).parents[2] / "cases"
COARSE = 0.4


@pytest.fixture(scope="session")
def demo() -> Case:
    return read_case(CASES / "hut-pump.toml")


def model_of(case: Case, name: str) -> SetupModel:
    assert case.spread is not None
    return SetupModel(case.setup(name), case.spread, spread_keys(case), COARSE)


@pytest.fixture(scope="session")
def plain(demo: Case) -> SetupModel:
    return model_of(demo, "bottomed, plain")


@pytest.fixture(scope="session")
def sprung(demo: Case) -> SetupModel:
    return model_of(demo, "backed off, three conical springs")


@pytest.fixture(scope="session")
def flattened(demo: Case) -> SetupModel:
    return model_of(demo, "bottomed, one disc spring")


def alone(case: Case, name: str) -> Case:
    return replace(case, setups=(case.setup(name),))
