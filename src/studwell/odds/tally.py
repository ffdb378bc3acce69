"""Rows of samples summed up block by block: failures, what governs, what failing samples have in common, a histogram."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.odds.limits import COLUMNS, MODES, OUTCOMES
from studwell.odds.node import ALONE, NO_SOLUTION

Array = np.ndarray

BINS = np.concatenate([np.linspace(0.0, 3.0, 601), [np.inf]])
"""Edges of the histogram of margins."""


@dataclass(frozen=True)
class Tally:
    """What all rows of a setup say together.

    failed, judged : mode -> samples with a margin of 1 or more, and with one at all
    governs        : mode -> samples whose largest damage margin it is;  any_failed: samples that some damage mode fails
    shift          : mode -> (d,) by how many standard deviations the inputs of its failing samples lie off the mean
    histogram      : mode (and "largest") -> samples in each of BINS;  mean, deviation: column -> float
    low, high      : outcome -> float, of the middle 95 %, from at most KEPT samples
    alone, no_solution : samples solved one by one, and without a solution
    undecided      : samples in which no known damage mode fails, but one is not known that is known in others
    staying        : the samples whose stud does not follow the nut (hold below 1);  follows: how many do
    """

    samples: int
    failed: Mapping[str, int]
    judged: Mapping[str, int]
    governs: Mapping[str, int]
    any_failed: int
    shift: Mapping[str, Array] = field(repr=False)
    histogram: Mapping[str, Array] = field(repr=False)
    mean: Mapping[str, float] = field(repr=False)
    low: Mapping[str, float] = field(repr=False)
    high: Mapping[str, float] = field(repr=False)
    alone: int
    no_solution: int
    undecided: int
    follows: int
    staying: Staying


@dataclass(frozen=True)
class Staying:
    """Samples whose stud does not follow the nut: how many, and any_failed and undecided as in the Tally."""

    samples: int
    any_failed: int
    undecided: int


LARGEST = "largest"
KEPT = 200_000


def tally(chunks: Iterable[Array], inputs: int, damage: Sequence[str]) -> Tally:
    """Return the tally of rows.

    chunks : (n, inputs + COLUMNS + 1) as a plan's blocks give them;  damage: modes that count as damage
    """
    at = {name: inputs + i for i, name in enumerate(COLUMNS)}
    failed, judged = dict.fromkeys(MODES, 0), dict.fromkeys(MODES, 0)
    governs, any_failed, samples, alone, unsolved = dict.fromkeys(damage, 0), 0, 0, 0, 0
    hit = {mode: np.zeros(inputs) for mode in MODES}
    total, square = np.zeros(inputs), np.zeros(inputs)
    histogram = {mode: np.zeros(len(BINS) - 1, dtype=int) for mode in (*MODES, LARGEST)}
    kept: list[Array] = []
    columns = [at[name] for name in damage]
    quiet: Counter[tuple[int, bool]] = Counter()
    follows = stays = stays_failed = 0
    for rows in chunks:
        samples += len(rows)
        x = rows[:, :inputs]
        total += x.sum(axis=0)
        square += (x**2).sum(axis=0)
        how = rows[:, -1]
        alone += int(np.count_nonzero(how == ALONE))
        unsolved += int(np.count_nonzero(how == NO_SOLUTION))
        for mode in MODES:
            margin = rows[:, at[mode]]
            known, fails = ~np.isnan(margin), margin >= 1.0
            judged[mode] += int(known.sum())
            failed[mode] += int(fails.sum())
            hit[mode] += x[fails].sum(axis=0)
            histogram[mode] += np.histogram(np.maximum(margin[known], 0.0), BINS)[0]
        worst = np.where(np.isnan(rows[:, columns]), -np.inf, rows[:, columns])
        has = np.isfinite(worst.max(axis=1)) | (worst.max(axis=1) > 0.0)
        for place, count in zip(*np.unique(worst[has].argmax(axis=1), return_counts=True), strict=True):
            governs[damage[int(place)]] += int(count)
        hold = rows[:, at["hold"]]
        follows += int(np.count_nonzero(hold >= 1.0))
        stays += int(np.count_nonzero((hold < 1.0) & has))
        broken = has & (worst.max(axis=1) >= 1.0)
        stays_failed += int(np.count_nonzero((hold < 1.0) & broken))
        quiet.update(_unknown_among(rows[:, columns], hold < 1.0, has & ~broken))
        largest = worst[has].max(axis=1)
        any_failed += int(np.count_nonzero(largest >= 1.0))
        histogram[LARGEST] += np.histogram(np.maximum(largest, 0.0), BINS)[0]
        if sum(map(len, kept)) < KEPT:
            kept.append(rows[:, [at[name] for name in OUTCOMES]].copy())
    deviation = np.sqrt(np.maximum(square / max(samples, 1) - (total / max(samples, 1)) ** 2, 0.0))
    scale = np.where(deviation > 0.0, deviation, 1.0)
    shift = {m: (hit[m] / failed[m] - total / samples) / scale for m in MODES if failed[m]}
    table = np.concatenate(kept) if kept else np.zeros((0, len(OUTCOMES)))
    mean, low, high = {}, {}, {}
    for i, name in enumerate(OUTCOMES):
        column = table[:, i][np.isfinite(table[:, i])]
        if len(column):
            mean[name] = float(column.mean())
            low[name], high[name] = (float(v) for v in np.quantile(column, [0.025, 0.975]))
    ever = sum(1 << place for place, mode in enumerate(damage) if judged[mode])
    undecided = {held: sum(n for (code, stay), n in quiet.items() if code & ever and stay >= held) for held in (0, 1)}
    return Tally(
        samples, failed, judged, governs, any_failed, shift, histogram, mean, low, high, alone, unsolved,
        undecided[0], follows, Staying(stays, stays_failed, undecided[1]),
    )  # fmt: skip


def _unknown_among(margins: Array, stays: Array, chosen: Array) -> Counter[tuple[int, bool]]:
    """How many chosen samples have which unknown margins (bit i: column i), and a stud that stays or not."""
    codes = np.isnan(margins[chosen]) @ (1 << np.arange(margins.shape[1]))
    found = np.unique(2 * codes + stays[chosen], return_counts=True)
    return Counter({(int(code) >> 1, bool(code & 1)): int(count) for code, count in zip(*found, strict=True)})


def damage_seen(margins: Array) -> tuple[Array, Array]:
    """Return in which samples some damage mode fails, and in which that is known (n,), from the margins (n, modes).

    Known is a sample with a failure, or with all margins known: leave out modes that are known in no sample.
    """
    fails = np.any(margins >= 1.0, axis=1)
    return fails, fails | ~np.isnan(margins).any(axis=1)
