"""The sentence on what breaks no boss: what is crushed or yields, how the floor's own modes change, what else fails one way."""

from __future__ import annotations

from studwell.review.beside import FLOOR_YIELD, SEAT_MODES, one_way
from studwell.review.told import Sentence, Told
from studwell.review.trials import BOSS_MODES
from studwell.study.finding import margin_words

FLOOR_MODES = ("floor punch", "floor split", "floor corner")

LEADS = {
    "relieved": "Turning back takes away what is crushed or yields",
    "added": "Turned back something is crushed or yields that is not when driven hard",
    "exchanged": "Turning back takes away something that is crushed or yields and brings another",
    "alike": "What is crushed or yields is so either way",
    "none": "Nothing that is known is crushed or yields either way",
}

SEEN = 0.005
"""Margin below which two digits show nothing."""


def seat_code(driven: frozenset[str], back: frozenset[str]) -> str:
    """Return the key of LEADS for what of the seat fails as driven and as turned back."""
    gone, new = driven - back, back - driven
    if gone and new:
        return "exchanged"
    if gone or new:
        return "relieved" if gone else "added"
    return "alike" if driven else "none"


def seat_sentence(told: Told) -> Sentence:
    """Return the sentence on what breaks no boss, with the floor's own modes, which a larger margin may hide."""
    driven, back = told.driven, told.back
    code = seat_code(driven.failing, back.failing)

    def pair(before: float | None, after: float | None) -> str:
        return f"{margin_words(before)} driven, {margin_words(after)} turned back"

    listed = []
    for mode in SEAT_MODES:
        before, after = driven.beside.get(mode), back.beside.get(mode)
        if max(before or 0.0, after or 0.0) < SEEN:
            continue
        means = " (averaged floor stress over yield strength)" if mode == FLOOR_YIELD else ""
        listed.append(f"{mode}{means} {pair(before, after)}")
    text = LEADS[code] + (": " + "; ".join(listed) if listed else "") + "."
    floor = []
    for mode in FLOOR_MODES:
        before, after = driven.margins.get(mode), back.margins.get(mode)
        if before is not None and after is not None and max(before, after) >= SEEN:
            floor.append(f"{mode.removeprefix('floor ')} {margin_words(before)} to {margin_words(after)}")
    if floor:
        text += f" The floor's own margins go from {', '.join(floor)}."
    others = one_way(driven, back, (*BOSS_MODES, *SEAT_MODES))
    if others:
        said = "; ".join(f"{one.mode} ({one.kind}) {pair(one.value, other.value)}" for one, other in others)
        text += f" Of the joint's other margins these fail in one way alone: {said}."
    unknown = driven.beside_reasons | back.beside_reasons
    if unknown:
        text += " Not known: " + "; ".join(f"{mode} ({why})" for mode, why in unknown.items()) + "."
    numbers: dict[str, float | None] = {}
    for name, trial in (("driven", driven), ("turned_back", back)):
        numbers |= {f"{name}_{mode}": trial.beside.get(mode) for mode in SEAT_MODES}
        numbers |= {f"{name}_{mode}": trial.margins.get(mode) for mode in FLOOR_MODES}
    for one, other in others:
        numbers |= {f"driven_{one.mode}": one.value, f"turned_back_{one.mode}": other.value}
    rule = (
        "by which of tip crushing, seat crushing and floor yield are 1 or more as driven and as turned back; other margins "
        "if they are 1 or more in one way alone"
    )
    return Sentence("seat", code, text, rule, numbers)
