"""Measure a move on the live page: a control moved, everything that the page shows solved and drawn anew."""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import cycle, islice

import numpy as np

from studwell.bench.measures import Measure
from studwell.case.records import Case
from studwell.errors import StudwellError
from studwell.live.engine import Engine
from studwell.live.state import LiveState, start_state
from studwell.study.compare import solve_setup

MOVES = 30
TARGET = 100.0
"""ms: what follows the hand within that seems to follow at once. Source: Miller 1968, Response time in man-computer
conversational transactions; from memory."""


def move_measures(case: Case, moves: int = MOVES, refinement: float = 1.0) -> list[Measure]:
    """Measure moves of every control that needs no mesh, in the first setup with plain washers and the last with springs.

    The joint is condensed already; each move is a state not solved before. The ratio is to solving the same setup from its
    dimensions on, judged but not drawn.
    """
    plain = next((setup for setup in case.setups if not setup.springs), None)
    sprung = next((setup for setup in reversed(case.setups) if setup.springs and setup.boss.insert is None), None)
    measures = []
    engine = Engine(case, refinement=refinement, apart=False)
    try:
        for setup, words in ((plain, "plain washers"), (sprung, "springs")):
            if setup is None:
                continue
            start = time.perf_counter()
            solve_setup(setup, refinement=refinement, band=False)
            whole = time.perf_counter() - start
            first = start_state(case, setup.name)
            engine.read(first)
            seconds = []
            for state in islice(_moved(engine, first, moves), 2 * moves):
                start = time.perf_counter()
                try:
                    engine.read(state)
                except StudwellError:  # a state without a solution, at the end of a range
                    continue
                seconds.append(time.perf_counter() - start)
                if len(seconds) == moves:
                    break
            median = float(np.median(seconds))
            measures += [
                Measure(f"a move on the live page, {words}, median of {len(seconds)}", 1000.0 * median, "ms", TARGET),
                Measure(f"solving that setup anew over a move, {words}", whole / median, "times"),
            ]
    finally:
        engine.close()
    return measures


def _moved(engine: Engine, state: LiveState, moves: int) -> Iterator[LiveState]:
    """Yield states, each with one more control moved than the one before: a tenth of its range either way."""
    sliders = [c for c in engine.controls(state.setup) if c.applies and not c.remesh and c.kind == "slider"]
    for number, control in islice(enumerate(cycle(sliders)), 2 * moves):
        assert not isinstance(control.start, str)
        way = 0.1 * np.cos(2.0 * number)  # every position another one
        value = control.start + way * (control.high - control.low)
        state = state.with_value(control.name, float(np.clip(value, control.low, control.high)))
        yield state
