"""Figures as files, and the report: one page that needs no other file and no network. Only this module owns pages."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Protocol

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from studwell.joint.build import BuiltJoint
from studwell.show import crack_content, heat_content, page_content, page_inputs, theme, workshop_content
from studwell.show.figures import mesh_sheet, sheets_of
from studwell.show.sheet import Sheet
from studwell.store.writing import write_bytes, write_text
from studwell.study.results import Comparison


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
    units = comparison.case.units
    chosen = sheets_of(comparison) if sheets is None else sheets
    figures = {sheet.name: inline_svg(sheet) for sheet in chosen}
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = environment.from_string(files("studwell.show").joinpath("report.html").read_text(encoding="utf-8"))
    return template.render(
        case=comparison.case,
        light=Markup(theme.page_variables(theme.LIGHT)),
        dark=Markup(theme.page_variables(theme.DARK)),
        headline=page_content.headline(comparison),
        ranked_heads=page_content.ranked_heads(units),
        ranked=page_content.ranked_rows(comparison),
        failed=comparison.failed,
        findings=[finding.text for finding in findings],
        setups=[page_content.setup_rows(r, rank, units) for rank, r in enumerate(comparison.results, start=1)],
        sheets={sheet.name: sheet for sheet in chosen},
        figures=figures,
        materials=page_content.material_rows(comparison),
        defaults=page_content.default_rows(),
        stock=page_content.stock_rows(comparison),
        inputs=page_inputs.input_rows(comparison),
        histories=[
            (names, *page_inputs.history_table(setup, units))
            for names, setup in page_inputs.different_histories(comparison)
        ],
        heat=heat_content.heat_tables(comparison),
        threads=workshop_content.thread_tables(comparison),
        repairs=workshop_content.repair_tables(comparison),
        cracks=crack_content.crack_tables(comparison),
        given_heat=heat_content.given_heat(comparison),
        film=film,
        versions=dict(versions),
        inputs_sha256=inputs_sha256,
        refinement=f"{comparison.refinement:g}",
        cautions=page_content.CAUTIONS,
        first_place=page_content.FIRST_PLACE,
    )


def _save(sheet: Sheet, directory: Path) -> tuple[Path, Path]:
    return (
        write_bytes(directory / f"{sheet.name}.png", sheet.png),
        write_text(directory / f"{sheet.name}.svg", sheet.svg),
    )


def inline_svg(sheet: Sheet) -> Markup:
    """Return an SVG element for an HTML page: no prologue, ids of its own, page colours, its words for the blind."""
    text = sheet.svg
    text = text[text.index("<svg") :]
    text = re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="', f'id="{sheet.name}-', text)
    text = re.sub(r'href="#', f'href="#{sheet.name}-', text)
    text = re.sub(r"url\(#", f"url(#{sheet.name}-", text)
    text = re.sub(r'(<svg[^>]*?) width="[^"]*"', r"\1", text, count=1)
    text = re.sub(r'(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1)
    text = theme.with_page_colours(text)
    head = Markup('<svg role="img" aria-labelledby="{name}-title {name}-told"').format(name=sheet.name)
    start = text.index(">") + 1
    opening = text[len("<svg") : start]
    words = Markup('<title id="{name}-title">{title}</title><desc id="{name}-told">{told}</desc>').format(
        name=sheet.name, title=sheet.title, told=sheet.told
    )
    return head + Markup(opening) + words + Markup(text[start:])
