"""What follows the samples, as plans in blocks: the design behind the sensitivities, and the search for rare failures."""

from __future__ import annotations

import numpy as np

from studwell.case.records import Case
from studwell.odds.combined import ANY, STAYING
from studwell.odds.limits import COLUMNS
from studwell.odds.plan import BLOCK, SetupPlan
from studwell.odds.probability import Subset, side_by_side, subset_steps
from studwell.odds.sensitivity import Indices, design, indices_of

Array = np.ndarray

REPEATS = 3
"""Independent scramblings of the sensitivities' design."""

RUNS = 2
"""Independent runs of each rare search."""

SHARE, MOST_LEVELS = 0.25, 12
"""Conditional probability of a level of a rare search, and how many levels it may go down."""


class RulingPlan(SetupPlan):
    """Margins at every point of the sensitivities' design, in the order of the design.

    quantities : modes whose margins are kept;  rows: points of each of its matrices
    """

    kind = "what rules"
    remade = ("_model", "_points")

    def __init__(self, case: Case, seed: int, refinement: float, quantities: tuple[str, ...], rows: int, groups: int):
        super().__init__(
            case, REPEATS * (2 + groups) * rows, seed, refinement, BLOCK, f"{rows} {REPEATS} {','.join(quantities)}"
        )
        self.quantities, self.points_each = quantities, rows
        self._points: Array | None = None

    @property
    def columns(self) -> tuple[str, ...]:
        """The quantities."""
        return self.quantities

    @property
    def points(self) -> Array:
        """Points (repeats, 2 + groups, rows, d) in 0 to 1."""
        if self._points is None:
            sampler = self.model.sampler
            self._points = design(len(self.model.names), sampler.groups, self.points_each, REPEATS, self.seed)
        return self._points

    def evaluate(self, block: int) -> Array:
        """Return the rows (points of the block, quantities)."""
        model, start = self.model, block * self.block
        uniform = self.points.reshape(-1, len(model.names))[start : start + self.block]
        table, _ = model.rows(model.sampler.from_uniform(uniform))
        return np.asarray(table[:, [COLUMNS.index(name) for name in self.quantities]])

    def indices(self, values: Array) -> Indices:
        """Return the indices that all rows (points, quantities) give."""
        shape = self.points.shape[:3]
        return indices_of(values.reshape(*shape, len(self.quantities)), self.model.sampler.groups)


class RarePlan(SetupPlan):
    """Subset simulation of modes that seldom fail, a mode a block, its runs side by side.

    modes : COLUMNS of margins, or ANY and STAYING: the largest known one of `damage`;  level: samples of each level
    """

    kind = "rare failures"

    def __init__(
        self, case: Case, seed: int, refinement: float, modes: tuple[str, ...], damage: tuple[str, ...], level: int
    ):
        told = f"{level} {RUNS} {','.join(modes)} of {','.join(damage)}"
        super().__init__(case, len(modes), seed, refinement, 1, told)
        self.modes, self.damage, self.level = modes, damage, level

    @property
    def columns(self) -> tuple[str, ...]:
        """Of each run: the probability, its coefficient of variation, the samples used."""
        return tuple(f"{name} {run}" for run in range(RUNS) for name in ("value", "variation", "samples"))

    def evaluate(self, block: int) -> Array:
        """Return one mode's row."""
        model, mode = self.model, self.modes[block]
        columns = [COLUMNS.index(name) for name in (self.damage if mode in (ANY, STAYING) else (mode,))]

        def margin(normal: Array) -> Array:
            table, _ = model.rows(model.sampler.from_normal(normal))
            found = np.where(np.isnan(table[:, columns]), -np.inf, table[:, columns]).max(axis=1)
            if mode == STAYING:
                found[~(table[:, COLUMNS.index("hold")] < 1.0)] = -np.inf
            return np.asarray(found)

        runs = [
            subset_steps(
                len(model.names), samples=self.level, share=SHARE, most_levels=MOST_LEVELS, seed=self.seed + 31 * run
            )
            for run in range(RUNS)
        ]
        found = side_by_side(runs, margin)
        return np.array([[value for each in found for value in (each.value, each.variation, float(each.samples))]])

    @staticmethod
    def subsets(row: Array) -> list[Subset]:
        """Return the runs of one mode from its row."""
        return [Subset(float(v), float(s), (), int(n)) for v, s, n in row.reshape(RUNS, 3)]
