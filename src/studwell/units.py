"""Text with a unit <-> plain floats in N, mm, MPa, degC and s; pint is imported here and nowhere else.

Number and unit are split here and looked up in a table of spellings a kind, because a general parser
takes "10 Nm" for kilometres per kilogram and "1,5 mm" for fifteen millimetres.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pint

from studwell.errors import BadQuantity, shown

ABSOLUTE_ZERO = -273.15
"""degC. Source: definition of the Celsius scale, The International System of Units (BIPM)."""

_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
    (?: (?:(?P<whole>\d+)[ \-])? (?P<top>\d+)\s*/\s*(?P<bottom>\d+)
      | (?P<decimal>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?) )
    (?P<unit>.*)$""",
    re.VERBOSE | re.DOTALL,
)


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: how it is called, kept inside, written by users and shown.

    name      : str, as error lines call it
    inside    : str, pint unit of the plain float inside the code
    example   : str, a text that is accepted
    units     : str, the units to list as allowed
    spellings : spelling -> pint unit
    metric    : (pint unit, label) shown in metric output
    inch      : (pint unit, label) shown in inch output
    hints     : spelling -> why it is refused here
    """

    name: str
    inside: str
    example: str
    units: str
    spellings: Mapping[str, str]
    metric: tuple[str, str]
    inch: tuple[str, str]
    hints: Mapping[str, str] = field(default_factory=dict)

    @property
    def allowed(self) -> str:
        """What a user may write, in one phrase."""
        return f'a {self.name} with its unit ({self.units}), such as "{self.example}"'


def _spellings(**units: str) -> dict[str, str]:
    """Return {spelling: pint unit} from name="pint unit: spelling spelling"; the names only keep the table tidy."""
    table: dict[str, str] = {}
    for entry in units.values():
        unit, _, words = entry.partition(": ")
        table.update(dict.fromkeys(words.split(), unit))
    return table


_TEMPERATURES = _spellings(
    c="degC: degC °C ℃ C celsius Celsius deg*C", f="degF: degF °F ℉ F fahrenheit Fahrenheit deg*F",
    k="kelvin: K kelvin Kelvin degK",
)  # fmt: skip
_TURNS = _spellings(
    turn="turn: turn turns rev revs revolution revolutions", deg="degree: deg degs degree degrees °",
    rad="radian: rad radian radians",
)  # fmt: skip
_PER_AREA_AND_KELVIN = _spellings(
    w="W/(m**2*kelvin): W/(m^2*K) W/m^2/K W/m^2K W/(m^2K) W/(m2*K)", kw="kW/(m**2*kelvin): kW/(m^2*K) kW/m^2/K",
    n="N/(mm*s*kelvin): N/(mm*s*K)",
)  # fmt: skip
_ENERGY = "joule is a unit of energy, not of torque"
_OFFSET = "a difference has no zero point, so a scale with one is refused; 1 K is as large as 1 degC, 1.8 degF"
_MASS = "a mass, not a force"

# fmt: off
KINDS: dict[str, Kind] = {
    "length": Kind("length", "mm", "8 mm", "mm, cm, m, um, in, ft", _spellings(
        mm="mm: mm millimetre millimetres millimeter millimeters", cm="cm: cm centimetre centimetres",
        m="m: m metre metres meter meters", um="um: um µm μm micrometre micrometres micron microns",
        inch='inch: in in. inch inches " ″', ft="foot: ft foot feet", thou="thou: thou",
    ), ("mm", "mm"), ("inch", "in")),
    "force": Kind("force", "N", "12 kN", "N, kN, lbf, kgf", _spellings(
        N="N: N newton newtons", kN="kN: kN", lbf="lbf: lbf", kgf="kgf: kgf kp",
    ), ("kN", "kN"), ("lbf", "lbf"), dict.fromkeys(("kg", "g", "lb", "lbs"), _MASS)),
    "torque": Kind("torque", "N*mm", "12 N*m", "N*m, lbf*ft, lbf*in", _spellings(
        Nm="N*m: N*m Nm m*N newton*metre newton*metres newton*meter newton*meters", Ncm="N*cm: N*cm Ncm",
        Nmm="N*mm: N*mm Nmm", kNm="kN*m: kN*m kNm",
        ft="lbf*ft: lbf*ft ft*lbf lb*ft ft*lb lbft ftlb lbfft ftlbf ft*lbs lbs*ft foot*pound foot*pounds",
        inch="lbf*inch: lbf*in in*lbf lb*in in*lb lbin inlb lbfin inlbf in*lbs lbs*in inch*pound inch*pounds",
        kgfm="kgf*m: kgf*m kgfm m*kgf kgm kg*m", kgfcm="kgf*cm: kgf*cm kgfcm",
    ), ("N*m", "N*m"), ("lbf*ft", "lbf*ft"), dict.fromkeys(("J", "kJ", "joule", "joules"), _ENERGY)),
    "pressure": Kind("pressure", "MPa", "205 MPa", "MPa, GPa, kPa, Pa, bar, psi, ksi", _spellings(
        MPa="MPa: MPa N/mm^2", GPa="GPa: GPa kN/mm^2", kPa="kPa: kPa", Pa="Pa: Pa N/m^2", bar="bar: bar",
        psi="psi: psi lbf/in^2", ksi="ksi: ksi",
    ), ("MPa", "MPa"), ("psi", "psi")),
    "temperature": Kind("temperature", "degC", "110 degC", "degC, degF, K", _TEMPERATURES,
                        ("degC", "degC"), ("degF", "degF")),
    "temperature_difference": Kind(
        "temperature difference", "kelvin", "15 K", "K", _spellings(k="kelvin: K kelvin Kelvin"),
        ("kelvin", "K"), ("kelvin", "K"),
        {spelling: _OFFSET for spelling, unit in _TEMPERATURES.items() if unit != "kelvin"},
    ),
    "turn": Kind("turn", "turn", "0.22 turn", "turn, deg, rad", _TURNS, ("turn", "turn"), ("turn", "turn")),
    "angle": Kind("angle", "degree", "118 deg", "deg, rad, turn", _TURNS, ("degree", "deg"), ("degree", "deg")),
    "time": Kind("time", "s", "10 min", "s, min, h, day", _spellings(
        s="s: s sec second seconds", min="minute: min minute minutes", h="hour: h hr hour hours",
        d="day: d day days", ms="ms: ms",
    ), ("minute", "min"), ("minute", "min")),
    "expansion": Kind("thermal expansion", "1/kelvin", "21.5e-6 /K", "/K, /degF, um/(m*K)", _spellings(
        k="1/kelvin: /K 1/K K^-1 /degC 1/degC mm/mm/K", f="1/delta_degF: /degF 1/degF",
        ppm="1e-6/kelvin: ppm/K um/m/K µm/m/K um/(m*K) µm/(m*K)",
    ), ("1e-6/kelvin", "um/(m*K)"), ("1e-6/delta_degF", "uin/(in*degF)")),
    "toughness": Kind("fracture toughness", "MPa*m**0.5", "17.3 MPa*m^0.5", "MPa*m^0.5, ksi*in^0.5", _spellings(
        m="MPa*m**0.5: MPa*m^0.5 MPa*m^(1/2) MPa*sqrt(m) MPa√m MPa*√m", mm="MPa*mm**0.5: MPa*mm^0.5 N/mm^1.5",
        ksi="ksi*inch**0.5: ksi*in^0.5 ksi*sqrt(in)",
    ), ("MPa*m**0.5", "MPa*m^0.5"), ("ksi*inch**0.5", "ksi*in^0.5")),
    "conductivity": Kind("thermal conductivity", "W/(m*kelvin)", "155 W/(m*K)", "W/(m*K)", _spellings(
        w="W/(m*kelvin): W/(m*K) W/m/K W/mK W/(mK) N/(s*K)",
    ), ("W/(m*kelvin)", "W/(m*K)"), ("W/(m*kelvin)", "W/(m*K)")),
    "film": Kind("film coefficient", "N/(mm*s*kelvin)", "40 W/(m^2*K)", "W/(m^2*K)", _PER_AREA_AND_KELVIN,
                 ("W/(m**2*kelvin)", "W/(m^2*K)"), ("W/(m**2*kelvin)", "W/(m^2*K)")),
    "conductance": Kind("conductance", "N/(mm*s*kelvin)", "5000 W/(m^2*K)", "W/(m^2*K)", _PER_AREA_AND_KELVIN,
                        ("W/(m**2*kelvin)", "W/(m^2*K)"), ("W/(m**2*kelvin)", "W/(m^2*K)")),
    "heat_flux": Kind("heat flux", "N/(mm*s)", "20 kW/m^2", "W/m^2, kW/m^2, W/cm^2", _spellings(
        w="W/m**2: W/m^2 W/m2", kw="kW/m**2: kW/m^2 kW/m2", cm="W/cm**2: W/cm^2 W/cm2", n="N/(mm*s): N/(mm*s)",
    ), ("W/m**2", "W/m^2"), ("W/m**2", "W/m^2")),
    "density": Kind("density", "kg/m**3", "2680 kg/m^3", "kg/m^3, g/cm^3", _spellings(
        kg="kg/m**3: kg/m^3 kg/m3", g="g/cm**3: g/cm^3 g/cm3 g/cc", lb="lb/inch**3: lb/in^3",
    ), ("kg/m**3", "kg/m^3"), ("lb/inch**3", "lb/in^3")),
    "heat_capacity": Kind("heat capacity", "J/(kg*kelvin)", "963 J/(kg*K)", "J/(kg*K)", _spellings(
        j="J/(kg*kelvin): J/(kg*K) J/kg/K J/kgK J/(kgK)", kj="kJ/(kg*kelvin): kJ/(kg*K) kJ/kg/K",
    ), ("J/(kg*kelvin)", "J/(kg*K)"), ("J/(kg*kelvin)", "J/(kg*K)")),
    "creep_rate": Kind("creep rate", "1/s", "3e-17 /s", "/s, /h", _spellings(
        s="1/s: /s 1/s s^-1", h="1/hour: /h 1/h h^-1 /hour 1/hour",
    ), ("1/s", "/s"), ("1/s", "/s")),
    "growth_rate": Kind("growth rate", "m", "1e-11 m/cycle", "m/cycle, mm/cycle", _spellings(
        m="m: m/cycle", mm="mm: mm/cycle",
    ), ("m", "m/cycle"), ("m", "m/cycle")),
    "stiffness": Kind("stiffness", "N/mm", "200 kN/mm", "N/mm, kN/mm, lbf/in", _spellings(
        n="N/mm: N/mm", kn="kN/mm: kN/mm", um="N/um: N/um", lbf="lbf/inch: lbf/in",
    ), ("kN/mm", "kN/mm"), ("lbf/inch", "lbf/in")),
    "area": Kind("area", "mm**2", "36.6 mm^2", "mm^2, in^2", _spellings(
        mm="mm**2: mm^2 mm2", cm="cm**2: cm^2", inch="inch**2: in^2",
    ), ("mm**2", "mm^2"), ("inch**2", "in^2")),
    "volume": Kind("volume", "mm**3", "50 mm^3", "mm^3, ml, in^3", _spellings(
        mm="mm**3: mm^3 mm3", cm="cm**3: cm^3", ml="ml: ml", inch="inch**3: in^3",
    ), ("mm**3", "mm^3"), ("inch**3", "in^3")),
}
# fmt: on
"""Every kind of quantity that is read or shown, by name."""


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
    value = float(_convert(number, unit, wanted.inside))
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


def in_unit(value: Any, kind: str, system: str = "metric") -> Any:
    """Return an inside value, float or array, as the number that output in `system` shows.

    value  : float or array, in the unit KINDS[kind].inside
    kind   : str, a key of KINDS
    system : str, "metric" or "inch"
    """
    return _convert(value, KINDS[kind].inside, _shown_unit(kind, system)[0])


def label(kind: str, system: str = "metric") -> str:
    """Return the unit that output in `system` ("metric" or "inch") shows for a kind, such as "kN"."""
    return _shown_unit(kind, system)[1]


def as_text(value: float, kind: str, system: str = "metric", digits: int = 4) -> str:
    """Return an inside value as text with its unit, such as "12.35 kN"; `read` takes it back.

    value  : float, in the unit KINDS[kind].inside
    kind   : str, a key of KINDS
    system : str, "metric" or "inch"
    digits : int, significant digits
    """
    return f"{number_text(in_unit(value, kind, system), digits)} {label(kind, system)}"


def number_text(value: float, digits: int = 4) -> str:
    """Return a number with so many significant digits, without trailing zeros or an exponent below 1e6."""
    rounded = float(f"{float(value):.{digits}g}") + 0.0  # the sum turns -0 into 0
    if rounded != 0 and not 1e-4 <= abs(rounded) < 1e6:
        return f"{rounded:.{digits}g}"
    places = max(0, digits - 1 - (math.floor(math.log10(abs(rounded))) if rounded else 0))
    text = f"{rounded:.{places}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text).replace("-0", "0", 1 if text == "-0" else 0)


def time_text(time: float) -> str:
    """Return a time (s) as people say it: "10 min", from an hour on "2 h" or "1 h 40 min"."""
    if abs(time) < 3600.0:
        return f"{number_text(time / 60.0)} min"
    hours, minutes = divmod(round(abs(time) / 60.0, 1), 60.0)
    rest = f" {number_text(minutes, 3)} min" if minutes else ""
    return f"{'-' if time < 0.0 else ''}{hours:.0f} h{rest}"


def quantity(value: Any, kind: str) -> Any:
    """Return an inside value, float or array, as a pint quantity of the application's registry.

    value : float or array, in the unit KINDS[kind].inside
    kind  : str, a key of KINDS, or "share" for a plain ratio
    """
    registry = _registry()
    return registry.Quantity(value, "dimensionless" if kind == "share" else KINDS[kind].inside)


def _registry() -> Any:
    """Return the registry that the caller's own quantities come from, so that the two can be added."""
    return pint.get_application_registry()


def _shown_unit(kind: str, system: str) -> tuple[str, str]:
    if system not in ("metric", "inch"):
        raise ValueError(f'system is {shown(system)}; allowed: "metric" or "inch"')
    return KINDS[kind].metric if system == "metric" else KINDS[kind].inch


def _convert(value: Any, unit: str, target: str) -> Any:
    """Return a number or array in `unit` as one in `target`; no rounding where both are the same."""
    if unit == target:
        return float(value) if isinstance(value, int | float) else value
    registry = _registry()
    scaled, unit = _factor(unit)
    out, target = _factor(target)
    result = registry.Quantity(value * scaled if scaled != 1 else value, unit).to(target).magnitude
    result = result / out if out != 1 else result
    return float(result) if isinstance(value, int | float) else result


def _factor(unit: str) -> tuple[float, str]:
    """Split "1e-6/kelvin" into 1e-6 and "1/kelvin": pint takes no factor in a unit."""
    return (1e-6, unit.replace("1e-6", "1")) if unit.startswith("1e-6") else (1.0, unit)


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
