"""The public face: one call a study, results dressed with units and tables."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rich.table import Table
from threadpoolctl import threadpool_limits

from studwell import units
from studwell.case import Case, read_case, starter_case
from studwell.case.records import Setup
from studwell.joint.build import BuiltJoint
from studwell.store.summary import summary
from studwell.study import compare as study
from studwell.study.findings import Finding, findings
from studwell.study.mesh_study import MeshStudy
from studwell.study.mesh_study import mesh_study as study_meshes
from studwell.study.results import Comparison, SetupResult

__all__ = ["ComparisonResult", "SetupView", "compare", "read_case", "solve", "starter_case"]

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
