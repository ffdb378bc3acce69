"""Choose: search what the case leaves open, keep the best compromises, solve the recommended one in full."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from studwell.case.overrides import Origin, lay_on
from studwell.case.records import Case
from studwell.case.spread_keys import spread_keys
from studwell.choose.candidates import Candidate, candidates, protrusions
from studwell.choose.chance_words import by_odds, others_by_odds
from studwell.choose.chances import ChancePlan, Chances, chances, picked, short_list
from studwell.choose.objectives import objectives, told_apart
from studwell.choose.reasons import alternatives, balances, best_by, room
from studwell.choose.refine import OwnHeat, Refined, own_heat, refine_protrusion
from studwell.choose.scatter import carried
from studwell.choose.search import Rows, SearchPlan, Solver, gathered, row_of, search_plan
from studwell.errors import BadCase, NotConverged, StudwellError
from studwell.odds.study import SetupOdds
from studwell.odds.study import odds as odds_of
from studwell.runs import Pace, Run, execute
from studwell.strength.verdict import mode_names
from studwell.study.compare import solve_setup
from studwell.study.repair import pitches_text
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text

SEARCH, LENGTHS, ODDS = "search", "lengths between", "odds of the best and of the case's own"
"""Parts of the work, as progress tells them."""

NAME = "recommended"
"""Name of the recommended setup."""

SEARCH_REFINEMENT = 0.5
"""Mesh density of the search: coarse, to try many; the recommended setup is solved on the standard mesh."""

ODDS_SAMPLES, ODDS_SEED = 1000, 1
"""Samples of the recommended setup's odds, and the seed of their draws. Our own choice: three digits would need more."""

MOST_SHOWN = 10
"""Compromises in the table on screen; the file holds them all."""

MOST_TRIED = 5
"""Best rows that are tried on the standard mesh before choosing fails."""


@dataclass(frozen=True)
class Choice:
    """What choosing left.

    rows       : every solved row;  front: numbers of those that no other beats;  shown: some of them, the recommended first
    recommended: the row;  result: that setup solved in full, with its band;  overrides: its tables, as the case file has them
    search_error : largest difference of a known margin between the search's mesh and the full solution
    reasons    : plain sentences;  refused: combinations that do not go together -> why
    odds       : how likely it fails by the case's [spread], None without;  odds_note: why there are none, or how to get more
    chances    : how likely some rows and the case's own setups fail, by the same draws; None without [spread]
    lengths    : mm, protrusions tried after the first ones, round the best
    own_heat   : rows solved again with the heat of their own setting;  heat_error: largest difference of a margin that it made
    """

    case: Case
    rows: Rows = field(repr=False)
    front: np.ndarray = field(repr=False)
    shown: tuple[int, ...]
    recommended: int
    result: SetupResult = field(repr=False)
    overrides: dict[str, Any] = field(repr=False)
    search_error: float
    reasons: tuple[str, ...]
    refused: dict[str, str]
    versions: dict[str, str]
    refinement: float
    search_refinement: float
    name: str
    odds: SetupOdds | None = None
    odds_note: str = ""
    stopped: bool = False
    complete: bool = True
    seconds: float = 0.0
    lengths: tuple[float, ...] = ()
    own_heat: tuple[int, ...] = ()
    heat_error: float = 0.0
    chances: Chances | None = None

    @property
    def comparison(self) -> Comparison:
        """The recommended setup as a comparison of one."""
        alone = replace(self.case, setups=(self.result.setup,))
        return Comparison(alone, (self.result,), (), self.refinement, self.result.seconds)


