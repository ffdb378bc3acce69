"""A review's folder: summary, sweep, figure and page, all of them whole or none."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from platform import platform

from studwell.case.fingerprint import inputs_sha256
from studwell.review.run import Review
from studwell.show import theme
from studwell.show.both_units import BothUnits, in_units, names_of
from studwell.show.page import page_text, shown_sheet
from studwell.show.page_content import made_rows
from studwell.show.page_end import END_PARTS, page_end
from studwell.show.review_content import review_tables, rule_rows
from studwell.show.review_sheet import review_sheet
from studwell.show.sheet import Sheet
from studwell.store.review_record import review_record, sweep_csv
from studwell.store.summary import libraries
from studwell.store.writing import staged, write_bytes, write_json, write_text


def review_page(review: Review, sheet: Sheet, fingerprint: str = "") -> str:
    """Return the page of a review as one HTML text that needs no other file; same review, same bytes.

    fingerprint : of the values given; "": that of the review's case
    """
    case = review.case
    both = BothUnits(names_of(case), case.units)
    told = replace(review, case=replace(case, setups=(review.setup,)))
    parts = (
        ("verdict", "Verdict"),
        ("numbers", "Side by side"),
        ("pictures", "Picture"),
        ("why", "Why, and how far is enough"),
        *END_PARTS,
    )
    return page_text(
        "review.html",
        case.units,
        parts=parts,
        case=case,
        setup=review.setup.name,
        sentences=[{"text": both.text(each.text), "rule": both.text(each.rule)} for each in review.verdict.sentences],
        confidence=review.verdict.confidence,
        why=both.text(review.verdict.why),
        notes=[both.text(note) for note in review.notes],
        sheet=shown_sheet(sheet, both),
        tables=both.made(lambda units: review_tables(in_units(review, units))),
        end=page_end(
            told,
            both,
            (
                ("histories solved", str(review.histories)),
                ("displacement unknowns", str(review.driven.built.unknowns)),
                *made_rows(libraries(), fingerprint or inputs_sha256(case), review.refinement),
            ),
            (both.made(lambda units: rule_rows(in_units(review, units))),),
        ),
    )


def write_review(review: Review, directory: Path, *, json_file: Path | None = None, units: str | None = None) -> Path:
    """Write summary.json, sweep.csv, review.png and .svg, report.html and run.json; returns the directory.

    json_file : another place for summary.json
    units     : "metric" or "inch" of the figure and, at first, the report; None: the case's
    raises CannotWrite
    """
    directory = Path(directory)
    shown = in_units(review, units or review.case.units)
    with theme.drawing():
        sheet = review_sheet(shown)
    with staged(directory) as folder:
        write_json(folder / "summary.json", review_record(review))
        write_text(folder / "sweep.csv", sweep_csv(review))
        write_bytes(folder / "figures" / "review.png", sheet.png)
        write_text(folder / "figures" / "review.svg", sheet.svg)
        write_text(folder / "report.html", review_page(shown, sheet, inputs_sha256(review.case)))
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
