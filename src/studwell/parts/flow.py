"""What a material does beyond its yield strength and in time at heat: hardening and steady creep, as data."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite

SATURATED = 3.0
"""Rates per hardening strain: exp(-3) leaves 5 % of the rise. Our own convention."""

ZERO_CELSIUS = 273.15

Sources = tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Hardening:
    """How the flow stress rises above the yield strength.

    strain           : plastic strain at which 95 % of the rise to the tensile strength is done; None: straight
    backstress_share : share of that rise which moves the yield surface instead of growing it, 0 to 1
    modulus          : MPa, slope of straight hardening instead of a rise to the tensile strength; None: not straight
    sources          : ((property, source, status), ...)
    """

    strain: float | None
    backstress_share: float
    modulus: float | None = None
    sources: Sources = ()


@dataclass(frozen=True)
class Creep:
    """Steady creep: equivalent rate = coefficient(T) x (von Mises stress)^exponent.

    temperatures : degC, rising, at which the coefficient is known; log of it is straight in 1/T between them
    coefficients : 1/s MPa^-exponent
    valid        : degC, from and to; outside it a result carries a warning
    sources      : ((property, source, status), ...)
    """

    exponent: float
    temperatures: tuple[float, ...]
    coefficients: tuple[float, ...]
    valid: tuple[float, float]
    sources: Sources = ()

    def coefficient(self, temperature: ArrayLike) -> Array:
        """Return the coefficient of steady creep.

        temperature       : float or array, degC
        returns           : float or array of the same shape, 1/s MPa^-exponent
        raises ValueError : temperature not finite

        Source: Norton 1929 with an Arrhenius line between the data's points, held at its ends.
        """
        places = -1.0 / (np.asarray(self.temperatures) + ZERO_CELSIUS)
        there = -1.0 / (finite("temperature", temperature) + ZERO_CELSIUS)
        return np.exp(np.interp(there, places, np.log(self.coefficients)))

    def rate(self, stress: ArrayLike, temperature: ArrayLike) -> Array:
        """Return the equivalent steady creep rate.

        stress            : float or array, MPa, von Mises
        temperature       : float or array, degC
        returns           : float or array, 1/s
        raises ValueError : an argument not finite

        Source: Norton 1929, as `coefficient`.
        >>> law = Creep(5.0, (200.0,), (1e-18,), (100.0, 250.0))
        >>> print(f"{float(law.rate(100.0, 200.0)):.0e}")
        1e-08
        """
        return self.coefficient(temperature) * finite("stress", stress) ** self.exponent
