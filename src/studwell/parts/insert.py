"""Wire thread inserts: the oversize tapped hole, lengths and depths."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, positive
from studwell.parts.thread import FLANK_ANGLE, Thread, pitch_diameter, profile_height

STOCK_LENGTHS = (1.0, 1.5, 2.0, 2.5, 3.0)  # nominal lengths in diameters, see insert_length


@dataclass(frozen=True)
class InsertHole:
    """Basic diameters of the tapped hole for an insert, mm."""

    minor_diameter: Array
    pitch_diameter: Array
    major_diameter: Array


def insert_hole(nominal_diameter: ArrayLike, pitch: ArrayLike) -> InsertHole:
    """Return the basic sizes of the tapped hole for a wire insert.

    D1 = d + H/4, D2 = d + 3/4 H, D = d + 3/2 H: an internal thread of the same pitch whose wire, a
    diamond of height H, brings it back to the nominal thread.

    nominal_diameter, pitch : float or array, mm
    returns                 : InsertHole, mm
    raises ValueError       : not above zero

    Source: ASME B18.29.2M / DIN 8140 (from memory); geometry of the wire.
    """
    d, height = positive("nominal_diameter", nominal_diameter), profile_height(pitch)
    return InsertHole(d + height / 4.0, d + 0.75 * height, d + 1.5 * height)


def insert_length(nominal_diameter: float, diameters: float) -> float:
    """Return the nominal length of an insert given in diameters.

    nominal_diameter  : float, mm
    diameters         : float, one of STOCK_LENGTHS
    returns           : float, mm
    raises ValueError : a length that inserts do not come in

    Source: public reprint of ASME metric insert data: 1, 1.5, 2, 2.5, 3 diameters.
    """
    if diameters not in STOCK_LENGTHS:
        known = ", ".join(f"{length:g}" for length in STOCK_LENGTHS)
        raise ValueError(f"inserts are {known} diameters long, not {diameters}")
    return float(positive("nominal_diameter", nominal_diameter)) * diameters


def assembled_length(length: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the shortest and longest length of an insert once screwed in: L - 0.75 P and L - 0.5 P.

    length            : float, nominal, mm
    pitch             : float, mm
    returns           : array (2,), mm
    raises ValueError : not above zero

    Source: public reprint of ASME metric insert data.
    """
    return positive("length", length) - np.array([0.75, 0.5]) * positive("pitch", pitch)


def set_down_range(pitch: ArrayLike) -> Array:
    """Return how far below the face an insert may lie: 0.75 P to 1.5 P.

    pitch             : float, mm
    returns           : array (2,), mm
    raises ValueError : not above zero

    Source: public reprint of ASME metric insert data.
    """
    return np.array([0.75, 1.5]) * positive("pitch", pitch)


def least_drilled_depth(thread: Thread, length: float, bottoming_tap: bool) -> float:
    """Return the least depth to drill for an insert in a blind hole.

    Bottoming tap: L + 4 P (two pitches of chamfer, one at the end, one of set-down). Plug tap:
    L + d/2 + 6 P up to 8 mm, L + 6 P above.

    thread            : Thread, of the stud
    length            : float, nominal length of the insert, mm
    bottoming_tap     : bool; else a plug tap
    returns           : float, mm
    raises ValueError : length not above zero

    Source: public reprint of ASME metric insert hole data.
    """
    nominal, pitch = float(positive("length", length)), thread.pitch
    if bottoming_tap:
        return nominal + 4.0 * pitch
    return nominal + (thread.nominal_diameter / 2.0 if thread.nominal_diameter <= 8.0 else 0.0) + 6.0 * pitch


def wire_share() -> float:
    """Return the share of the ring between the pitch diameters of stud and hole that the wire's sections fill.

    returns : float, 1

    Source: geometry of the wire: a diamond 7/8 P wide with 60 degree flanks, its corners cut off 1/4 P and 1/8 P wide,
    one in each pitch, in a ring 3/4 H thick. The same for every size.
    """
    widest, inner, outer = 7.0 / 8.0, 1.0 / 4.0, 1.0 / 8.0
    flank = 1.0 / (2.0 * np.tan(FLANK_ANGLE))  # depth over width
    diamond = flank * (widest**2 - 0.5 * inner**2 - 0.5 * outer**2)
    return float(diamond / (0.75 * profile_height(1.0)))


def coil_stiffness(nominal_diameter: float, pitch: float, youngs_modulus: float, compliance: float) -> float:
    """Return the axial stiffness of an insert's coils between stud and hole per unit length, less what its ring gives.

    k' = pi d E / P over the compliance of one coil, from which the radial squeeze is taken that a smooth ring of the
    wire's share shows by itself under the wedging of both threads: tan^2 30 d (b - a) / [(a + b) P share], a and b its
    radii.

    nominal_diameter, pitch : mm, of the stud's thread
    youngs_modulus          : MPa, of the wire
    compliance              : of one coil, the axial give times E over the axial load per unit length of helix, 1
    returns                 : float, N/mm per mm (MPa)
    raises ValueError       : a size or modulus not above zero, or a coil stiffer than its ring

    Source: Lame's thick ring without axial load, pushed by pressures of equal resultant inside and outside.
    """
    d, p = float(positive("nominal_diameter", nominal_diameter)), float(positive("pitch", pitch))
    a = 0.5 * float(pitch_diameter(d, p))
    b = 0.5 * float(insert_hole(d, p).pitch_diameter)
    squeeze = np.tan(FLANK_ANGLE) ** 2 * d * (b - a) / (a + b) / (p * wire_share())
    left = float(positive("compliance", compliance)) - squeeze
    if left <= 0.0:
        raise ValueError(f"compliance {compliance} is less than the ring's own, {squeeze:.3g}")
    return float(np.pi * d / p * positive("youngs_modulus", youngs_modulus) / left)


def hole_excess(drilled_diameter: ArrayLike, nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return by how much a drilled hole exceeds the basic minor diameter of an insert hole.

    drilled_diameter        : float or array, mm
    nominal_diameter, pitch : float or array, mm, of the stud's thread
    returns                 : float or array, mm; negative: too tight for the tap
    raises ValueError       : not above zero or not finite

    Source: insert_hole.
    """
    return finite("drilled_diameter", drilled_diameter) - insert_hole(nominal_diameter, pitch).minor_diameter
