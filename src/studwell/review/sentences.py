"""The sentences of the verdict: each is chosen by a stated rule from numbers, and carries them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from studwell.case.records import Setup
from studwell.review.codes import CODE_WORDS, MATTERS, UNKNOWN, Flips, code_of
from studwell.review.inputs import Inputs
from studwell.review.mechanisms import COLD, HOTTER, LIQUID, STACK, STEADY, WEDGE, Apart, governing_quantity
from studwell.review.need import Need
from studwell.review.sweep import POCKETS, Row
from studwell.review.trials import Drive, Trial
from studwell.review.views import FLOOR_YIELDS, View
from studwell.units import as_text

MOSTLY = 0.5
"""Share of what the mechanisms add from which on one of them is the reason."""

KIND = {"floor stress": "pressure", "thread load": "force"}


@dataclass(frozen=True)
class Sentence:
    """One sentence with the rule by which it was chosen and the numbers behind it, by name; code: what it chose."""

    subject: str
    code: str
    text: str
    rule: str
    numbers: dict[str, float | None]


@dataclass(frozen=True)
class Told:
    """What the sentences are made from: the parts of a review, those not solved None or empty.

    units : "metric" or "inch";  apart, stated, teeth: as in Review
    """

    setup: Setup
    units: str
    inputs: Inputs
    drive: Drive
    driven: Trial = field(repr=False)
    back: Trial = field(repr=False)
    need: Need | None
    apart: tuple[Apart, ...]
    stated: int
    teeth: Apart | None
    views: tuple[View, ...]
    other: View | None
    flips: tuple[Flips, ...]
    rows: tuple[Row, ...] = field(repr=False)

    def text(self, value: float, kind: str, digits: int = 3) -> str:
        """Return a value with its unit in the case's units."""
        return as_text(value, kind, self.units, digits)

    def signed(self, value: float, kind: str) -> str:
        """Return a value with its sign and unit."""
        return ("+" if value >= 0.0 else "") + self.text(value, kind)


def sentences_of(told: Told, code: str) -> tuple[Sentence, ...]:
    """Return all sentences for which there are numbers. code: the word of the case's own model."""
    found: list[Sentence | None] = [_harm(told, code)]
    if told.apart:
        found.append(_reason(told))
    if told.need is not None:
        found += [_enough(told, told.need), _hold(told, told.need)]
    found += [_cost(told), _yielding(told), _pocket(told), _seats(told)]
    if told.flips:
        found += [_flips(told), _first_contact(told)]
    if told.other is not None:
        found.append(_other(told.other, code))
    return tuple(each for each in found if each is not None)


def _number(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.2f}"


def _harm(told: Told, code: str) -> Sentence:
    drive, driven, back = told.drive, told.driven, told.back
    lead = {"makes no difference": "makes no difference", "no cure": "is no cure here"}.get(code, f"is {code}")
    words = CODE_WORDS[code]
    if driven.reasons:
        words = words.replace("nothing fails", "nothing that is known fails", 1)
    text = (
        f"Turning back {lead}: {words}. Driven with {told.text(drive.torque, 'torque')} and left there, the boss's largest "
        f"margin is {_number(driven.worst)} ({driven.governing}); turned back by {back.turns:g} turn it is "
        f"{_number(back.worst)} ({back.governing})."
    )
    if driven.reasons:
        text += (
            " Not known, and not counted: " + "; ".join(f"{mode} ({why})" for mode, why in driven.reasons.items()) + "."
        )
    rule = (
        f"words by the largest of strip, punch, split and floor corner, elastic: 1 is failure, a difference below {MATTERS:g} "
        "is none"
    )
    numbers = {"margin_driven": driven.worst, "margin_turned_back": back.worst, "wedge_N": drive.wedge}
    numbers |= {f"driven_{mode}": value for mode, value in driven.margins.items()}
    numbers |= {f"turned_back_{mode}": value for mode, value in back.margins.items()}
    return Sentence("harm", code, text, rule, numbers)


