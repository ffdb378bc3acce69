"""Solve each candidate over its settings: spread evenly first, then downhill from the best; rows of margins."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from scipy.stats import qmc

from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case, Setup
from studwell.choose.candidates import Candidate
from studwell.choose.ranks import Rank, ranked, unbeaten
from studwell.errors import BadCase, StudwellError
from studwell.history.conduction import SolvedHeat
from studwell.joint.build import BodyCache, BuiltJoint
from studwell.strength.verdict import mode_names
from studwell.study.compare import HeatCache, solve_setup
from studwell.study.results import SetupResult

Place = tuple[int, int]

SPREAD = 8
"""Points of the even spread, beside the corners. A power of two, as the sequence asks. Our own choice."""

DOWNHILL = 24
"""Points of the search downhill at most. Our own choice."""

ROWS = SPREAD + 4 + DOWNHILL
"""Rows of a candidate; those that the search did not need are not a number."""

OUTCOMES = ("preload", "clamp_assembled", "clamp_min", "clamp_max", "stud_tension_max", "thread_load_max",
            "tip_force_max", "washer_flat_share_max", "tip_gap_min")  # fmt: skip
"""Outcomes that each row holds beside the margins, in N, as a share, or in mm (tip_gap_min)."""

GAP = OUTCOMES.index("tip_gap_min")

SOLVED, MISFIT, NOT_SOLVED = 0.0, 1.0, 2.0
"""What became of a row: solved, parts that do not go together with these settings, no solution."""

ABSENT = -1.0
"""Margin of a mode whose part the candidate does not have; a margin that is not known is not a number."""

STEPS_A_LEG = 4
"""Steps between two points of a given history while searching; the recommended setup takes the case's own steps."""


@dataclass(frozen=True)
class SearchPlan:
    """The search as blocks of a long study: one candidate a block.

    hash : of the case, its bounds, the mesh and this program's version
    """

    hash: str
    candidates: tuple[Candidate, ...] = field(repr=False)
    refinement: float

    @property
    def count(self) -> int:
        """Rows in all."""
        return ROWS * len(self.candidates)

    @property
    def block(self) -> int:
        """Rows of a candidate."""
        return ROWS

    @property
    def columns(self) -> tuple[str, ...]:
        """Places on the grids, what became of it, margins by mode, outcomes."""
        return ("torque_place", "seat_place", "state", *mode_names(), *OUTCOMES)

    def evaluate(self, block: int) -> np.ndarray:
        """Return the rows (ROWS, columns) of one candidate."""
        search = _Search(self.candidates[block], self.refinement, len(self.columns))
        search.spread()
        search.downhill()
        rows = np.full((ROWS, len(self.columns)), np.nan)
        found = np.array(list(search.rows.values()))
        rows[: len(found)] = found
        return rows


def search_plan(case: Case, found: list[Candidate], refinement: float, versions: dict[str, str]) -> SearchPlan:
    """Return the plan of a case's search."""
    told = [
        "search-2",
        inputs_sha256(case),
        refinement,
        SPREAD,
        DOWNHILL,
        [c.combination.text for c in found],
        versions,
    ]
    return SearchPlan(hashlib.sha256(json.dumps(told).encode()).hexdigest(), tuple(found), refinement)


def row_of(result: SetupResult, place: Place) -> np.ndarray:
    """Return a solved setup's row."""
    margins = []
    for mode in mode_names():
        margin = result.verdict.margins.get(mode)
        if margin is None or not margin.applies:
            margins.append(ABSENT)
        else:
            margins.append(np.nan if margin.value is None else margin.value)
    values = [np.nan if (value := result.value(name)) is None else value for name in OUTCOMES]
    return np.array([*place, SOLVED, *margins, *values])


def quick(setup: Setup) -> Setup:
    """Return a setup whose given history has as few steps as its points allow; solved heat keeps its steps."""
    history = setup.history
    if history.phases:
        return setup
    return replace(setup, history=replace(history, steps=min(history.steps, STEPS_A_LEG * (len(history.times) - 1))))


