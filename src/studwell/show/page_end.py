"""What every report ends with: what it takes for granted, what was given, where its data come from, care, how it was made."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from studwell.show.assumptions import assumptions
from studwell.show.both_units import BothUnits, OfCase, in_units
from studwell.show.heat_content import Rows
from studwell.show.page_content import CAUTIONS, FIRST_PLACE, MESH_ERROR, source_tables
from studwell.show.page_inputs import given_tables, input_rows

END_PARTS = (
    ("assumed", "What it takes for granted"),
    ("given", "What was given"),
    ("rests-on", "Where its data come from"),
    ("care", "Care at the bench"),
    ("trust", "How far to trust it"),
)
"""(id, head) of the sections."""


@dataclass(frozen=True)
class Source:
    """A table of sources, its name, how many rows are confirmed, computed, from memory, and whether some is not known."""

    name: str
    counted: str
    table: Rows


@dataclass(frozen=True)
class PageEnd:
    """The end of a report, written in both units.

    own : tables of what was given that this kind of report alone has; inputs : (name, ((setups, value), ...)) rows
    """

    assumed: tuple[Markup, ...]
    own: tuple[Rows, ...]
    inputs: Any
    given: tuple[Rows, ...]
    sources: tuple[Source, ...]
    made: tuple[tuple[str, str], ...]
    mesh_error: str = MESH_ERROR
    cautions: tuple[str, ...] = CAUTIONS
    first_place: str = FIRST_PLACE


def page_end(result: OfCase, both: BothUnits, made: Sequence[tuple[str, str]], own: Sequence[Rows] = ()) -> PageEnd:
    """Return the end of a report on the setups of a result's case. made : (what, value) of the run; own : as in PageEnd."""
    return PageEnd(
        assumed=tuple(both.text(line) for line in assumptions(result.case.setups)),
        own=tuple(own),
        inputs=both.made(lambda units: input_rows(in_units(result, units))),
        given=both.made(lambda units: given_tables(in_units(result, units))),
        sources=both.made(lambda units: tuple(_source(table) for table in source_tables(in_units(result, units)))),
        made=tuple(made),
    )


def _source(table: Rows) -> Source:
    counts = Counter(str(row[table.heads.index("Status")]) for row in table.rows)
    missing = "; some not known" if counts.pop("unknown", 0) else ""
    return Source(table.caption, ", ".join(f"{n} {status}" for status, n in sorted(counts.items())) + missing, table)
