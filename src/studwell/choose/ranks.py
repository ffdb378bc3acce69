"""What ranks before what: the order of solved setups, and which of them no other beats in anything that counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from studwell.choose.candidates import Candidate
from studwell.choose.objectives import SAME, front, objectives, order_keys

Array = np.ndarray

MOST = 1e6
"""Margins beyond this are as bad as each other."""


class Rank(NamedTuple):
    """What a setup is ranked by, in this order, smaller is better.

    unsolved, failed, unknown, lost, damage, function : as `order_keys` has them;  inside: 1 if the stud ends inside its nut
    short : 1 if a stud that is turned back has not the room to the floor that `room_needed` asks for
    total : sum of the objectives, in steps of SAME, so that of two setups that are equal so far none beats the first
    """

    unsolved: float
    failed: float
    unknown: float
    lost: float
    inside: float
    damage: float
    function: float
    short: float
    total: float

    @property
    def kind(self) -> tuple[float, ...]:
        """What ranks before the sizes of margins: setups that share it are weighed by margins and odds."""
        return tuple(self[:5])


def ranked(candidate: Candidate, places: Sequence[Sequence[int]], margins: Array, gaps: Array) -> list[Rank]:
    """Return the rank of each row of one candidate.

    places : (rows, 2) on its grids;  margins: (rows, modes);  gaps: (rows,) mm, the least under the tip, nan if not known
    """
    keys = order_keys(margins)
    totals = np.round(np.minimum(objectives(margins), MOST) / SAME).sum(axis=1)
    found = []
    for key, place, gap, total in zip(keys, places, gaps, totals, strict=True):
        unsolved, failed, unknown, lost, damage, function = key
        if unsolved:
            found.append(Rank(1.0, failed, unknown, lost, 1.0, damage, function, 1.0, float(total)))
            continue
        inside = float(candidate.beyond_nut(int(place[1])) < 0.0)
        short = float(not gap >= candidate.room_needed)
        found.append(Rank(unsolved, failed, unknown, lost, inside, damage, function, short, float(total)))
    return found


def unbeaten(margins: Array, ranks: Sequence[Rank]) -> Array:
    """Return the numbers of the rows that no other beats: none is as good in all that counts, and better in one.

    What counts: the objectives, and all that a `Rank` holds but the sum. margins: (rows, modes)
    """
    return front(np.concatenate([objectives(margins), np.array([rank[:8] for rank in ranks])], axis=1))
