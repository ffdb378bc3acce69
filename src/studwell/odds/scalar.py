"""One sample by the path that single setups take: the fallback of samples that do not converge, and what checks them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey
from studwell.errors import NotConverged, Unknown
from studwell.history.stages import live_through
from studwell.joint.build import BuiltJoint
from studwell.odds.limits import COLUMNS, OUTCOMES
from studwell.parts.fastener import property_class
from studwell.strength.outcomes import outcomes_of
from studwell.strength.timeline import timeline_of
from studwell.strength.verdict import judge

Array = np.ndarray

BROKEN = "stud break"
"""The mode of a sample whose stud breaks while it is tightened: there is no state after it."""


def varied(setup: Setup, keys: Mapping[str, SpreadKey], values: Mapping[str, float]) -> Setup:
    """Return a setup with other values of some keys, in the order of `values`."""
    for name, value in values.items():
        setup = keys[name].put(setup, float(value))
    return setup


def solved_alone(built: BuiltJoint, setup: Setup) -> dict[str, float]:
    """Return outcomes and margins by name of one setup on a joint of the same section; nan where not known or not there.

    A sample that has no solution is nan in all; one whose stud breaks on tightening is unbounded in that mode.
    """
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    made = dict.fromkeys(COLUMNS, float("nan"))
    own = replace(built, setup=setup)
    try:
        history = live_through(
            setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength.yield_strength
        )
    except NotConverged:
        return made
    except Unknown:
        made[BROKEN] = float("inf")
        return made
    timeline = timeline_of(history)
    found = outcomes_of(own, timeline)
    for name in OUTCOMES:
        value = found[name].value
        made[name] = float("nan") if value is None else value
    for mode, margin in judge(own, history, timeline).margins.items():
        nothing = float("nan") if margin.unknown or mode not in ("tip crushing",) else 0.0
        made[mode] = nothing if margin.value is None else margin.value
    return made
