"""The sentences of the verdict: each is chosen by a stated rule from numbers, and carries them."""

from __future__ import annotations

from collections.abc import Sequence

from studwell.review.around import other_seats_sentence, other_setups_sentence, own_pocket_sentence, pocket_sentence
from studwell.review.codes import CODE_WORDS, MATTERS, NO_CURE, SAME, SPARES, UNKNOWN, Flips, pair_words
from studwell.review.need import Need
from studwell.review.reason import reason_sentence
from studwell.review.seat_words import seat_sentence
from studwell.review.told import Sentence, Told
from studwell.review.trials import BOSS_MODES
from studwell.review.views import FLOOR_YIELDS, View
from studwell.study.finding import margin_words


def sentences_of(told: Told, code: str) -> tuple[Sentence, ...]:
    """Return all sentences for which there are numbers. code: the word of the case's own model."""
    found: list[Sentence | None] = [_harm(told, code), seat_sentence(told)]
    if told.apart:
        found.append(reason_sentence(told, code))
    if told.need is not None:
        found += [_enough(told, told.need), _hold(told, told.need)]
    found += [_cost(told), _yielding(told), own_pocket_sentence(told, code), pocket_sentence(told)]
    found += [other_setups_sentence(told), other_seats_sentence(told)]
    if told.flips:
        found += [_flips(told), _first_contact(told)]
    if told.other is not None:
        found.append(_other(told.other, code))
    return tuple(each for each in found if each is not None)


def _harm(told: Told, code: str) -> Sentence:
    drive, driven, back = told.drive, told.driven, told.back
    lead = code if code in (SAME, SPARES) else "is no cure here" if code == NO_CURE else f"is {code}"
    words = CODE_WORDS[code]
    if driven.reasons:
        words = words.replace("nothing breaks", "nothing that is known breaks", 1)
    dry = f", judged dry (this setup has {told.liquid.contents} under its tip)" if told.liquid.filled else ""
    before, after = pair_words(driven.worst, back.worst)
    low, high = _range(told)
    text = f"Turning back {lead}{dry}: {words}. "
    text += (
        f"Driven with {told.text(drive.torque, 'torque')} and left there, the boss's largest margin, elastic, is {before} "
        f"({driven.governing}{_by_view(told, low, high)}); turned back by {back.turns:g} turn it is {after} ({back.governing})."
    )
    raised = _raised_by_yielding(told)
    if raised is not None:
        text += f" Yielding of the floor raises the driven stud's to {margin_words(raised)}: elastic is not the "
        text += "careful side here."
    if driven.reasons:
        text += (
            " Not known, and not counted: " + "; ".join(f"{mode} ({why})" for mode, why in driven.reasons.items()) + "."
        )
    rule = (
        f"words by the largest of {', '.join(BOSS_MODES)}, elastic: 1 is failure; below a difference of {MATTERS:g} by what is "
        "crushed or yields in one way alone"
    )
    numbers = {"margin_driven": driven.worst, "margin_turned_back": back.worst, "wedge_N": drive.wedge}
    numbers |= {"margin_driven_least_view": low, "margin_driven_most_view": high}
    numbers |= {f"driven_{mode}": value for mode, value in driven.margins.items()}
    numbers |= {f"turned_back_{mode}": value for mode, value in back.margins.items()}
    return Sentence("harm", code, text, rule, numbers)


def _range(told: Told) -> tuple[float | None, float | None]:
    """Smallest and largest margin of the driven stud over the views of the case's own boss."""
    known = [view.driven for view in told.views if view.own and view.driven is not None]
    return (min(known), max(known)) if known else (None, None)


def _by_view(told: Told, low: float | None, high: float | None) -> str:
    if len(told.views) < 2 or low is None or high is None:
        return ""
    return (
        f"; {margin_words(low)} to {margin_words(high)} by view" if high - low >= 0.005 else "; the same by every view"
    )


def _raised_by_yielding(told: Told) -> float | None:
    """The driven stud's margin with a floor that yields, where that is larger than the elastic one."""
    found = next((view.driven for view in told.views if view.name == FLOOR_YIELDS), None)
    elastic = told.driven.worst
    return found if found is not None and elastic is not None and found - elastic >= 0.005 else None


