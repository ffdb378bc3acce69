"""A card's folder: page, PDF, summary and run, all of them whole or none."""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from platform import platform
from typing import Any

from studwell.card.build import card_of
from studwell.card.drilling import Reach
from studwell.card.order import crosswise
from studwell.card.page import card_page
from studwell.card.paper import paper_for
from studwell.card.pdf import can_write_pdf, card_pdf
from studwell.card.record import Card, Line, Step
from studwell.case.records import Case
from studwell.store.cycle_records import rounded
from studwell.store.writing import staged, write_bytes, write_json, write_text
from studwell.study.compare import Progress, solve_setup
from studwell.study.results import SetupResult

SCHEMA = 1


@dataclass(frozen=True)
class MadeCard:
    """A card and what it was made from. solution: the solved setup."""

    record: Card
    case_file: str
    solution: SetupResult = field(repr=False)


def write_card(made: MadeCard, directory: Path, *, json_file: Path | None = None) -> Path:
    """Write card.html, card.pdf (with the extra `card`), summary.json and run.json; returns the directory.

    json_file : another place for summary.json
    raises CannotWrite
    """
    directory = Path(directory)
    with staged(directory) as folder:
        write_json(folder / "summary.json", card_record(made.record))
        write_text(folder / "card.html", card_page(made.record))
        if can_write_pdf():
            write_bytes(folder / "card.pdf", card_pdf(made.record))
        write_json(folder / "run.json", _run(made))
        if json_file is not None:
            write_bytes(json_file, (folder / "summary.json").read_bytes())
            (folder / "summary.json").unlink()
    if not can_write_pdf():
        (directory / "card.pdf").unlink(missing_ok=True)  # of an earlier run: it would not belong to this card
    return directory


def _run(made: MadeCard) -> dict[str, Any]:
    return {
        "case_file": made.case_file,
        "setup": made.record.setup_name,
        "inputs_sha256": made.record.inputs_sha256,
        "finished": datetime.now(UTC).isoformat(timespec="seconds"),
        "seconds": round(made.solution.seconds, 3),
        "pdf": can_write_pdf(),
        "python": sys.version.split()[0],
        "platform": platform(),
        "versions": dict(made.record.versions),
    }


def make_card(
    case: Case, setup: str, refinement: float = 1.0, progress: Progress | None = None, paper: str | None = None
) -> MadeCard:
    """Solve one setup of a case, without bands and variants, and return its card.

    paper : "a4" or "letter", None for what goes with the case's units
    raises KeyError : no such setup;  StudwellError : no such paper;  StudwellError, ValueError : it has no solution
    """
    paper_for(case.units, paper)
    chosen = case.setup(setup)
    steps = chosen.history.steps + 1

    def step(done: int) -> None:
        if progress is not None:
            progress(setup, done, steps)

    result = solve_setup(chosen, refinement=refinement, band=False, progress=step)
    return MadeCard(card_of(case, result, refinement, paper), case.file, result)


def card_record(card: Card) -> dict[str, Any]:
    """Return a card as plain values: texts as shown, numbers in the unit beside them, null where unknown."""
    margin = card.headline.margin
    return {
        "schema": SCHEMA,
        "case": card.case_title,
        "setup": card.setup_name,
        "inputs_sha256": card.inputs_sha256,
        "versions": dict(card.versions),
        "mesh_refinement": card.refinement,
        "verdict": card.headline.word,
        "banner": card.headline.banner,
        "reasons": list(card.headline.sentences),
        "governing": card.headline.governing,
        "margin": None if margin is None else "unbounded" if margin == float("inf") else rounded(margin),
        "tightening_order": _order(int(card.line("studs").value or 1.0)),
        "steps": [_step(step) for step in (*card.steps, card.expected)],
        "left_out": [_line(line) for line in card.left_out],
        "paper": card.paper,
        "taps": [_tap(each) for each in card.taps],
        "pictures": {each.name: each.told for each in (card.section, *card.pictures)},
        "cautions": [*card.cautions, card.first_place],
    }


def _order(count: int) -> list[dict[str, float]] | None:
    """Place of each nut by its number, which is its turn and stands in the picture; None for one stud or no pattern."""
    if count < 2:
        return None
    return [
        {"number": turn, "clockwise_from_top_deg": rounded(360.0 * place / count) or 0.0}
        for turn, place in enumerate(crosswise(count), start=1)
    ]


def _tap(reach: Reach) -> dict[str, Any]:
    """A form of tap: its chamfer and the full thread that it leaves with its longest and its shortest one."""
    return {
        "tap": reach.name,
        "chamfer_pitches": [rounded(reach.least), rounded(reach.most)],
        "full_thread_mm": [rounded(reach.shallow), rounded(reach.deep)],
        "cuts_the_thread": reach.fits,
    }


def _step(step: Step) -> dict[str, Any]:
    return {"title": step.title, "lines": [_line(line) for line in step.lines]}


def _line(line: Line) -> dict[str, Any]:
    shown: dict[str, Any] = {"label": line.label, "text": line.text, "note": line.note}
    if line.struck:
        shown["struck"] = True
    if line.key:
        shown |= {"key": line.key, "value": rounded(line.value), "unit": line.unit}
    return shown
