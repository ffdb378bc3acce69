"""One sample by the path that single setups take: the fallback of samples that do not converge, and what checks them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey
from studwell.errors import NotConverged, Unknown
from studwell.history.stages import live_through
from studwell.joint.build import BuiltJoint
from studwell.joint.solve import solve_state
from studwell.joint.state import JointState
from studwell.odds.limits import COLUMNS, OUTCOMES
from studwell.parts.fastener import property_class
from studwell.strength.margins import MODE_NAMES, MODES
from studwell.strength.outcomes import outcomes_of
from studwell.strength.timeline import timeline_of
from studwell.strength.verdict import hold, judge

Array = np.ndarray

BROKEN = "stud break"
"""The mode of a sample whose stud breaks while it is tightened: there is no state after it."""


def varied(setup: Setup, keys: Mapping[str, SpreadKey], values: Mapping[str, float]) -> Setup:
    """Return a setup with other values of some keys, in the order of `values`; what is no key is left out."""
    for name, value in values.items():
        if name in keys:
            setup = keys[name].put(setup, float(value))
    return setup


def solved_alone(
    built: BuiltJoint, setup: Setup, *, cracks: bool = True, solver: Callable[..., JointState] = solve_state
) -> dict[str, float]:
    """Return outcomes and margins by name of one setup on a joint of the same section; nan where not known or not there.

    cracks : False leaves the margins of cracking out, which cost as much as all others
    solver : finds the states, as `live_through` takes it
    A sample that has no solution is nan in all; one whose stud breaks on tightening is unbounded in that mode.
    """
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    made = dict.fromkeys(COLUMNS, float("nan"))
    own = replace(built, setup=setup)
    try:
        history = live_through(
            setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=strength.yield_strength,
            solver=solver,
        )  # fmt: skip
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
    if cracks:
        margins = judge(own, history, timeline).margins
    else:
        margins = {name: of(own, timeline, history.temperatures) for name, of in zip(MODE_NAMES, MODES, strict=True)}
        margins["hold"] = hold(history, timeline)
    for mode, margin in margins.items():
        nothing = float("nan") if margin.unknown or mode not in ("tip crushing",) else 0.0
        made[mode] = nothing if margin.value is None else margin.value
    return made
