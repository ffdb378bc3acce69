"""What the size of a crack means: intensity between solved sizes, and the size from which on an intensity rules."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import PchipInterpolator

from studwell.parts.arguments import Array, finite, not_negative, positive

METRE = 1000.0  # mm

LEAST_SIZES = 4
"""Sizes from which on the error of the interpolation can be told: every inner one is left out in turn."""


def intensity_between(sizes: ArrayLike, intensity: ArrayLike, at: ArrayLike) -> Array:
    """Return stress intensities at other sizes: K over sqrt(a) by a monotone cubic over ln a.

    Exact at the sizes that were solved; never beyond its two neighbours between them. Below the first size, and above the
    last, K over sqrt(a) is held.

    sizes             : array (n,), mm, rising
    intensity         : array (states, n), MPa m^0.5
    at                : array (p,), mm
    returns           : array (states, p), MPa m^0.5
    raises ValueError : sizes that do not rise or do not fit, a size not above zero

    Source: Fritsch & Carlson 1980 (as scipy's PchipInterpolator has it).
    """
    places, k = _curve(sizes, intensity)
    wanted = np.atleast_1d(positive("at", at))
    shape = k / np.sqrt(places)
    if len(places) == 1:
        return np.repeat(shape, len(wanted), axis=1) * np.sqrt(wanted)
    spline = PchipInterpolator(np.log(places), shape, axis=1)
    return np.asarray(spline(np.log(np.clip(wanted, places[0], places[-1]))) * np.sqrt(wanted))


def interpolation_errors(sizes: ArrayLike, intensity: ArrayLike) -> Array:
    """Return how far `intensity_between` misses every inner size if that is left out, over the largest intensity there.

    So the gap is twice as wide as in use: the error in use is smaller.

    sizes, intensity  : as in intensity_between
    returns           : array (n - 2,), 1; empty for fewer than LEAST_SIZES sizes
    raises ValueError : as intensity_between

    Source: cross-validation that leaves out one.
    """
    places, k = _curve(sizes, intensity)
    if len(places) < LEAST_SIZES:
        return np.zeros(0)
    missed = []
    for i in range(1, len(places) - 1):
        kept = np.arange(len(places)) != i
        told = intensity_between(places[kept], k[:, kept], places[i : i + 1])[:, 0]
        largest = float(np.abs(k[:, i]).max())
        missed.append(float(np.abs(told - k[:, i]).max()) / largest if largest > 0.0 else 0.0)
    return np.array(missed)


def _curve(sizes: ArrayLike, intensity: ArrayLike) -> tuple[Array, Array]:
    places, k = np.atleast_1d(positive("sizes", sizes)), np.atleast_2d(finite("intensity", intensity))
    if places.ndim != 1 or k.ndim != 2 or k.shape[1] != len(places) or np.any(np.diff(places) <= 0.0):
        raise ValueError("intensity must be (states, sizes) and the sizes rise")
    return places, k


def small_scale_size(intensity: ArrayLike, yield_strength: ArrayLike) -> Array:
    """Return the crack and ligament from which on a stress intensity describes a crack that may break: 2.5 (K/Re)^2.

    Below, the metal yields over more than the zone that the intensity rules.

    intensity         : float or array, MPa m^0.5, the largest
    yield_strength    : float or array, MPa
    returns           : float or array, mm
    raises ValueError : intensity negative, yield strength not above zero

    Source: ASTM E399 (from memory): its rule for a valid toughness.
    """
    return METRE * 2.5 * (not_negative("intensity", intensity) / positive("yield_strength", yield_strength)) ** 2


def growth_scale_size(intensity: ArrayLike, yield_strength: ArrayLike) -> Array:
    """Return the ligament from which on a range of stress intensity describes a crack that grows: 4/pi (K/Re)^2.

    intensity         : float or array, MPa m^0.5, the largest of a cycle
    yield_strength    : float or array, MPa
    returns           : float or array, mm
    raises ValueError : intensity negative, yield strength not above zero

    Source: ASTM E647 (from memory): its rule for a valid rate of growth.
    """
    return (
        METRE * 4.0 / np.pi * (not_negative("intensity", intensity) / positive("yield_strength", yield_strength)) ** 2
    )
