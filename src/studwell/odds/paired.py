"""Which setups can be told apart: the same draws in two setups, and how many would be needed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.stats import binomtest, norm

from studwell.odds.limits import COLUMNS
from studwell.odds.probability import CONFIDENCE
from studwell.odds.records import Pair, SetupOdds
from studwell.odds.tally import damage_seen
from studwell.runs import LedgerRows

Array = np.ndarray

POWER = 0.8
"""How surely the number of samples that is named would tell two setups apart. Usual in the design of trials."""


def paired(items: Sequence[SetupOdds]) -> tuple[Pair, ...]:
    """Return every pair of setups, whose samples share their draws; raises BadCase: rows were changed since.

    Source: McNemar (1947), exact: of the samples in which one of two fails and the other does not, half would fail either
    if both were equally likely to. Sobol points fill the space more evenly than the independent ones that it is exact for.
    """
    count = len(items)
    if count < 2:
        return ()
    columns = [
        [len(item.names) + COLUMNS.index(mode) for mode in item.damage if item.tally.judged[mode]] for item in items
    ]
    judged, both, alone = (np.zeros((count, count), dtype=int) for _ in range(3))
    for parts in _together([item.rows for item in items]):
        seen = [damage_seen(rows[:, at]) for rows, at in zip(parts, columns, strict=True)]
        fails, known = (np.array([each[place] for each in seen]).astype(int) for place in (0, 1))
        judged += known @ known.T
        both += fails @ fails.T
        alone += fails @ (known * (1 - fails)).T
    return tuple(
        _pair(items, i, j, int(judged[i, j]), int(both[i, j]), int(alone[i, j]), int(alone[j, i]))
        for i in range(count)
        for j in range(i + 1, count)
    )


def _together(ledgers: Sequence[LedgerRows]) -> Iterator[list[Array]]:
    """Blocks that all ledgers hold, side by side."""
    chunks = [ledger.chunks() for ledger in ledgers]
    while True:
        now = [next(each, None) for each in chunks]
        while True:
            here = [each for each in now if each is not None]
            if len(here) < len(now):
                return
            last = max(samples.start for samples, _ in here)
            if all(samples.start == last for samples, _ in here):
                break
            now = [
                each if samples.start == last else next(chunk, None)
                for each, chunk, (samples, _) in zip(now, chunks, here, strict=True)
            ]
        yield [rows for _, rows in here]


def _pair(items: Sequence[SetupOdds], i: int, j: int, judged: int, both: int, first: int, second: int) -> Pair:
    one, other = items[i].any_damage, items[j].any_damage
    chance = float(binomtest(first, first + second, 0.5).pvalue) if first + second else 1.0
    away = abs(one.value - other.value)
    unknown = [item.tally.undecided / max(item.tally.samples, 1) for item in (items[i], items[j])]
    # the samples tell them apart only where they say the same as the figures that are printed, and what is not known of the
    # better one could not turn it round
    agree = (first - second) * (one.value - other.value) > 0.0 and unknown[int(one.value > other.value)] < away
    apart = (chance < 1.0 - CONFIDENCE and agree) or one.high < other.low or other.high < one.low
    needed = None
    if not apart and judged and away > max(unknown):
        # the share that only one of the two fails: as seen, never below their difference; unseen, at most their sum
        share = max((first + second) / judged, away) if first + second else one.value + other.value
        needed = max(told_apart_by(share, away), 2 * judged)
    return Pair(i, j, judged, both, first, second, chance, apart, needed)


def told_apart_by(share: float, away: float) -> int:
    """Return how many samples tell two probabilities apart that differ by `away`, where one alone fails in `share` of them.

    Source: the normal form of McNemar's test: (z_a + z_b)^2 share / away^2, at CONFIDENCE and POWER.
    """
    both = float(norm.ppf(0.5 + 0.5 * CONFIDENCE) + norm.ppf(POWER))
    return int(np.ceil(both**2 * share / away**2))
