"""Torsion of the stud: what tightening leaves in the shank, its stress with tension, and wind-up."""

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, not_negative, positive


def locked_torsion(preload: ArrayLike, thread_factor: ArrayLike, share: ArrayLike) -> Array:
    """Return the torque left twisting the shank after tightening: share of the thread torque.

    preload           : float or array, N
    thread_factor     : float or array, mm, of thread_torque_factor at the nut
    share             : float or array, 0 to 1: 1 while tightening, less after the spanner lets go
    returns           : float or array, N mm
    raises ValueError : preload or factor negative, or share outside 0..1

    Source: VDI 2230 (half stays, from memory; the share is the caller's).
    """
    part = not_negative("share", share)
    if np.any(part > 1.0):
        raise ValueError(f"share must be at most 1, not {part}")
    return not_negative("preload", preload) * not_negative("thread_factor", thread_factor) * part


def torsion_stress(torque: ArrayLike, diameter: ArrayLike) -> Array:
    """Return the shear stress at the surface of a round bar in torsion, 16 T/(pi d^3).

    torque            : float or array, N mm
    diameter          : float or array, mm
    returns           : float or array, MPa
    raises ValueError : torque not finite, diameter not above zero

    Source: torsion of a round bar, Timoshenko, Strength of Materials I.
    """
    return 16.0 * finite("torque", torque) / (np.pi * positive("diameter", diameter) ** 3)


def combined_stress(axial_stress: ArrayLike, shear_stress: ArrayLike) -> Array:
    """Return the von Mises stress of tension with torsion, sqrt(sigma^2 + 3 tau^2).

    axial_stress, shear_stress : float or array, MPa
    returns                    : float or array, MPa
    raises ValueError          : not finite

    Source: von Mises 1913; VDI 2230.
    """
    axial, shear = finite("axial_stress", axial_stress), finite("shear_stress", shear_stress)
    return np.sqrt(axial**2 + 3.0 * shear**2)


def wind_up(torque: ArrayLike, length: ArrayLike, diameter: ArrayLike, shear_modulus: ArrayLike) -> Array:
    """Return the angle by which a round shank twists, 32 T l/(pi G d^4).

    torque            : float or array, N mm
    length            : float or array, mm, not negative
    diameter          : float or array, mm
    shear_modulus     : float or array, MPa
    returns           : float or array, radian
    raises ValueError : length negative, diameter or modulus not above zero, torque not finite

    Source: torsion of a round bar, Timoshenko, Strength of Materials I.
    """
    stiffness = np.pi / 32.0 * positive("shear_modulus", shear_modulus) * positive("diameter", diameter) ** 4
    return finite("torque", torque) * not_negative("length", length) / stiffness
