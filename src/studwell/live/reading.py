"""What a live page shows of one solved state: plain numbers, words and lines over time."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Case
from studwell.live.state import LiveState
from studwell.strength.outcomes import tip_gaps
from studwell.study.findings import beside_the_verdict, findings_in_both
from studwell.study.results import Comparison, SetupResult
from studwell.units import InBoth

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
    seat      : what stopped the driven stud, in plain words;  by_tip: whether the tip itself bears there
    beside    : what belongs beside the verdict though no margin is named after it, in words
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
    by_tip: bool
    beside: tuple[str, ...]
    notes: tuple[str, ...]
    residual: float
    seconds: float


def findings_of(case: Case, result: SetupResult) -> list[str]:
    """Return what a solved state shows in plain words, in both systems: the findings of a study of it alone, unnamed.

    Without the repair plan, which belongs to the bench: the job card holds it.
    """
    alone = Comparison(case, (result,), (), 1.0, result.seconds)
    return [
        InBoth(_unnamed(item.text, result.name), _unnamed(item.inch or item.text, result.name))
        for item in findings_in_both(alone, plan=False)
    ]


def _unnamed(text: str, name: str) -> str:
    """A finding about the only setup there is, without its name."""
    text = text.replace(f" ({name})", "").removeprefix(f"{name}: ")
    text = text.replace(f"{name}, the setup nearest to cracking at once: ", "").replace(f"{name} ", "")
    return text[:1].upper() + text[1:]


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
        by_tip=history.seat.by_tip,
        beside=tuple(map(InBoth, *(beside_the_verdict(result, units) for units in ("metric", "inch")))),
        notes=tuple(notes),
        residual=result.equilibrium_residual,
        seconds=seconds,
    )
