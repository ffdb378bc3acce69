"""Setups of the starter case lived through on coarse meshes."""

from dataclasses import replace
from functools import cache

import pytest

from studwell.case import case_from_text, starter_case
from studwell.history.stages import live_through
from studwell.joint.build import build_joint

YIELD, ULTIMATE, HARDENING_STRAIN = 640.0, 800.0, 0.08


@cache
def _setup(override, thread, steps):
    text = starter_case(thread) + '\n[setup."own"]\n' + override
    setup = case_from_text(text, "own case").setups[-1]
    return replace(setup, history=replace(setup.history, steps=steps))


@pytest.fixture(scope="session")
def make_setup():
    """Function: lines of a setup's table -> Setup."""
    return lambda override="", thread="M8", steps=6: _setup(override, thread, steps)


@pytest.fixture(scope="session")
def build():
    """Function: Setup -> BuiltJoint on a coarse mesh, every body below 2,000 unknowns."""

    def function(setup, refinement=0.05, **options):
        return build_joint(
            setup,
            yield_strength=YIELD,
            ultimate_strength=ULTIMATE,
            hardening_strain=HARDENING_STRAIN,
            refinement=refinement,
            **options,
        )

    return function


@pytest.fixture(scope="session")
def live():
    """Function: BuiltJoint -> HistoryResult."""

    def function(built, yield_strength=YIELD, **options):
        return live_through(
            built.setup,
            built.layout,
            built.bodies,
            built.joint,
            built.seat,
            yield_strength=yield_strength,
            **options,
        )

    return function
