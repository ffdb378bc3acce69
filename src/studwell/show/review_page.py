"""A review's folder: summary, sweep, figure and page, all of them whole or none."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from platform import platform

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from studwell.case.fingerprint import inputs_sha256
from studwell.review.run import Review
from studwell.show import theme
from studwell.show.report import inline_svg
from studwell.show.review_content import review_tables
from studwell.show.review_sheet import review_sheet
from studwell.show.sheet import Sheet
from studwell.store.review_record import review_record, sweep_csv
from studwell.store.summary import libraries
from studwell.store.writing import staged, write_bytes, write_json, write_text


def review_page(review: Review, sheet: Sheet) -> str:
    """Return the page of a review as one HTML text that needs no other file; same review, same bytes."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = environment.from_string(files("studwell.show").joinpath("review.html").read_text(encoding="utf-8"))
    return template.render(
        case=review.case,
        setup=review.setup.name,
        light=Markup(theme.page_variables(theme.LIGHT)),
        dark=Markup(theme.page_variables(theme.DARK)),
        sentences=review.verdict.sentences,
        confidence=review.verdict.confidence,
        why=review.verdict.why,
        notes=review.notes,
        picture=inline_svg(sheet),
        caption=sheet.caption,
        tables=review_tables(review),
        inputs_sha256=inputs_sha256(review.case),
        refinement=f"{review.refinement:g}",
        versions=libraries(),
    )


def write_review(review: Review, directory: Path, *, json_file: Path | None = None) -> Path:
    """Write summary.json, sweep.csv, review.png and .svg, review.html and run.json; returns the directory.

    json_file : another place for summary.json
    raises CannotWrite
    """
    directory = Path(directory)
    with theme.drawing():
        sheet = review_sheet(review)
    with staged(directory) as folder:
        write_json(folder / "summary.json", review_record(review))
        write_text(folder / "sweep.csv", sweep_csv(review))
        write_bytes(folder / "figures" / "review.png", sheet.png)
        write_text(folder / "figures" / "review.svg", sheet.svg)
        write_text(folder / "review.html", review_page(review, sheet))
        write_json(
            folder / "run.json",
            {
                "case_file": review.case.file,
                "inputs_sha256": inputs_sha256(review.case),
                "finished": datetime.now(UTC).isoformat(timespec="seconds"),
                "seconds": round(review.seconds, 3),
                "histories": review.histories,
                "unknowns": review.driven.built.unknowns,
                "python": sys.version.split()[0],
                "platform": platform(),
                "versions": libraries(),
            },
        )
        if json_file is not None:
            write_bytes(json_file, (folder / "summary.json").read_bytes())
            (folder / "summary.json").unlink()
    return directory
