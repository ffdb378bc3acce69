"""Make the job card of one setup, and its result."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from threadpoolctl import threadpool_limits

from studwell.api.opening import CaseOrPath, mesh_density, opened

if TYPE_CHECKING:
    from studwell.card.record import Card
    from studwell.card.write import MadeCard
    from studwell.study.results import SetupResult


@dataclass(frozen=True, repr=False)
class CardResult:
    """A job card. record: the plain record that page and PDF show; solution: the solved setup behind it."""

    made: MadeCard

    @property
    def record(self) -> Card:
        """The plain record: headline, drawings, steps, cautions."""
        return self.made.record

    @property
    def solution(self) -> SetupResult:
        """The solved setup that the card was made from."""
        return self.made.solution

    @property
    def html(self) -> str:
        """The card as one HTML page that needs no other file."""
        from studwell.card.page import card_page

        return card_page(self.record)

    @property
    def pdf(self) -> bytes | None:
        """The card as a PDF of one page, None without the extra `card`."""
        from studwell.card.pdf import can_write_pdf, card_pdf

        return card_pdf(self.record) if can_write_pdf() else None

    def __repr__(self) -> str:
        return f"<CardResult {self.record.case!r}, {self.record.setup!r}: {self.record.headline.banner.lower()}>"

    def summary(self) -> dict[str, Any]:
        """Return the record that summary.json holds."""
        from studwell.card.write import card_record

        return card_record(self.record)

    def write(self, directory: str | os.PathLike[str], *, json_file: Path | None = None) -> Path:
        """Write card.html, card.pdf (with the extra `card`), summary.json and run.json into a directory.

        json_file : another place for summary.json
        raises CannotWrite
        """
        from studwell.card.write import write_card

        return write_card(self.made, Path(directory), json_file=json_file)


def card(
    case: CaseOrPath,
    setup: str,
    *,
    refinement: float = 1.0,
    progress: Callable[[str, int, int], None] | None = None,
    paper: str | None = None,
) -> CardResult:
    """Solve one setup of a case and make its job card for the bench.

    refinement : mesh density, 0.3 to 4, 1 = standard;  progress : called with the setup's name, steps done, steps in all
    paper : "a4" or "letter", None for what goes with the case's units
    raises BadCase : the case cannot be used;  KeyError : no such setup;  StudwellError : it has no solution,
    no such paper, or refinement out of range
    """
    from studwell.card.write import make_card

    density, known = mesh_density(refinement), opened(case)
    with threadpool_limits(limits=1):
        return CardResult(make_card(known, setup, density, progress, paper))
