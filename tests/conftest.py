"""The demo on a coarse mesh with few steps, solved once for all tests that only read it."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.case import Case, read_case
from studwell.study.compare import compare
from studwell.study.results import Comparison

CASES = Path(__file__).parents[1] / "cases"


def few_steps(case: Case, steps: int = 9) -> Case:
    """The same case with fewer steps."""
    return replace(case, setups=tuple(replace(s, history=replace(s.history, steps=steps)) for s in case.setups))


@pytest.fixture(scope="session")
def hut_pump() -> Case:
    return few_steps(read_case(CASES / "hut-pump.toml"))


@pytest.fixture(scope="session")
def comparison(hut_pump: Case) -> Comparison:
    return compare(hut_pump, refinement=0.5)
