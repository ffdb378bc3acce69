"""The moments of a history at which whole fields are worth keeping."""

from __future__ import annotations

import numpy as np

from studwell.strength.outcomes import Outcomes
from studwell.strength.timeline import Timeline
from studwell.strength.verdict import Verdict

Array = np.ndarray

MEANINGS = {
    "assembled": "the nut has just been tightened",
    "hottest": "the mean of the node temperatures is highest",
    "coldest": "the mean of the node temperatures is lowest",
    "worst": "the setup's largest known damage margin, the one that governs, has its worst value",
    "worst floor": "the floor's averaged corner stress is largest, seating and tightening included",
    "end": "the last step of the history",
}
"""What each named moment is; the governing margin may be of another part than the floor."""

MOMENTS = tuple(MEANINGS)


def named_moments(timeline: Timeline, temperatures: Array, outcomes: Outcomes, verdict: Verdict) -> dict[str, int]:
    """Return MOMENTS -> place in timeline.states.

    hottest, coldest : the first run step with the highest, lowest mean of the node temperatures
    worst            : when the governing margin has its worst value; without one, as worst floor
    worst floor      : when the floor's averaged corner stress is largest; without such, the tip's force
    temperatures     : (run steps, nodes) degC
    """
    mean = temperatures.mean(axis=1)
    return {
        "assembled": timeline.assembled,
        "hottest": int(timeline.run[np.argmax(mean)]),
        "coldest": int(timeline.run[np.argmin(mean)]),
        "worst": worst_moment(timeline, outcomes, verdict),
        "worst floor": floor_moment(timeline, outcomes),
        "end": int(timeline.run[-1]),
    }


def worst_moment(timeline: Timeline, outcomes: Outcomes, verdict: Verdict) -> int:
    """Return the place in timeline.states of the governing margin's worst moment (of several alike, the last)."""
    if verdict.governing is not None:
        when = verdict.margins[verdict.governing].when
        alike = [index for index in range(len(timeline.states)) if timeline.when(index) == when]
        if alike:
            return alike[-1]
    return floor_moment(timeline, outcomes)


def floor_moment(timeline: Timeline, outcomes: Outcomes) -> int:
    """Return the place in timeline.states at which the floor is stressed most, or without that the tip pressed most."""
    known = (outcomes[name].index for name in ("floor_stress_max", "tip_force_max"))
    return next((index for index in known if index is not None), timeline.assembled)


def file_stem(moment: str) -> str:
    """Return a moment's name as it stands in the name of a file: "worst floor" as worst-floor."""
    return moment.replace(" ", "-")
