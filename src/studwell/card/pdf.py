"""The card as a PDF by typst: all texts go as data, fonts come with the program's own libraries, same card, same bytes."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from typing import Any

from studwell.card import fit
from studwell.card.drawing import Drawing, font_folder, svg
from studwell.card.letters import all_in_print
from studwell.card.paper import PAPERS
from studwell.card.record import Card, Step

MISSING = "no PDF: typst is not installed; pip install 'studwell[card]'"
"""What is said where the extra is missing."""


def can_write_pdf() -> bool:
    """Return whether the extra `card` is installed."""
    return find_spec("typst") is not None


def card_pdf(card: Card) -> bytes:
    """Return a card as a PDF of one page of its paper, all of it inside what the other paper leaves too.

    A letter that the fonts lack prints as a count in brackets, which the card's notice explains.

    raises ModuleNotFoundError : typst is not installed (see `can_write_pdf`)
    """
    template = files("studwell.card").joinpath("card.typ").read_bytes()
    made = _compiler().compile(
        template, format="pdf", sys_inputs={"card": json.dumps(all_in_print(card_data(card)))}, timestamp=0
    )
    assert isinstance(made, bytes)
    return made


@cache
def _compiler() -> Any:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(font_folder())])
    return typst.Compiler(font_paths=fonts)


def card_data(card: Card) -> dict[str, Any]:
    """Return what the template reads: plain texts, SVG of the drawings, sizes."""
    sheet = PAPERS[card.paper]
    return {
        "title": f"Job card: {card.setup}: {card.case}",
        "case": card.case,
        "setup": card.setup,
        "word": card.headline.word,
        "banner": card.headline.banner,
        "sentences": list(card.headline.sentences),
        "section": _picture(card.section),
        "pictures": [_picture(each) for each in card.pictures],
        "steps": [_step(each) for each in card.steps],
        "expected": _step(card.expected),
        "cautions": list(card.cautions),
        "first_place": card.first_place,
        "footer": list(card.footer),
        "paper": {"name": sheet.typst, "width": sheet.width, "height": sheet.height},
        "fit": {
            "width": fit.PAGE_WIDTH,
            "height": fit.PAGE_HEIGHT,
            "left": fit.LEFT,
            "right": fit.RIGHT,
            "gutter": fit.GUTTER,
            "banner": fit.BANNER,
            "most": fit.TYPE_MOST,
            "least": fit.TYPE_LEAST,
            "step": fit.STEP,
            "line_height": fit.LINE_HEIGHT,
            "line_gap": fit.LINE_GAP,
            "step_gap": fit.STEP_GAP,
            "text": fit.TEXT,
            "note": fit.NOTE,
            "title": fit.TITLE,
            "small": fit.SMALL,
            "setup": fit.SETUP,
            "banner_type": fit.BANNER_TYPE,
        },
    }


def _picture(drawing: Drawing) -> dict[str, str]:
    return {"svg": svg(drawing), "told": f"{drawing.title}. {drawing.told}", "note": drawing.note}


def _step(step: Step) -> dict[str, Any]:
    lines = [{"label": line.label, "text": line.text, "note": line.note, "struck": line.struck} for line in step.lines]
    return {"title": step.title, "lines": lines}
