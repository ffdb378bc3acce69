"""What a flowing or creeping material is: hardening, backstresses, Norton creep, each with temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.fem.solve import Elastic
from studwell.mesh.mesh import Floats
from studwell.parts.material import Curve

Property = float | Curve
"""A number, or a curve against temperature in degC."""

ZERO_CELSIUS = 273.15
GAS_CONSTANT = 8.314462618
"""J/(mol K). Source: CODATA 2018."""

MOST_BACKSTRESSES = 3


@dataclass(frozen=True)
class Backstress:
    """One Armstrong-Frederick backstress: rate = 2/3 modulus x plastic strain rate - recall x backstress x p rate.

    modulus : MPa, >= 0;  recall : 1, >= 0 (0 gives Prager's straight hardening)
    """

    modulus: Property
    recall: Property = 0.0


@dataclass(frozen=True)
class Plasticity:
    """Von Mises plasticity whose yield surface may grow and move, never shrink.

    Size of the surface at accumulated plastic strain p: yield + linear p + saturation (1 - exp(-rate p)).

    yield_strength  : MPa, > 0, at the first plastic strain
    linear          : MPa, slope of isotropic hardening
    saturation      : MPa, Voce's final increase;  saturation_rate : 1, > 0 where saturation is not zero
    backstresses    : up to three
    raises ValueError : data that soften anywhere, or that are not finite

    Source: von Mises 1913; Voce 1948; Armstrong & Frederick 1966; Chaboche 1986 (several backstresses).
    """

    yield_strength: Property
    linear: Property = 0.0
    saturation: Property = 0.0
    saturation_rate: float = 0.0
    backstresses: tuple[Backstress, ...] = ()

    def __post_init__(self) -> None:
        if not min(_values(self.yield_strength)) > 0:
            raise ValueError(f"yield_strength must be above 0 MPa, not {min(_values(self.yield_strength))}")
        if not 0 <= self.saturation_rate < np.inf:
            raise ValueError(f"saturation_rate must be 0 or more, not {self.saturation_rate}")
        if len(self.backstresses) > MOST_BACKSTRESSES:
            raise ValueError(f"{len(self.backstresses)} backstresses; allowed: up to {MOST_BACKSTRESSES}")
        if any(_values(self.saturation)) and not self.saturation_rate:
            raise ValueError("a saturation needs a saturation_rate above 0")
        # the slope lies between its values at p = 0 and at the end; both are linear between the curves' points
        at = sorted({t for item in (self.linear, self.saturation) for t in _temperatures(item)}) or [0.0]
        last = at_temperature(self.linear, np.array(at))
        first = last + self.saturation_rate * at_temperature(self.saturation, np.array(at))
        slope = float(min(first.min(), last.min()))
        if not slope >= 0:
            raise ValueError(
                f"the hardening data soften: the yield strength falls by {-slope:.6g} MPa per unit plastic strain; "
                "allowed: slopes of 0 or more at every temperature"
            )
        for number, one in enumerate(self.backstresses, 1):
            if not (min(_values(one.modulus)) >= 0 and min(_values(one.recall)) >= 0):
                raise ValueError(f"backstress {number} softens; allowed: modulus and recall of 0 or more")

    def strength(self, p: Floats, temperature: Floats) -> tuple[Floats, Floats]:
        """Return the size of the yield surface and its slope, MPa, at p (...) and temperature (...) degC."""
        rise = at_temperature(self.saturation, temperature)
        fade = np.exp(-self.saturation_rate * p)
        linear = at_temperature(self.linear, temperature)
        size = at_temperature(self.yield_strength, temperature) + linear * p + rise * (1 - fade)
        return size, linear + rise * self.saturation_rate * fade


@dataclass(frozen=True)
class Arrhenius:
    """Norton's coefficient B = factor x exp(-activation_energy / (R T)), T absolute.

    factor : 1/s MPa^-n;  activation_energy : J/mol
    """

    factor: float
    activation_energy: float


@dataclass(frozen=True)
class NortonCreep:
    """Steady creep: equivalent creep strain rate = B(T) x (von Mises stress)^n, flow along the stress deviator.

    exponent          : n, >= 1
    coefficient       : B, 1/s MPa^-n: a number, a Curve (log B straight in 1/T between its points, held at its
                        ends) or Arrhenius
    temperature_range : degC, where the data hold; outside it results carry a warning
    raises ValueError : exponent below 1, a coefficient below 0, or an empty range

    Source: Norton, The Creep of Steel at High Temperatures, 1929.
    """

    exponent: float
    coefficient: Property | Arrhenius
    temperature_range: tuple[float, float]

    def __post_init__(self) -> None:
        if not 1 <= self.exponent < np.inf:
            raise ValueError(f"a creep exponent must be 1 or more, not {self.exponent}")
        low, high = self.temperature_range
        if not -ZERO_CELSIUS < low < high < np.inf:
            raise ValueError(f"a temperature range must rise from above absolute zero, not {low} to {high} degC")
        of = self.coefficient
        numbers: Sequence[float] = [of.factor] if isinstance(of, Arrhenius) else _values(of)
        least = 0.0 if not isinstance(of, Curve) else np.nextafter(0, 1)
        if not (min(numbers) >= least and np.isfinite(max(numbers))):
            raise ValueError("a creep coefficient must be finite and above 0")

    def rate_coefficient(self, temperature: ArrayLike) -> Floats:
        """Return B, 1/s MPa^-n, at temperatures (...), degC."""
        t = np.asarray(temperature, float)
        of = self.coefficient
        if isinstance(of, Arrhenius):
            return np.asarray(of.factor * np.exp(-of.activation_energy / (GAS_CONSTANT * (t + ZERO_CELSIUS))))
        if isinstance(of, Curve):
            points = -1.0 / (np.asarray(of.temperatures) + ZERO_CELSIUS)
            return np.exp(np.interp(-1.0 / (t + ZERO_CELSIUS), points, np.log(of.values)))
        return np.full_like(t, of)


@dataclass(frozen=True)
class Inelastic(Elastic):
    """An isotropic material that may flow and creep; with neither it is elastic.

    youngs_modulus MPa, poisson, expansion 1/K as in `Elastic`; plasticity and creep may each be None
    """

    plasticity: Plasticity | None = None
    creep: NortonCreep | None = None


def range_warnings(material: Inelastic, temperature: ArrayLike) -> tuple[str, ...]:
    """Return one plain sentence for each of a material's data that temperatures (...) degC lie outside of."""
    low, high = float(np.min(temperature)), float(np.max(temperature))
    found = []
    if material.creep is not None:
        first, last = material.creep.temperature_range
        if low < first or high > last:
            found.append(
                f"creep data hold from {first:g} to {last:g} degC and were used from {low:.6g} to {high:.6g} degC"
            )
    plastic = material.plasticity
    if plastic is not None:
        named = [(name, getattr(plastic, name)) for name in ("yield_strength", "linear", "saturation")]
        for number, one in enumerate(plastic.backstresses, 1):
            named += [(f"backstress {number} modulus", one.modulus), (f"backstress {number} recall", one.recall)]
        for name, curve in named:
            if isinstance(curve, Curve) and not curve.covers([low, high]):
                ends = curve.temperatures
                found.append(
                    f"{name} is known from {ends[0]:g} to {ends[-1]:g} degC and was held at its end values "
                    f"from {low:.6g} to {high:.6g} degC"
                )
    return tuple(found)


def _values(of: Property) -> tuple[float, ...]:
    found = of.values if isinstance(of, Curve) else (float(of),)
    if not np.all(np.isfinite(found)):
        raise ValueError(f"material data must be finite, not {found}")
    return tuple(found)


def _temperatures(of: Property) -> tuple[float, ...]:
    return of.temperatures if isinstance(of, Curve) else ()


def at_temperature(of: Property, temperature: Floats) -> Floats:
    """Return a property at temperatures (...), degC."""
    return np.asarray(of.at(temperature)) if isinstance(of, Curve) else np.full(np.shape(temperature), float(of))
