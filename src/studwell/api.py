"""The public face: one call a study, results dressed with units and tables."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from rich.table import Table
from threadpoolctl import threadpool_limits

from studwell import units
from studwell.case import Case, read_case, starter_case
from studwell.case.records import Setup
from studwell.choose.study import ODDS_SAMPLES, Choice
from studwell.choose.study import choose as study_choice
from studwell.joint.build import BuiltJoint
from studwell.odds.study import Odds, SetupOdds
from studwell.odds.study import odds as study_odds
from studwell.review.run import Review
from studwell.review.run import review as study_backoff
from studwell.runs import Pace
from studwell.store.summary import libraries, slug, summary
from studwell.study import compare as study
from studwell.study.findings import Finding, findings
from studwell.study.mesh_study import MeshStudy
from studwell.study.mesh_study import mesh_study as study_meshes
from studwell.study.results import Comparison, SetupResult

__all__ = [
    "BackoffResult",
    "ChoiceResult",
    "ComparisonResult",
    "SetupView",
    "backoff",
    "choose",
    "compare",
    "odds",
    "read_case",
    "solve",
    "starter_case",
]

KIND_OF_UNIT = {"N": "force", "mm": "length", "MPa": "pressure", "": "share"}


@dataclass(frozen=True)
class SetupView:
    """One solved setup; outcomes are attributes that are pint quantities: view.clamp_max, view.tip_force_max ...

    An outcome that the model cannot know is None; `why(name)` tells why. record: the plain record with everything.
    """

    record: SetupResult = field(repr=False)

    @property
    def name(self) -> str:
        """The setup's name."""
        return self.record.name

    @property
    def margins(self) -> dict[str, float | None]:
        """Margins by mode: load over capacity, inf if unbounded, None if unknown or not there."""
        return {mode: margin.value for mode, margin in self.record.verdict.margins.items()}

    @property
    def safe(self) -> bool | None:
        """True, False, or None when no known damage margin fails but one is unknown."""
        return self.record.verdict.safe

    @property
    def governing(self) -> str | None:
        """The mode of the largest known damage margin."""
        return self.record.verdict.governing

    def why(self, name: str) -> str:
        """Return why an outcome or margin is unknown, or how it was found."""
        if name in self.record.outcomes:
            outcome = self.record.outcomes[name]
            return outcome.reason or outcome.when
        margin = self.record.verdict.margins[name]
        return "; ".join(text for text in (margin.method, margin.reason) if text)

    def __getattr__(self, name: str) -> Any:
        outcomes = object.__getattribute__(self, "record").outcomes
        if name in outcomes:
            outcome = outcomes[name]
            return None if outcome.value is None else units.quantity(outcome.value, KIND_OF_UNIT[outcome.unit])
        raise AttributeError(f"no outcome {name!r}; outcomes: {', '.join(outcomes)}")


