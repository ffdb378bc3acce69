"""The verdict in plain words: every sentence is chosen by a stated rule from numbers, and carries them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studwell.case.records import Setup
from studwell.review.codes import CODE_WORDS, MATTERS, UNKNOWN, Flips, code_of
from studwell.review.inputs import Inputs
from studwell.review.mechanisms import COLD, HOTTER, STEADY, WEDGE, Apart
from studwell.review.need import Need
from studwell.review.sweep import POCKETS, Row
from studwell.review.trials import Drive, Trial
from studwell.review.views import View

MOSTLY = 0.5
"""Share of what the mechanisms add from which on one of them is the reason."""


@dataclass(frozen=True)
class Sentence:
    """One sentence with the rule by which it was chosen and the numbers behind it, by name; code: what it chose."""

    subject: str
    code: str
    text: str
    rule: str
    numbers: dict[str, float | None]


@dataclass(frozen=True)
class ReviewVerdict:
    """code: the word of the case's own model;  confidence: "high", "moderate", "low" or "unknown" and why;  sentences."""

    code: str
    confidence: str
    why: str
    sentences: tuple[Sentence, ...]

    def sentence(self, subject: str) -> Sentence | None:
        """Return the sentence on a subject, None if there is none."""
        return next((each for each in self.sentences if each.subject == subject), None)

    @property
    def text(self) -> str:
        """All sentences in one paragraph, the confidence last."""
        return " ".join([*(each.text for each in self.sentences), f"Confidence: {self.confidence} ({self.why})."])


def verdict_of(
    setup: Setup,
    inputs: Inputs,
    drive: Drive,
    driven: Trial,
    back: Trial,
    need: Need | None,
    apart: Apart | None,
    views: Sequence[View],
    other: View | None,
    flips: Sequence[Flips],
    rows: Sequence[Row],
) -> ReviewVerdict:
    """Return the verdict from the parts of a review; parts that are missing leave their sentence out."""
    code = code_of(driven.worst, back.worst)
    sentences = [_harm(code, drive, driven, back)]
    if apart is not None:
        sentences.append(_reason(apart))
    if need is not None:
        sentences += [_enough(need), _hold(need, driven, back)]
    sentences.append(_cost(driven, back))
    sentences += _yielding(views)
    pocket = _pocket(rows, inputs["rule"].value, driven)
    if pocket is not None:
        sentences.append(pocket)
    if flips:
        sentences.append(_flips(flips))
    if other is not None:
        sentences.append(_other(other, code))
    confidence, why = confidence_of(views, code)
    return ReviewVerdict(code, confidence, why, tuple(sentences))


def confidence_of(views: Sequence[View], code: str) -> tuple[str, str]:
    """Return how sure the verdict is, and why: by how many views of the case's own boss give the same word."""
    known = [view for view in views if view.own and view.code != UNKNOWN]
    missing = [view.name for view in views if view.own and view.code == UNKNOWN]
    if not known or code == UNKNOWN:
        return "unknown", "no view knows the boss's margins"
    agree = [view for view in known if view.code == code]
    text = f"{len(agree)} of {len(known)} views say '{code}'"
    against = [f"{view.name}: {view.code}" for view in known if view.code != code]
    if against:
        text += "; against it " + ", ".join(against)
    if missing:
        text += "; unknown: " + ", ".join(missing)
    if len(agree) == len(known) and len(known) >= 3:
        return ("moderate" if missing else "high"), text
    return ("moderate" if len(agree) >= 2 * len(known) / 3 else "low"), text


def _number(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.2f}"


def _harm(code: str, drive: Drive, driven: Trial, back: Trial) -> Sentence:
    text = (
        f"Turning back is {code}: {CODE_WORDS[code]}. Driven with {drive.torque / 1000:g} N*m and left there, the boss's "
        f"largest margin is {_number(driven.worst)} ({driven.governing}); turned back by {back.turns:g} turn it is "
        f"{_number(back.worst)} ({back.governing})."
    )
    if driven.reasons:
        text += (
            " Not known, and not counted: " + "; ".join(f"{mode} ({why})" for mode, why in driven.reasons.items()) + "."
        )
        text = text.replace("nothing fails", "nothing that is known fails", 1)
    if code == "makes no difference":
        text = text.replace("Turning back is makes", "Turning back makes", 1)
    if code == "no cure":
        text = text.replace("Turning back is no cure", "Turning back is no cure here", 1)
    rule = f"words by the largest of strip, punch, split and floor corner: 1 is failure, a difference below {MATTERS:g} is none"
    numbers = {"margin_driven": driven.worst, "margin_turned_back": back.worst, "wedge_N": drive.wedge}
    numbers |= {f"driven_{mode}": value for mode, value in driven.margins.items()}
    numbers |= {f"turned_back_{mode}": value for mode, value in back.margins.items()}
    return Sentence("harm", code, text, rule, numbers)


def _reason(apart: Apart) -> Sentence:
    name = "floor stress" if "floor stress" in apart.shares else "thread load"
    shares = apart.shares[name]
    total = sum(abs(value) for value in shares.share.values())
    expansion = sum(shares.share[each] for each in (STEADY, HOTTER, COLD))
    wedge = shares.share[WEDGE]
    unit = "MPa" if name == "floor stress" else "N"
    if total <= 0.0:
        code = "nothing"
    elif wedge / total >= MOSTLY:
        code = "the wedge"
    elif expansion / total >= MOSTLY:
        code = "expansion"
    else:
        code = "several"
    words = {
        "nothing": "No mechanism adds anything.",
        "the wedge": "The reason is the wedge force that driving leaves, not expansion.",
        "expansion": "The reason is that stud and boss expand differently, as is usually said.",
        "several": "No single mechanism is the reason.",
    }
    text = (
        f"{words[code]} At {apart.when} the wedge has {wedge:+.3g} {unit} of the {shares.total:+.3g} {unit} that all "
        f"mechanisms add to the {name}, different expansion of stud and boss {expansion:+.3g} {unit}"
        + (", which relieves it." if expansion < 0.0 else ".")
    )
    rule = f"the reason is what has at least {MOSTLY:g} of the sum of all shares' sizes (Shapley)"
    return Sentence("reason", code, text, rule, {"wedge": wedge, "expansion": expansion, "total": shares.total})