def _enough(told: Told, need: Need) -> Sentence:
    have = need.lift(need.rule[1], driven=True)
    first = (
        "In this history heat closes the gap by nothing: a stud that just touches by hand does not press later"
        if need.heat <= 0.0
        else f"Heat needs {told.text(need.heat, 'length')} ({360 * need.turns(need.heat):.2g} deg) of gap beyond first contact"
    )
    text = (
        f"{first}; from the driven seat {told.text(need.seat, 'length')} of wedge and {360 * need.wind_up:.2g} deg of twist "
        f"come first, {360 * need.turns(need.heat, driven=True):.3g} deg in all. With the budget, mostly from memory, it is "
        f"{360 * need.turns(need.likely, driven=True):.3g} deg by root of squares and "
        f"{360 * need.turns(need.worst, driven=True):.3g} deg at the worst; the rule's {need.rule[1]:g} turn, "
        f"{360 * need.rule[1]:.3g} deg, leaves {told.text(have, 'length')} and is {need.word}"
    )
    follows = [item for item in need.items if item.mm is None]
    text += (
        ", but no back-off covers a stud that follows the nut, as this one does."
        if follows
        else ", as long as the stud does not follow the nut."
    )
    rule = (
        "the gap that the rule leaves from the driven seat against the heat's need, that with the root of squares of the "
        "budget, and that with its sum"
    )
    numbers: dict[str, float | None] = {
        "need_heat_mm": need.heat,
        "need_likely_mm": need.likely,
        "need_worst_mm": need.worst,
        "rule_gap_mm": have,
    }
    return Sentence("enough", need.word, text, rule, numbers)


def _hold(told: Told, need: Need) -> Sentence:
    driven, back, worst = told.driven, told.back, need.hold_worst
    text = (
        f"What bottoming gives is hold: while the nut is tightened the driven stud is asked for {margin_words(driven.hold)} of "
        f"what holds it, the turned back one for {margin_words(back.hold)}"
    )
    code = "unknown" if back.hold is None else "must be held" if back.hold >= 1.0 else "stands"
    if code == "must be held":
        text += ": it follows the nut and turns the back-off away unless it is held or locked."
    elif code == "stands" and (worst is None or worst >= 1.0):
        code = "barely stands"
        text += f"; within the scatter of friction it may be {margin_words(worst)}, so it must be held or locked."
    else:
        text += "."
    rule = "hold ratio below 1 stands; above 1, or above 1 within the scatter of friction, the stud must be held"
    numbers = {"hold_driven": driven.hold, "hold_turned_back": back.hold, "hold_worst": worst}
    return Sentence("hold", code, text, rule, numbers)


def _cost(told: Told) -> Sentence:
    driven, back = told.driven, told.back
    lost, pitch = driven.engaged - back.engaged, told.drive.pitch
    name = "boss thread strip"
    before, after = driven.margins[name], back.margins[name]
    text = (
        f"It costs {told.text(lost, 'length')} of the {told.text(driven.engaged, 'length', 4)} of engaged thread "
        f"({100 * lost / driven.engaged:.2g} %; each whole turn {told.text(pitch, 'length')}, "
        f"{100 * pitch / driven.engaged:.2g} %); the strip margin goes from {margin_words(before)} to {margin_words(after)}"
    )
    code = "unknown" if before is None or after is None else "costs" if after > before else "gains"
    seat = driven.built.seat
    carried = "floor" if seat.by_tip else seat.name
    text += f", down all the same because the {carried} no longer loads the thread." if code == "gains" else "."
    numbers = {
        "engaged_lost_mm": lost,
        "engaged_lost_per_turn_mm": pitch,
        "strip_driven": before,
        "strip_turned_back": after,
    }
    return Sentence("cost", code, text, "strip margin as driven and as turned back", numbers)


