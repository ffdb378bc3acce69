"""Materials: elastic, thermal and strength values, with the temperature dependence that is known."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, finite, positive, unknown_name
from studwell.parts.flow import Creep, Hardening

LATER = {"later": True}
"""Marks a property that earlier data had not: unknown, it leaves a case's fingerprint as it was."""


@dataclass(frozen=True)
class Curve:
    """A property against temperature: straight between its points, held at its ends.

    temperatures : degC, rising
    values       : the property at those temperatures, in the property's unit
    """

    temperatures: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.temperatures or len(self.temperatures) != len(self.values):
            raise ValueError("a curve needs as many values as temperatures, and at least one")
        if any(b <= a for a, b in zip(self.temperatures, self.temperatures[1:], strict=False)):
            raise ValueError(f"the temperatures of a curve must rise: {self.temperatures}")
        if not np.all(np.isfinite((*self.temperatures, *self.values))):
            raise ValueError("a curve must be finite")

    def at(self, temperature: ArrayLike) -> Array:
        """Return the property at a temperature.

        temperature       : float or array, degC
        returns           : float or array of the same shape, the property's unit
        raises ValueError : temperature not finite

        Source: the curve's own data.
        """
        return np.interp(finite("temperature", temperature), self.temperatures, self.values)

    def covers(self, temperature: ArrayLike) -> bool:
        """Return whether the data reach over every temperature given; beyond them the end value is held.

        temperature       : float or array, degC
        returns           : bool; always true for a curve of one point (a constant)
        raises ValueError : temperature not finite

        Source: the curve's own data.
        """
        asked = finite("temperature", temperature)
        if len(self.temperatures) == 1:
            return True
        return bool(np.all((asked >= self.temperatures[0]) & (asked <= self.temperatures[-1])))


@dataclass(frozen=True)
class Material:
    """One material; a property that is None is unknown, and nothing stands in for it.

    name, family           : str ("a356-t6 sand", "cast aluminium")
    youngs_modulus         : Curve, MPa
    poisson                : float
    expansion              : Curve, 1/K, secant from 20 degC
    conductivity           : float, W/(m K), the same number in N/(s K)
    density                : float, kg/m3
    heat_capacity          : float, J/(kg K)
    yield_strength         : Curve or None, MPa (0.2 % proof stress; 0.1 % for grey iron)
    ultimate_strength      : Curve or None, MPa
    shear_strength         : float or None, MPa at 20 degC
    fatigue_strength       : float or None, MPa, rotating bending, 5e8 cycles, at 20 degC
    fracture_toughness     : float or None, MPa m^0.5, K_Ic
    threshold              : float or None, MPa m^0.5, range below which a long crack does not grow, at growth_ratio
    growth_coefficient     : float or None, m per cycle at a range of 1 MPa m^0.5;  growth_exponent: float or None
    growth_low, growth_high: float or None, MPa m^0.5, the ranges between which that law was measured
    growth_ratio           : float or None, least over largest intensity at which threshold and growth law were measured
    walker_exponent        : float or None, of Walker's law, which carries both to a larger ratio
    weibull_modulus        : float or None;  weibull_strength: MPa, at which 63.2 % of volumes weibull_volume, mm3, break
    bearing_pressure_limit : float or None, MPa, under a nut or washer
    sources                : ((property, source, status), ...)
    hardening, creep       : what it does beyond yield and in time at heat, each with its own sources, or None
    """

    name: str
    family: str
    youngs_modulus: Curve
    poisson: float
    expansion: Curve
    conductivity: float
    density: float
    heat_capacity: float
    yield_strength: Curve | None = None
    ultimate_strength: Curve | None = None
    shear_strength: float | None = None
    fatigue_strength: float | None = None
    fracture_toughness: float | None = None
    bearing_pressure_limit: float | None = None
    threshold: float | None = field(default=None, metadata=LATER)
    growth_coefficient: float | None = field(default=None, metadata=LATER)
    growth_exponent: float | None = field(default=None, metadata=LATER)
    growth_low: float | None = field(default=None, metadata=LATER)
    growth_high: float | None = field(default=None, metadata=LATER)
    growth_ratio: float | None = field(default=None, metadata=LATER)
    walker_exponent: float | None = field(default=None, metadata=LATER)
    weibull_modulus: float | None = field(default=None, metadata=LATER)
    weibull_strength: float | None = field(default=None, metadata=LATER)
    weibull_volume: float | None = field(default=None, metadata=LATER)
    sources: tuple[tuple[str, str, str], ...] = ()
    hardening: Hardening | None = field(default=None, metadata={"only_with": "inelastic"})
    creep: Creep | None = field(default=None, metadata={"only_with": "inelastic"})

    @property
    def volumetric_heat_capacity(self) -> float:
        """Density times heat capacity, MPa/K (1e-6 of J/(m3 K))."""
        return self.density * self.heat_capacity * 1e-6

    def source(self, name: str) -> tuple[str, str]:
        """Return (source, status) of one property.

        name              : str, a property of this class
        returns           : (str, str)
        raises ValueError : the property is unknown for this material

        Source: the data file, or the user's own table.
        """
        flow = (*(self.hardening.sources if self.hardening else ()), *(self.creep.sources if self.creep else ()))
        for key, source, status in (*self.sources, *flow):
            if key == name:
                return source, status
        raise ValueError(f"{self.name}: {name} is unknown")

    def thermal_strain(self, temperature: ArrayLike, reference: float = 20.0) -> Array:
        """Return the free thermal strain between two temperatures.

        The secant coefficient counts from 20 degC: strain = a(T)(T - 20) - a(T0)(T0 - 20).

        temperature       : float or array, degC
        reference         : float, degC, where the strain is zero
        returns           : float or array, 1
        raises ValueError : a temperature not finite

        Source: definition of the mean (secant) coefficient of thermal expansion.
        """
        hot, cold = finite("temperature", temperature), finite("reference", reference)
        return self.expansion.at(hot) * (hot - 20.0) - self.expansion.at(cold) * (cold - 20.0)


