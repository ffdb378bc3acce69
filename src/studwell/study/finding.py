"""One finding of a study: its kind and its plain words; how findings write margins and list setups."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One finding. kind: 'governing', 'spring', 'bottoming', 'heat', 'gap', 'caution', 'phase', 'difference', 'cycles',
    'zone', 'settling', 're-tightening', 'repair', 'insert', 'threads', 'pocket', 'seat',
    'floor'; text: plain words."""

    kind: str
    text: str


def margin_words(value: float | None) -> str:
    """Return load over capacity as tables and findings write it: two decimals, "unknown" or "unbounded".

    value : float or None; a margin that two decimals would put on its limit, 1, gets as many as show the side it lies on
    """
    if value is None:
        return "unknown"
    if math.isinf(value):
        return "unbounded"
    places = 2
    while places < 9 and value != 1.0 and float(f"{value:.{places}f}") == 1.0:
        places += 1
    return f"{value:.{places}f}"


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