def _yielding(told: Told) -> Sentence | None:
    """What of the wedge is held by displacement only, and what yielding of the floor leaves of it."""
    found = next((view for view in told.views if view.name == FLOOR_YIELDS), None)
    if found is None:
        return None
    driven = told.driven
    depth = told.text(told.drive.approach, "length")
    text = f"The wedge is held by displacement, not by force: yielding or creep by {depth} would free all of it."
    if driven.tension_alone is not None and driven.margins["boss thread strip"] is not None:
        text += (
            f" Of the driven stud's strip margin, {margin_words(driven.margins['boss thread strip'])}, the stud's tension "
            f"alone makes {margin_words(driven.tension_alone)}."
        )
    numbers: dict[str, float | None] = {"strip_by_tension_alone": driven.tension_alone}
    if found.kept is None:
        text += f" What yielding of the floor leaves of the wedge is unknown: {found.note}."
        return Sentence("yielding", UNKNOWN, text, "unknown where that view is not solved", numbers)
    elastic, yielding = found.kept
    code = "keeps" if elastic <= 0.0 or yielding / elastic >= 0.5 else "releases"
    word = "keeps it" if code == "keeps" else "releases most of it"
    text += (
        f" Yielding near the floor's corner {word}: at the end {told.text(yielding, 'force')} of the elastic "
        f"{told.text(elastic, 'force')} are left; yielding of the thread, and creep, are not solved here."
    )
    numbers |= {"left_N": yielding, "elastic_N": elastic}
    return Sentence("yielding", code, text, "released if less than half is left", numbers)


KIND_OF_UNIT = {"mm": "length", "N mm": "torque", "degC": "temperature"}


def _along(told: Told, each: Flips, value: float) -> str:
    kind = KIND_OF_UNIT.get(each.unit)
    return f"{value:.3g}" if kind is None else told.text(value, kind)


def _words_of(flips: Sequence[Flips], touching: bool) -> list[Flips]:
    return [each for each in flips if each.first_contact == touching]


def _flips(told: Told) -> Sentence:
    parts: list[str] = []
    numbers: dict[str, float | None] = {}
    steady = []
    for each in _words_of(told.flips, False):
        for value, below, above in each.flips:
            parts.append(f"{each.quantity} {_along(told, each, value)} ('{below}' below, '{above}' above)")
            numbers[f"{each.quantity} [{each.unit}]"] = value
        if not each.flips and each.tried:
            ends = f"{_along(told, each, each.tried[0].value)} to {_along(told, each, each.tried[-1].value)}"
            steady.append(f"{each.quantity} ({ends})")
    text = (
        "The word changes, by elastic margins, at " + "; ".join(parts) + "."
        if parts
        else "The word changes, by elastic margins, nowhere in what was tried."
    ) + (" Not along " + ", ".join(steady) + "." if steady else "")
    return Sentence("flips", "flips" if parts else "steady", text, "halving between values of different words", numbers)


def _first_contact(told: Told) -> Sentence | None:
    """Where a stud that was only brought to its seat by hand begins to press."""
    found = next(iter(_words_of(told.flips, True)), None)
    if found is None or not found.tried:
        return None
    numbers: dict[str, float | None] = {f"{found.quantity} [{found.unit}]": value for value, _, _ in found.flips}
    if found.flips:
        places = ", ".join(_along(told, found, value) for value, _, _ in found.flips)
        text = f"A stud that only touches its seat by hand begins to press where the coldest temperature falls below {places}."
        code = "presses in the cold"
    else:
        code = found.tried[0].code
        ends = f"{_along(told, found, found.tried[0].value)} to {_along(told, found, found.tried[-1].value)}"
        text = f"A stud that only touches its seat by hand {code} for every coldest temperature tried, {ends}."
    return Sentence("first contact", code, text, "presses where the history needs a gap above 0", numbers)


def _other(other: View, code: str) -> Sentence:
    if other.code == UNKNOWN:
        text = f"For a {other.name} it is not known: {other.note}."
    else:
        same = "the same" if other.code == code else "another"
        text = (
            f"In a {other.name} of the same shape the word is {same}, '{other.code}': {margin_words(other.driven)} driven, "
            f"{margin_words(other.turned_back)} turned back."
        )
    numbers = {"driven": other.driven, "turned_back": other.turned_back}
    return Sentence("other boss", other.code, text, "as the first sentence", numbers)