CURVES = ("youngs_modulus", "expansion", "yield_strength", "ultimate_strength")
RECORDS = ("name", "family", "sources", "hardening", "creep")
NUMBERS = tuple(each.name for each in fields(Material) if each.name not in (*CURVES, *RECORDS))
HARDENING = ("hardening_strain", "backstress_share")
CREEP = ("creep_exponent", "creep_coefficient")
OWN_FLOW = ("hardening_modulus", "creep_exponent", "creep_coefficient", "creep_temperature_range")
"""What a user may state of a material's flow and creep."""


def stock_material_names() -> tuple[str, ...]:
    """Return the names of the stocked materials, in the data file's order.

    returns : tuple of str

    Source: materials.toml of this package.
    """
    return tuple(table("materials"))


@cache
def stock_material(name: str) -> Material:
    """Return one stocked material.

    name              : str, one of stock_material_names()
    returns           : Material
    raises ValueError : not in stock; the message lists what is

    Source: materials.toml of this package, value by value (Material.source).
    """
    entries = table("materials")
    if name not in entries:
        raise ValueError(unknown_name("material", name, entries))
    entry = entries[name]
    values: dict[str, Any] = {}
    sources = []
    for key, item in entry.items():
        if key in ("family", *HARDENING, *CREEP):
            continue
        sources.append((key, *source_of(item)))
        if key in CURVES:
            points = item.get("temperatures", (20.0,)), item.get("values", (item.get("value"),))
            values[key] = Curve(tuple(map(float, points[0])), tuple(map(float, points[1])))
        else:
            values[key] = float(item["value"])
    values["hardening"] = _stock_hardening(entry)
    values["creep"] = _stock_creep(entry)
    return Material(name=name, family=entry["family"], sources=tuple(sources), **values)


def _stock_hardening(entry: Mapping[str, Any]) -> Hardening | None:
    if "hardening_strain" not in entry:
        return None
    strain, share = (float(entry[key]["value"]) for key in HARDENING)
    return Hardening(strain, share, sources=tuple((key, *source_of(entry[key])) for key in HARDENING))


