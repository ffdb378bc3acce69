"""Sentences on what is beside the case's own dry joint: liquid under the tip, its other setups, other seats."""

from __future__ import annotations

from collections.abc import Sequence

from studwell.review.codes import UNKNOWN, pair_words, word_of
from studwell.review.sweep import POCKETS, Row
from studwell.review.told import Sentence, Told
from studwell.study.finding import margin_words

WALL = "wall burst"


def own_pocket_sentence(told: Told, code: str) -> Sentence | None:
    """Return what the case's own liquid makes of the word; None where the setup is dry. code: the word of the dry stud."""
    view, liquid = told.own_pocket, told.liquid
    if view is None:
        return None
    counted = liquid.fill_at if liquid.fill_at == "as fitted" else f"at {liquid.fill_at}"
    what = f"{liquid.contents}, {100 * liquid.fill:.3g} % full {counted}, {liquid.seal}"
    numbers = {"driven": view.driven, "turned_back": view.turned_back}
    rule = "as the first sentence, driven and turned back with the case's own pocket"
    if view.code == UNKNOWN:
        text = f"With the pocket that this setup has ({what}) the word is unknown: {view.note or 'no margin is known'}."
        return Sentence("own pocket", UNKNOWN, text, rule, numbers)
    before, after = pair_words(view.driven, view.turned_back)
    same = "the same" if view.code == code else "another"
    text = (
        f"With the pocket that this setup has ({what}) the word is {same}, '{view.code}': {before} driven ({view.mode}), "
        f"{after} turned back"
        + (f"; {view.note}." if view.note else ".")
        + ("" if view.code == code else " That is the word for this setup as it stands; dry it first of all.")
        + (" It is the liquid that loads the wall: dry the hole first of all." if view.mode == WALL else "")
    )
    return Sentence("own pocket", view.code, text, rule, numbers)


def pocket_sentence(told: Told) -> Sentence | None:
    """Return what liquid shut in after turning back makes of the word: the case's own liquid, else oil."""
    rule, driven = told.inputs["rule"].value, told.driven
    found = {
        row.pocket: row
        for row in told.rows
        if row.family == "pocket" and abs(row.turns - rule) < 1e-9 and row.pocket in POCKETS
    }
    if not found:
        return None
    parts: list[str] = []
    numbers: dict[str, float | None] = {}
    words: list[str] = []
    for kind, row in found.items():
        if row.worst is None:
            parts.append(f"{kind}: unknown ({row.reason})")
            words.append(UNKNOWN)
            continue
        word = word_of(driven, row)
        words.append(word)
        parts.append(
            f"{kind}: {told.text(row.pressure or 0.0, 'pressure', 2)}, margin {margin_words(row.worst)} "
            f"({row.governing}{also(row.beside)}), {word}"
        )
        numbers[f"{kind} pressure_MPa"] = row.pressure
        numbers[f"{kind} margin"] = row.worst
    liquid = told.liquid.contents if told.liquid.fluid is not None else "oil"
    text = (
        f"{liquid.capitalize()} shut in tightly under the turned back tip, beside the dry driven stud: "
        + "; ".join(parts)
        + "."
    )
    pressed = next((row for row in told.rows if row.family == "pocket" and row.turns == 0.0 and row.pressure), None)
    if pressed is not None:
        text += f" Driven and left, a full pocket reaches {told.text(pressed.pressure or 0.0, 'pressure', 2)}."
        numbers["driven pressure_MPa"] = pressed.pressure
    rule_text = "as the first sentence, the turned back stud with its pocket full"
    return Sentence("pocket", words[0] if words else UNKNOWN, text, rule_text, numbers)


def also(beside: Sequence[tuple[str, float | None]]) -> str:
    """Return what is crushed or yields, in words with a comma before; "" for nothing."""
    failing = [f"{mode} {margin_words(value)}" for mode, value in beside if value is not None and value >= 1.0]
    return "".join(f", {each}" for each in failing)


def _word_of(rows: Sequence[Row]) -> tuple[str, float | None, float | None, str]:
    """Word, margins driven and turned back, and why it is unknown, of the first two rows: driven and turned back."""
    unsolved = next((row.reason for row in rows if row.lift is None), None)
    if unsolved is not None or len(rows) < 2:
        return UNKNOWN, None, None, unsolved or "not solved"
    driven, back = rows[0].worst, rows[1].worst
    return word_of(rows[0], rows[1]), driven, back, "no margin of the boss is known"


def _gathered(words: Sequence[str]) -> str:
    return words[0] if len(set(words)) == 1 else "mixed"


def other_setups_sentence(told: Told) -> Sentence | None:
    """Return the words of the case's other setups that have a liquid under their tip; None if there are none."""
    rows = [row for row in told.rows if row.family == "setup" and row.pocket not in ("empty", "vented")]
    if not rows:
        return None
    parts: list[str] = []
    words: list[str] = []
    numbers: dict[str, float | None] = {}
    for name in dict.fromkeys(row.history for row in rows):
        mine = [row for row in rows if row.history == name]
        word, driven, back, reason = _word_of(mine)
        words.append(word)
        told_of = f"unknown ({reason})"
        if word != UNKNOWN:
            before, after = pair_words(driven, back)
            told_of = f"'{word}', {before} driven, {after} turned back"
            pressure = max((row.pressure or 0.0 for row in mine[:2]), default=0.0)
            if pressure > 0.0:
                told_of += f", liquid to {told.text(pressure, 'pressure', 2)}"
        parts.append(f"{name} ({mine[0].pocket}): {told_of}")
        numbers |= {f"{name} driven": driven, f"{name} turned back": back}
    text = f"Other setups of this case with a liquid under the tip, driven and turned back as they stand: {'; '.join(parts)}."
    return Sentence("other setups", _gathered(words), text, "as the first sentence, for each such setup", numbers)


def seat_words(rows: Sequence[Row]) -> tuple[tuple[str, str, float | None, float | None, str], ...]:
    """Return (seat, word, margin driven, margin turned back, why unknown) for each other seat of the sweep."""
    mine = [row for row in rows if row.family == "seat"]
    names = dict.fromkeys(row.named_seat for row in mine)
    return tuple((name, *_word_of([row for row in mine if row.named_seat == name])) for name in names)


def other_seats_sentence(told: Told) -> Sentence | None:
    """Return what another seat makes of the word: which surface stops a driven stud is seldom known."""
    seats = seat_words(told.rows)
    if not seats:
        return None
    parts: list[str] = []
    numbers: dict[str, float | None] = {}
    for seat, word, driven, back, reason in seats:
        if word == UNKNOWN:
            parts.append(f"{seat}: unknown ({reason})")
            continue
        before, after = pair_words(driven, back)
        parts.append(f"{seat}: '{word}', {before} driven, {after} turned back")
        numbers |= {f"{seat} driven": driven, f"{seat} turned back": back}
    own = told.driven.built.seat
    won = ""
    if own.said_by == "the geometry" and own.ahead is not None:
        won = f", {told.text(own.ahead, 'length')} before the next one ({own.next_name})"
        numbers["ahead_mm"] = own.ahead
    text = (
        f"The drive is carried by the {own.name}, said by {own.said_by}{won}. Were the stud stopped elsewhere just as its tip "
        f"touches: {'; '.join(parts)}."
    )
    return Sentence(
        "seats", _gathered([each[1] for each in seats]), text, "as the first sentence, for each other seat", numbers
    )
