"""The odds of a case, and their result."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.table import Table
from threadpoolctl import threadpool_limits

from studwell.api.drawing import in_system, known_name, on_axes
from studwell.api.opening import CaseOrPath, mesh_density, opened
from studwell.errors import Unknown
from studwell.odds.study import Odds, SetupOdds
from studwell.odds.study import odds as study_odds
from studwell.runs import Pace
from studwell.store.records import Record, probability_records, sample_records, sensitivity_records, write_records
from studwell.store.summary import slug

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, repr=False)
class OddsResult:
    """The odds of a case. result["NAME"] is one setup; record the plain record."""

    record: Odds

    def __getitem__(self, name: str) -> SetupOdds:
        """Return one setup's plain record. Raises UnknownName (a KeyError); Unknown: it was not sampled, and why."""
        for failed, reason in self.record.failed:
            if failed == name:
                raise Unknown(f"{name}: the setup was not sampled: {reason}")
        names = [item.setup.name for item in self.record.setups]
        return self.record.setups[names.index(known_name("sampled setup", name, names))]

    def probability(self, setup: str, mode: str) -> float | None:
        """Return the probability that a setup fails by a mode; None if it is not known or has no part."""
        found = self[setup].probabilities.get(mode)
        return None if found is None else found.value

    def table(self) -> Table:
        """Return the table of modes that fail in some sample."""
        from studwell.show.odds import odds_table

        return odds_table(self.record)

    def plot_probabilities(self, setup: str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw the probability of each failure mode of one setup with its 95 % interval, on a logarithmic axis.

        setup : None: the first;  ax : axes to draw on, None: a new pyplot figure; nothing is resized or saved
        raises UnknownName;  Unknown : nothing is sampled
        """
        from studwell.show.odds import plot_probabilities

        item = self._item(setup)
        with on_axes(ax) as place:
            plot_probabilities(item, ax=place)
            place.set_title(item.setup.name)
            return place

    def plot_largest_margin(self, setup: str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw how the largest damage margin of one setup is distributed over the samples, with its limit."""
        from studwell.show.odds import plot_largest_margin

        item = self._item(setup)
        with on_axes(ax) as place:
            plot_largest_margin(item, ax=place)
            place.set_title(item.setup.name)
            return place

    def plot_sensitivities(self, setup: str | None = None, mode: str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw what rules a mode of one setup: first-order and total shares of the variance of its margin.

        mode : None: the one that governs most samples;  raises UnknownName;  Unknown : no sensitivities were found
        """
        from studwell.show.odds import plot_sensitivity

        item = self._item(setup)
        if item.indices is None:
            raise Unknown(
                f"{item.setup.name}: no sensitivities: they were not asked for, or the run was stopped before"
            )
        chosen = item.governing if mode is None else mode
        if chosen is None:
            raise Unknown(f"{item.setup.name}: no mode governs a sample, so that nothing rules it")
        known_name("mode with sensitivities", chosen, item.quantities)
        with on_axes(ax) as place:
            plot_sensitivity(item, chosen, ax=place)
            place.set_title(item.setup.name)
            return place

    def _item(self, setup: str | None) -> SetupOdds:
        if setup is not None:
            return self[setup]
        if not self.record.setups:
            raise Unknown("no setup was sampled: " + "; ".join(reason for _, reason in self.record.failed))
        return self.record.setups[0]

    def records(self, of: str = "probabilities") -> list[Record]:
        """Return tidy rows: one a setup and mode ("probabilities"), a setup, quantity and group of inputs
        ("sensitivities"), or a sample ("samples"); units in the names. Raises UnknownName.
        """
        known_name("kind of rows", of, ("probabilities", "sensitivities", "samples"))
        if of == "samples":
            return [record for item in self.record.setups for record in sample_records(item, self.record.case)]
        return (probability_records if of == "probabilities" else sensitivity_records)(self.record)

    def write_records(self, path: str | os.PathLike[str], of: str = "probabilities") -> Path:
        """Write `records(of)` to a .csv file, or .parquet with pyarrow. Raises CannotWrite."""
        return write_records(self.records(of), Path(path))

    def __repr__(self) -> str:
        lines = [
            f"<OddsResult {self.record.case.title!r}: {self.record.samples} samples a setup, seed {self.record.seed}"
        ]
        lines += [
            f"  {item.setup.name!r}: some damage mode fails with probability {item.any_damage.value:.2g}"
            for item in self.record.setups
        ]
        lines += [f"  {name!r}: not sampled" for name, _ in self.record.failed]
        return "\n".join(lines) + ">"

    def _repr_html_(self) -> str:
        from studwell.show.notebook import odds_html

        return odds_html(self.record)

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.store.odds_record import odds_record

        return odds_record(self.record)

    def write(
        self, directory: str | os.PathLike[str], *, json_file: Path | None = None, units: str | None = None
    ) -> Path:
        """Write summary.json, report.html, samples, figures and run.json into a directory. Raises CannotWrite.

        units : "metric" or "inch", shown at first in the report; None: the case's
        """
        from studwell.show.odds import write_odds

        with threadpool_limits(limits=1):
            return write_odds(
                self.record, Path(directory), json_file=json_file, units=in_system(self.record.case, units).units
            )


def odds(
    case: CaseOrPath,
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
    raises BadCase : no [spread], or it cannot be used;  KeyError : no such setup;  StudwellError : refinement not from 0.3 to 4
    """
    density, known = mesh_density(refinement), opened(case)
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
                refinement=density,
                progress=progress,
            )
        )
