"""A text in metric and in inch units: numbers with a unit converted within words, two spellings side by side in a page."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import lru_cache
from typing import Any, Protocol, TypeVar

from markupsafe import Markup, escape

from studwell.case.records import Case, Setup
from studwell.errors import BadQuantity
from studwell.units import INCH_MARK, KINDS, as_text, in_unit, label, number_text, read, spelling, time_text

SYSTEMS = ("metric", "inch")

_SHOWN = tuple(kind for kind in KINDS if label(kind, "metric") != label(kind, "inch"))
"""Kinds whose unit differs between the systems; all others are written alike in both."""

_MORE = {
    "metric": {
        "N": "force", "N m": "torque", "Nm": "torque", "N mm": "torque", "N*mm": "torque", "GPa": "pressure",
        "um": "length", "mm2": "area", "mm3": "volume", "N/mm": "stiffness", "MPa m^0.5": "toughness",
    },
    "inch": {"lbf*in": "torque", "lbf ft": "torque", "ksi in^0.5": "toughness"},
}  # fmt: skip
"""Spellings that our own words use beside the labels of `units`."""

MOST_DIGITS = 6
LEAST_DIGITS = 3
"""Significant digits of a converted number: as many as it was written with, within these."""

_SIGN = r"(?:\+-|[+-])?"
_NUMBER = r"\d+(?:\.\d+)?(?:[eE][+-]?\d+)?"
_START = r"(?<![\w.,^/\-])"


def _units_of(system: str) -> dict[str, str]:
    """Return spelling -> kind of the units that a system shows, longest first."""
    found = {label(kind, system): kind for kind in _SHOWN} | _MORE[system]
    return dict(sorted(found.items(), key=lambda pair: -len(pair[0])))


_UNITS = {system: _units_of(system) for system in SYSTEMS}


def _pattern(system: str) -> re.Pattern[str]:
    """Return the pattern of a quantity written in a system: one number, or two of a range, with its unit; or of minutes.

    "in" is a preposition as well as a unit: it is read as the unit where INCH_MARK stands before it, and nowhere else.
    """
    units = "|".join(re.escape(unit) for unit in _UNITS[system] if unit != label("length", "inch"))
    marked = re.escape(label("length", "inch"))
    return re.compile(
        rf"{_START}(?:(?P<joined>between\s+)?(?P<low>{_SIGN}{_NUMBER})(?P<between>\s+(?(joined)and|to)\s+))?"
        rf"(?P<number>{_SIGN}{_NUMBER})(?:{INCH_MARK}(?P<inches>{marked})|\s+(?P<unit>{units}))(?![\w*/^\u00b2\u00b3]|\s+m\^)"
        rf"|{_START}(?P<minutes>{_NUMBER})\s+min(?!\w)"
    )


_PATTERNS = {system: _pattern(system) for system in SYSTEMS}
"""By the system that is written: what is to be converted."""


def in_system(text: str, system: str, kept: re.Pattern[str] | None = None) -> str:
    """Return a text with every quantity of the other system converted, and every time in minutes below an hour, else hours.

    text   : words with numbers and units as this program writes them, such as "12.3 kN" or "3 to 5 mm"
    system : "metric" or "inch"; what is written in it already stays as it is
    kept   : names in which nothing is converted

    A text that was written in both systems is taken as it was written in this one. Lengths in inches are those that
    `as_text` wrote: it marks them, since "in" is a preposition elsewhere.
    """
    text = spelling(text, system)
    other = "inch" if system == "metric" else "metric"
    found = []
    at = 0
    for name in kept.finditer(text) if kept is not None else ():
        found += [_converted(text[at : name.start()], other, system), name.group()]
        at = name.end()
    return "".join([*found, _converted(text[at:], other, system)])


def _converted(text: str, written: str, system: str) -> str:
    return _PATTERNS[written].sub(lambda found: _quantity(found, written, system), text)


def _quantity(found: re.Match[str], written: str, system: str) -> str:
    if found["minutes"] is not None:
        return time_text(60.0 * float(found["minutes"]))
    unit, number = found["unit"] or found["inches"], found["number"]
    if found["inches"] and written == "metric":
        return found.group()
    kind = _UNITS[written][unit]
    if kind == "temperature" and number.startswith("+-"):
        return found.group()  # a difference, which its scale's zero must not move
    try:
        text = f"{_number(number, unit, kind, system)}{_gap(kind, system)}{label(kind, system)}"
        if found["low"] is None:
            return text
        return f"{found['joined'] or ''}{_number(found['low'], unit, kind, system)}{found['between']}{text}"
    except BadQuantity:  # below absolute zero, say: no quantity after all
        return found.group()


def _gap(kind: str, system: str) -> str:
    return INCH_MARK if label(kind, system) == label("length", "inch") else " "


def _number(number: str, unit: str, kind: str, system: str) -> str:
    sign = re.match(_SIGN, number)
    shown = sign.group() if sign is not None and sign.group() != "-" else ""
    bare = number[len(shown) :]
    value = in_unit(_inside(bare, unit, kind), kind, system)
    if kind == "temperature":
        return f"{shown}{value:.{len(bare.partition('.')[2])}f}"
    digits = len(re.sub(r"[eE].*", "", bare).replace(".", "").lstrip("-0"))
    return shown + number_text(value, min(max(digits, LEAST_DIGITS), MOST_DIGITS))


@lru_cache(maxsize=4096)
def _inside(number: str, unit: str, kind: str) -> float:
    words = unit.replace("N m", "N*m").replace("lbf ft", "lbf*ft").replace(" m^", "*m^").replace(" in^", "*in^")
    return read(f"{number} {words}", kind)


@dataclass(frozen=True)
class BothUnits:
    """Writes texts of a page in both systems. names: words of the user in which nothing is converted; drawn: shown first."""

    names: tuple[str, ...] = ()
    drawn: str = "metric"
    kept: re.Pattern[str] | None = field(init=False, default=None, repr=False)

    def __post_init__(self) -> None:
        risky = sorted({name for name in self.names if name and _any_quantity(name)}, key=len, reverse=True)
        if risky:
            words = "|".join(re.escape(name) for name in risky)
            object.__setattr__(self, "kept", re.compile(rf"(?<!\w)(?:{words})(?!\w)"))

    def text(self, metric: str, inch: str | None = None) -> Markup:
        """Return a text, escaped, as markup that shows it in the chosen system; inch: as it was made in inch units."""
        one = in_system(metric, "metric", self.kept)
        other = in_system(metric if inch is None else inch, "inch", self.kept)
        if one == other:
            return escape(one)
        return Markup('<span class="metric">{}</span><span class="inch">{}</span>').format(one, other)

    def words(self, text: str) -> str:
        """Return a text in the drawn system, as plain words."""
        return in_system(text, self.drawn, self.kept)

    def pair(self, metric: Any, inch: Any) -> Any:
        """Return one record of markup from two of text that were made alike, one in each system.

        Tuples, lists, dicts and dataclasses are walked; whatever is no text stays as the first has it.
        raises ValueError : the two are not of one shape
        """
        if isinstance(metric, Markup):
            return metric
        if isinstance(metric, str):
            return self.text(metric, inch)
        if isinstance(metric, tuple | list):
            if len(metric) != len(inch):
                raise ValueError("two records of different lengths")
            return type(metric)(self.pair(a, b) for a, b in zip(metric, inch, strict=True))
        if isinstance(metric, dict):
            return {key: self.pair(value, inch[key]) for key, value in metric.items()}
        if is_dataclass(metric) and not isinstance(metric, type):
            changed = {
                each.name: self.pair(getattr(metric, each.name), getattr(inch, each.name))
                for each in fields(metric)
                if each.init
            }
            return replace(metric, **changed)
        return metric

    def made(self, make: Callable[[str], Any]) -> Any:
        """Return what `make(system)` returns, paired over both systems."""
        return self.pair(make("metric"), make("inch"))

    def quantity(self, value: float, kind: str, digits: int = 4) -> Markup:
        """Return an inside value with its unit as markup."""
        return self.text(*(as_text(value, kind, system, digits) for system in SYSTEMS))


def _any_quantity(text: str) -> bool:
    return any(pattern.search(text) for pattern in _PATTERNS.values())


class OfCase(Protocol):
    """A result that knows its case: a comparison, a review, odds."""

    @property
    def case(self) -> Case: ...


Result = TypeVar("Result", bound=OfCase)


def in_units(result: Result, units: str) -> Result:
    """Return the same result, to be written and drawn in "metric" or "inch" units."""
    changed: Any = result
    return replace(changed, case=replace(result.case, units=units))


def names_of(case: Case) -> tuple[str, ...]:
    """Return the words that a case's user chose and that our sentences repeat: title, setups, layers, materials, nodes."""
    found = [case.title]
    for setup in case.setups:
        found += names_of_setup(setup)
    return tuple(dict.fromkeys(found))


def names_of_setup(setup: Setup) -> tuple[str, ...]:
    """Return the words of `names_of` that a single setup holds."""
    history = setup.history
    found = [setup.name, *history.node_names, *history.labels, *(phase.label for phase in history.phases)]
    found += [layer.name for layer in setup.stack]
    found += [part.material.name for part in (setup.boss, setup.stud, setup.nut)]
    return tuple(dict.fromkeys(found))
