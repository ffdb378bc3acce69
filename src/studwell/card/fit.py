"""Where things stand on the page, and the largest type at which a card fits one."""

from __future__ import annotations

from collections.abc import Iterable

from studwell.card.drawing import POINT, text_width
from studwell.card.record import Card, Line, Step

PAGE_WIDTH, PAGE_HEIGHT = 194.0, 264.0
"""mm that both A4 and US Letter leave inside their margins: a card set for one also fits the other."""

LEFT, GUTTER, RIGHT = 92.0, 4.0, 98.0
"""mm of the two columns and what lies between."""

BANNER = 62.0
"""mm of the verdict's box."""

TYPE_MOST, TYPE_LEAST = 8.6, 4.5
"""pt."""

STEP = 0.1
"""pt by which type is made smaller until it fits."""

LINE_HEIGHT = 1.28
"""Of a line over its size."""

RESERVE = 4.0
"""mm kept free: another machine's type may be a little wider."""

TEXT, NOTE, TITLE, SMALL = 1.06, 0.94, 1.14, 0.86
"""Sizes over the card's: of a value, of what is said of it, of a step's title, of cautions and footer."""

SETUP, BANNER_TYPE = 1.7, 1.6
"""Sizes over the card's: of the setup's name, of the verdict."""

LINE_GAP, STEP_GAP = 0.35, 1.7
"""mm after a line and before a step."""

Piece = tuple[str, float, bool]
"""Text, size in pt, bold."""


def type_size(card: Card) -> float:
    """Return the largest type, pt, at which the card fits one page by the widths of DejaVu Sans."""
    size = TYPE_MOST
    while size > TYPE_LEAST and card_height(card, size) > PAGE_HEIGHT - RESERVE:
        size = round(size - STEP, 2)
    return size


def card_height(card: Card, size: float) -> float:
    """Return the height of a card set in a type, mm."""
    return header_height(card, size) + max(columns(card, size)) + foot_height(card, size) + 4.0


def columns(card: Card, size: float) -> tuple[float, float]:
    """Return the heights of the left and the right column in a type, mm."""
    right = sum(step_height(step, RIGHT, size) for step in card.steps)
    left = card.section.height + max(each.height for each in card.pictures) + 1.0
    notes = LEFT / len(card.pictures) - 1.0
    left += flowed([(card.section.note, SMALL * size, False)], LEFT)
    left += max(flowed([(each.note, SMALL * size, False)], notes) for each in card.pictures)
    return left + step_height(card.expected, LEFT, size), right


def header_height(card: Card, size: float) -> float:
    """Return the height of the top, mm."""
    beside = PAGE_WIDTH - BANNER - GUTTER
    names = flowed([(f"Job card: {card.setup}", SETUP * size, True)], beside) + flowed(
        [(card.case, size, False)], beside
    )
    banner = flowed([(card.headline.banner, BANNER_TYPE * size, True)], BANNER - 4.0) + 3.0
    words = sum(flowed([(text, size, False)], PAGE_WIDTH) for text in card.headline.sentences)
    return max(names, banner) + words + 2.0


def foot_height(card: Card, size: float) -> float:
    """Return the height of cautions and footer, mm."""
    half = 0.5 * (PAGE_WIDTH - GUTTER) - 2.0
    heights = [flowed([(text, SMALL * size, False)], half) for text in card.cautions]
    # two columns of equal height at best; a text is not torn apart
    columns = max(0.5 * sum(heights) + 0.5 * max(heights, default=0.0), max(heights, default=0.0))
    rest = flowed([(card.first_place, SMALL * size, True)], PAGE_WIDTH)
    rest += sum(flowed([(text, SMALL * size, False)], PAGE_WIDTH) for text in card.footer)
    return columns + rest + 3.5


def step_height(step: Step, width: float, size: float) -> float:
    """Return the height of a step, mm."""
    title = LINE_HEIGHT * TITLE * size * POINT + 0.6
    return title + STEP_GAP + sum(flowed(pieces(line, size), width) + LINE_GAP for line in step.lines)


def pieces(line: Line, size: float) -> list[Piece]:
    """Return a line of the card as it is set: label, value, note."""
    found = [(f"{line.label}:", size, False), (line.text, TEXT * size, True)]
    return found + ([(f"– {line.note}", NOTE * size, False)] if line.note else [])


def flowed(parts: Iterable[Piece], width: float) -> float:
    """Return the height of pieces of text set one after the other in lines of a width, mm."""
    parts = list(parts)
    high = LINE_HEIGHT * max(size for _, size, _ in parts) * POINT
    lines, used = 1, 0.0
    for text, size, bold in parts:
        space = text_width(" ", size, bold)
        for word in text.replace("\N{ZERO WIDTH SPACE}", " ").split():
            length = text_width(word, size, bold)
            if used and used + space + length > width:
                lines, used = lines + 1, length
            else:
                used += (space if used else 0.0) + length
    return lines * high
