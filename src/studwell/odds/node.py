"""One setup on one condensed section: rows of many samples whose loads and limits differ, none dropped silently."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey
from studwell.errors import NotConverged
from studwell.joint.build import BodyCache
from studwell.odds.limits import COLUMNS, as_followed, judged
from studwell.odds.lives import Lives, not_side_by_side, short
from studwell.odds.scalar import BROKEN, solved_alone, varied
from studwell.odds.springs import ROOM, adapted
from studwell.parts.fastener import property_class
from studwell.study.compare import built_joint

Array = np.ndarray

SIDE_BY_SIDE, ALONE, NO_SOLUTION = 0.0, 1.0, 2.0
"""How a row was found."""


class Node:
    """A setup, its joint, and the history that its samples share; `why_alone`: why they are solved one by one, or ""."""

    def __init__(
        self, setup: Setup, keys: Mapping[str, SpreadKey], refinement: float, cache: BodyCache | None = None
    ) -> None:
        self.setup, self.keys = setup, keys
        self.built = built_joint(setup, refinement=refinement, cache=cache, fields=False)
        self.why_alone = not_side_by_side(self.built)
        self.lives: Lives | None = None
        if not self.why_alone:
            strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
            try:
                self.lives = Lives(self.built, strength.yield_strength)
            except NotConverged:
                self.why_alone = "the setup as it stands does not converge in few steps"

    def rows(self, values: Mapping[str, Array], count: int) -> tuple[Array, Array]:
        """Return outcomes and margins (S, COLUMNS) and how each was found (S,); values: key -> (S,)."""
        table, how = self.raw(values, count)
        return as_followed(table), how

    def raw(self, values: Mapping[str, Array], count: int) -> tuple[Array, Array]:
        """Return the same with FLOWS beside them (S, COLUMNS + 1), and no split of the floor taken out for it."""
        how = np.full(count, ALONE)
        if self.lives is None:
            table = np.full((count, len(COLUMNS) + 1), np.nan)
        else:
            lived = self.lives.live(values, count)
            table = judged(self.lives, lived, values)
            how[lived.solved] = SIDE_BY_SIDE
        for sample in np.flatnonzero(how == ALONE):
            found = self.alone({name: float(each[sample]) for name, each in values.items()})
            table[sample] = [*(found[name] for name in COLUMNS), np.nan]
            if np.all(np.isnan(table[sample])):
                how[sample] = NO_SOLUTION
        broken = np.isinf(table[:, COLUMNS.index(BROKEN)])
        how[broken & (how == NO_SOLUTION)] = ALONE
        return table, how

    def alone(self, values: Mapping[str, float], instants: tuple[float, ...] | None = None) -> dict[str, float]:
        """Return outcomes and margins by name of one sample by the path of a single setup, without cracks.

        instants : of a cycle, s, between the history's points; None: those of this setup's samples, or its own steps
        """
        one = varied(self.setup, self.keys, values)
        if instants is None and self.lives is not None:
            instants = self.lives.instants
        if instants is not None:
            one = short(one, instants)
        return solved_alone(adapted(self.built, one, values.get(ROOM)), one, cracks=False)
