"""Figures as files, and the report of a comparison: one page that needs no other file and no network."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Protocol

from studwell.joint.build import BuiltJoint
from studwell.show import crack_content, glossary, heat_content, page_content, theme, workshop_content
from studwell.show.both_units import BothUnits, in_units, names_of
from studwell.show.figures import mesh_sheet, sheets_of
from studwell.show.heat_content import Rows
from studwell.show.page import page_text, shown_sheet
from studwell.show.page_end import END_PARTS, page_end
from studwell.show.sheet import Sheet
from studwell.store.writing import write_bytes, write_text
from studwell.study.results import Comparison, SetupResult


class Told(Protocol):
    """Anything that has a text to tell."""

    @property
    def text(self) -> str: ...


def write_report(
    path: Path,
    comparison: Comparison,
    findings: Sequence[Told],
    versions: Mapping[str, str],
    inputs_sha256: str,
    sheets: Sequence[Sheet] | None = None,
    film: tuple[str, str] | None = None,
) -> Path:
    """Write a comparison's report as one HTML file; same arguments, same bytes.

    findings      : what was found, each with a text
    versions      : program or library -> version
    inputs_sha256 : fingerprint of the case's values
    sheets        : figures of `sheets_of`, drawn already; None draws them
    film          : (setup, file) of the animation that lies beside the page, None without one
    raises CannotWrite : the file cannot be written
    """
    return write_text(Path(path), report_text(comparison, findings, versions, inputs_sha256, sheets, film))


def draw_figures(comparison: Comparison, directory: Path, sheets: Sequence[Sheet] | None = None) -> tuple[Path, ...]:
    """Write every figure of a comparison as PNG and SVG into a directory; returns the paths.

    raises CannotWrite : a file cannot be written
    """
    chosen = sheets_of(comparison) if sheets is None else sheets
    return tuple(path for sheet in chosen for path in _save(sheet, Path(directory)))


def draw_mesh(built: BuiltJoint, directory: Path, units: str = "metric") -> tuple[Path, ...]:
    """Write the drawing of one setup's mesh as PNG and SVG into a directory; returns the paths. Raises CannotWrite."""
    with theme.drawing():
        sheet = mesh_sheet(built, units)
    return _save(sheet, Path(directory))


def report_text(
    comparison: Comparison,
    findings: Sequence[Told],
    versions: Mapping[str, str],
    inputs_sha256: str,
    sheets: Sequence[Sheet] | None = None,
    film: tuple[str, str] | None = None,
) -> str:
    """Return the report's HTML; arguments as in `write_report`. Every name and text from a user is escaped."""
    case = comparison.case
    chosen = sheets_of(comparison) if sheets is None else sheets
    both = BothUnits(names_of(case), case.units)
    heat = both.made(lambda units: heat_content.heat_tables(in_units(comparison, units)))
    parts = {
        "verdict": "Verdict",
        "found": "What was found",
        "pictures": "Pictures",
        "heat": "Heat and settling" if heat else "",
        "each": "Each setup",
        "threads": "Threads and repair" if comparison.results else "",
        "cracks": "Cracks: four views" if comparison.results else "",
        **dict(END_PARTS),
    }
    return page_text(
        "report.html",
        case.units,
        parts=[(place, head) for place, head in parts.items() if head],
        case=case,
        headline=page_content.headline(comparison),
        ranked_heads=both.made(page_content.ranked_heads),
        ranked=both.made(lambda units: page_content.ranked_rows(in_units(comparison, units))),
        failed=[{"name": item.name, "reason": both.text(item.reason)} for item in comparison.failed],
        columns=glossary.COLUMNS,
        other_words=glossary.WORDS,
        mode_words=tuple(glossary.MODES.items()),
        findings=[both.text(finding.text, getattr(finding, "inch", None)) for finding in findings],
        setups=both.made(
            lambda units: [
                page_content.setup_rows(each, rank, units) for rank, each in enumerate(comparison.results, start=1)
            ]
        ),
        sheets=[shown_sheet(sheet, both) for sheet in chosen],
        heat=heat,
        threads=[(each.name, both.made(partial(_threads, each))) for each in comparison.results],
        cracks=[(each.name, both.made(partial(crack_content.crack_tables_of, each))) for each in comparison.results],
        film=film,
        end=page_end(comparison, both, page_content.made_rows(versions, inputs_sha256, comparison.refinement)),
    )


def _threads(result: SetupResult, units: str) -> tuple[Rows, Rows]:
    return workshop_content.thread_table(result, units), workshop_content.repair_table(result, units)


def _save(sheet: Sheet, directory: Path) -> tuple[Path, Path]:
    return (
        write_bytes(directory / f"{sheet.name}.png", sheet.png),
        write_text(directory / f"{sheet.name}.svg", sheet.svg),
    )
