"""Words of the card: quantities in both systems of units, names that cannot break a page, a clock's reading."""

from __future__ import annotations

import unicodedata

from studwell.units import as_text, in_unit, number_text, unmarked

PRACTICE = "†"
"""Marks what is common practice and has no source."""

PRACTICE_NOTE = f"{PRACTICE} common practice, no source"

LONGEST_WORD = 26
"""Letters; a longer word of a user's may be broken anywhere."""

SMALL_TORQUE = 20.0
"""lbf ft; a smaller torque is told in lbf in as well, in which small wrenches are marked. Our own choice."""

HOURS = ("twelve", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven")
PARTS = {5: "five", 10: "ten", 15: "a quarter", 20: "twenty", 25: "twenty-five"}


def plain(text: str, most: int = 120) -> str:
    """Return a user's text on one line without control or direction characters, cut to so many letters, breakable."""
    kept = "".join(" " if c in "\n\r\t" else c for c in text if c in "\n\r\t" or unicodedata.category(c)[0] != "C")
    words = kept.split()
    whole = " ".join(words)
    if len(whole) > most:
        whole = whole[: most - 1].rstrip() + "…"
    return " ".join(_breakable(word) for word in whole.split())


def _breakable(word: str) -> str:
    pieces = [word[i : i + LONGEST_WORD] for i in range(0, len(word), LONGEST_WORD)]
    return "\N{ZERO WIDTH SPACE}".join(pieces)


def both(value: float, kind: str, units: str, digits: int = 3) -> str:
    """Return a quantity in the case's units with the other system's in brackets, such as "15 mm (0.591 in)"."""
    other = "metric" if units == "inch" else "inch"
    return f"{one(value, kind, units, digits)} ({one(value, kind, other, digits)})"


def one(value: float, kind: str, units: str, digits: int = 3) -> str:
    """Return a quantity in one system of units with signs for degrees and products as they are spoken."""
    value = 0.0 if abs(value) < 1e-9 else value
    return unmarked(as_text(value, kind, units, digits)).replace("degC", "°C").replace("degF", "°F").replace("*", " ")


def torque_text(torque: float, units: str, digits: int = 3) -> str:
    """Return a torque (N mm) in N m and lbf ft, a small one in lbf in too; the case's system first."""
    metric = f"{number_text(torque / 1000.0, digits)} N m"
    feet = float(in_unit(torque, "torque", "inch"))
    inch = f"{number_text(feet, digits)} lbf ft"
    if feet < SMALL_TORQUE:
        inch += f" = {number_text(12.0 * feet, digits)} lbf in"
    first, second = (inch, metric) if units == "inch" else (metric, inch)
    return f"{first} ({second})"


def degrees_text(turns: float) -> str:
    """Return turns as whole degrees or, below ten, to a tenth."""
    angle = 360.0 * turns
    return f"{angle:.0f}°" if angle >= 10.0 else f"{angle:.1f}°"


def turns_text(turns: float) -> str:
    """Return turns with their angle, whole turns apart: "0.22 turn = 79°", "1.3 turns = 1 whole turn and 108°"."""
    whole, part = whole_turns(turns)
    if not whole:
        return f"{number_text(turns, 3)} turn = {degrees_text(turns)}"
    counted = f"{whole} whole turn{'s' if whole > 1 else ''}"
    return f"{number_text(turns, 4)} turns = {counted} and {degrees_text(part)}" if part else counted


def whole_turns(turns: float) -> tuple[int, float]:
    """Return the whole turns and the part of a turn beyond them, 0 where that is below a hundredth of a degree."""
    whole = int(turns + 2e-5)
    part = turns - whole
    return whole, part if part > 2e-5 else 0.0


def hand_words(turns: float) -> str:
    """Return in words where a mark that stood at twelve ends, turned back by some turns."""
    whole, part = whole_turns(turns)
    if not part:
        return "a mark at 12 ends at 12 again"
    after = f" after {whole} whole turn{'s' if whole > 1 else ''}" if whole else ""
    return f"a mark at 12 ends like the hour hand at about {clock_words(turns)}{after}"


def hour_hand(turns: float) -> float:
    """Return the hour (0 to 12, 0 at the top) at which a hand stands that was turned back from twelve by some turns."""
    return 12.0 * (-turns % 1.0)


def clock_words(turns: float) -> str:
    """Return where the hour hand of a clock stands that was turned back from twelve, to five minutes of its reading."""
    minutes = 5 * round(hour_hand(turns) * 60.0 / 5.0)
    hour, minute = divmod(minutes, 60)
    if minute == 0:
        return f"{HOURS[hour % 12]} o'clock"
    if minute == 30:
        return f"half past {HOURS[hour % 12]}"
    if minute < 30:
        return f"{PARTS[minute]} past {HOURS[hour % 12]}"
    return f"{PARTS[60 - minute]} to {HOURS[(hour + 1) % 12]}"
