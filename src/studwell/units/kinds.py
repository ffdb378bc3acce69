"""The kinds of quantity: what each is called, kept in, written by users and shown in, and the spellings of its units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


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
