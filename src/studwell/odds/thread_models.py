"""What another model of the threads does to the odds: some samples by both, and the probabilities that follow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr

from studwell.case.records import Case, Setup
from studwell.odds.limits import COLUMNS, MODES
from studwell.odds.node import Node
from studwell.odds.plan import SetupPlan
from studwell.odds.probability import Probability
from studwell.odds.tally import Tally
from studwell.runs import LedgerRows

Array = np.ndarray

PAIRED, PAIRED_BLOCK = 48, 12
"""Samples that are solved by both models, and how many a block."""

FEWEST = 8
"""Samples judged by both models below which nothing is said of a mode."""

SHARE_FITTED = 0.5
"""Share of the paired samples, those nearest to the limit, that tell how one margin follows from the other."""


@dataclass(frozen=True)
class Fit:
    """One margin by another model: constant + slope * the own one, with a normal scatter of standard deviation `scatter`."""

    constant: float
    slope: float
    scatter: float

    def probability(self, margin: Array) -> Array:
        """Return the probability (n,) that samples of these own margins fail by the other model."""
        there = self.constant + self.slope * margin
        if self.scatter < 1e-9:
            return np.asarray(there >= 1.0, dtype=float)
        return np.asarray(ndtr((there - 1.0) / self.scatter))


@dataclass(frozen=True)
class ThreadBand:
    """Probabilities by the setup's own model of the threads and by another.

    own, other : models;  note: what stands in for a model that could not be solved, and why
    paired     : samples solved by both;  seconds: what the other model cost
    values     : mode -> (own, other) probability: the mode's own, and the other's by the fits of its margins
    fits       : mode -> Fit
    """

    own: str
    other: str
    note: str
    paired: int
    values: Mapping[str, tuple[float, float]]
    fits: Mapping[str, Fit] = field(repr=False)
    seconds: float = field(default=0.0, compare=False)


class BandPlan(SetupPlan):
    """The first samples by both models of the threads, dimensions as the setup has them: own margins, then the others.

    model : of both threads, another than the setup's own
    """

    kind = "thread models"
    remade = ("_model", "_other")

    def __init__(self, case: Case, count: int, seed: int, refinement: float, model: str) -> None:
        super().__init__(case, count, seed, refinement, PAIRED_BLOCK, model)
        self.thread_model = model
        self._other: Node | None = None

    @property
    def columns(self) -> tuple[str, ...]:
        """Modes twice."""
        return (*MODES, *(f"{mode} by the other model" for mode in MODES))

    @property
    def other(self) -> Node:
        """The setup with the other model, made when it is first needed. Raises StudwellError: it cannot be meshed or solved."""
        if self._other is None:
            stud = replace(self.setup.stud, thread_model=self.thread_model, nut_thread_model=self.thread_model)
            setup: Setup = replace(self.setup, stud=stud)
            smooth = "grooves" not in (
                self.thread_model,
                self.setup.stud.thread_model,
                self.setup.stud.nut_thread_model,
            )
            cache = dict(self.model.cache) if smooth else None
            self._other = Node(setup, self.model.keys, self.refinement, cache)
        return self._other

    def evaluate(self, block: int) -> Array:
        """Return the rows (samples of the block, modes twice)."""
        model, other = self.model, self.other
        lives = model.base.lives
        assert lives is not None
        values = model.loads(self.inputs(block))
        count = len(next(iter(values.values()))) if values else len(self.inputs(block))
        own, _ = model.base.rows(values, count)
        if other.lives is not None:
            there, _ = other.rows(values, count)
        else:
            found = []
            for sample in range(count):
                solved = other.alone({name: float(each[sample]) for name, each in values.items()}, lives.instants)
                found.append([solved[name] for name in COLUMNS])
            there = np.array(found)
        at = [COLUMNS.index(mode) for mode in MODES]
        return np.concatenate([own[:, at], there[:, at]], axis=1)


def fits_of(pairs: Array) -> dict[str, Fit]:
    """Return how each margin by the other model follows from the own one, from rows (n, modes twice); mode -> Fit.

    A straight line by least squares through the pairs nearest to the limit, since those decide the probability.
    """
    fits = {}
    for place, mode in enumerate(MODES):
        own, there = pairs[:, place], pairs[:, len(MODES) + place]
        both = np.isfinite(own) & np.isfinite(there)
        if both.sum() < FEWEST:
            continue
        own, there = own[both], there[both]
        near = np.argsort(np.abs(own - 1.0))[: max(FEWEST, round(SHARE_FITTED * len(own)))]
        own, there = own[near], there[near]
        slope, constant = 1.0, float(np.mean(there - own))
        if np.ptp(own) > 1e-9:
            tried, level = np.polyfit(own, there, 1)
            if tried > 0.0:
                slope, constant = float(tried), float(level)
        left = there - constant - slope * own
        fits[mode] = Fit(constant, slope, float(np.sqrt(np.sum(left**2) / max(len(left) - 2, 1))))
    return fits


def banded(
    rows: LedgerRows, inputs: int, tally: Tally, fits: Mapping[str, Fit], found: Mapping[str, Probability]
) -> dict[str, tuple[float, float]]:
    """Return mode -> (own, other) probability: each row's margin carried over by its fit.

    rows  : of all samples, inputs first;  tally: of the same rows
    found : mode -> its own probability. Where that was searched for and not counted, the other's moves along: as many times
            the own one as among the rows
    """
    total = dict.fromkeys(fits, 0.0)
    for _, part in rows.chunks():
        for mode, fit in fits.items():
            margin = part[:, inputs + COLUMNS.index(mode)]
            total[mode] += float(fit.probability(margin[~np.isnan(margin)]).sum())
    values = {}
    for mode in fits:
        if tally.judged[mode] and mode in found:
            own, other = found[mode].value, total[mode] / tally.judged[mode]
            seen = tally.failed[mode] / tally.judged[mode]
            if seen:
                values[mode] = (own, min(1.0, other * own / seen))
            elif own == 0.0 or other > own:  # too rare for these rows to say more
                values[mode] = (own, other)
    return values
