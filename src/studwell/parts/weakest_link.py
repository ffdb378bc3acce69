"""Weakest link: how likely some flaw of a stressed volume breaks it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, not_negative, positive


def effective_volume(stress: ArrayLike, volumes: ArrayLike, modulus: float) -> float:
    """Return the volume that would be as likely to break at the largest stress alone: sum of (s/s_max)^m V.

    stress    : array, MPa, first principal; compression counts nothing
    volumes   : array of the same shape, mm3
    modulus   : Weibull modulus
    returns   : float, mm3; 0 if nothing is in tension
    raises ValueError : volumes negative, modulus not above zero, shapes that do not fit

    Source: Weibull 1939.
    """
    pulled, parts = _fields(stress, volumes)
    largest = float(pulled.max(initial=0.0))
    if largest <= 0.0:
        return 0.0
    return float(np.sum((pulled / largest) ** float(positive("modulus", modulus)) * parts))


def failure_probability(
    stress: ArrayLike, volumes: ArrayLike, modulus: float, strength: float, reference_volume: float
) -> float:
    """Return the probability that some flaw breaks the volume: 1 - exp(-sum of (s/s0)^m V/V0).

    strength         : MPa, s0: at which 63.2 % of volumes V0 break
    reference_volume : mm3, V0;  the other arguments as in effective_volume
    returns          : float, 0 to 1
    raises ValueError : as effective_volume, or strength or volume not above zero

    Source: Weibull 1939, two parameters; first principal stress, its positive part.
    """
    return float(-np.expm1(-risk(stress, volumes, modulus, strength, reference_volume)))


def risk(stress: ArrayLike, volumes: ArrayLike, modulus: float, strength: float, reference_volume: float) -> float:
    """Return the risk of rupture, sum of (s/s0)^m V/V0; the other arguments as in failure_probability.

    returns           : float, not negative
    raises ValueError : as failure_probability

    Source: Weibull 1939.
    """
    pulled, _ = _fields(stress, volumes)
    scale, whole = float(positive("strength", strength)), float(positive("reference_volume", reference_volume))
    largest = float(pulled.max(initial=0.0))
    return effective_volume(stress, volumes, modulus) / whole * (largest / scale) ** modulus


def needed_strength(
    stress: ArrayLike, volumes: ArrayLike, modulus: float, reference_volume: float, probability: float
) -> float:
    """Return the scale s0 MPa that a reference volume must have so that the probability is not exceeded.

    probability       : above 0 and below 1;  the other arguments as in failure_probability
    returns           : float, MPa
    raises ValueError : as failure_probability

    Source: Weibull 1939, solved for the scale.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability must be above 0 and below 1, not {probability}")
    return float((risk(stress, volumes, modulus, 1.0, reference_volume) / -np.log1p(-probability)) ** (1.0 / modulus))


def _fields(stress: ArrayLike, volumes: ArrayLike) -> tuple[Array, Array]:
    pulled, parts = np.maximum(finite("stress", stress), 0.0), not_negative("volumes", volumes)
    if pulled.shape != parts.shape:
        raise ValueError("stress and volumes must be of one shape")
    return pulled, parts
