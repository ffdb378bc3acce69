"""What a pair of margins says of the rule, in one of seven words, and where along a quantity that word changes."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from studwell.study.finding import margin_words

NEEDED, WORTH, SPARES, SAME, HARMFUL, NO_CURE, UNKNOWN = (
    "needed",
    "worth it",
    "spares the seat",
    "makes no difference",
    "harmful",
    "no cure",
    "unknown",
)

MATTERS = 0.1
"""Difference of two margins (load over capacity) from which on it counts: a tenth of what the metal stands. Our choice."""

CLOSE = 0.01
"""What rounding to two digits may hide of a difference of two margins."""

CODE_WORDS = {
    NEEDED: "left hard on the bottom the boss breaks, turned back by the rule it does not",
    WORTH: f"nothing breaks either way, and turning back spares the boss {MATTERS:g} of its capacity or more",
    SPARES: f"nothing breaks either way, and the difference is below {MATTERS:g} of the boss's capacity, but what is crushed "
    "or yields when driven hard does not when turned back",
    SAME: f"nothing breaks either way, nothing is crushed or yields in one way alone, and the difference is below {MATTERS:g} "
    "of the boss's capacity",
    HARMFUL: f"turned back by the rule the boss breaks, or is worse off by {MATTERS:g} of its capacity or more, or something "
    "is crushed or yields that does not when driven hard",
    NO_CURE: "the boss breaks either way",
    UNKNOWN: "no margin of the boss is known",
}


class Stand(Protocol):
    """What a word is found from: the boss's largest margin, None if not known, and what of the seat is crushed or yields."""

    @property
    def worst(self) -> float | None: ...

    @property
    def failing(self) -> frozenset[str]: ...


def word_of(driven: Stand, turned_back: Stand) -> str:
    """Return the word for a stud as driven and as turned back."""
    return code_of(driven.worst, turned_back.worst, driven.failing, turned_back.failing)


NOTHING: frozenset[str] = frozenset()


def code_of(
    driven: float | None,
    turned_back: float | None,
    failing: frozenset[str] = NOTHING,
    failing_back: frozenset[str] = NOTHING,
) -> str:
    """Return the word for the boss's largest margin as driven and as turned back; None: not known.

    failing, failing_back : what is crushed or yields, which decides where the margins make no difference
    """
    if driven is None or turned_back is None:
        return UNKNOWN
    if driven >= 1.0:
        return NEEDED if turned_back < 1.0 else NO_CURE
    if turned_back >= 1.0 or turned_back - driven >= MATTERS:
        return HARMFUL
    if driven - turned_back >= MATTERS:
        return WORTH
    if failing_back - failing:
        return HARMFUL
    return SPARES if failing - failing_back else SAME


def pair_words(driven: float | None, turned_back: float | None) -> tuple[str, str]:
    """Return the two margins in words, "unknown" where there is none: two digits, three where two would hide a limit.

    Limits are 1 of either, and MATTERS of their difference.
    """
    digits = 2
    known = [value for value in (driven, turned_back) if value is not None]
    near = any(abs(value - 1.0) < CLOSE for value in known)
    if driven is not None and turned_back is not None:
        near = near or abs(abs(driven - turned_back) - MATTERS) < CLOSE
    if near:
        digits = 3
    return margin_words(driven, digits), margin_words(turned_back, digits)


@dataclass(frozen=True)
class Tried:
    """One value of a quantity: margins as driven and as turned back (None: not known, with the reason), and the word."""

    value: float
    driven: float | None
    turned_back: float | None
    code: str
    reason: str = ""


@dataclass(frozen=True)
class Flips:
    """Where a quantity changes the word. tried: rising values; flips: (value, word below, word above), found to `within`.

    first_contact : True if the words are those of a stud that just touches by hand
    """

    quantity: str
    unit: str
    now: float | None
    tried: tuple[Tried, ...]
    flips: tuple[tuple[float, str, str], ...]
    within: float | None
    note: str = ""
    first_contact: bool = False


def find_flips(
    quantity: str,
    unit: str,
    now: float | None,
    values: Sequence[float],
    trial: Callable[[float], Tried],
    halvings: int,
    note: str = "",
) -> Flips:
    """Return where the word changes along a quantity: every change between neighbours of `values` is halved so often.

    A third word found between two is followed on both its sides. values: rising
    """
    tried = [trial(value) for value in values]
    flips: list[tuple[float, str, str]] = []
    widths: list[float] = []

    def between(low: Tried, high: Tried, left: int) -> None:
        if low.code == high.code or UNKNOWN in (low.code, high.code):
            return
        if left == 0:
            flips.append((0.5 * (low.value + high.value), low.code, high.code))
            widths.append(0.5 * (high.value - low.value))
            return
        middle = trial(0.5 * (low.value + high.value))
        tried.append(middle)
        between(low, middle, left - 1)
        between(middle, high, left - 1)

    for low, high in itertools.pairwise(list(tried)):
        between(low, high, halvings)
    tried.sort(key=lambda one: one.value)
    return Flips(quantity, unit, now, tuple(tried), tuple(flips), max(widths, default=None), note)
