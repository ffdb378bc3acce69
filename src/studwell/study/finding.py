"""One finding of a study: its kind and its plain words; how findings write margins and list setups."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One finding. kind: 'governing', 'spring', 'bottoming', 'heat', 'gap', 'caution', 'phase', 'difference', 'cycles',
    'zone', 'settling', 're-tightening', 'repair', 'insert', 'threads', 'pocket', 'seat',
    'floor'; text: plain words; inch: the same made in inch units, where it is to be shown in both systems."""

    kind: str
    text: str
    inch: str | None = None


def margin_words(value: float | None, places: int = 2) -> str:
    """Return load over capacity as every text writes it: so many decimals, "unknown" or "unbounded".

    value : float or None; a margin that would read like its limit, 1, gets as many decimals as show the side it lies on
    """
    if value is None:
        return "unknown"
    if math.isinf(value):
        return "unbounded"
    while places < 9 and value != 1.0 and float(f"{value:.{places}f}") == 1.0:
        places += 1
    words = f"{value:.{places}f}"
    return words.removeprefix("-") if float(words) == 0.0 else words


MOST_NAMED = 3
"""Setups that one finding names; of more it gives the first and their number."""


def setups_words(names: Sequence[str], known: int) -> str:
    """Return the setups that a finding speaks of, at its head.

    names : theirs, in the order of the ranking;  known: how many setups were solved
    """
    if len(names) == known and known > 1:
        return "every setup"
    if len(names) <= MOST_NAMED:
        return "; ".join(names)
    return f"{'; '.join(names[: MOST_NAMED - 1])}; {len(names) - MOST_NAMED + 1} more"
