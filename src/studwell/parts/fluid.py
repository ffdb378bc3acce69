"""Liquids in a closed pocket: volume against temperature, stiffness, and what water does when it freezes."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, finite, positive, unknown_name
from studwell.parts.material import Curve

KELVIN = 273.15


@dataclass(frozen=True)
class Ice:
    """The solid that a liquid freezes to, and the curve on which the two lie beside each other.

    density, bulk_modulus : Curve, kg/m3 and MPa
    reference_temperature, reference_pressure : K and MPa
    factors, exponents    : of the melting curve
    least_temperature     : K, below which the curve does not hold and its last pressure is taken
    """

    density: Curve
    bulk_modulus: Curve
    reference_temperature: float
    reference_pressure: float
    factors: tuple[float, ...]
    exponents: tuple[float, ...]
    least_temperature: float

    def melting_pressure(self, temperature: ArrayLike) -> Array:
        """Return the pressure at which solid and liquid lie beside each other: 1 + sum a (1 - theta^b).

        temperature       : float or array, degC
        returns           : float or array, MPa; 0 above the triple point, held below least_temperature
        raises ValueError : temperature not finite

        Source: IAPWS R14-08(2011), melting curve of ice Ih.
        """
        theta = (finite("temperature", temperature) + KELVIN) / self.reference_temperature
        theta = np.maximum(theta, self.least_temperature / self.reference_temperature)
        pressure = np.ones_like(theta)
        for factor, exponent in zip(self.factors, self.exponents, strict=True):
            pressure = pressure + factor * (1.0 - theta**exponent)
        return np.where(theta < 1.0, self.reference_pressure * pressure, 0.0)


@dataclass(frozen=True)
class Fluid:
    """One liquid.

    bulk_modulus : Curve, MPa, near no pressure
    expansion    : float, 1/K, of the volume; not used where density has more than one temperature
    density      : Curve, kg/m3, or None where only the expansion is known
    ice          : what it freezes to, None: it is not known to freeze
    sources      : ((property, source, status), ...)
    """

    name: str
    bulk_modulus: Curve
    expansion: float
    density: Curve | None
    ice: Ice | None
    sources: tuple[tuple[str, str, str], ...]

    def __post_init__(self) -> None:
        positive("bulk_modulus", self.bulk_modulus.values)
        finite("expansion", self.expansion)

    def volume_ratio(self, temperature: ArrayLike, start: ArrayLike) -> Array:
        """Return the volume of the liquid at no pressure over what it was at another temperature.

        temperature, start : float or array, degC
        returns            : float or array, -
        raises ValueError  : not finite

        Source: the liquid's own data: density where it is tabled, else 1 + b (T - T0).
        """
        if self.density is not None and len(self.density.values) > 1:
            return np.asarray(self.density.at(start) / self.density.at(temperature))
        return 1.0 + self.expansion * (finite("temperature", temperature) - finite("start", start))

    def ice_ratio(self, temperature: ArrayLike, start: ArrayLike) -> Array:
        """Return the volume of the solid at no pressure over that of the liquid it was at another temperature.

        temperature, start : float or array, degC
        returns            : float or array, -
        raises ValueError  : not finite, or a liquid that does not freeze

        Source: the densities of the liquid's own data.
        """
        if self.ice is None or self.density is None:
            raise ValueError(f"{self.name} has no data on freezing")
        return np.asarray(self.density.at(start) / self.ice.density.at(temperature))

    def source(self, name: str) -> tuple[str, str]:
        """Return (source, status) of a property.

        name              : str, "bulk_modulus" or "expansion"
        returns           : (source, status), both str
        raises ValueError : no such property

        Source: the liquid's own data.
        """
        for each, source, status in self.sources:
            if each == name:
                return source, status
        raise ValueError(f"{self.name} has no {name}")


def stock_fluid_names() -> tuple[str, ...]:
    """Return the names of the liquids in the data.

    returns : tuple of str

    Source: fluids.toml.
    """
    return tuple(table("fluids"))


def stock_fluid(name: str) -> Fluid:
    """Return one liquid of the data.

    name              : str, one of stock_fluid_names()
    returns           : Fluid
    raises ValueError : no such liquid

    Source: fluids.toml, each value with its own.
    """
    rows = table("fluids")
    if name not in rows:
        raise ValueError(unknown_name("fluid", name, rows))
    row = rows[name]
    ice = None
    if "ice" in row:
        melting = row["melting"]
        ice = Ice(
            density=_curve(row["ice"]["density"]),
            bulk_modulus=_curve(row["ice"]["bulk_modulus"]),
            reference_temperature=float(melting["reference_temperature"]["value"]),
            reference_pressure=float(melting["reference_pressure"]["value"]),
            factors=tuple(float(x) for x in melting["factors"]["values"]),
            exponents=tuple(float(x) for x in melting["exponents"]["values"]),
            least_temperature=float(melting["least_temperature"]["value"]),
        )
    return Fluid(
        name=name,
        bulk_modulus=_curve(row["bulk_modulus"]),
        expansion=float(row["expansion"]["value"]),
        density=_curve(row["density"]),
        ice=ice,
        sources=tuple((key, *source_of(row[key])) for key in ("bulk_modulus", "expansion", "density")),
    )


def fluid_with(name: str, base: Fluid | None, bulk_modulus: float | None, expansion: float | None) -> Fluid:
    """Return a liquid with values of the user's own, constant over temperature.

    name              : str, what it is called
    base              : Fluid that the values change, None for one of the user's own, which needs both
    bulk_modulus      : float or None, MPa
    expansion         : float or None, 1/K; given, the volume follows it and no tabled density
    returns           : Fluid
    raises ValueError : a value that an own liquid needs and that is not there, or one out of range

    Source: the case.
    """
    given = (("bulk_modulus", bulk_modulus), ("expansion", expansion))
    own = tuple((key, "the case", "as given") for key, value in given if value is not None)
    if base is None:
        for key, value in given:
            if value is None:
                raise ValueError(f"{name} needs {key}")
        assert bulk_modulus is not None and expansion is not None
        return Fluid(name, Curve((20.0,), (bulk_modulus,)), expansion, None, None, own)
    sources = (*own, *[entry for entry in base.sources if entry[0] not in {key for key, _, _ in own}])
    changed = replace(base, sources=sources)
    if bulk_modulus is not None:
        changed = replace(changed, bulk_modulus=Curve((20.0,), (bulk_modulus,)))
    if expansion is not None:
        density = base.density
        if density is not None:
            density = Curve((20.0,), (float(density.at(20.0)),))
        changed = replace(changed, expansion=expansion, density=density)
    return changed


def _curve(entry) -> Curve:
    if "values" in entry:
        return Curve(tuple(entry["temperatures"]), tuple(entry["values"]))
    return Curve((20.0,), (float(entry["value"]),))
