"""Review the back-off rule, and its result."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.table import Table
from threadpoolctl import threadpool_limits

from studwell.api.drawing import in_system, known_name, on_axes, without_letter
from studwell.api.opening import CaseOrPath, mesh_density, opened
from studwell.errors import Unknown
from studwell.review.run import Review
from studwell.review.run import review as study_backoff
from studwell.store.records import Record, review_records, write_records

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, repr=False)
class BackoffResult:
    """The review of the back-off rule in a case. record: the plain record with everything."""

    record: Review

    @property
    def verdict(self) -> str:
        """The verdict in plain words."""
        return self.record.verdict.text

    @property
    def rows(self) -> tuple[Any, ...]:
        """The histories of the sweep, one record each."""
        return self.record.rows

    def tables(self, units: str | None = None) -> tuple[Table, ...]:
        """Return the tables of the screen. units: "metric" or "inch", None: the case's."""
        from studwell.show.review_content import screen_tables

        return screen_tables(replace(self.record, case=in_system(self.record.case, units)))

    def plot_sweep(self, quantity: str = "margin", *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw what turning back does, one line a seating torque: the largest "margin" of the boss, or "tip_force" in use.

        ax : axes to draw on, None: a new pyplot figure; nothing is resized or saved
        units : "metric" or "inch", None: the case's own
        raises UnknownName : another quantity;  Unknown : the sweep has no row with it
        """
        from studwell.show import review_sheet

        field, plot = {"margin": ("worst", review_sheet.plot_margins), "tip_force": ("tip_run", review_sheet.plot_tip_force)}[
            known_name("quantity", quantity, ("margin", "tip_force"))
        ]  # fmt: skip
        rows = [row for row in self.record.rows if row.family == "torque"]
        if all(getattr(row, field) is None for row in rows):
            raise Unknown("; ".join(dict.fromkeys(row.reason for row in rows if row.reason)) or "the sweep was stopped")
        return self._drawn(plot, ax, units)

    def plot_shares(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw each mechanism's shares of what governs, thread load or floor stress, at the telling instants: of what turning
        back relieves (solid) and of what is added to the driven stud (outline).

        raises Unknown : the mechanisms were not taken apart
        """
        from studwell.show.review_sheet import plot_shares

        if not self.record.apart:
            raise Unknown("the mechanisms were not taken apart: the review was stopped before")
        return self._drawn(plot_shares, ax, units)

    def plot_need(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw what the smallest back-off is made of beside what the rule gives. Raises Unknown: no need is known."""
        from studwell.show.review_sheet import plot_budget

        if self.record.need is None:
            raise Unknown("the smallest back-off is not known: the review was stopped before")
        return self._drawn(plot_budget, ax, units)

    def plot_flips(self, along: str = "floor thickness", *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the margins driven and turned back along a quantity, with the values at which the word changes.

        along : "floor thickness" or "seating torque";  raises UnknownName;  Unknown : it was not solved
        """
        from studwell.show.review_sheet import plot_flips

        known_name("quantity", along, ("floor thickness", "seating torque"))
        if along not in [each.quantity for each in self.record.flips]:
            raise Unknown(f"where the verdict changes along the {along} was not solved")
        return self._drawn(lambda review, place: plot_flips(review, along, place), ax, units)

    def plot_verdict_sheet(self, *, units: str | None = None) -> Figure:
        """Return the whole review as one matplotlib Figure of six axes, sized for a page."""
        from studwell.show import theme
        from studwell.show.review_sheet import review_sheet

        with theme.drawing():
            return review_sheet(replace(self.record, case=in_system(self.record.case, units))).figure

    def _drawn(self, plot: Callable[[Review, Axes], Any], ax: Axes | None, units: str | None) -> Axes:
        shown = replace(self.record, case=in_system(self.record.case, units))
        with on_axes(ax) as place:
            plot(shown, place)
            without_letter(place)
            return place

    def records(self) -> list[Record]:
        """Return tidy rows, one a history of the sweep, units in the names; unknown is None, with a reason."""
        return review_records(self.record)

    def write_records(self, path: str | os.PathLike[str]) -> Path:
        """Write `records()` to a .csv file, or .parquet with pyarrow. Raises CannotWrite."""
        return write_records(self.records(), Path(path))

    def __repr__(self) -> str:
        found = self.record
        told = f"{found.verdict.code}, confidence {found.verdict.confidence}"
        return f"<BackoffResult {found.case.title!r}, {found.setup.name!r}: {told}; {len(found.rows)} histories in the sweep>"

    def _repr_html_(self) -> str:
        from studwell.show.notebook import review_html

        return review_html(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.store.review_record import review_record

        return review_record(self.record)

    def write(
        self, directory: str | os.PathLike[str], *, json_file: Path | None = None, units: str | None = None
    ) -> Path:
        """Write summary.json, sweep.csv, the figure, report.html and run.json into a directory. Raises CannotWrite.

        units : "metric" or "inch" of the figure and, at first, the report; None: the case's
        """
        from studwell.show.review_page import write_review

        with threadpool_limits(limits=1):
            return write_review(
                self.record, Path(directory), json_file=json_file, units=in_system(self.record.case, units).units
            )


def backoff(
    case: CaseOrPath,
    *,
    refinement: float = 1.0,
    progress: Callable[[str, int, int], None] | None = None,
) -> BackoffResult:
    """Review the rule of turning a stud back from the bottom, in a case's first setup.

    progress : called with the part of the review, steps done, steps in all
    raises BadCase : the case cannot be used, or states no seating torque;  StudwellError : its first setup has no solution,
    or refinement not from 0.3 to 4
    """
    density, known = mesh_density(refinement), opened(case)
    with threadpool_limits(limits=1):
        return BackoffResult(study_backoff(known, refinement=density, progress=progress))
