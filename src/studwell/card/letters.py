"""Letters that the card's type lacks: which they are, what stands for them in print, and the notice that says so."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from studwell.card.drawing import has_letter

MOST_NAMED = 8
"""Missing letters that the notice names by their code; the rest is counted."""


@lru_cache(4096)
def lacks(letter: str) -> bool:
    """Return whether the type has no picture of a letter that ought to have one."""
    if letter.isspace() or unicodedata.category(letter)[0] == "C":
        return False
    return not has_letter(letter)


def missing(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the letters of some texts that the type lacks, each once, in their order."""
    return tuple(dict.fromkeys(letter for text in texts for letter in text if lacks(letter)))


def runs(text: str) -> list[tuple[str, int]]:
    """Return a text in pieces, each with how many letters of it the type lacks: all of them, or 0."""
    pieces: list[tuple[str, int]] = []
    for letter in text:
        lost = lacks(letter)
        if pieces and (bool(pieces[-1][1]) is lost or (pieces[-1][1] and letter == "\N{ZERO WIDTH SPACE}")):
            before, count = pieces.pop()
            pieces.append((before + letter, count + lost))
        else:
            pieces.append((letter, int(lost)))
    return pieces


def in_print(text: str) -> str:
    """Return a text in which each run of letters that the type lacks is a count in brackets, "[2 letters missing]"."""
    return "".join(placeholder(count) if count else piece for piece, count in runs(text))


def placeholder(count: int) -> str:
    """Return what stands for some letters that cannot be printed."""
    return f"[{count} letter{'' if count == 1 else 's'} missing]"


def all_in_print(value: Any) -> Any:
    """Return nested lists, dicts and texts with every text as `in_print` gives it."""
    if isinstance(value, str):
        return in_print(value)
    if isinstance(value, dict):
        return {key: all_in_print(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [all_in_print(inner) for inner in value]
    return value


def notice(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the sentence that a card needs whose texts hold letters that its type lacks; none if there are none."""
    lost = missing(texts)
    if not lost:
        return ()
    named = ", ".join(f"U+{ord(letter):04X}" for letter in lost[:MOST_NAMED])
    more = f" and {len(lost) - MOST_NAMED} more" if len(lost) > MOST_NAMED else ""
    return (
        f"NOTICE: this card's type has no {named}{more}. On paper a count in brackets stands in their place; the page on the "
        "screen leaves them to the browser, where an empty box means that it has none either. summary.json has them.",
    )
