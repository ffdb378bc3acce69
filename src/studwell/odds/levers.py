"""The cheapest change that brings a mode under a wanted probability: torque, back-off, lock, or another washer of the case."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from studwell.case.bounds_record import Bounds, WasherChoice
from studwell.case.records import Setup
from studwell.errors import StudwellError
from studwell.odds.limits import COLUMNS
from studwell.odds.locks import LOCK, WHY, lock_needed, lock_words, own_lock
from studwell.odds.model import SetupModel
from studwell.odds.node import Node
from studwell.odds.probability import Probability, counted
from studwell.section.spring_edges import best_turned

Array = np.ndarray

LEVERS: Mapping[str, tuple[float, ...]] = {
    "seating.back_off": (0.05, -0.05, 0.1, -0.1, 0.2, 0.3),
    "tightening.torque": (-0.05, 0.05, -0.1, 0.1, -0.15, 0.15, -0.2, 0.2, -0.3, 0.3, -0.4, 0.4),
    "tightening.preload": (-0.05, 0.05, -0.1, 0.1, -0.15, 0.15, -0.2, 0.2, -0.3, 0.3, -0.4, 0.4),
    "seating.torque": (-0.1, -0.2, -0.3, -0.5, -0.7),
}
"""Key -> changes tried, the smallest first: turns for the back-off, shares of its own value for the others."""

WASHER = "washer"
"""Name of the lever that is another washer of [bounds]."""

SAMPLES = 4096
"""Most samples of each change that is tried."""


@dataclass(frozen=True)
class Change:
    """A change of one lever: its key, from and to (inner units), the probability then, what else fails more often.

    words : from and to in words, where the lever is a part ("washer") and not a number: then how many spring washers
    """

    key: str
    before: float
    after: float
    probability: Probability
    worse: tuple[tuple[str, float], ...]
    words: tuple[str, str] | None = None


@dataclass(frozen=True)
class Wanted:
    """A mode, the probability asked for, what was found on each lever (smallest change, None: none of those tried).

    note : what else there is to say of this mode's levers, or ""
    """

    mode: str
    wanted: float
    now: Probability
    changes: tuple[Change, ...]
    tried: tuple[str, ...]
    note: str = ""


def moved(setup: Setup, model: SetupModel, key: str, change: float) -> tuple[float, float] | None:
    """Return a lever's own value and the changed one; None if the setup has no such lever, or may not have that value."""
    own = model.keys[key].get(setup) if key in model.keys else None
    if not own:
        return None
    after = own + change if key == "seating.back_off" else own * (1.0 + change)
    return (own, after) if after > 0.0 else None


def cheapest(
    model: SetupModel,
    mode: str,
    wanted: float,
    seed: int,
    damage: Sequence[str],
    samples: int = SAMPLES,
    bounds: Bounds | None = None,
) -> Wanted:
    """Return the smallest change of each lever that brings a mode's probability to what is wanted.

    bounds : whose washers are a lever too, fewest springs first; None: torques and back-off alone
    The same draws are taken for each change; spread inputs keep their spread about the changed value.
    """
    column = COLUMNS.index(mode)
    inputs = model.sampler.draw(seed, 0, samples)
    now, rows = _failing(model, inputs, column)
    before = _shares(rows, damage)
    changes, tried = [], []
    for key, steps in LEVERS.items():
        found = None
        for step in steps:
            ends = moved(model.setup, model, key, step)
            if ends is None:
                continue
            if key not in tried:
                tried.append(key)
            probability, there = _with(model, inputs, key, *ends, column)
            if probability is not None and probability.value <= wanted:
                after = _shares(there, damage)
                worse = tuple((m, after[m]) for m in damage if after[m] > before[m] + 0.005 and m != mode)
                found = Change(key, *ends, probability, worse)
                break
        if found is not None:
            changes.append(found)
    if bounds is not None and now.value > wanted and bounds.washers:
        tried.append(WASHER)
        other = _other_washers(model, bounds, inputs, column, wanted, before, mode, damage)
        if other is not None:
            changes.append(other)
    note = ""
    if mode == "hold" and now.value > wanted:
        tried.append(LOCK)
        note = WHY
        torque = lock_needed(model, inputs, rows, wanted)
        if torque is not None:
            own = own_lock(model.setup)
            probability, _ = _with(model, inputs, LOCK, own, torque, column)
            if probability is not None and probability.value <= wanted:
                changes.append(Change(LOCK, own, torque, probability, ()))
                note = f"{WHY}: {lock_words(model.setup, torque)}"
    return Wanted(mode, wanted, now, tuple(changes), tuple(tried), note)


def _other_washers(
    model: SetupModel,
    bounds: Bounds,
    inputs: Array,
    column: int,
    wanted: float,
    before: Mapping[str, float],
    mode: str,
    damage: Sequence[str],
) -> Change | None:
    """The first of the case's washers, fewest springs first, with which the mode is within what is wanted."""
    own = sum(each.parallel * each.series for each in model.setup.springs)
    for choice in sorted(bounds.washers, key=lambda each: each.parallel * each.series if each.spring else 0):
        plain = [{"kind": "plain", "size": choice.size}] if choice.size else [dict(each) for each in bounds.plain]
        sprung = {"kind": "spring", "size": choice.spring, "parallel": choice.parallel, "series": choice.series}
        try:
            made: Setup = bounds.make(choice.text, {"washer": [*plain, *([sprung] if choice.spring else [])]})
            made = best_turned(made)
            if made.washers == model.setup.washers:
                continue
            node = Node(replace(model.setup, washers=made.washers), model.keys, model.refinement, dict(model.cache))
        except (StudwellError, ValueError):
            continue  # these washers do not go with this stud: no lever
        if node.lives is None:
            continue
        table, _ = node.rows(model.loads(inputs), len(inputs))
        probability = _judged(table, column)
        if probability.value <= wanted:
            after = _shares(table, damage)
            worse = tuple((m, after[m]) for m in damage if after[m] > before[m] + 0.005 and m != mode)
            count = choice.parallel * choice.series if choice.spring else 0
            now = [WasherChoice(each.name, each.parallel, each.series).text for each in model.setup.springs]
            words = (", ".join(now) or WasherChoice().text, choice.text)
            return Change(WASHER, float(own), float(count), probability, worse, words)
    return None


def _with(
    model: SetupModel, inputs: Array, key: str, own: float, after: float, column: int
) -> tuple[Probability | None, Array]:
    if key in model.names:
        at = inputs.copy()
        at[:, model.names.index(key)] += after - own
        if np.any(at[:, model.names.index(key)] <= 0.0):
            return None, inputs
        return _failing(model, at, column)
    extra = {key: np.full(len(inputs), after)}
    try:
        table, _ = model.rows(inputs, extra)
    except StudwellError:
        return None, inputs
    return _judged(table, column), table


def _failing(model: SetupModel, inputs: Array, column: int) -> tuple[Probability, Array]:
    table, _ = model.rows(inputs)
    return _judged(table, column), table


def _judged(table: Array, column: int) -> Probability:
    margin = table[:, column]
    known = margin[~np.isnan(margin)]
    return counted(int((known >= 1.0).sum()), max(len(known), 1))


def _shares(table: Array, damage: Sequence[str]) -> dict[str, float]:
    return {mode: float(np.mean(table[:, COLUMNS.index(mode)] >= 1.0)) for mode in damage}
