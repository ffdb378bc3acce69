"""The moments of a history at which whole fields are worth keeping."""

from __future__ import annotations

import numpy as np

from studwell.strength.outcomes import Outcomes
from studwell.strength.timeline import Timeline
from studwell.strength.verdict import Verdict

Array = np.ndarray

MOMENTS = ("assembled", "hottest", "coldest", "worst", "end")


def named_moments(timeline: Timeline, temperatures: Array, outcomes: Outcomes, verdict: Verdict) -> dict[str, int]:
    """Return MOMENTS -> place in timeline.states.

    hottest, coldest : the first run step with the highest, lowest mean of the node temperatures
    worst            : when the governing margin has its worst value; without one, when the floor's stress is largest
    temperatures     : (run steps, nodes) degC
    """
    mean = temperatures.mean(axis=1)
    return {
        "assembled": timeline.assembled,
        "hottest": int(timeline.run[np.argmax(mean)]),
        "coldest": int(timeline.run[np.argmin(mean)]),
        "worst": worst_moment(timeline, outcomes, verdict),
        "end": int(timeline.run[-1]),
    }


def worst_moment(timeline: Timeline, outcomes: Outcomes, verdict: Verdict) -> int:
    """Return the place in timeline.states of the governing margin's worst moment (of several alike, the last)."""
    if verdict.governing is not None:
        when = verdict.margins[verdict.governing].when
        alike = [index for index in range(len(timeline.states)) if timeline.when(index) == when]
        if alike:
            return alike[-1]
    floor = outcomes["floor_stress_max"].index
    return timeline.assembled if floor is None else floor
