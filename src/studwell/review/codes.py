"""What a pair of margins says of the rule, in one of six words, and where along a quantity that word changes."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

NEEDED, WORTH, SAME, HARMFUL, NO_CURE, UNKNOWN = (
    "needed",
    "worth it",
    "makes no difference",
    "harmful",
    "no cure",
    "unknown",
)
CODES = (NEEDED, WORTH, SAME, HARMFUL, NO_CURE, UNKNOWN)

MATTERS = 0.1
"""Difference of two margins (load over capacity) from which on it counts: a tenth of what the metal stands. Our choice."""

CLOSE = 0.01
"""What rounding to two digits may hide of a difference of two margins."""

CODE_WORDS = {
    NEEDED: "left hard on the bottom the boss fails, turned back by the rule it does not",
    WORTH: f"nothing fails either way, and turning back spares the boss {MATTERS:g} of its capacity or more",
    SAME: f"nothing fails either way, and the difference is below {MATTERS:g} of the boss's capacity",
    HARMFUL: f"turned back by the rule the boss fails, or is worse off by {MATTERS:g} of its capacity or more",
    NO_CURE: "the boss fails either way",
    UNKNOWN: "no margin of the boss is known",
}


def code_of(driven: float | None, turned_back: float | None) -> str:
    """Return the word for the boss's largest margin as driven and as turned back; None: not known."""
    if driven is None or turned_back is None:
        return UNKNOWN
    if driven >= 1.0:
        return NEEDED if turned_back < 1.0 else NO_CURE
    if turned_back >= 1.0 or turned_back - driven >= MATTERS:
        return HARMFUL
    return WORTH if driven - turned_back >= MATTERS else SAME


def margin_words(driven: float | None, turned_back: float | None) -> tuple[str, str]:
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
    words = ["unknown" if value is None else f"{value:.{digits}f}" for value in (driven, turned_back)]
    return words[0], words[1]


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
