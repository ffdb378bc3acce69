"""One solved setup, its outcomes as quantities with units."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Never

from threadpoolctl import threadpool_limits

from studwell import units
from studwell.api.drawing import known_name, state_of
from studwell.api.setup_figures import SetupFigures
from studwell.case import Case
from studwell.errors import UnknownName
from studwell.store.records import Record, history_records, write_records
from studwell.study.results import SetupResult

KIND_OF_UNIT = {"N": "force", "mm": "length", "MPa": "pressure", "": "share"}


class Margins(dict[str, float | None]):
    """Margins by mode; a mode that is not there is refused with those that are: UnknownName (a KeyError)."""

    def __missing__(self, mode: object) -> Never:
        raise UnknownName("mode", mode, self)


@dataclass(frozen=True, repr=False)
class SetupView(SetupFigures):
    """One solved setup; outcomes are attributes that are pint quantities: view.clamp_max, view.tip_force_max ...

    An outcome that the model cannot know is None; `why(name)` tells why. record: the plain record with everything.
    case : the case that it belongs to, for the units and colours of figures
    """

    record: SetupResult
    case: Case | None = field(default=None)

    @property
    def name(self) -> str:
        """The setup's name."""
        return self.record.name

    @property
    def margins(self) -> Margins:
        """Margins by mode: load over capacity, inf if unbounded, None if unknown or not there."""
        return Margins({mode: margin.value for mode, margin in self.record.verdict.margins.items()})

    @property
    def safe(self) -> bool | None:
        """True, False, or None when no known damage margin fails but one is unknown."""
        return self.record.verdict.safe

    @property
    def governing(self) -> str | None:
        """The mode of the largest known damage margin."""
        return self.record.verdict.governing

    def why(self, name: str) -> str:
        """Return why an outcome or margin is unknown, or how it was found. Raises UnknownName."""
        if name in self.record.outcomes:
            outcome = self.record.outcomes[name]
            return outcome.reason or outcome.when
        known_name("outcome or margin", name, (*self.record.outcomes, *self.record.verdict.margins))
        margin = self.record.verdict.margins[name]
        return "; ".join(text for text in (margin.method, margin.reason) if text)

    def records(self) -> list[Record]:
        """Return the history as tidy rows, one a state, units in the names: time_s, phase, clamp_N ...; as history.csv."""
        return history_records(self.record)

    def write_records(self, path: str | os.PathLike[str]) -> Path:
        """Write `records()` to a .csv file, or .parquet with pyarrow. Raises CannotWrite."""
        return write_records(self.records(), Path(path))

    def write_revolved(
        self,
        path: str | os.PathLike[str],
        moment: str | int = "worst",
        *,
        angle: float = 270.0,
        sectors: int | None = None,
    ) -> Path:
        """Write the fields of one moment on the section revolved to 3-D, as a VTU file for any VTK viewer.

        moment  : as for figures;  angle: degrees, up to 360
        sectors : equal parts of the angle; None: ten degrees each, wider ones where the file would grow too large
        raises CannotWrite;  StudwellError : angle or sectors out of range;  UnknownName, Unknown : no such moment
        """
        from studwell.store.revolved import write_revolved

        index = state_of(self.record, moment)
        with threadpool_limits(limits=1):
            return write_revolved(Path(path), self.record, index, angle=angle, sectors=sectors)

    def __repr__(self) -> str:
        from studwell.show.table import margin_text, verdict_word

        governing = self.governing
        told = "" if governing is None else f", {governing} {margin_text(self.record.verdict.margins[governing])}"
        return f"<SetupView {self.name!r}: {verdict_word(self.record)}{told}>"

    def _repr_html_(self) -> str:
        from studwell.show.notebook import setup_html

        return setup_html(self.record, "metric" if self.case is None else self.case.units)

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self.record.outcomes})

    def __getattr__(self, name: str) -> Any:
        outcomes = object.__getattribute__(self, "record").outcomes
        if name in outcomes:
            outcome = outcomes[name]
            return None if outcome.value is None else units.quantity(outcome.value, KIND_OF_UNIT[outcome.unit])
        raise AttributeError(f"no outcome {name!r}; outcomes: {', '.join(outcomes)}")
