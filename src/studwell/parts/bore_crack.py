"""Weight functions of straight radial cracks at a round hole: stress intensity from the stress where the crack will be."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, positive

POINTS = 48
"""Places along a crack at which its faces' tractions are met: intensities are then good to about 0.1 %."""

METRE = 1000.0  # mm


def bore_crack_places(radius: float, length: float, points: int = POINTS) -> Array:
    """Return the distances from the hole's edge (points,) mm at which `bore_crack_intensity` wants the stress.

    radius, length    : float, mm, of the hole and of the crack
    points            : int, how many
    returns           : array (points,), mm
    raises ValueError : not above zero

    Source: Erdogan & Gupta 1972.
    """
    places, _ = _weights(_ratio(radius, length), 2, points)
    return places * float(length)


def bore_crack_intensity(
    radius: float, length: float, stress: ArrayLike, cracks: int = 2, points: int = POINTS
) -> Array:
    """Return the stress intensity of one radial crack, or of two opposite equal ones, at a round hole.

    Plane strain or stress, a plate without end; the body without cracks carries `stress` across their line. The cracks
    are lines of edge dislocations beside a free hole, whose tractions cancel that stress.

    radius, length    : float, mm
    stress            : array (points, ...), MPa, hoop stress at `bore_crack_places`, positive opens
    cracks            : 1 or 2;  points: int, as in bore_crack_places
    returns           : float or array (...), MPa m^0.5; negative where the crack would close
    raises ValueError : not above zero, not finite, or another number of cracks

    Source: weight functions, Bueckner 1970; edge dislocation beside a hole by Muskhelishvili's potentials and the circle
    theorem (Dundurs & Mura 1964); quadrature of Erdogan & Gupta 1972.
    """
    if cracks not in (1, 2):
        raise ValueError(f"one crack or two, not {cracks}")
    _, weights = _weights(_ratio(radius, length), cracks, points)
    return np.tensordot(weights, finite("stress", stress), axes=(0, 0)) * np.sqrt(np.pi * float(length) / METRE)


def _ratio(radius: float, length: float) -> float:
    return float(positive("length", length)) / float(positive("radius", radius))


@cache
def _weights(ratio: float, cracks: int, points: int) -> tuple[Array, Array]:
    """Places (points,) as shares of the length, and what a unit stress at each adds to K / sqrt(pi l).

    The density of dislocations is a regular function times sqrt((1 + t)/(1 - t)), t from -1 at the hole to 1 at the tip.
    """
    k = np.arange(1, points + 1)
    angle = (2 * k - 1) * np.pi / (2 * points + 1)
    source, place = np.cos(angle), np.cos(2 * k * np.pi / (2 * points + 1))
    share = 2.0 * np.pi * (1.0 + source) / (2 * points + 1)
    s = 1.0 + 0.5 * ratio * (1.0 + source)
    x = (1.0 + 0.5 * ratio * (1.0 + place))[:, None]
    influence = _hoop_of_dislocation(x, s)
    if cracks == 2:  # the other crack opens alike, so that along the same axis its dislocations have the other sign
        influence = influence - _hoop_of_dislocation(x, -s)
    orders = np.arange(points)[:, None] + 0.5
    at_tip = share / np.pi * (np.cos(orders * angle) / np.cos(0.5 * angle)).sum(axis=0)
    unit = np.linalg.solve((influence * (0.5 * ratio * share)).T, at_tip)
    return 0.5 * (1.0 + place), -2.0 * np.sqrt(2.0) * np.pi * unit


def _hoop_of_dislocation(x: Array, s: Array) -> Array:
    """Stress across the axis at x of an edge dislocation at s, both on the axis outside a free hole of radius 1.

    In units in which it is 2/(x - s) without the hole: phi' = 1/(z - s), psi' = 1/(z - s) + s/(z - s)^2, and their images.
    Its cut begins at the hole, which so carries the opposite one: last, -2/x - 2/x^3.
    """
    w = 1.0 / x
    d = 1.0 / (w - s)  # phi0'(w); its derivatives follow
    phi2, phi3 = -(d**2), 2.0 * d**3
    psi1, psi2 = d + s * d**2, -(d**2) - 2.0 * s * d**3
    first = -d - 1.0 / s + w * phi2 + w**2 * psi1
    second = -(w**3) * (phi3 + 2.0 * psi1 + w * psi2)
    third = w**2 * (d - 1.0 / s + first) - w * second
    return 2.0 / (x - s) + 2.0 * first + x * second + third - 2.0 * w - 2.0 * w**3
