"""Sheets of paper that a card can be set for: the one that is asked, or the one that is usual with the case's units."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.errors import StudwellError


@dataclass(frozen=True)
class Paper:
    """A sheet, upright. name: in options and records; css, typst: as both renderers call it; width, height: mm."""

    name: str
    words: str
    css: str
    typst: str
    width: float
    height: float


PAPERS = {
    each.name: each
    for each in (
        Paper("a4", "A4", "A4", "a4", 210.0, 297.0),
        Paper("letter", "US Letter", "letter", "us-letter", 215.9, 279.4),
    )
}
"""Source: ISO 216 A4; 8 1/2 in by 11 in."""


def paper_for(units: str, asked: str | None = None) -> Paper:
    """Return the sheet that is asked for, else US Letter for a case in inches and A4 for a metric one.

    raises StudwellError : no such sheet
    """
    name = asked or ("letter" if units == "inch" else "a4")
    if name not in PAPERS:
        raise StudwellError(f"--paper {name}: no such paper; it is {' or '.join(PAPERS)}", "bad-value")
    return PAPERS[name]
