"""Measure the search of `studwell choose`: processor time a setup tried, and of a whole candidate."""

from __future__ import annotations

import time

import numpy as np

from studwell.bench.measures import Measure
from studwell.case.records import Case
from studwell.choose.candidates import candidates
from studwell.choose.search import search_plan
from studwell.choose.study import SEARCH_REFINEMENT


def choose_measures(case: Case) -> list[Measure]:
    """Measure the search over the settings of a case's first candidate in this process.

    case : with [bounds]; none: nothing is measured
    """
    if case.bounds is None:
        return []
    fitting, _ = candidates(case.bounds, "inch" if case.units == "inch" else "metric")
    plan = search_plan(case, fitting[:1], SEARCH_REFINEMENT, {})
    start = time.process_time()
    rows = plan.evaluate(0)
    seconds = time.process_time() - start
    tried = int(np.count_nonzero(~np.isnan(rows[:, 2])))
    return [
        Measure("choose: one candidate over its settings", seconds, "s of one processor"),
        Measure("choose: a setup tried, section and all", 1000.0 * seconds / tried, "ms of one processor"),
    ]
