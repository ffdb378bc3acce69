"""The report of the odds of a case: one page that needs no other file and no network."""

from __future__ import annotations

from collections.abc import Sequence

from studwell.case.fingerprint import inputs_sha256
from studwell.odds.study import Odds
from studwell.show import glossary
from studwell.show.both_units import BothUnits, in_units, names_of
from studwell.show.odds_content import drawn_rows, ranked_odds, ranking, setup_odds_rows, spread_rows
from studwell.show.odds_words import odds_verdict
from studwell.show.page import page_text, shown_sheet
from studwell.show.page_content import made_rows
from studwell.show.page_end import END_PARTS, page_end
from studwell.show.sheet import Sheet
from studwell.store.summary import libraries


def odds_page(odds: Odds, lines: Sequence[str], sheets: Sequence[tuple[str, Sheet]], fingerprint: str = "") -> str:
    """Return the page of the odds of a case as one HTML text; same odds, same bytes.

    lines  : what was found, a sentence each
    sheets : setup's name and its figure
    fingerprint : of the values given; "": that of the odds' case
    """
    case = odds.case
    both = BothUnits(names_of(case), case.units)
    drawn = dict(sheets)
    parts = (
        ("verdict", "Verdict"),
        ("found", "What was found"),
        ("each", "Each setup"),
        *END_PARTS,
    )
    return page_text(
        "odds.html",
        case.units,
        parts=parts,
        case=case,
        verdict=[both.text(words) for words in odds_verdict(odds)],
        stopped=odds.stopped,
        ranked=both.made(lambda units: ranking(in_units(odds, units))),
        mode_words=tuple(glossary.MODES.items()),
        lines=[both.text(line) for line in lines],
        setups=both.made(lambda units: setup_odds_rows(in_units(odds, units))),
        sheets=[
            shown_sheet(drawn[item.setup.name], both) if item.setup.name in drawn else None
            for item in ranked_odds(odds)
        ],
        end=page_end(
            odds,
            both,
            (*drawn_rows(odds), *made_rows(libraries(), fingerprint or inputs_sha256(case), odds.refinement)),
            both.made(lambda units: spread_rows(in_units(odds, units).case)),
        ),
    )