class Solver:
    """Solves one candidate's settings on one section: only numbers change from one to the next.

    Where heat is solved, that of the first setting serves all.
    """

    def __init__(self, candidate: Candidate, refinement: float) -> None:
        self.candidate, self.refinement = candidate, refinement
        self._cache: BodyCache = {}
        self._heats: HeatCache = {}
        self._like: tuple[BuiltJoint, SolvedHeat | None] | None = None

    def solve(self, place: Place) -> SetupResult:
        """Return a solved setup. Raises BadCase: it does not go together; StudwellError, ValueError: not solved."""
        setup = quick(self.candidate.setup(place))
        result = solve_setup(
            setup,
            refinement=self.refinement,
            cache=self._cache,
            heats=self._heats,
            band=False,
            fields=False,
            like=self._like,
        )
        if self._like is None:
            self._like = (result.built, result.heat)
        return result


class _Search:
    """The rows of one candidate by place on its grids."""

    def __init__(self, candidate: Candidate, refinement: float, columns: int) -> None:
        self.solver = Solver(candidate, refinement)
        self.axes = candidate.axes
        self.columns = columns
        self.rows: dict[Place, np.ndarray] = {}

    def at(self, place: Place) -> np.ndarray:
        """Return the row of a place, solved once."""
        if place not in self.rows:
            self.rows[place] = self._solved(place)
        return self.rows[place]

    def _solved(self, place: Place) -> np.ndarray:
        try:
            return row_of(self.solver.solve(place), place)
        except BadCase:
            state = MISFIT
        except (StudwellError, ValueError):
            state = NOT_SOLVED
        row = np.full(self.columns, np.nan)
        row[:3] = (*place, state)
        return row

    def spread(self) -> None:
        """Solve the corners and an even spread between them. Source: Sobol' sequence (1967), unscrambled."""
        counts = np.array([axis.count for axis in self.axes])
        points = np.concatenate([[[0, 0], [1, 1], [0, 1], [1, 0]], qmc.Sobol(2, scramble=False).random(SPREAD)])
        for point in np.rint(points * counts).astype(int):
            self.at((int(point[0]), int(point[1])))

    def downhill(self) -> None:
        """Go from the best place to better neighbours, the steps of an axis halved where there is none (compass search).

        Source: Kolda, Lewis & Torczon (2003), direct search.
        """
        counts = [axis.count for axis in self.axes]
        budget = len(self.rows) + DOWNHILL
        steps = [max(count // 8, int(count > 0)) for count in counts]
        best = self._best()
        while any(steps) and len(self.rows) < budget:
            for axis, step in enumerate(steps):
                for sign in (-1, 1) if step else ():
                    near = list(best)
                    near[axis] = min(max(near[axis] + sign * step, 0), counts[axis])
                    if len(self.rows) < budget:
                        self.at((near[0], near[1]))
            better = self._best()
            if better == best and max(steps) == 1:
                break
            still = [one == other for one, other in zip(better, best, strict=True)]
            steps = [max(step // 2, min(step, 1)) if stays else step for step, stays in zip(steps, still, strict=True)]
            best = better

    def _best(self) -> Place:
        places = list(self.rows)
        rows, modes = np.array(list(self.rows.values())), len(mode_names())
        ranks = ranked(self.solver.candidate, places, rows[:, 3 : 3 + modes], rows[:, 3 + modes + GAP])
        return places[min(range(len(places)), key=lambda i: (ranks[i], places[i]))]


@dataclass(frozen=True)
class Rows:
    """Every solved row of a search, with the candidate that it belongs to.

    candidate : (rows,) its number;  place: (rows, 2);  margins: (rows, modes);  outcomes: (rows, OUTCOMES)
    misfits, unsolved : settings that were tried and do not go together, or have no solution
    asked : settings that the search could have tried; those left it did not need
    """

    candidates: tuple[Candidate, ...] = field(repr=False)
    candidate: np.ndarray = field(repr=False)
    place: np.ndarray = field(repr=False)
    margins: np.ndarray = field(repr=False)
    outcomes: np.ndarray = field(repr=False)
    misfits: int
    unsolved: int
    asked: int = 0

    def __len__(self) -> int:
        return len(self.candidate)

    @cached_property
    def ranks(self) -> list[Rank]:
        """The rank of each row, smaller is better."""
        found: dict[int, Rank] = {}
        for number, candidate in enumerate(self.candidates):
            own = np.flatnonzero(self.candidate == number)
            if len(own):
                listed = ranked(candidate, self.place[own].tolist(), self.margins[own], self.outcomes[own, GAP])
                found.update(zip(own.tolist(), listed, strict=True))
        return [found[row] for row in range(len(self))]

    @cached_property
    def keys(self) -> list[tuple[float, ...]]:
        """Sort key of each row: its rank, and of equal ones the first."""
        return [(*rank, float(row)) for row, rank in enumerate(self.ranks)]

    @cached_property
    def unbeaten(self) -> np.ndarray:
        """Numbers of the rows that no other beats."""
        return unbeaten(self.margins, self.ranks)

    def beyond_nut(self, row: int) -> float:
        """Return how far (mm) the stud of a row stands beyond its nut's hexagon, the washers free; below 0 it ends inside."""
        candidate, place = self.where(row)
        return candidate.beyond_nut(place[1])

    def with_more(self, other: Rows) -> Rows:
        """Return these rows and those of a search of other candidates."""
        return Rows(
            (*self.candidates, *other.candidates),
            np.concatenate([self.candidate, other.candidate + len(self.candidates)]),
            np.concatenate([self.place, other.place]),
            np.concatenate([self.margins, other.margins]),
            np.concatenate([self.outcomes, other.outcomes]),
            self.misfits + other.misfits,
            self.unsolved + other.unsolved,
            self.asked + other.asked,
        )

    def with_row(self, row: int, values: np.ndarray) -> Rows:
        """Return these rows with one solved anew. values: as `row_of` returns them."""
        modes = self.margins.shape[1]
        margins, outcomes = self.margins.copy(), self.outcomes.copy()
        margins[row], outcomes[row] = values[3 : 3 + modes], values[3 + modes :]
        return replace(self, margins=margins, outcomes=outcomes)

    def where(self, row: int) -> tuple[Candidate, Place]:
        """Return the candidate and the place of a row."""
        return self.candidates[int(self.candidate[row])], (int(self.place[row, 0]), int(self.place[row, 1]))

    def setup(self, row: int) -> Setup:
        """Return the setup of a row."""
        candidate, place = self.where(row)
        return candidate.setup(place)

    def settings(self, row: int) -> dict[str, str]:
        """Return the settings of a row as texts: torque, and seating torque or back_off."""
        candidate, at = self.where(row)
        torque, seat = candidate.axes
        found = {"torque": torque.text(at[0])} if torque.unit else {}
        if seat.unit:
            found["back_off" if seat.kind == "turn" else "seating_torque"] = seat.text(at[1])
        return found


def gathered(plan: SearchPlan, chunks: Any) -> Rows:
    """Return the solved rows of a search. chunks: (sample numbers, rows) in sample order, as LedgerRows.chunks yields them."""
    modes, kept, numbers, misfits, unsolved = len(mode_names()), [], [], 0, 0
    asked = []
    for samples, rows in chunks:
        asked.append(samples)
        state = rows[:, 2]
        misfits += int((state == MISFIT).sum())
        unsolved += int((state == NOT_SOLVED).sum())
        good = state == SOLVED
        kept.append(rows[good])
        numbers.append(np.arange(samples.start, samples.stop)[good] // ROWS)
    table = np.concatenate(kept) if kept else np.zeros((0, len(plan.columns)))
    number = np.concatenate(numbers) if numbers else np.zeros(0, dtype=int)
    return Rows(
        plan.candidates,
        number,
        table[:, :2].astype(int),
        table[:, 3 : 3 + modes],
        table[:, 3 + modes :],
        misfits,
        unsolved,
        sum(len(samples) for samples in asked),
    )