def _reason(told: Told) -> Sentence:
    """Which mechanism makes what governs: shares of the one quantity of which the largest margin is made."""
    apart = told.apart[told.stated]
    wanted = governing_quantity(told.driven)
    name = wanted if wanted in apart.shares else "thread load"
    shares, kind = apart.shares[name], KIND[name]
    share = shares.share
    parts = {
        "the wedge": share[WEDGE],
        "expansion": share[STEADY] + share[HOTTER] + share[COLD],
        "the liquid": share[LIQUID],
    }
    added = sum(max(value, 0.0) for value in parts.values())
    code = "nothing" if added <= 0.0 else "several"
    if added > 0.0:
        code = next((part for part, value in parts.items() if value / added >= MOSTLY), code)
    words = {
        "nothing": "Nothing that turning back could relieve loads the boss there.",
        "the wedge": "The main reason is the wedge force that driving leaves, not different expansion.",
        "expansion": "The main reason is that stud and boss expand differently, as is usually said.",
        "the liquid": "The main reason is the liquid under the tip.",
        "several": "No single mechanism is the reason.",
    }
    text = (
        f"{words[code]} The largest margin is made of {name}: at {apart.when} all mechanisms add "
        f"{told.signed(shares.total, kind)}, of which the wedge has {told.signed(parts['the wedge'], kind)}, different "
        f"expansion of stud and boss {told.signed(parts['expansion'], kind)}"
        + (", which relieves it" if parts["expansion"] < 0.0 else "")
        + f", and growth of the stack {told.signed(share[STACK], kind)}, which is there with or without the gap."
    )
    numbers: dict[str, float | None] = {
        "wedge": parts["the wedge"], "expansion": parts["expansion"], "liquid": parts["the liquid"],
        "stack": share[STACK], "total": shares.total,
    }  # fmt: skip
    if told.teeth is not None and name in told.teeth.shares:
        other = told.teeth.shares[name].share
        toothed = other[STEADY] + other[HOTTER] + other[COLD]
        text += f" With meshed teeth the wedge has {told.signed(other[WEDGE], kind)}, expansion {told.signed(toothed, kind)}."
        numbers |= {"wedge_teeth": other[WEDGE], "expansion_teeth": toothed}
    floor = max(
        (one for one in told.apart if "floor stress" in one.shares),
        key=lambda one: one.shares["floor stress"].everything,
        default=None,
    )
    if name != "floor stress" and floor is not None:
        found = floor.shares["floor stress"]
        text += (
            f" The floor's stress is largest at {floor.when}: of the {told.signed(found.total, 'pressure')} that all add the "
            f"wedge has {told.signed(found.share[WEDGE], 'pressure')}."
        )
        numbers |= {"floor_wedge": found.share[WEDGE], "floor_total": found.total}
    rule = f"the reason has at least {MOSTLY:g} of what wedge, expansion and liquid add (Shapley's shares, the stack aside)"
    return Sentence("reason", code, text, rule, numbers)


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
        f"What bottoming gives is hold: while the nut is tightened the driven stud is asked for {_number(driven.hold)} of "
        f"what holds it, the turned back one for {_number(back.hold)}"
    )
    code = "unknown" if back.hold is None else "must be held" if back.hold >= 1.0 else "stands"
    if code == "must be held":
        text += ": it follows the nut and turns the back-off away unless it is held or locked."
    elif code == "stands" and (worst is None or worst >= 1.0):
        code = "barely stands"
        text += f"; within the scatter of friction it may be {_number(worst)}, so it must be held or locked."
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
        f"{100 * pitch / driven.engaged:.2g} %); the strip margin goes from {_number(before)} to {_number(after)}"
    )
    code = "unknown" if before is None or after is None else "costs" if after > before else "gains"
    text += ", down all the same because the floor no longer pushes on the thread." if code == "gains" else "."
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
            f" Of the driven stud's strip margin, {_number(driven.margins['boss thread strip'])}, the stud's tension alone "
            f"makes {_number(driven.tension_alone)}."
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


def _pocket(told: Told) -> Sentence | None:
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
        word = code_of(driven.worst, row.worst)
        words.append(word)
        parts.append(
            f"{kind}: {told.text(row.pressure or 0.0, 'pressure', 2)}, margin {row.worst:.2f} ({row.governing}), {word}"
        )
        numbers[f"{kind} pressure_MPa"] = row.pressure
        numbers[f"{kind} margin"] = row.worst
    code = words[0] if words else UNKNOWN
    text = "Oil shut in tightly under the turned back tip, beside the dry driven stud: " + "; ".join(parts) + "."
    pressed = next((row for row in told.rows if row.family == "pocket" and row.turns == 0.0 and row.pressure), None)
    if pressed is not None:
        text += f" Driven and left, a full pocket reaches {told.text(pressed.pressure or 0.0, 'pressure', 2)}."
        numbers["driven pressure_MPa"] = pressed.pressure
    return Sentence("pocket", code, text, "as the first sentence, the turned back stud with its pocket full", numbers)


def _seats(told: Told) -> Sentence | None:
    """What another seat makes of the word: which surface stops a driven stud is seldom known."""
    rows = [row for row in told.rows if row.family == "seat"]
    if not rows:
        return None
    parts: list[str] = []
    numbers: dict[str, float | None] = {}
    words: list[str] = []
    for seat in dict.fromkeys(row.named_seat for row in rows):
        mine = [row for row in rows if row.named_seat == seat]
        unsolved = next((row.reason for row in mine if row.lift is None), None)
        if unsolved is not None or len(mine) < 2:
            words.append(UNKNOWN)
            parts.append(f"{seat}: unknown ({unsolved or 'not solved'})")
            continue
        driven, back = mine[0].worst, mine[-1].worst
        words.append(code_of(driven, back))
        parts.append(f"{seat}: '{words[-1]}', {_number(driven)} driven, {_number(back)} turned back")
        numbers |= {f"{seat} driven": driven, f"{seat} turned back": back}
    own = told.driven.built.seat
    text = (
        f"The drive is carried by the {own.name}, said by {own.said_by}. Were the stud stopped elsewhere just as its tip "
        f"touches: {'; '.join(parts)}."
    )
    codes = set(words)
    code = words[0] if len(codes) == 1 else "mixed"
    return Sentence("seats", code, text, "as the first sentence, for each other seat", numbers)


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
        "The word changes at " + "; ".join(parts) + "." if parts else "The word changes nowhere in what was tried."
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
            f"In a {other.name} of the same shape the word is {same}, '{other.code}': {_number(other.driven)} driven, "
            f"{_number(other.turned_back)} turned back."
        )
    numbers = {"driven": other.driven, "turned_back": other.turned_back}
    return Sentence("other boss", other.code, text, "as the first sentence", numbers)
