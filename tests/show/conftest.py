"""The demo's coarse comparison with one more setup that could not be solved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from studwell.study.results import Comparison, FailedSetup


@pytest.fixture(scope="session")
def comparison(comparison: Comparison) -> Comparison:
    failed = replace(comparison.case.setups[0], name="seats on its run-out")
    return replace(comparison, failed=(FailedSetup(failed, "no force is known there", "unknown-outcome"),))


@pytest.fixture(scope="session")
def inch(comparison: Comparison) -> Comparison:
    """The same results shown in inch units."""
    return replace(comparison, case=replace(comparison.case, units="inch"))
