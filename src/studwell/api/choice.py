"""Choose within [bounds], and what that leaves."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.table import Table
from threadpoolctl import threadpool_limits

from studwell.api.drawing import on_axes
from studwell.api.opening import CaseOrPath, mesh_density, opened
from studwell.api.setup_view import SetupView
from studwell.choose.study import ODDS_SAMPLES, Choice
from studwell.choose.study import choose as study_choice
from studwell.runs import Pace
from studwell.store.records import Record, choice_records, write_records
from studwell.store.summary import libraries

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, repr=False)
class ChoiceResult:
    """What choosing left: `recommended` is the solved setup, `table()` the compromises, `case_text` the setup to paste."""

    record: Choice

    @property
    def recommended(self) -> SetupView:
        """The recommended setup, solved in full."""
        return SetupView(self.record.result, self.record.comparison.case)

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

    def plot_compromises(self, *, ax: Axes | None = None) -> Axes:
        """Draw the trade between keeping the clamp and sparing the parts, a point a solved setup; margins, without unit.

        ax : axes to draw on, None: a new pyplot figure; nothing is resized or saved
        """
        from studwell.show.choice import plot_choice

        with on_axes(ax) as place:
            return plot_choice(self.record, ax=place)

    def records(self) -> list[Record]:
        """Return tidy rows, one a solved setup of the search, on its coarse mesh; units in the names.

        A margin is inf without bound, None where it is unknown (then in unknown_margins) or there is no such part.
        """
        return choice_records(self.record)

    def write_records(self, path: str | os.PathLike[str]) -> Path:
        """Write `records()` to a .csv file, or .parquet with pyarrow. Raises CannotWrite."""
        return write_records(self.records(), Path(path))

    def __repr__(self) -> str:
        found = self.record
        return (
            f"<ChoiceResult {found.case.title!r}: {found.name!r} of {len(found.rows)} solved setups, "
            f"{len(found.front)} beaten by none>"
        )

    def _repr_html_(self) -> str:
        from studwell.show.notebook import choice_html

        return choice_html(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.store.choice_record import choice_record

        return choice_record(self.record)

    def write(self, directory: str | os.PathLike[str], *, json_file: Path | None = None) -> Path:
        """Write summary.json, compromises.csv, recommended.toml, the figure and run.json. Raises CannotWrite."""
        from studwell.show.choice import write_choice

        return write_choice(self.record, Path(directory), json_file)


def choose(
    case: CaseOrPath,
    *,
    refinement: float = 1.0,
    ledger: Path | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    resume: bool = False,
    odds_samples: int = ODDS_SAMPLES,
    progress: Callable[[str, Pace], None] | None = None,
) -> ChoiceResult:
    """Choose torque, turns and parts within a case's [bounds]; the recommended setup is solved in full.

    refinement : mesh density of the recommended setup's solution, 0.3 to 4
    ledger     : file that keeps the search, so that `resume` can take it up; None: none is left
    workers    : processes on this machine; scheduler: address of a dask.distributed scheduler that does it instead
    odds_samples : samples of its odds where the case has [spread]; 0: odds have no part in the choice
    progress   : called with the part of the work and its pace
    raises BadCase : no [bounds], or nothing in them goes together;  NotConverged : nothing in them has a solution
    raises StudwellError : refinement out of range
    """
    density, known = mesh_density(refinement), opened(case)
    with threadpool_limits(limits=1):
        return ChoiceResult(
            study_choice(
                known,
                versions=libraries(),
                refinement=density,
                ledger=ledger,
                workers=workers,
                scheduler=scheduler,
                resume=resume,
                odds_samples=odds_samples,
                progress=progress,
            )
        )
