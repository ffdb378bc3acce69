"""Compare setups: the main job, and its result."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from rich.table import Table
from threadpoolctl import threadpool_limits

from studwell.api.comparison_figures import ComparisonFigures
from studwell.api.drawing import in_system, known_name, solved
from studwell.api.opening import CaseOrPath, mesh_density, opened
from studwell.api.setup_view import SetupView
from studwell.case import Case
from studwell.store.records import Record, comparison_records, write_records
from studwell.store.summary import summary
from studwell.study import compare as study
from studwell.study.findings import Finding, findings
from studwell.study.results import Comparison


@dataclass(frozen=True, repr=False)
class ComparisonResult(ComparisonFigures):
    """A comparison, ranked best first. result["NAME"] is one setup; record the plain record."""

    record: Comparison

    def __getitem__(self, name: str) -> SetupView:
        """Return a solved setup. Raises UnknownName (a KeyError); Unknown: it could not be solved, and why."""
        return SetupView(solved(self.record, name), self.record.case)

    @property
    def setups(self) -> tuple[SetupView, ...]:
        """Solved setups, best first."""
        return tuple(SetupView(result, self.record.case) for result in self.record.results)

    @property
    def failed(self) -> dict[str, str]:
        """Setups that could not be solved, with the reason."""
        return {item.name: item.reason for item in self.record.failed}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Plain-language findings."""
        return self.told()

    def told(self, units: str | None = None) -> tuple[Finding, ...]:
        """Return the findings in "metric" or "inch" units, each number from its unrounded value; None: the case's."""
        return findings(replace(self.record, case=in_system(self.record.case, units)))

    def table(self, units: str | None = None) -> Table:
        """Return the ranked table; print it with rich. units: "metric" or "inch", None: the case's."""
        from studwell.show.table import comparison_table

        return comparison_table(replace(self.record, case=in_system(self.record.case, units)))

    def records(self) -> list[Record]:
        """Return tidy rows, one a setup, best first, units in the names; see `studwell.store.records`.

        A margin is inf without bound, None where it is unknown (then in unknown_margins) or there is no such part.
        """
        return comparison_records(self.record)

    def write_records(self, path: str | os.PathLike[str]) -> Path:
        """Write `records()` to a .csv file, or .parquet with pyarrow. Raises CannotWrite."""
        return write_records(self.records(), Path(path))

    def __repr__(self) -> str:
        lines = [f"<ComparisonResult {self.record.case.title!r}: {len(self.record.results)} setups, best first"]
        lines += [f"  {rank}. {view!r}" for rank, view in enumerate(self.setups, start=1)]
        lines += [f"  -. {failed.name!r}: not solved" for failed in self.record.failed]
        return "\n".join(lines) + ">"

    def _repr_html_(self) -> str:
        from studwell.show.notebook import comparison_html

        return comparison_html(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        return summary(self.record)

    def write(
        self,
        directory: str | os.PathLike[str],
        *,
        json_file: Path | None = None,
        fields: str = "moments",
        revolved: bool = False,
        units: str | None = None,
    ) -> Path:
        """Write summary.json, run.json, history.csv, figures, VTU series and report.html into a directory.

        json_file : another place for summary.json
        fields    : "moments" states a setup, "all" steps, or "none"
        revolved  : also the named moments on the section revolved to 3-D
        units     : "metric" or "inch" of figures and, at first, the report; None: the case's
        raises CannotWrite
        """
        from studwell.show.results import write_comparison

        with threadpool_limits(limits=1):
            return write_comparison(
                self.record,
                Path(directory),
                json_file=json_file,
                fields=fields,
                revolved=revolved,
                units=in_system(self.record.case, units).units,
            )


def compare(
    case: CaseOrPath,
    *,
    refinement: float = 1.0,
    band: bool = True,
    progress: Callable[[str, int, int], None] | None = None,
) -> ComparisonResult:
    """Compare every setup of a case through its whole history.

    case       : Case, or the path of a case file
    refinement : mesh density, 0.3 to 4, 1 = standard
    band       : also solve with the other thread model, for the model band
    progress   : called with setup name, steps done, steps in all
    raises BadCase : the case file cannot be used;  StudwellError : refinement out of range
    """
    density, known = mesh_density(refinement), opened(case)
    with threadpool_limits(limits=1):
        return ComparisonResult(study.compare(known, refinement=density, band=band, progress=progress))


def solve(
    case: CaseOrPath,
    setup: str,
    *,
    refinement: float = 1.0,
    band: bool = True,
    progress: Callable[[str, int, int], None] | None = None,
) -> ComparisonResult:
    """Solve one setup of a case; the result holds that setup alone. Arguments as in `compare`.

    raises UnknownName (a KeyError) : no such setup; BadCase as compare
    """
    known = opened(case)
    chosen = known.setup(known_name("setup", setup, [item.name for item in known.setups]))
    alone = Case(known.file, known.title, known.notes, known.units, (chosen,))
    return compare(alone, refinement=refinement, band=band, progress=progress)
