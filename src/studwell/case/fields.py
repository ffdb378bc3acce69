"""Types of the values in a case file: each reads one kind of text or number and knows its allowed range."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict

from studwell import units
from studwell.errors import BadQuantity

SMALLEST_SIZE, LARGEST_SIZE = 0.001, 2000.0
"""The sizes that a case may hold, mm: 1 micrometre to 2 m. Our own choice, to catch slips of the unit."""


SHORTEST_TIME, LONGEST_TIME = 1e-3, 1e9
"""The durations that a case may hold, s. Our own choice."""


class Table(BaseModel):
    """A table of the case file: every key known, every value of its kind, nothing changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


def within(kind: str, least: float, most: float, allowed: str) -> Callable[[object], float]:
    """Return a reader of quantities of a kind that refuses those outside a range.

    kind        : str, a key of units.KINDS
    least, most : float, in the unit that units.KINDS[kind].inside names; both ends allowed
    allowed     : str, the range in words
    returns     : function text -> float that raises BadQuantity
    """

    def reader(text: object) -> float:
        value = units.read(text, kind)
        if not least <= value <= most:
            raise BadQuantity(text, _beside(value, least), f"{units.KINDS[kind].name} {allowed}", "out-of-range")
        return value

    reader.allowed = f"{units.KINDS[kind].allowed}, {allowed}"  # type: ignore[attr-defined]
    return reader