def choose(
    case: Case,
    *,
    versions: dict[str, str],
    refinement: float = 1.0,
    search_refinement: float = SEARCH_REFINEMENT,
    ledger: Path | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    resume: bool = False,
    progress: Callable[[str, Pace], None] | None = None,
    odds_samples: int = ODDS_SAMPLES,
) -> Choice:
    """Return the best compromises within a case's bounds, and the one to recommend.

    versions   : of the libraries that numbers depend on
    refinement, search_refinement : mesh density of the recommended setup's solution, and of the search
    ledger, workers, scheduler, resume : as in runs.execute; ledger None: a temporary one
    progress   : called with the part of the work, SEARCH, LENGTHS or ODDS, and its pace
    odds_samples : samples of the recommended setup's odds where the case has [spread]; 0: odds have no part in the choice
    raises BadCase : no [bounds], or nothing in them goes together;  NotConverged : nothing in them has a solution
    """
    if case.bounds is None:
        raise BadCase(case.file, "[bounds]", None, "ranges and lists to choose from", "missing-key", "missing table")
    start = time.perf_counter()
    system = "inch" if case.units == "inch" else "metric"
    fitting, refused = candidates(case.bounds, system)
    if not fitting:
        listed = "; ".join(f"{text}: {why}" for text, why in list(refused.items())[:3])
        raise BadCase(case.file, "[bounds]", None, "parts that go together", "cannot-fit", f"nothing fits ({listed})")
    plan = search_plan(case, fitting, search_refinement, versions)
    with tempfile.TemporaryDirectory() if ledger is None else nullcontext(str(ledger.parent)) as folder:
        path = Path(folder) / "search.rows" if ledger is None else ledger

        def carried_out(wanted: SearchPlan | ChancePlan, where: Path) -> Run:
            part = ODDS if isinstance(wanted, ChancePlan) else SEARCH if wanted is plan else LENGTHS
            tell = None if progress is None else partial(progress, part)
            return execute(wanted, where, workers=workers, scheduler=scheduler, resume=resume, progress=tell)

        run = carried_out(plan, path)
        rows = gathered(plan, run.rows.chunks())
        if not len(rows) and run.stopped:
            raise KeyboardInterrupt
        if not len(rows):
            raise NotConverged(
                None, f"no setup within [bounds] has a solution{_such_as(fitting[0], search_refinement)}"
            )
        refined = Refined(rows)
        if run.complete:
            refined = refine_protrusion(case, rows, search_refinement, versions, carried_out, path)
        stopped = run.stopped or refined.stopped
        heat, found = OwnHeat(refined.rows), None
        try:
            if not stopped:
                heat = own_heat(refined.rows, _shown, search_refinement)
            rows = heat.rows
            best = min(range(len(rows)), key=lambda row: rows.keys[row])
            if not stopped and case.spread is not None and odds_samples:
                compared = short_list(rows, _shown(rows, best), best)
                beside = path.with_name(f"{path.stem}-odds{path.suffix}")
                found = chances(case, rows, compared, search_refinement, versions, carried_out, beside)
                stopped = found is None
        except KeyboardInterrupt:
            stopped = True
            rows = heat.rows
            best = min(range(len(rows)), key=lambda row: rows.keys[row])
    first = picked(rows, best, found)
    recommended, result = _solved_in_full(case, rows, first, refinement)
    solved_row = row_of(result, (0, 0))[3 : 3 + len(mode_names())]
    difference = np.abs(solved_row - rows.margins[recommended])
    candidate, at = rows.where(recommended)
    reasons = [by_odds(rows, best, recommended, found) if recommended != best and found else best_by(rows, recommended)]
    reasons += _springs_and_nut(rows, recommended)
    reasons += balances(candidate, at, rows.margins[recommended], search_refinement, recommended != best)
    reasons += room(rows, recommended)
    reasons += alternatives(rows, recommended)
    reasons += others_by_odds(case, rows, recommended, found)
    reasons += _done_after(case, refined, heat, run.complete and not refined.stopped)
    own = candidate.overrides(at)
    overrides = lay_on(dict(case.bounds.override), own, Origin(case.file, result.name, case.bounds.override, own, {}))
    odds, note = _odds(case, result, 0 if stopped else odds_samples)
    if case.spread is not None and found is None:
        why = "stopped before they were compared" if stopped else "not asked for"
        note = f"{why}, margins alone chose; {note}"
    return Choice(
        case=case,
        rows=rows,
        front=rows.unbeaten,
        shown=tuple(dict.fromkeys([recommended, *_shown(rows, best)]))[:MOST_SHOWN],
        recommended=recommended,
        result=result,
        overrides=overrides,
        search_error=float(np.max(difference[np.isfinite(difference)], initial=0.0)),
        reasons=tuple(reasons),
        refused=refused,
        versions=versions,
        refinement=refinement,
        search_refinement=search_refinement,
        name=result.name,
        odds=odds,
        odds_note=note,
        stopped=stopped,
        complete=run.complete and not refined.stopped,
        lengths=refined.lengths,
        own_heat=heat.resolved,
        heat_error=heat.largest,
        chances=found,
        seconds=time.perf_counter() - start,
    )


def _such_as(candidate: Candidate, refinement: float) -> str:
    """Why a candidate has no solution at its least settings, in words after a comma; "" if that is not known."""
    try:
        Solver(candidate, refinement).solve((0, 0))
    except StudwellError as problem:
        return f", for instance {candidate.combination.text}: {problem.line}"
    except ValueError as problem:
        return f", for instance {candidate.combination.text}: {problem}"
    return ""


