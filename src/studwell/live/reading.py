"""What a live page shows of one solved state: plain numbers, words and lines over time."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Case
from studwell.live.state import LiveState
from studwell.strength.outcomes import tip_gaps
from studwell.study.findings import findings
from studwell.study.results import Comparison, SetupResult

Array = np.ndarray

BEFORE = 0.12
"""Share of the run's length before its start over which the states of seating and tightening are spread: they have no time."""


@dataclass(frozen=True)
class Reading:
    """One state, solved. Inside units: N, mm, MPa.

    minutes (steps,) : of every state but those under cylinder pressure; seating and tightening stand below the run's start
    labels    : (label, minute) of the named instants
    clamp, tip_force, stud_tension N, tip_gap mm : (steps,)
    outcomes  : name -> (value or None if unknown, unit, when, reason)
    margins   : mode -> (load over capacity, inf unbounded, None unknown; "damage" or "function"; reason), those that apply
    governing : mode of the largest known damage margin;  safe: None if nothing known fails and something is unknown
    seat      : what stopped the driven stud, in plain words
    notes     : what it shows and cautions of the model, in words
    residual  : largest force out of balance over the largest force
    seconds   : that solving took
    """

    state: LiveState
    minutes: Array = field(repr=False)
    labels: tuple[tuple[str, float], ...]
    clamp: Array = field(repr=False)
    tip_force: Array = field(repr=False)
    tip_gap: Array = field(repr=False)
    stud_tension: Array = field(repr=False)
    outcomes: dict[str, tuple[float | None, str, str, str]] = field(repr=False)
    margins: dict[str, tuple[float | None, str, str]] = field(repr=False)
    governing: str | None
    safe: bool | None
    seat: str
    notes: tuple[str, ...]
    residual: float
    seconds: float


LEFT_OUT = ("repair",)
"""Kinds of findings that do not belong beside sliders: a plan for the bench, which the job card holds."""


def findings_of(case: Case, result: SetupResult) -> list[str]:
    """Return what a solved state shows in plain words, in the case's units: the findings of a study of it alone, unnamed."""
    alone = Comparison(case, (result,), (), 1.0, result.seconds)
    said = []
    for item in findings(alone):
        text = item.text.replace(f" ({result.name})", "").removeprefix(f"{result.name}: ")
        text = text.replace(f"{result.name}, the setup nearest to cracking at once: ", "").replace(
            f"{result.name} ", ""
        )
        if item.kind not in LEFT_OUT:
            said.append(text[:1].upper() + text[1:])
    return said


def reading_of(state: LiveState, case: Case, result: SetupResult, seconds: float) -> Reading:
    """Return what is shown of a solved state of a case.

    seconds : that solving took
    """
    timeline, history = result.timeline, result.history
    count = int(timeline.run[-1]) + 1
    before = timeline.assembled
    run = timeline.times[before:count] / 60.0
    length = max(float(run[-1] - run[0]), 1.0)
    early = run[0] + length * BEFORE * (np.arange(before) / before - 1.0)
    minutes = np.concatenate([early, run])
    labels = [("seated", float(minutes[0]))]
    labels += [(label, float(minutes[index])) for index, label in timeline.labels]
    outcomes = {
        name: (outcome.value, outcome.unit, outcome.when, outcome.reason)
        for name, outcome in result.outcomes.items()
        if not outcome.absent
    }
    margins = {
        mode: (margin.value, str(margin.kind), margin.reason)
        for mode, margin in result.verdict.margins.items()
        if margin.applies
    }
    notes = findings_of(case, result)
    notes += [
        f"{stage}, {time / 60.0:.0f} min: the step was cut in {2**cuts}." for stage, time, cuts in history.refinements
    ]
    forces = timeline.forces
    on_liquid = history.seating.on_liquid
    return Reading(
        state=state,
        minutes=minutes,
        labels=tuple(labels),
        clamp=forces.clamp[:count],
        tip_force=forces.tip[:count],
        tip_gap=tip_gaps(result.built, timeline)[:count],
        stud_tension=forces.tension[:count],
        outcomes=outcomes,
        margins=margins,
        governing=result.verdict.governing,
        safe=result.verdict.safe,
        seat="liquid under the tip" if on_liquid else history.seat.name,
        notes=tuple(notes),
        residual=result.equilibrium_residual,
        seconds=seconds,
    )