@dataclass(frozen=True)
class ComparisonResult:
    """A comparison, ranked best first. result["NAME"] is one setup; record the plain record."""

    record: Comparison = field(repr=False)

    def __getitem__(self, name: str) -> SetupView:
        return SetupView(self.record[name])

    @property
    def setups(self) -> tuple[SetupView, ...]:
        """Solved setups, best first."""
        return tuple(SetupView(result) for result in self.record.results)

    @property
    def failed(self) -> dict[str, str]:
        """Setups that could not be solved, with the reason."""
        return {item.name: item.reason for item in self.record.failed}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Plain-language findings."""
        return findings(self.record)

    def table(self) -> Table:
        """Return the ranked table; print it with rich, or let a notebook show it."""
        from studwell.show.table import comparison_table

        return comparison_table(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        return summary(self.record)

    def write(self, directory: str | os.PathLike[str], *, json_file: Path | None = None, fields: str = "five") -> Path:
        """Write summary.json, run.json, history.csv, figures, VTU series and report.html into a directory.

        json_file : another place for summary.json
        fields    : "five" states a setup, "all" steps, or "none"
        raises CannotWrite
        """
        from studwell.show.results import write_comparison

        with threadpool_limits(limits=1):
            return write_comparison(self.record, Path(directory), json_file=json_file, fields=fields)


def compare(
    case: Case | str | os.PathLike[str],
    *,
    refinement: float = 1.0,
    band: bool = True,
    progress: Callable[[str, int, int], None] | None = None,
) -> ComparisonResult:
    """Compare every setup of a case through its whole history.

    case       : Case, or the path of a case file
    refinement : mesh density, 1 = standard
    band       : also solve with the other thread model, for the model band
    progress   : called with setup name, steps done, steps in all
    raises BadCase : the case file cannot be used
    """
    known = case if isinstance(case, Case) else read_case(Path(case))
    with threadpool_limits(limits=1):
        return ComparisonResult(study.compare(known, refinement=refinement, band=band, progress=progress))


def solve(
    case: Case | str | os.PathLike[str],
    setup: str,
    *,
    refinement: float = 1.0,
    progress: Callable[[str, int, int], None] | None = None,
) -> ComparisonResult:
    """Solve one setup of a case; the result holds that setup alone.

    raises KeyError : no such setup; BadCase as compare
    """
    known = case if isinstance(case, Case) else read_case(Path(case))
    chosen = known.setup(setup)
    alone = Case(known.file, known.title, known.notes, known.units, (chosen,))
    return compare(alone, refinement=refinement, progress=progress)


def section(setup: Setup, *, refinement: float = 1.0) -> BuiltJoint:
    """Return a setup's section: layout, bodies with their meshes, and the joint condensed from them.

    raises Unknown, BadMesh, ValueError : dimensions that the model does not hold
    """
    with threadpool_limits(limits=1):
        return study.built_joint(setup, refinement=refinement)


def mesh_study(setup: Setup, *, progress: Callable[[int], None] | None = None) -> MeshStudy:
    """Return each outcome of a setup over three meshes."""
    with threadpool_limits(limits=1):
        return study_meshes(setup, progress=progress)


@dataclass(frozen=True)
class ChoiceResult:
    """What choosing left: `recommended` is the solved setup, `table()` the compromises, `case_text` the setup to paste."""

    record: Choice = field(repr=False)

    @property
    def recommended(self) -> SetupView:
        """The recommended setup, solved in full."""
        return SetupView(self.record.result)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it is recommended."""
        return self.record.reasons

    @property
    def case_text(self) -> str:
        """The recommended setup as a table of the case file."""
        from studwell.store.choice_record import setup_text

        return setup_text(self.record.name, self.record.overrides)

    def table(self) -> Table:
        """Return the table of compromises, the recommended one first."""
        from studwell.show.choice import choice_table

        return choice_table(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.store.choice_record import choice_record

        return choice_record(self.record)

    def write(self, directory: str | os.PathLike[str], *, json_file: Path | None = None) -> Path:
        """Write summary.json, compromises.csv, recommended.toml, the figure and run.json. Raises CannotWrite."""
        from studwell.show.choice import write_choice

        return write_choice(self.record, Path(directory), json_file)


def choose(
    case: Case | str | os.PathLike[str],
    *,
    refinement: float = 1.0,
    ledger: Path | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    resume: bool = False,
    odds_samples: int = ODDS_SAMPLES,
    progress: Callable[[Pace], None] | None = None,
) -> ChoiceResult:
    """Choose torque, turns and parts within a case's [bounds]; the recommended setup is solved in full.

    refinement : mesh density of the recommended setup's solution
    ledger     : file that keeps the search, so that `resume` can take it up; None: none is left
    workers    : processes on this machine; scheduler: address of a dask.distributed scheduler that does it instead
    odds_samples : samples of its odds where the case has [spread]
    raises BadCase : no [bounds], or nothing in them goes together;  NotConverged : nothing in them has a solution
    """
    known = case if isinstance(case, Case) else read_case(Path(case))
    with threadpool_limits(limits=1):
        return ChoiceResult(
            study_choice(
                known,
                versions=libraries(),
                refinement=refinement,
                ledger=ledger,
                workers=workers,
                scheduler=scheduler,
                resume=resume,
                odds_samples=odds_samples,
                progress=progress,
            )
        )


@dataclass(frozen=True)
class BackoffResult:
    """The review of the back-off rule in a case. record: the plain record with everything."""

    record: Review = field(repr=False)

    @property
    def verdict(self) -> str:
        """The verdict in plain words."""
        return self.record.verdict.text

    @property
    def rows(self) -> tuple[Any, ...]:
        """The histories of the sweep, one record each."""
        return self.record.rows

    def tables(self) -> tuple[Table, ...]:
        """Return the tables of the screen."""
        from studwell.show.review_content import screen_tables

        return screen_tables(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.store.review_record import review_record

        return review_record(self.record)

    def write(self, directory: str | os.PathLike[str], *, json_file: Path | None = None) -> Path:
        """Write summary.json, sweep.csv, the figure, review.html and run.json into a directory. Raises CannotWrite."""
        from studwell.show.review_page import write_review

        with threadpool_limits(limits=1):
            return write_review(self.record, Path(directory), json_file=json_file)


def backoff(
    case: Case | str | os.PathLike[str],
    *,
    refinement: float = 1.0,
    progress: Callable[[str, int, int], None] | None = None,
) -> BackoffResult:
    """Review the rule of turning a stud back from the bottom, in a case's first setup.

    progress : called with the part of the review, steps done, steps in all
    raises BadCase : the case cannot be used, or states no seating torque;  StudwellError : its first setup has no solution
    """
    known = case if isinstance(case, Case) else read_case(Path(case))
    with threadpool_limits(limits=1):
        return BackoffResult(study_backoff(known, refinement=refinement, progress=progress))


@dataclass(frozen=True)
class OddsResult:
    """The odds of a case. result["NAME"] is one setup; record the plain record."""

    record: Odds = field(repr=False)

    def __getitem__(self, name: str) -> SetupOdds:
        for item in self.record.setups:
            if item.setup.name == name:
                return item
        raise KeyError(name)

    def probability(self, setup: str, mode: str) -> float | None:
        """Return the probability that a setup fails by a mode; None if it is not known or has no part."""
        found = self[setup].probabilities.get(mode)
        return None if found is None else found.value

    def table(self) -> Table:
        """Return the table of modes that fail in some sample."""
        from studwell.show.odds import odds_table

        return odds_table(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.store.odds_record import odds_record

        return odds_record(self.record)

    def write(self, directory: str | os.PathLike[str], *, json_file: Path | None = None) -> Path:
        """Write summary.json, samples, figures and run.json into a directory. Raises CannotWrite."""
        from studwell.show.odds import write_odds

        with threadpool_limits(limits=1):
            return write_odds(self.record, Path(directory), json_file=json_file)


def odds(
    case: Case | str | os.PathLike[str],
    samples: int,
    *,
    folder: str | os.PathLike[str],
    seed: int = 1,
    resume: bool = False,
    workers: int | None = None,
    scheduler: str | None = None,
    setup: str | None = None,
    check: int = 200,
    want: tuple[tuple[str, float], ...] = (),
    sensitivity: bool = True,
    refinement: float = 1.0,
    progress: Callable[[str, Pace], None] | None = None,
) -> OddsResult:
    """Sample what a case spreads: the probability of each failure mode, with what rules it.

    samples : of each setup;  folder: keeps every row that is done, so that `resume` can take it up
    seed    : of all draws;  setup: this one alone;  check: samples solved again with every step of the history
    want    : (mode, probability) pairs that the levers torque and back-off should reach
    raises BadCase : no [spread], or it cannot be used;  KeyError : no such setup
    """
    known = case if isinstance(case, Case) else read_case(Path(case))
    if setup is not None:
        known = replace(known, setups=(known.setup(setup),))
    place = Path(folder)
    with threadpool_limits(limits=1):
        return OddsResult(
            study_odds(
                known,
                samples,
                lambda name: place / f"{slug(name)}.rows",
                seed=seed,
                resume=resume,
                workers=workers,
                scheduler=scheduler,
                check=check,
                want=want,
                sensitivity=sensitivity,
                refinement=refinement,
                progress=progress,
            )
        )