def _stock_creep(entry: Mapping[str, Any]) -> Creep | None:
    if "creep_exponent" not in entry:
        return None
    line = entry["creep_coefficient"]
    temperatures, values = tuple(map(float, line["temperatures"])), tuple(map(float, line["values"]))
    return Creep(
        exponent=float(entry["creep_exponent"]["value"]),
        temperatures=temperatures,
        coefficients=values,
        valid=(temperatures[0], temperatures[-1]),
        sources=tuple((key, *source_of(entry[key])) for key in CREEP),
    )


def _own_flow(name: str, start: Material, given: Mapping[str, Any]) -> dict[str, Any]:
    """Hardening and creep records with what the user states laid on those of the base."""
    result: dict[str, Any] = {}
    said = "given by the user"
    if "hardening_modulus" in given:
        modulus = float(given["hardening_modulus"])
        if not modulus >= 0:
            raise ValueError(f"{name}: hardening_modulus must be 0 or more, not {modulus:g}: softening is not solved")
        result["hardening"] = Hardening(None, 0.0, modulus, (("hardening_modulus", said, said),))
    stated = [key for key in OWN_FLOW[1:] if key in given]
    if not stated:
        return result
    needed = ("creep_coefficient", "creep_temperature_range")
    if len({*needed} & {*stated}) == 1 or (start.creep is None and len(stated) < 3):
        raise ValueError(f"{name}: creep needs creep_exponent, creep_coefficient and creep_temperature_range together")
    if "creep_coefficient" not in stated:
        raise ValueError(
            f"{name}: another creep_exponent needs a creep_coefficient and creep_temperature_range with it"
        )
    exponent = float(given["creep_exponent"]) if "creep_exponent" in given else start.creep.exponent  # type: ignore[union-attr]
    low, high = map(float, given["creep_temperature_range"])
    if not low < high:
        raise ValueError(f"{name}: creep_temperature_range must rise, not {low:g} to {high:g} degC")
    if not exponent >= 1:
        raise ValueError(f"{name}: creep_exponent must be 1 or more, not {exponent:g}")
    coefficient = float(positive(f"{name}: creep_coefficient", given["creep_coefficient"]))
    kept = tuple((key, said, said) for key in stated)
    result["creep"] = Creep(exponent, (low,), (coefficient,), (low, high), kept)
    return result


def material_from(name: str, base: Material | str, overrides: Mapping[str, Any]) -> Material:
    """Return a user's own material: a base with some of its properties replaced.

    name              : str, the user's name for it
    base              : Material, or the name of a stocked one
    overrides         : property name -> float (held constant over temperature) or Curve, in the
                        units of Material; and any of OWN_FLOW: hardening_modulus MPa, creep_exponent,
                        creep_coefficient 1/s MPa^-n, creep_temperature_range (from, to) degC
    returns           : Material; replaced properties name the user as their source
    raises ValueError : base not in stock, property unknown, or value not possible

    Source: the user's table for what it states, the base for the rest.
    """
    start = stock_material(base) if isinstance(base, str) else base
    values: dict[str, Any] = {}
    for key, value in overrides.items():
        if key in OWN_FLOW:
            continue
        if key not in (*CURVES, *NUMBERS):
            raise ValueError(f"{name}: {unknown_name('material property', key, (*CURVES, *NUMBERS, *OWN_FLOW))}")
        if isinstance(value, Curve):
            if key not in CURVES:
                raise ValueError(f"{name}: {key} takes one number, not a curve")
            values[key] = value
        else:
            number = float(finite(key, value))
            values[key] = Curve((20.0,), (number,)) if key in CURVES else number
    if "poisson" in values and not 0.0 <= values["poisson"] < 0.5:
        raise ValueError(f"{name}: poisson must be at least 0 and below 0.5, not {values['poisson']}")
    if values.get("growth_ratio", 0.0) >= 1.0 or values.get("walker_exponent", 1.0) > 1.0:
        raise ValueError(f"{name}: growth_ratio must be below 1, and walker_exponent at most 1")
    for key, value in values.items():
        if key not in ("poisson", "expansion", "growth_ratio"):
            positive(f"{name}: {key}", value.values if isinstance(value, Curve) else value)
    kept = tuple(entry for entry in start.sources if entry[0] not in values)
    own = tuple((key, "given by the user", "given by the user") for key in values)
    return replace(start, name=name, sources=kept + own, **values, **_own_flow(name, start, overrides))
