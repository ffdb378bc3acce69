"""The verdict in plain words, and how sure it is: by how many views give the same word, and how near another one is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from studwell.review.around import seat_words
from studwell.review.codes import UNKNOWN, Flips, word_of
from studwell.review.sentences import sentences_of
from studwell.review.told import Sentence, Told
from studwell.review.views import View
from studwell.units import as_text

NEAR = 0.15
"""Share of the seating torque or the floor's thickness within which another word is too near for high confidence: what a
torque wrench and a drill leave open between them. Our choice."""


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


def verdict_of(told: Told) -> ReviewVerdict:
    """Return the verdict from the parts of a review; parts that are missing leave their sentence out."""
    code = word_of(told.driven, told.back)
    seats = [f"{seat}: {word}" for seat, word, *_ in seat_words(told.rows) if word not in (code, UNKNOWN)]
    confidence, why = confidence_of(told.views, code, near_flips(told.flips, told.units), seats)
    pocket = told.own_pocket
    if told.stopped:
        confidence, why = "low", f"not judged: stopped before all was solved; by then {why}"
    elif pocket is not None and pocket.code != code:
        confidence = "unknown" if confidence == "unknown" else "low"
        why = f"judged dry, but with the {told.liquid.contents} that this setup has the word is '{pocket.code}'; {why}"
    return ReviewVerdict(code, confidence, why, sentences_of(told, code))


def near_flips(flips: Sequence[Flips], units: str) -> tuple[str, ...]:
    """Return where the word changes within NEAR of what the case has, in words."""
    found = []
    for each in flips:
        kind = {"seating torque": "torque", "floor thickness": "length"}.get(each.quantity)
        if kind is None or not each.now:
            continue
        for value, below, above in each.flips:
            away = value / each.now - 1.0
            if abs(away) <= NEAR:
                other = below if away < 0.0 else above
                found.append(
                    f"'{other}' from a {each.quantity} of {as_text(value, kind, units, 3)}, {100 * away:+.0f} %"
                )
    return tuple(found)


def confidence_of(
    views: Sequence[View], code: str, near: Sequence[str] = (), seats: Sequence[str] = ()
) -> tuple[str, str]:
    """Return how sure the verdict is, and why: by how many views of the case's own boss give the same word.

    near  : where another word is near, in words;  seats: other seats that give another word, each with it
    With any of either, confidence is moderate at most.
    """
    known = [view for view in views if view.own and view.code != UNKNOWN]
    missing = [view.name for view in views if view.own and view.code == UNKNOWN]
    if not known or code == UNKNOWN:
        return "unknown", "no view knows the boss's margins"
    agree = [view for view in known if view.code == code]
    text = f"{len(agree)} of {len(known)} views say '{code}'"
    mode, count = Counter(view.mode for view in known).most_common(1)[0]
    if count > 1 and mode:
        text += f", {mode} governs in {count}, so they are not independent"
    against = [f"{view.name}: {view.code}" for view in known if view.code != code]
    if against:
        text += "; against it " + ", ".join(against)
    if missing:
        text += "; unknown: " + ", ".join(missing)
    if near:
        text += "; near another word: " + ", ".join(near)
    if seats:
        text += "; another seat gives another word: " + ", ".join(seats)
    if len(agree) == len(known) and len(known) >= 3:
        return ("moderate" if missing or near or seats else "high"), text
    return ("moderate" if len(agree) >= 2 * len(known) / 3 else "low"), text
