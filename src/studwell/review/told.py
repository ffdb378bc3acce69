"""What the verdict's sentences are made from, and the record of one sentence with its rule and numbers."""

from __future__ import annotations

from dataclasses import dataclass, field

from studwell.case.records import Pocket, Setup
from studwell.review.codes import Flips
from studwell.review.inputs import Inputs
from studwell.review.mechanisms import Apart
from studwell.review.need import Need
from studwell.review.sweep import Row
from studwell.review.trials import Drive, Trial
from studwell.review.views import View
from studwell.units import as_text


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
    liquid : the case's own pocket;  own_pocket: the pair with it, None where it is dry
    stopped : True if the review was stopped before all was solved
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
    liquid: Pocket = field(default_factory=lambda: Pocket("empty"))
    own_pocket: View | None = None
    stopped: bool = False

    def text(self, value: float, kind: str, digits: int = 3) -> str:
        """Return a value with its unit in the case's units."""
        return as_text(value, kind, self.units, digits)

    def signed(self, value: float, kind: str) -> str:
        """Return a value with its sign and unit."""
        return ("+" if value >= 0.0 else "") + self.text(value, kind)


def number(value: float | None) -> str:
    """Return a margin in two digits, "unknown" where there is none."""
    return "unknown" if value is None else f"{value:.2f}"
