"""Text with a unit -> plain floats in N, mm, MPa, degC and s.

Number and unit are split here and looked up in a table of spellings a kind, because a general parser
takes "10 Nm" for kilometres per kilogram and "1,5 mm" for fifteen millimetres.
"""

from __future__ import annotations

import difflib
import math
import re

from studwell.errors import BadQuantity
from studwell.units.kinds import KINDS, Kind
from studwell.units.registry import converted

ABSOLUTE_ZERO = -273.15
"""degC. Source: definition of the Celsius scale, The International System of Units (BIPM)."""

_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
    (?: (?:(?P<whole>\d+)[ \-])? (?P<top>\d+)\s*/\s*(?P<bottom>\d+)
      | (?P<decimal>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?) )
    (?P<unit>.*)$""",
    re.VERBOSE | re.DOTALL,
)


def length(text: object) -> float:
    """Return a length in mm. text: "8 mm", "5/16 in", "1 1/2 in". Raises BadQuantity."""
    return read(text, "length")


def force(text: object) -> float:
    """Return a force in N. text: "12 kN", "2700 lbf". Raises BadQuantity."""
    return read(text, "force")


def torque(text: object) -> float:
    """Return a torque in N mm. text: "10 N*m", "10 Nm", "12 lbf*ft", "12 ft-lb". Raises BadQuantity."""
    return read(text, "torque")


def pressure(text: object) -> float:
    """Return a pressure or stress in MPa. text: "205 MPa", "30 ksi". Raises BadQuantity."""
    return read(text, "pressure")


def temperature(text: object) -> float:
    """Return a temperature in degC. text: "110 degC", "230 degF", "300 K". Raises BadQuantity."""
    return read(text, "temperature")


def temperature_difference(text: object) -> float:
    """Return a temperature difference in K. text: "15 K" only. Raises BadQuantity."""
    return read(text, "temperature_difference")


def turn(text: object) -> float:
    """Return a rotation in turns. text: "0.22 turn", "80 deg". Raises BadQuantity."""
    return read(text, "turn")


def angle(text: object) -> float:
    """Return an angle in degrees. text: "118 deg". Raises BadQuantity."""
    return read(text, "angle")


def time(text: object) -> float:
    """Return a time in s. text: "10 min", "1.5 h". Raises BadQuantity."""
    return read(text, "time")


def expansion(text: object) -> float:
    """Return a coefficient of linear thermal expansion in 1/K. text: "21.5e-6 /K". Raises BadQuantity."""
    return read(text, "expansion")


def toughness(text: object) -> float:
    """Return a fracture toughness in MPa m^0.5. text: "17.3 MPa*m^0.5". Raises BadQuantity."""
    return read(text, "toughness")


def conductivity(text: object) -> float:
    """Return a conductivity in W/(m K), the same number as N/(s K). text: "155 W/(m*K)". Raises BadQuantity."""
    return read(text, "conductivity")


def film(text: object) -> float:
    """Return a film coefficient in N/(mm s K). text: "40 W/(m^2*K)". Raises BadQuantity."""
    return read(text, "film")


def density(text: object) -> float:
    """Return a density in kg/m^3. text: "2680 kg/m^3". Raises BadQuantity."""
    return read(text, "density")


def heat_capacity(text: object) -> float:
    """Return a specific heat capacity in J/(kg K). text: "963 J/(kg*K)". Raises BadQuantity."""
    return read(text, "heat_capacity")


def read(text: object, kind: str) -> float:
    """Return a quantity as the plain float that the code works with.

    text    : str, a number and a unit, such as "8 mm", "5/16 in", "110 degC"
    kind    : str, a key of KINDS, which names the unit of the result (Kind.inside)
    returns : float, finite
    raises BadQuantity : no text, no number, no unit, a unit of another kind, not finite, below absolute zero
    """
    wanted = KINDS[kind]
    number, spelling = split(text, wanted)
    unit = wanted.spellings.get(spelling)
    if unit is None:
        raise BadQuantity(text, _unit_problem(spelling, wanted), wanted.allowed)
    value = float(converted(number, unit, wanted.inside))
    if not math.isfinite(value):
        raise BadQuantity(text, "not a finite number", wanted.allowed)
    if kind == "temperature" and value < ABSOLUTE_ZERO:
        raise BadQuantity(text, "below absolute zero", f"{ABSOLUTE_ZERO} degC and above", slug="out-of-range")
    return value


def split(text: object, kind: Kind) -> tuple[float, str]:
    """Return the number of a text and its unit in the spelling that the tables use.

    text    : object; anything but a str is refused
    kind    : Kind, for the messages
    returns : float, str
    raises BadQuantity : see `read`
    """
    if isinstance(text, bool) or not isinstance(text, int | float | str):
        raise BadQuantity(text, f"a {kind.name} is a text in quotes", kind.allowed, slug="wrong-kind")
    if not isinstance(text, str):
        raise BadQuantity(text, "a bare number, without quotes and unit", kind.allowed)
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if "," in plain:
        raise BadQuantity(text, _comma_problem(plain), kind.allowed)
    if re.match(r"[+-]?(nan|inf)", plain, re.IGNORECASE) and not re.match(r"[+-]?in\b", plain):
        raise BadQuantity(text, "not a finite number", kind.allowed)
    found = _NUMBER.match(plain)
    if found is None:
        raise BadQuantity(text, "does not start with a number", kind.allowed)
    if found["decimal"] is not None:
        number = float(found["decimal"])
    elif int(found["bottom"]) == 0:
        raise BadQuantity(text, "a fraction over zero", kind.allowed)
    else:
        number = int(found["whole"] or 0) + int(found["top"]) / int(found["bottom"])
    spelling = normal_spelling(found["unit"])
    if not spelling:
        raise BadQuantity(text, "a number without a unit", kind.allowed)
    if not math.isfinite(number):
        raise BadQuantity(text, "not a finite number", kind.allowed)
    return (-number if found["sign"] == "-" else number), spelling


def normal_spelling(unit: str) -> str:
    """Return a unit's text with one way of writing products and powers: "ft - lb" -> "ft*lb", "mm²" -> "mm^2"."""
    text = unit.strip()
    for old, new in (
        ("·", "*"),
        ("⋅", "*"),
        ("×", "*"),
        ("**", "^"),
        ("²", "^2"),
        ("³", "^3"),
        ("⁻¹", "^-1"),
    ):
        text = text.replace(old, new)
    text = re.sub(r"\s*([*/^()\-])\s*", r"\1", text)
    text = re.sub(r"\s+", "*", text)
    return re.sub(r"(?<=[A-Za-z])-(?=[A-Za-z])", "*", text)


def _comma_problem(text: str) -> str:
    if re.search(r"\d,\d{3}(?!\d)", text):
        return (
            f'a comma may be a decimal or a thousands mark: write "{text.replace(",", "")}" or '
            f'"{text.replace(",", ".")}"'
        )
    return f'a comma is not read as a decimal mark: write "{text.replace(",", ".")}"'


def _unit_problem(spelling: str, wanted: Kind) -> str:
    if spelling in wanted.hints:
        return f"{spelling}: {wanted.hints[spelling]}"
    for other in KINDS.values():
        if spelling in other.spellings:
            return f"{spelling} is a unit of {other.name}, not of {wanted.name}"
    lowered: dict[str, str] = {known.lower(): known for known in wanted.spellings}
    near = lowered.get(spelling.lower()) or next(
        iter(difflib.get_close_matches(spelling, list(wanted.spellings), 1, 0.7)), None
    )
    return f"unit {spelling} is not known" + (f"; did you mean {near}?" if near else "")
