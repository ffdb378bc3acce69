"""What the verdict's sentences are made from, and the record of one sentence with its rule and numbers."""

from __future__ import annotations

from dataclasses import dataclass, field

from studwell.case.records import Case, Pocket, Setup
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


@dataclass(frozen=True, kw_only=True)
class Told:
    """The parts of a review from which the sentences are made; those not solved are None or empty.

    setup        : the first of the case, plain (temperatures at nodes), in which all is told
    driven, back : trials hard on the bottom and turned back by the rule from there;  other: view of the other boss material
    apart        : mechanisms at the telling instants;  stated: place of the one that the verdict tells
    teeth        : the same at the stated instant with meshed teeth, None where that is not solved or is the case's own model
    liquid       : the case's own pocket
    own_pocket   : view of the pair with the case's own liquid under the tip; None where its first setup is dry, or stopped
    own_pair     : the trials of own_pocket, driven and turned back; None where it is or they have no solution
    stopped      : True if the review was stopped before all was solved
    """

    case: Case
    setup: Setup
    inputs: Inputs
    drive: Drive
    driven: Trial = field(repr=False)
    back: Trial = field(repr=False)
    need: Need | None
    apart: tuple[Apart, ...]
    stated: int
    teeth: Apart | None = None
    views: tuple[View, ...]
    other: View | None
    flips: tuple[Flips, ...]
    rows: tuple[Row, ...] = field(repr=False)
    liquid: Pocket = field(default_factory=lambda: Pocket("empty"))
    own_pocket: View | None = None
    own_pair: tuple[Trial, Trial] | None = field(default=None, repr=False)
    stopped: bool = False

    @property
    def units(self) -> str:
        """Of the texts: "metric" or "inch", the case's."""
        return self.case.units

    def text(self, value: float, kind: str, digits: int = 3) -> str:
        """Return a value with its unit in the case's units."""
        return as_text(value, kind, self.units, digits)

    def signed(self, value: float, kind: str) -> str:
        """Return a value with its sign and unit."""
        return ("+" if value >= 0.0 else "") + self.text(value, kind)