def _enough(need: Need) -> Sentence:
    have = need.lift(need.rule[1], driven=True)
    word = need.word
    first = (
        "Heat closes the gap by nothing: a stud that just touches by hand never presses later"
        if need.heat <= 0.0
        else f"Heat needs {need.heat:.4f} mm ({360 * need.turns(need.heat):.2g} deg) of gap beyond first contact"
    )
    text = (
        f"{first}; from the driven seat {need.seat:.3f} mm of wedge and {360 * need.wind_up:.2g} deg of twist come first, "
        f"{360 * need.turns(need.heat, driven=True):.3g} deg in all. With the budget it is "
        f"{360 * need.turns(need.likely, driven=True):.3g} deg by root of squares and "
        f"{360 * need.turns(need.worst, driven=True):.3g} deg at the worst; the rule's {need.rule[1]:g} turn, "
        f"{360 * need.rule[1]:.3g} deg, leaves {have:.3f} mm and is {word}."
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
    return Sentence("enough", word, text, rule, numbers)


def _hold(need: Need, driven: Trial, back: Trial) -> Sentence:
    worst = need.hold_worst
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


def _cost(driven: Trial, back: Trial) -> Sentence:
    lost = driven.engaged - back.engaged
    name = "boss thread strip"
    before, after = driven.margins[name], back.margins[name]
    per_turn = lost / back.turns if back.turns > 0.0 else 0.0
    text = (
        f"It costs {lost:.3f} mm of the {driven.engaged:.2f} mm of engaged thread ({100 * lost / driven.engaged:.2g} %); the "
        f"strip margin goes from {_number(before)} to {_number(after)}"
    )
    code = "unknown" if before is None or after is None else "costs" if after > before else "gains"
    if code == "gains":
        text += ", down all the same because the floor no longer pushes on the thread."
    else:
        text += "."
    numbers = {
        "engaged_lost_mm": lost,
        "engaged_lost_per_turn_mm": per_turn,
        "strip_driven": before,
        "strip_turned_back": after,
    }
    return Sentence("cost", code, text, "strip margin as driven and as turned back", numbers)


def _yielding(views: Sequence[View]) -> list[Sentence]:
    """What yielding of the floor leaves of the wedge at the end, where that was solved."""
    found = next((view for view in views if view.kept is not None), None)
    if found is None or found.kept is None:
        return []
    elastic, yielding = found.kept
    share = yielding / elastic if elastic > 0.0 else 1.0
    code = "keeps" if share >= 0.5 else "releases"
    word = "does not release the wedge" if code == "keeps" else "releases most of the wedge"
    text = (
        f"The wedge is held by displacement, not by force, and yet yielding of the floor {word}: at the end of the history "
        f"{yielding:.0f} N of the elastic {elastic:.0f} N are left."
    )
    if code == "releases":
        text = text.replace("and yet yielding", "and yielding", 1)
    return [
        Sentence(
            "yielding", code, text, "released if less than half is left", {"left_N": yielding, "elastic_N": elastic}
        )
    ]


def _pocket(rows: Sequence[Row], rule: float, driven: Trial) -> Sentence | None:
    found = {
        row.pocket: row
        for row in rows
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
        parts.append(f"{kind}: {row.pressure:.0f} MPa, margin {row.worst:.2f} ({row.governing}), {word}")
        numbers[f"{kind} pressure_MPa"] = row.pressure
        numbers[f"{kind} margin"] = row.worst
    code = words[0] if words else UNKNOWN
    text = "Oil shut in under the turned back tip, beside the dry driven stud: " + "; ".join(parts) + "."
    pressed = next((row for row in rows if row.family == "pocket" and row.turns == 0.0 and row.pressure), None)
    if pressed is not None:
        text += f" Driven and left, a full pocket reaches {pressed.pressure:.0f} MPa."
        numbers["driven pressure_MPa"] = pressed.pressure
    return Sentence("pocket", code, text, "as the first sentence, the turned back stud with its pocket full", numbers)


def _flips(flips: Sequence[Flips]) -> Sentence:
    parts: list[str] = []
    numbers: dict[str, float | None] = {}
    for each in flips:
        for value, below, above in each.flips:
            shown = value / 1000.0 if each.unit == "N mm" else value
            unit = {"N mm": "N*m", "1": ""}.get(each.unit, each.unit)
            parts.append(f"{each.quantity} {shown:.3g} {unit}".rstrip() + f" ('{below}' below, '{above}' above)")
            numbers[f"{each.quantity} [{each.unit}]"] = value
    steady = [
        f"{each.quantity} ({each.tried[0].value:.3g} to {each.tried[-1].value:.3g} {each.unit})".replace(" 1)", ")")
        for each in flips
        if not each.flips and each.tried
    ]
    text = (
        "The word changes at " + "; ".join(parts) + "." if parts else "The word changes nowhere in what was tried."
    ) + (" Not along " + ", ".join(steady) + "." if steady else "")
    return Sentence("flips", "flips" if parts else "steady", text, "halving between values of different words", numbers)


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
