"""Setups of the starter case, to be laid out and meshed."""

from functools import cache

import pytest

from studwell.case import case_from_text, starter_case


@cache
def _setup(override, thread, nut):
    text = starter_case(thread, nut) + '\n[setup."own"]\n' + override
    return case_from_text(text, "own case").setups[-1]


@pytest.fixture(scope="session")
def make_setup():
    """Function: lines of a setup's table -> Setup."""
    return lambda override="", thread="M8", nut="hex": _setup(override, thread, nut)