def _shown(rows: Rows, first: int | None = None) -> list[int]:
    """Return the compromises to show, the recommended first; first: its row, None: the best."""
    best = min(range(len(rows)), key=lambda row: rows.keys[row]) if first is None else first
    values = objectives(rows.margins)
    kept = rows.unbeaten
    passing = np.array([row for row in kept if not rows.ranks[row].failed], dtype=int)
    return told_apart(values, passing if len(passing) else kept, best, MOST_SHOWN)


def _done_after(case: Case, refined: Refined, heat: OwnHeat, complete: bool) -> list[str]:
    """Say what was done after the search: lengths tried, and whose heat was found again."""
    told = []
    bounds = case.bounds
    if bounds is not None and bounds.protrusion is not None:
        words = ", ".join(as_text(each, "length", case.units, 3) for each in protrusions(bounds))
        more = ", ".join(as_text(each, "length", case.units, 3) for each in refined.lengths)
        after = f", then {more} round the best" if more else "" if complete else ", no more: the search was stopped"
        told.append(f"protrusion was tried at {words}{after}")
    if heat.resolved:
        told.append(
            f"the search took the heat of each combination's first setting; for the {len(heat.resolved)} setups shown it was "
            f"solved again with their own, which moved a margin by at most {heat.largest:.3f}"
            + ("" if heat.settled else "; some that came to be shown late were left as they were")
        )
    return told


def _odds(case: Case, result: SetupResult, samples: int) -> tuple[SetupOdds | None, str]:
    """Return the odds of the recommended setup, and why there are none or how to get more of them."""
    if case.spread is None:
        return None, "no [spread] in the case: `studwell odds` needs one to tell how likely each failure is"
    if not samples:
        return None, f'paste the setup into the case file and run `studwell odds` for how likely "{result.name}" fails'
    assert case.bounds is not None
    starts = (case.bounds.make(case.bounds.setup, {}, False), *case.setups)
    keys = spread_keys(replace(case, setups=(result.setup, *case.setups)))
    spread, moved = carried(case.spread, keys, starts, result.setup)
    alone = replace(case, setups=(result.setup,), bounds=None, spread=spread)
    try:
        with tempfile.TemporaryDirectory() as folder:
            found = odds_of(
                alone, samples, lambda name: Path(folder) / f"{len(name)}.rows", seed=ODDS_SEED, workers=1, check=0,
                sensitivity=False,
            )  # fmt: skip
    except BadCase as problem:  # the recommended value may lie where the case's spread cannot
        return None, f"no odds: {problem.line}"
    if not found.setups:
        return None, f"no odds: {found.failed[0][1]}"
    with_it = f", for which move what [spread] states of {' and '.join(moved)} too" if moved else ""
    return found.setups[0], f"{samples} samples; `studwell odds` with the pasted setup tells what rules them{with_it}"


def free_name(case: Case) -> str:
    """Return NAME, with a number if the case has a setup of that name."""
    taken = {setup.name for setup in case.setups}
    names = (NAME, *(f"{NAME} {number}" for number in range(2, len(taken) + 3)))
    return next(name for name in names if name not in taken)


def _solved_in_full(case: Case, rows: Rows, wanted: int, refinement: float) -> tuple[int, SetupResult]:
    """Return the row that is wanted with its full solution, else the best that has one and that no other row beats.

    raises NotConverged : none of the first few has one
    """
    problem: Exception | None = None
    others = sorted((int(row) for row in rows.unbeaten if row != wanted), key=lambda row: rows.keys[row])
    for row in [wanted, *others][:MOST_TRIED]:
        candidate, at = rows.where(row)
        try:
            return row, solve_setup(candidate.setup(at, free_name(case)), refinement=refinement)
        except (StudwellError, ValueError) as error:
            problem = error
    raise NotConverged(None, f"none of the best {MOST_TRIED} setups has a solution on the full mesh: {problem}")


def _springs_and_nut(rows: Rows, best: int) -> list[str]:
    """Say how the recommended setup's springs lie where that was chosen, and warn of a stud that ends inside its nut."""
    told = []
    candidate, at = rows.where(best)
    setup = candidate.setup(at)
    chosen = candidate.combination.washer
    if chosen is not None and any(spring.orientation == "crown down" for spring in setup.springs):
        told.append(
            "its lowest spring lies crown down, so that the small ends of the group face washer and nut, which hold them"
        )
    beyond = rows.beyond_nut(best)
    if beyond < 0.0:
        inside = as_text(-beyond, "length", candidate.system, 2)
        told.append(
            f"warning: with the washers free its stud ends {inside} ({pitches_text(-beyond / setup.stud.nut_thread.pitch)}) "
            "inside the nut, whose last threads are empty, and nothing ranks before it that fills its nut: take a longer stud "
            "or fewer washers, or open [bounds] protrusion"
        )
    return told
