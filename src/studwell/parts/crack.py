"""Cracks and notches in closed form: critical distance, stress intensity, growth."""

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, not_negative, positive

METRE = 1000.0  # mm


def critical_distance(toughness: ArrayLike, inherent_strength: ArrayLike) -> Array:
    """Return the critical distance L = (1/pi) (K/sigma0)^2, in mm.

    toughness         : float or array, MPa m^0.5: K_Ic, or the threshold range for fatigue
    inherent_strength : float or array, MPa: sigma0, or the plain fatigue range
    returns           : float or array, mm
    raises ValueError : not above zero

    Source: Taylor 2007, The Theory of Critical Distances.
    """
    ratio = positive("toughness", toughness) / positive("inherent_strength", inherent_strength)
    return METRE / np.pi * ratio**2


def point_method(distance: ArrayLike, stress: ArrayLike, length: float) -> float:
    """Return the stress at half the critical distance from a notch, from samples along a path.

    distance          : array (n,), mm from the notch, rising
    stress            : array (n,), MPa, largest principal
    length            : float, critical distance L, mm
    returns           : float, MPa, straight between samples
    raises ValueError : samples do not rise, do not match, or do not reach L/2

    Source: Taylor 2007; Whitney & Nuismer 1974.
    """
    places, values = _path(distance, stress)
    place = float(positive("length", length)) / 2.0
    if not places[0] <= place <= places[-1]:
        raise ValueError(f"the path runs from {places[0]} to {places[-1]} mm, short of {place} mm")
    return float(np.interp(place, places, values))


def line_method(distance: ArrayLike, stress: ArrayLike, length: float) -> float:
    """Return the mean stress over twice the critical distance from a notch, from samples along a path.

    distance          : array (n,), mm from the notch, rising, starting at 0
    stress            : array (n,), MPa, largest principal
    length            : float, critical distance L, mm
    returns           : float, MPa, trapezoids between samples
    raises ValueError : samples do not rise, do not match, do not start at 0, or do not reach 2 L

    Source: Taylor 2007; Whitney & Nuismer 1974 (average stress).
    """
    places, values = _path(distance, stress)
    end = 2.0 * float(positive("length", length))
    if places[0] != 0.0 or places[-1] < end:
        raise ValueError(f"the path runs from {places[0]} to {places[-1]} mm, not over 0 to {end} mm")
    inside = places < end
    cut = np.append(places[inside], end)
    return float(np.trapezoid(np.append(values[inside], np.interp(end, places, values)), cut) / end)


def _path(distance: ArrayLike, stress: ArrayLike) -> tuple[Array, Array]:
    places, values = finite("distance", distance), finite("stress", stress)
    if places.ndim != 1 or places.shape != values.shape or places.size < 2:
        raise ValueError("distance and stress must be two lists of the same length, two samples or more")
    if np.any(np.diff(places) <= 0.0):
        raise ValueError("distance must rise from sample to sample")
    return places, values


def kirsch_stress(radius: ArrayLike, distance: ArrayLike, remote_stress: ArrayLike) -> Array:
    """Return the hoop stress beside a round hole in a wide plate pulled one way.

    sigma/2 [2 + (R/r)^2 + 3 (R/r)^4] on the line across the pull, r = R + distance.

    radius            : float or array, mm
    distance          : float or array, mm from the hole's edge
    remote_stress     : float or array, MPa
    returns           : float or array, MPa
    raises ValueError : radius not above zero, distance negative

    Source: Kirsch 1898; Timoshenko & Goodier.
    """
    hole = positive("radius", radius)
    ratio = hole / (hole + not_negative("distance", distance))
    return finite("remote_stress", remote_stress) / 2.0 * (2.0 + ratio**2 + 3.0 * ratio**4)


def kirsch_line_mean(radius: ArrayLike, span: ArrayLike, remote_stress: ArrayLike) -> Array:
    """Return the mean of kirsch_stress from the edge of the hole over a span.

    sigma/2 [2 + x + x (1 + x + x^2)] with x = R/(R + span).

    radius            : float or array, mm
    span              : float or array, mm
    remote_stress     : float or array, MPa
    returns           : float or array, MPa
    raises ValueError : radius or span not above zero

    Source: Whitney & Nuismer 1974 (integral of Kirsch 1898).
    """
    hole = positive("radius", radius)
    x = hole / (hole + positive("span", span))
    return finite("remote_stress", remote_stress) / 2.0 * (2.0 + x + x * (1.0 + x + x**2))


def short_crack_length(threshold: ArrayLike, fatigue_range: ArrayLike, shape: ArrayLike) -> Array:
    """Return the crack length below which the plain fatigue limit rules: (1/pi) (dK/(F dsigma))^2.

    threshold         : float or array, MPa m^0.5, threshold range
    fatigue_range     : float or array, MPa
    shape             : float or array, F: 1.1215 for an edge crack
    returns           : float or array, mm
    raises ValueError : not above zero

    Source: El Haddad, Smith & Topper 1979.
    """
    return critical_distance(threshold, positive("shape", shape) * positive("fatigue_range", fatigue_range))


def edge_crack_intensity(stress: ArrayLike, depth: ArrayLike) -> Array:
    """Return the stress intensity of a shallow edge crack, 1.1215 sigma sqrt(pi a).

    stress            : float or array, MPa
    depth             : float or array, mm, not negative
    returns           : float or array, MPa m^0.5
    raises ValueError : stress not finite, depth negative

    Source: Koiter 1965; Tada, Paris & Irwin.
    """
    return 1.1215 * finite("stress", stress) * np.sqrt(np.pi * not_negative("depth", depth) / METRE)


def penny_crack_intensity(stress: ArrayLike, radius: ArrayLike) -> Array:
    """Return the stress intensity of a round crack inside a solid, 2 sigma sqrt(a/pi).

    stress            : float or array, MPa
    radius            : float or array, mm, not negative
    returns           : float or array, MPa m^0.5
    raises ValueError : stress not finite, radius negative

    Source: Sneddon 1946.
    """
    return 2.0 * finite("stress", stress) * np.sqrt(not_negative("radius", radius) / METRE / np.pi)


def crack_growth_cycles(
    rate: ArrayLike,
    exponent: ArrayLike,
    shape: ArrayLike,
    stress_range: ArrayLike,
    first_depth: ArrayLike,
    last_depth: ArrayLike,
) -> Array:
    """Return the cycles in which a crack grows from one depth to another at a constant shape factor.

    da/dN = C dK^m, dK = Y dsigma sqrt(pi a):
    N = [ac^(1-m/2) - ai^(1-m/2)] / [C (Y dsigma sqrt(pi))^m (1 - m/2)], lengths in m.

    rate                    : float or array, C, m per cycle at 1 MPa m^0.5
    exponent                : float or array, m, not 2
    shape                   : float or array, Y
    stress_range            : float or array, MPa
    first_depth, last_depth : float or array, mm
    returns                 : float or array, cycles
    raises ValueError       : not above zero, exponent 2, or the crack does not grow

    Source: Paris & Erdogan 1963, integrated.
    """
    m = positive("exponent", exponent)
    if np.any(m == 2.0):
        raise ValueError("exponent 2 needs the logarithmic form, which is not offered")
    start, end = positive("first_depth", first_depth) / METRE, positive("last_depth", last_depth) / METRE
    if np.any(end < start):
        raise ValueError("last_depth must not be below first_depth")
    power = 1.0 - m / 2.0
    drive = positive("shape", shape) * positive("stress_range", stress_range) * np.sqrt(np.pi)
    return (end**power - start**power) / (positive("rate", rate) * drive**m * power)
