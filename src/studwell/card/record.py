"""The record of a job card: what both renderers show, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field

from studwell.card.drawing import Drawing
from studwell.card.drilling import Reach


@dataclass(frozen=True)
class Line:
    """One line of the card.

    key         : its name in summary.json, "" for plain advice
    label, text : what it is, and the value or instruction in words, "unknown" if it is not known
    note        : what to know about it; why it is unknown
    value, unit : the number inside (N, mm, MPa, N mm, turn, degC), None if there is none or it is not known
    order       : it tells to do something
    struck      : an order that must not be followed: shown struck out
    spare       : 0 stays on the card whatever its length; where it is too long, the largest go first
    """

    label: str
    text: str
    note: str = ""
    key: str = ""
    value: float | None = None
    unit: str = ""
    order: bool = False
    struck: bool = False
    spare: int = 0


@dataclass(frozen=True)
class Step:
    """A heading and its lines, in the order of work."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Headline:
    """What stands on top: word ("safe", "fails" or "unknown"), banner for the bench, sentences with the reason.

    governing, margin : the largest known damage margin and its mode; None if none is known
    """

    word: str
    banner: str
    sentences: tuple[str, ...]
    governing: str | None
    margin: float | None


@dataclass(frozen=True)
class Card:
    """A job card. Texts are plain: no markup, no control characters.

    case, setup        : as shown, long ones cut short; case_title, setup_name: in full, as the case has them
    section            : drawing to scale; pictures: clock, washers and nut, order of tightening
    steps              : the work in order; expected: forces and margins to expect; cautions: of the work
    paper              : "a4" or "letter"; type_size: pt at which all of it fits one page of either
    taps               : what each form of tap does in the hole
    left_out           : lines for which the page has no room: in summary.json alone
    inputs_sha256      : fingerprint of the case's values; setup_sha256 of this setup alone
    """

    case: str
    setup: str
    case_title: str
    setup_name: str
    units: str
    headline: Headline
    section: Drawing = field(repr=False)
    pictures: tuple[Drawing, ...] = field(repr=False)
    steps: tuple[Step, ...]
    expected: Step
    cautions: tuple[str, ...]
    first_place: str
    footer: tuple[str, ...]
    inputs_sha256: str
    refinement: float
    versions: tuple[tuple[str, str], ...]
    taps: tuple[Reach, ...] = ()
    left_out: tuple[Line, ...] = ()
    paper: str = "a4"
    type_size: float = 0.0

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text that a renderer has to show, pictures' words aside."""
        found = [self.case, self.setup, self.headline.banner, *self.headline.sentences]
        for step in (*self.steps, self.expected):
            found.append(step.title)
            for line in step.lines:
                found += [part for part in (line.label, line.text, line.note) if part]
        found += [drawing.note for drawing in (self.section, *self.pictures)]
        found += [*self.cautions, self.first_place, *self.footer]
        return tuple(found)

    def line(self, key: str) -> Line:
        """Return the line of a key, shown or left out. Raises KeyError: no such line on this card."""
        lines = [line for step in (*self.steps, self.expected) for line in step.lines]
        for line in (*lines, *self.left_out):
            if line.key == key:
                return line
        raise KeyError(f"no line {key} on this card")
