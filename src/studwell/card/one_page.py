"""A card on one page in type that can be read: what goes first where there is too much of it, and where that stays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from studwell.card.drawing import Drawing
from studwell.card.fit import columns, type_size
from studwell.card.record import Card, Step
from studwell.card.words import plain

TYPE_READABLE = 7.0
"""pt: a card whose type would be smaller is made shorter. Our own choice."""

SECTION_HEIGHTS = (106.0, 98.0, 90.0)
"""mm of paper that the section may be lowered to, one after the other."""

SHORTER_REASON = 110
"""Letters to which a reason in the top block is cut before it goes."""

ELSEWHERE = "in the report of studwell compare"
"""Where the reasons stand that went."""


def on_one_page(card: Card, redraw: Callable[[float], Drawing]) -> Card:
    """Return a card with the size of its type, made shorter while that is below TYPE_READABLE.

    The longer column gives: the section is drawn lower, or a line that the card can spare goes, the least needed first; it
    stays in summary.json, and the footer names it. Then reasons in the top block are cut, and then left to
    the report.

    redraw : the section at a height, mm
    """
    heights = list(SECTION_HEIGHTS)
    spare = sorted((line for step in card.steps for line in step.lines if line.spare), key=lambda line: -line.spare)
    shorten: list[Callable[[tuple[str, ...]], tuple[str, ...]]] = [_cut, _left_to_the_report]
    made = _sized(card)
    while made.type_size < TYPE_READABLE:
        left, right = columns(made, TYPE_READABLE)
        if left > right and heights:
            card = replace(card, section=redraw(heights.pop(0)))
        elif right >= left and spare:
            card = replace(card, left_out=(*card.left_out, spare.pop(0)))
        elif shorten:
            said = shorten.pop(0)(card.headline.sentences)
            card = replace(card, headline=replace(card.headline, sentences=said))
        elif heights or spare:  # the other column's turn: what is above and below both is as short as it gets
            heights, spare = [], []
        else:
            return made
        made = _sized(card)
    return made


def _sized(card: Card) -> Card:
    """A card without the lines that are left out, which its footer names, and the size of its type."""
    gone = card.left_out
    if gone:
        steps = tuple(Step(step.title, tuple(line for line in step.lines if line not in gone)) for step in card.steps)
        named = ", ".join(dict.fromkeys(line.label for line in gone))
        told = f"No room on this page, in summary.json: {named}."
        card = replace(card, steps=steps, footer=(*card.footer[:-1], told, card.footer[-1]))
    return replace(card, type_size=type_size(card))


def _cut(sentences: tuple[str, ...]) -> tuple[str, ...]:
    """Reasons cut short; every other sentence as it is."""
    return tuple(
        plain(text, SHORTER_REASON) if text.startswith(("Unknown, ", "Mind: ")) else text for text in sentences
    )


def _left_to_the_report(sentences: tuple[str, ...]) -> tuple[str, ...]:
    """All modes that are unknown in one sentence, which leaves their reasons to the report; every other one as it is."""
    modes = [text.partition(": ")[0].removeprefix("Unknown, ") for text in sentences if text.startswith("Unknown, ")]
    if not modes:
        return sentences
    first = next(number for number, text in enumerate(sentences) if text.startswith("Unknown, "))
    told = f"Unknown, why {ELSEWHERE}: {', '.join(modes)}."
    rest = [text for text in sentences[first:] if not text.startswith("Unknown, ")]
    return (*sentences[:first], told, *rest)
