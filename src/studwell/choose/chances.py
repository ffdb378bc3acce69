"""How likely each of a few setups fails, by the same draws for all, so that they compare; and what that chooses."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case, Setup
from studwell.case.spread_keys import spread_keys
from studwell.case.spread_record import Spread
from studwell.choose.objectives import FUNCTION
from studwell.choose.scatter import carried
from studwell.choose.search import Rows
from studwell.errors import StudwellError
from studwell.odds.limits import COLUMNS, MODES
from studwell.odds.model import SetupModel
from studwell.odds.node import NO_SOLUTION
from studwell.odds.probability import Probability, counted
from studwell.odds.spread import sobol
from studwell.runs import Run

Array = np.ndarray

SAMPLES = 512
"""Draws of each setup that is compared. A power of two, as the sequence asks. Our own choice: a few in a thousand are seen."""

TAIL = 0.025
"""Probability of a difference by chance alone below which two setups count as told apart. Our own choice."""

NO_MODEL = 9.0
"""`found` of all rows of a setup that cannot be drawn or solved."""

MORE = 4
"""Setups that are compared beside those shown: of the best's parts, at other torques. Our own choice."""


@dataclass(frozen=True)
class Chance:
    """Samples of one setup. failed: (samples,) some damage mode is at its limit;  judged: (samples,) there is a solution."""

    failed: Array = field(repr=False)
    judged: Array = field(repr=False)

    @property
    def known(self) -> bool:
        """Whether any sample has a solution."""
        return bool(self.judged.any())

    @cached_property
    def probability(self) -> Probability:
        """That some damage mode reaches its limit, with its interval. Raises ValueError: no sample has a solution."""
        return counted(int(self.failed.sum()), int(self.judged.sum()))

    def less_likely(self, other: Chance) -> bool:
        """Return True if this setup fails less often than another, and that is more than chance.

        Source: McNemar (1947), exact: of the draws in which one of the two fails and the other does not, half would fail
        either if both were equally likely to.
        """
        both = self.judged & other.judged
        mine = int(np.count_nonzero(both & self.failed & ~other.failed))
        theirs = int(np.count_nonzero(both & other.failed & ~self.failed))
        return theirs > mine and binomtest(mine, mine + theirs, 0.5, alternative="less").pvalue < TAIL


@dataclass(frozen=True)
class Chances:
    """Chances of rows of a search (row -> Chance) and of the case's own setups (name -> Chance), of known ones alone.

    moved : keys of [spread] whose stated values were moved along with a row's settings;  samples: of each
    """

    rows: Mapping[int, Chance]
    own: Mapping[str, Chance]
    moved: tuple[str, ...] = ()
    samples: int = SAMPLES


@dataclass(frozen=True)
class ChancePlan:
    """Samples of several setups as blocks of a long study: one setup a block.

    setups : (setup, its spread), drawn from the same points key by key;  hash: of all that the numbers depend on
    """

    hash: str
    case: Case = field(repr=False)
    setups: tuple[tuple[Setup, Spread], ...] = field(repr=False)
    refinement: float
    block: int = SAMPLES
    seed: int = 1

    @property
    def count(self) -> int:
        """Samples in all."""
        return self.block * len(self.setups)

    @property
    def columns(self) -> tuple[str, ...]:
        """Margins by mode, and how the row was found."""
        return (*MODES, "found")

    def evaluate(self, block: int) -> Array:
        """Return the rows (samples, columns) of one setup."""
        setup, spread = self.setups[block]
        names = list(spread.names)
        try:
            model = SetupModel(setup, spread, spread_keys(self.case), self.refinement)
        except (StudwellError, ValueError):
            return np.column_stack([np.full((self.block, len(MODES)), np.nan), np.full(self.block, NO_MODEL)])
        points = sobol(len(names), self.seed, 0, self.block)[:, [names.index(name) for name in model.names]]
        table, how = model.rows(model.sampler.from_uniform(points))
        return np.column_stack([table[:, [COLUMNS.index(mode) for mode in MODES]], how])


def short_list(rows: Rows, shown: Sequence[int], best: int) -> list[int]:
    """Return the rows to compare: those shown, and some of the best's parts that nothing beats, at other torques."""
    chosen = list(shown)
    if rows.setup(best).history.phases:  # those shown alone have the heat of their own setting
        return chosen
    number = rows.candidate[best]
    alike = [
        int(row)
        for row in rows.unbeaten
        if rows.candidate[row] == number and int(row) not in chosen and rows.ranks[row].kind == rows.ranks[best].kind
    ]
    alike.sort(key=lambda row: (rows.place[row, 0], rows.keys[row]))
    places = {round(place) for place in np.linspace(0, len(alike) - 1, MORE)} if alike else set()
    return chosen + [alike[place] for place in sorted(places)]


def chances(
    case: Case,
    rows: Rows,
    listed: Sequence[int],
    refinement: float,
    versions: dict[str, str],
    run: Callable[[ChancePlan, Path], Run],
    ledger: Path,
) -> Chances | None:
    """Return the chances of rows of a search and of the case's own setups; None: Ctrl-C came before all were sampled.

    listed : numbers of the rows;  run: carries a plan out with a ledger, as runs.execute
    """
    assert case.spread is not None and case.bounds is not None
    found = [rows.setup(row) for row in listed]
    start: Setup = case.bounds.make(case.bounds.setup, {}, False)
    whole = replace(case, setups=(*found, *case.setups), bounds=None)
    keys = spread_keys(whole)
    setups, moved = [], dict[str, None]()
    for setup in found:
        spread, names = carried(case.spread, keys, (start, *case.setups), setup)
        setups.append((setup, spread))
        moved.update(dict.fromkeys(names))
    setups += [(setup, case.spread) for setup in case.setups]
    told = [inputs_sha256(whole), [repr(spread) for _, spread in setups], refinement, SAMPLES, versions]
    plan = ChancePlan(hashlib.sha256(json.dumps(told).encode()).hexdigest(), whole, tuple(setups), refinement)
    done = run(plan, ledger)
    if not done.complete:
        return None
    table = done.rows.array().reshape(len(setups), SAMPLES, -1)
    each = [_chance(block) for block in table]
    return Chances(
        {row: chance for row, chance in zip(listed, each, strict=False) if chance.known},
        {setup.name: chance for setup, chance in zip(case.setups, each[len(found) :], strict=True) if chance.known},
        tuple(moved),
    )


def _chance(rows: Array) -> Chance:
    """The samples of one setup from its rows (samples, columns)."""
    damage = [i for i, mode in enumerate(MODES) if mode not in FUNCTION]
    solved = ~np.isin(rows[:, -1], (NO_SOLUTION, NO_MODEL))
    return Chance((np.nan_to_num(rows[:, damage], nan=-1.0) >= 1.0).any(axis=1) & solved, solved)


def picked(rows: Rows, best: int, found: Chances | None) -> int:
    """Return the row to recommend: the best, unless others fail distinguishably less often.

    Then the best of those that no other fails distinguishably less often than. Only setups are weighed that share what
    ranks before the sizes of margins.
    """
    if found is None or best not in found.rows:
        return best
    pool = [row for row in found.rows if rows.ranks[row].kind == rows.ranks[best].kind]
    fair = [row for row in pool if not any(found.rows[other].less_likely(found.rows[row]) for other in pool)]
    return min(fair or pool, key=lambda row: rows.keys[row])
