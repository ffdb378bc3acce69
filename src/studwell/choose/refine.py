"""After the search: lengths between those tried round the best, and solved heat found again for what is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from studwell.case.records import Case, Setup
from studwell.choose.candidates import Candidate, fits, protrusions
from studwell.choose.search import ABSENT, Rows, SearchPlan, Solver, gathered, row_of, search_plan
from studwell.errors import StudwellError
from studwell.runs import Run

LENGTH_ROUNDS = 2
"""How often the gap between the best protrusion and its neighbours is halved: a quarter of the first step is left. Our own
choice; lengths of studs in stock lie farther apart."""

HEAT_ROUNDS = 4
"""How often what is shown may change while its heat is found again, before that is left. Our own choice."""


@dataclass(frozen=True)
class Refined:
    """Rows of a search with what was tried after it.

    lengths : mm, protrusions that were tried beside the first ones, in the order tried;  stopped: Ctrl-C came
    """

    rows: Rows = field(repr=False)
    lengths: tuple[float, ...] = ()
    stopped: bool = False


def lengths_between(tried: Sequence[float], best: float) -> tuple[float, ...]:
    """Return the lengths (mm) half way from the best of those tried to its neighbours."""
    below = max((each for each in tried if each < best - 1e-9), default=None)
    above = min((each for each in tried if each > best + 1e-9), default=None)
    return tuple(0.5 * (best + each) for each in (below, above) if each is not None)


def refine_protrusion(
    case: Case,
    rows: Rows,
    refinement: float,
    versions: dict[str, str],
    run: Callable[[SearchPlan, Path], Run],
    ledger: Path,
) -> Refined:
    """Search the best row's combination again with protrusions between those tried, halving the gaps round the best.

    run    : carries a plan out with a ledger, as runs.execute;  ledger: of the first search, beside which the others lie
    A combination without a range of protrusions comes back as it is.
    """
    lengths: list[float] = []
    known = set(protrusions(case.bounds)) if case.bounds is not None else set()
    for number in range(1, LENGTH_ROUNDS + 1):
        best = min(range(len(rows)), key=lambda row: rows.keys[row])
        candidate, _ = rows.where(best)
        chosen = candidate.combination
        if chosen.protrusion is None:
            break
        between = lengths_between(sorted(known), chosen.protrusion)
        known |= set(between)  # those that do not fit too: the next ones then lie nearer
        more = [Candidate(candidate.bounds, replace(chosen, protrusion=length), candidate.system) for length in between]
        more = [each for each in more if fits(each) is None]
        if not more:
            continue
        plan = search_plan(case, more, refinement, versions)
        done = run(plan, ledger.with_name(f"{ledger.stem}-protrusion-{number}{ledger.suffix}"))
        if done.stopped:
            return Refined(rows, tuple(lengths), True)
        found = gathered(plan, done.rows.chunks())
        lengths += [each.combination.protrusion for each in more if each.combination.protrusion is not None]
        rows = rows.with_more(found)
    return Refined(rows, tuple(lengths))


@dataclass(frozen=True)
class OwnHeat:
    """Rows whose heat was found again for their own setting.

    resolved : numbers of the rows;  largest: difference of a known margin that this made;  settled: False if what is shown
    still changed after HEAT_ROUNDS
    """

    rows: Rows = field(repr=False)
    resolved: tuple[int, ...] = ()
    largest: float = 0.0
    settled: bool = True


def own_heat(rows: Rows, shown: Callable[[Rows], Sequence[int]], refinement: float) -> OwnHeat:
    """Solve the rows that are shown again, each with the heat of its own setting, until those shown all have been.

    shown : rows -> numbers of those to show. A setup with given temperatures has no heat to solve: rows come back as they
    are. A row that has no solution with its own heat keeps what it had.
    """
    if not _first_setup(rows).history.phases:
        return OwnHeat(rows)
    done: list[int] = []
    largest = 0.0
    for _ in range(HEAT_ROUNDS):
        todo = [row for row in shown(rows) if row not in done]
        if not todo:
            return OwnHeat(rows, tuple(done), largest)
        for row in todo:
            done.append(row)
            candidate, place = rows.where(row)
            try:
                values = row_of(Solver(candidate, refinement).solve(place), place)
            except (StudwellError, ValueError):
                continue
            before, after = rows.margins[row], values[3 : 3 + rows.margins.shape[1]]
            both = np.isfinite(before) & np.isfinite(after) & (before != ABSENT) & (after != ABSENT)
            largest = max(largest, float(np.abs(after - before)[both].max(initial=0.0)))
            rows = rows.with_row(row, values)
    return OwnHeat(rows, tuple(done), largest, settled=all(row in done for row in shown(rows)))


def _first_setup(rows: Rows) -> Setup:
    candidate, place = rows.where(0)
    return candidate.setup(place)