def number_within(least: float, most: float, allowed: str) -> Callable[[object], float]:
    """Return a reader of bare numbers that refuses those outside a range; both ends allowed."""

    def reader(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise BadQuantity(value, "a bare number is needed, without quotes and unit", allowed, "wrong-kind")
        if not least <= value <= most:
            raise BadQuantity(value, _beside(value, least), allowed, "out-of-range")
        return float(value)

    reader.allowed = allowed  # type: ignore[attr-defined]
    return reader


def count_within(least: int, most: int, what: str) -> Callable[[object], int]:
    """Return a reader of whole numbers that refuses those outside a range; both ends allowed."""

    allowed = f"a whole number of {what}, {least} to {most}"

    def reader(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise BadQuantity(value, "not a whole number", allowed, "wrong-kind")
        if not least <= value <= most:
            raise BadQuantity(value, _beside(value, least), allowed, "out-of-range")
        return value

    reader.allowed = allowed  # type: ignore[attr-defined]
    return reader


def insert_length(text: object) -> float | str:
    """Return an insert's length as "1.5 d" when given in nominal diameters, else in mm."""
    if isinstance(text, str) and re.fullmatch(r"\s*\d+(\.\d+)?\s*d\s*", text):
        diameters = float(text.strip().rstrip("d"))
        if not 0.5 <= diameters <= 4:
            raise BadQuantity(text, "out of range", '"0.5 d" to "4 d"', "out-of-range")
        return f"{diameters} d"
    return within("length", SMALLEST_SIZE, LARGEST_SIZE, _SIZES)(text)


insert_length.allowed = '"0.5 d" to "4 d", or a length with its unit'  # type: ignore[attr-defined]


def relaxation(value: object) -> float | str:
    """Return a gasket's relaxation: "from stock", or a share of its pressure lost in each tenfold of time."""
    allowed = _RELAXATIONS
    if isinstance(value, str):
        if value != "from stock":
            raise BadQuantity(value, "not one of the choices", allowed, "bad-value")
        return value
    return number_within(0.0, 0.5, allowed)(value)


_RELAXATIONS = '"from stock" or a bare number, 0 to 0.5: the share lost in each tenfold of time'
relaxation.allowed = _RELAXATIONS  # type: ignore[attr-defined]


def moment(text: object) -> str | int | float:
    """Return when to re-tighten: "first heat", the number of whole cycles before it, or a time in s."""
    allowed = _MOMENTS
    if text == "first heat":
        return text
    found = re.fullmatch(r"cycle +(\d{1,6})", text) if isinstance(text, str) else None
    if found:
        if int(found[1]) == 0:
            raise BadQuantity(text, "the first cycle is number 1", allowed, "out-of-range")
        return int(found[1])
    if not isinstance(text, str) or not re.match(r"\s*[+\-\d.]", text):
        raise BadQuantity(text, "not one of the choices", allowed, "bad-value")
    return within("time", SHORTEST_TIME, LONGEST_TIME, "above 0")(text)


_MOMENTS = '"first heat", a cycle such as "cycle 3", or a time with its unit such as "2 h"'
moment.allowed = _MOMENTS  # type: ignore[attr-defined]


def zone(text: object) -> float | str:
    """Return how much of the boss may yield: "boss" for all of it, or a distance from the corner fillet in mm."""
    if text == "boss":
        return "boss"
    if isinstance(text, str) and not re.match(r"\s*[+\-\d.]", text):
        raise BadQuantity(text, "not one of the choices", _ZONES, "bad-value")
    return within("length", 0.05, 100.0, "from 0.05 mm to 100 mm")(text)


def layer_names(value: object) -> tuple[str, ...]:
    """Return the names of the stack's layers that may yield; each once, none for an empty list."""
    if not isinstance(value, list | tuple) or not all(isinstance(name, str) for name in value):
        raise BadQuantity(value, "a list of names is needed", _LAYER_NAMES, "wrong-kind")
    twice = next((name for i, name in enumerate(value) if name in value[:i]), None)
    if twice is not None:
        raise BadQuantity(twice, "named twice", _LAYER_NAMES, "duplicate-name")
    return tuple(value)


_LAYER_NAMES = 'names of layers of the stack, such as ["barrel", "head"]'
layer_names.allowed = _LAYER_NAMES  # type: ignore[attr-defined]

_ZONES = '"boss", or a distance from the corner fillet with its unit such as "2 mm"'
zone.allowed = _ZONES  # type: ignore[attr-defined]


def hardening(text: object) -> float:
    """Return the slope of a straight hardening line in MPa; a line that falls is refused."""
    value = units.read(text, "pressure")
    allowed = "0 MPa to 100 GPa"
    if value < 0:
        problem = "negative: a material that softens as it flows is not solved"
        raise BadQuantity(text, problem, allowed, "out-of-range")
    if value > 1e5:
        raise BadQuantity(text, "too large", allowed, "out-of-range")
    return value


hardening.allowed = units.KINDS["pressure"].allowed  # type: ignore[attr-defined]


def title(value: object) -> str:
    """Return a text of one line that is not empty."""
    if not isinstance(value, str):
        raise BadQuantity(value, "a text in quotes is needed", slug="wrong-kind")
    if not value.strip() or any(ord(letter) < 32 for letter in value) or len(value) > 120:
        raise BadQuantity(value, "not a name", "one line of 1 to 120 characters")
    return value.strip()


def _beside(value: float, least: float) -> str:
    if value < 0 <= least:
        return "negative"
    if value == 0 < least:
        return "zero"
    return "too small" if value < least else "too large" if value > least else "not a finite number"


_SIZES = "from 1 um to 2 m"


Size = Annotated[float, BeforeValidator(within("length", SMALLEST_SIZE, LARGEST_SIZE, _SIZES))]
SizeOrZero = Annotated[float, BeforeValidator(within("length", 0.0, LARGEST_SIZE, "from 0 to 2 m"))]
Tolerance = Annotated[float, BeforeValidator(within("length", 0.0, 20.0, "from 0 to 20 mm"))]
Torque = Annotated[float, BeforeValidator(within("torque", 1.0, 1e7, "from 0.001 N*m to 10 kN*m"))]
TorqueOrZero = Annotated[float, BeforeValidator(within("torque", 0.0, 1e7, "from 0 to 10 kN*m"))]
Force = Annotated[float, BeforeValidator(within("force", 0.1, 1e7, "from 0.1 N to 10000 kN"))]
Pressure = Annotated[float, BeforeValidator(within("pressure", 1e-4, 1e4, "from 100 Pa to 10 GPa"))]
Modulus = Annotated[float, BeforeValidator(within("pressure", 500.0, 2e6, "from 0.5 GPa to 2000 GPa"))]
Temperature = Annotated[
    float, BeforeValidator(within("temperature", units.ABSOLUTE_ZERO, 1000.0, "from absolute zero to 1000 degC"))
]
Turn = Annotated[float, BeforeValidator(within("turn", 1e-4, 50.0, "above 0 and up to 50 turns"))]
ConeAngle = Annotated[
    float, BeforeValidator(within("angle", 60.0, 170.0, "from 60 deg to 170 deg, the full angle of the cone"))
]
Time = Annotated[float, BeforeValidator(within("time", 0.0, 1e9, "from 0 to 1e9 s"))]
Expansion = Annotated[float, BeforeValidator(within("expansion", -1e-5, 1e-3, "from -1e-5 /K to 1e-3 /K"))]
FluidExpansion = Annotated[float, BeforeValidator(within("expansion", -1e-3, 1e-2, "from -0.001 /K to 0.01 /K"))]
Duration = Annotated[float, BeforeValidator(within("time", SHORTEST_TIME, LONGEST_TIME, "above 0 and up to 1e9 s"))]
Difference = Annotated[float, BeforeValidator(within("temperature_difference", 1e-6, 100.0, "above 0 and up to 100 K"))]
Film = Annotated[float, BeforeValidator(within("film", 1e-6, 1e3, "from 0.001 to 1e6 W/(m^2*K)"))]
Conductance = Annotated[float, BeforeValidator(within("conductance", 1e-6, 1e5, "from 0.001 to 1e8 W/(m^2*K)"))]
HeatFlux = Annotated[float, BeforeValidator(within("heat_flux", -1e5, 1e5, "from -1e8 to 1e8 W/m^2"))]
FilmFactor = Annotated[float, BeforeValidator(number_within(0.0, 100.0, "a bare number, 0 to 100"))]
Embedding = Annotated[float, BeforeValidator(within("length", 0.0, 0.1, "from 0 to 0.1 mm"))]
Relaxation = Annotated[float | str, BeforeValidator(relaxation)]
RetightenMoment = Annotated[str | int | float, BeforeValidator(moment)]
SetShare = Annotated[
    float,
    BeforeValidator(number_within(0.0, 0.5, "a bare number, 0 to 0.5: the share of its cone height that it loses")),
]
Toughness = Annotated[float, BeforeValidator(within("toughness", 0.1, 1000.0, "from 0.1 to 1000 MPa*m^0.5"))]
Conductivity = Annotated[float, BeforeValidator(within("conductivity", 1e-3, 3000.0, "from 0.001 to 3000 W/(m*K)"))]
Density = Annotated[float, BeforeValidator(within("density", 1.0, 3e4, "from 1 to 30000 kg/m^3"))]
HeatCapacity = Annotated[float, BeforeValidator(within("heat_capacity", 10.0, 1e4, "from 10 to 10000 J/(kg*K)"))]
GrowthRate = Annotated[
    float, BeforeValidator(within("growth_rate", 1e-60, 1.0, "above 0 and up to 1 m/cycle, the rate at 1 MPa*m^0.5"))
]
GrowthExponent = Annotated[float, BeforeValidator(number_within(1.0, 30.0, "a bare number, 1 to 30"))]
GrowthRatio = Annotated[float, BeforeValidator(number_within(-10.0, 0.95, "a bare number, -10 to 0.95"))]
WalkerExponent = Annotated[float, BeforeValidator(number_within(0.01, 1.0, "a bare number, 0.01 to 1"))]
Volume = Annotated[float, BeforeValidator(within("volume", 1e-3, 1e9, "from 0.001 mm^3 to 1 m^3"))]
WeibullModulus = Annotated[float, BeforeValidator(number_within(1.0, 200.0, "a bare number, 1 to 200"))]
SurfaceFactor = Annotated[float, BeforeValidator(number_within(0.05, 2.0, "a bare number, 0.05 to 2"))]
ResidualStress = Annotated[
    float, BeforeValidator(within("pressure", -2e3, 2e3, "from -2 GPa to 2 GPa, tension positive"))
]
Repeats = Annotated[float, BeforeValidator(number_within(1.0, 1e12, "a bare number of cycles, 1 to 1e12"))]
Probability = Annotated[float, BeforeValidator(number_within(1e-9, 0.999, "a bare number, 1e-9 to 0.999"))]
Zone = Annotated[float | str, BeforeValidator(zone)]
LayerNames = Annotated[tuple[str, ...], BeforeValidator(layer_names)]
HardeningModulus = Annotated[float, BeforeValidator(hardening)]
CreepExponent = Annotated[float, BeforeValidator(number_within(1.0, 50.0, "a bare number, 1 to 50"))]
CreepCoefficient = Annotated[
    float, BeforeValidator(within("creep_rate", 1e-300, 1.0, "above 0 and up to 1 /s, the rate at 1 MPa"))
]
Friction = Annotated[float, BeforeValidator(number_within(0.0, 1.0, "a bare number, 0 to 1"))]
Share = Annotated[float, BeforeValidator(number_within(0.0, 1.0, "a bare number, 0 to 1"))]
NutFactor = Annotated[float, BeforeValidator(number_within(0.01, 2.0, "a bare number, 0.01 to 2"))]
Poisson = Annotated[float, BeforeValidator(number_within(0.0, 0.499, "a bare number, 0 to 0.499"))]
Steps = Annotated[int, BeforeValidator(count_within(1, 100_000, "steps"))]
Cycles = Annotated[int, BeforeValidator(count_within(1, 1000, "cycles"))]
Count = Annotated[int, BeforeValidator(count_within(1, 50, "pieces"))]
InsertLength = Annotated[float | str, BeforeValidator(insert_length)]
Contents = Literal["empty", "vented", "oil", "water", "uncured threadlocker", "own fluid"]
Title = Annotated[str, BeforeValidator(title)]
