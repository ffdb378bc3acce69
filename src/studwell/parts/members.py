"""Clamped parts: their stiffness by cones, the joint diagram, and loads from heat."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, not_negative, positive


@dataclass(frozen=True)
class JointLoads:
    """Bolt tension and clamp under an outside load that pulls the joint apart, N."""

    bolt: Array
    clamp: Array


@dataclass(frozen=True)
class ConeCompliance:
    """Compliance of clamped parts by the pressure cone, mm/N, and the cone that was used.

    tangent        : of the cone's half angle
    limit_diameter : outside diameter from which the cone is not cut off, mm
    """

    compliance: float
    tangent: float
    limit_diameter: float


def frustum_stiffness(
    youngs_modulus: ArrayLike,
    thickness: ArrayLike,
    start_diameter: ArrayLike,
    hole_diameter: ArrayLike,
    half_angle: float = np.pi / 6.0,
) -> Array:
    """Return the stiffness of a hollow cone frustum in compression.

    k = pi E d tan a / ln{[(2 t tan a + D - d)(D + d)] / [(2 t tan a + D + d)(D - d)]}

    youngs_modulus                 : float or array, MPa (any one unit of stress)
    thickness                      : float or array, mm, t
    start_diameter, hole_diameter  : float or array, mm, D and d
    half_angle                     : float, radian; 30 degrees
    returns                        : float or array, N/mm
    raises ValueError              : an argument not above zero, or D not larger than d

    Source: Shigley, Mechanical Engineering Design 9th ed., ch. 8.
    """
    t, wide = positive("thickness", thickness), positive("start_diameter", start_diameter)
    hole, slope = positive("hole_diameter", hole_diameter), np.tan(positive("half_angle", half_angle))
    if np.any(wide <= hole):
        raise ValueError(f"start_diameter {wide} must exceed hole_diameter {hole}")
    grown = 2.0 * t * slope + wide
    ratio = (grown - hole) * (wide + hole) / ((grown + hole) * (wide - hole))
    return np.pi * positive("youngs_modulus", youngs_modulus) * hole * slope / np.log(ratio)


def frustum_end_diameter(thickness: ArrayLike, start_diameter: ArrayLike, half_angle: float = np.pi / 6.0) -> Array:
    """Return the diameter at which a pressure cone leaves a layer: D + 2 t tan a.

    thickness         : float or array, mm
    start_diameter    : float or array, mm
    half_angle        : float, radian; 30 degrees
    returns           : float or array, mm
    raises ValueError : an argument not above zero

    Source: Shigley, Mechanical Engineering Design 9th ed., ch. 8.
    """
    slope = np.tan(positive("half_angle", half_angle))
    return positive("start_diameter", start_diameter) + 2.0 * positive("thickness", thickness) * slope


def fitted_member_stiffness(
    youngs_modulus: ArrayLike, diameter: ArrayLike, grip: ArrayLike, A: float, B: float
) -> Array:
    """Return the stiffness of clamped parts by an exponential fit: E d A exp(B d/l).

    youngs_modulus    : float or array, MPa (any one unit of stress)
    diameter, grip    : float or array, mm, d and l
    A, B              : float, 1: steel 0.78715 and 0.62873, aluminium 0.79670 and 0.63816
    returns           : float or array, N/mm
    raises ValueError : an argument not above zero

    Source: Wileman, Choudhury and Green 1991, as printed in Shigley 9th ed., table 8-8.
    """
    d = positive("diameter", diameter)
    scale = positive("A", A) * positive("youngs_modulus", youngs_modulus) * d
    return scale * np.exp(positive("B", B) * d / positive("grip", grip))


def cone_compliance(
    bearing_diameter: float,
    hole_diameter: float,
    grip: float,
    outer_diameter: float,
    youngs_modulus: float,
    tapped: bool,
) -> ConeCompliance:
    """Return the compliance of clamped parts by a pressure cone whose angle depends on the joint.

    tan phi = 0.362 + 0.032 ln(bL/2) + 0.153 ln y (bolt and nut) or 0.348 + 0.013 ln bL + 0.193 ln y
    (tapped), bL = l/dw, y = DA/dw; cone from one side (tapped, w = 2 in the length term) or both (w = 1),
    continued as a sleeve where the part is narrower than the cone.

    bearing_diameter, hole_diameter : float, mm, dw and dh
    grip                            : float, mm, l
    outer_diameter                  : float, mm, DA of the clamped parts
    youngs_modulus                  : float, MPa
    tapped                          : bool, stud or screw in a tapped hole; else bolt and nut
    returns                         : ConeCompliance
    raises ValueError               : an argument not above zero, or not dh < dw <= DA

    Source: VDI 2230 (coefficients from memory; the compliance for a given angle is exact and is
    checked by quadrature).
    """
    dw, dh = float(positive("bearing_diameter", bearing_diameter)), float(positive("hole_diameter", hole_diameter))
    length, wide = float(positive("grip", grip)), float(positive("outer_diameter", outer_diameter))
    if not dh < dw <= wide:
        raise ValueError("the hole must be smaller than the bearing face, and that no wider than the part")
    slender, ratio = length / dw, wide / dw
    if tapped:
        sides, tangent = 2.0, 0.348 + 0.013 * np.log(slender) + 0.193 * np.log(ratio)
    else:
        sides, tangent = 1.0, 0.362 + 0.032 * np.log(slender / 2.0) + 0.153 * np.log(ratio)
    limit = dw + sides * length * tangent
    reach = min(wide, limit)
    cone = np.log((dw + dh) * (reach - dh) / ((dw - dh) * (reach + dh))) * 2.0 / (sides * dh * tangent)
    sleeve = 4.0 / (wide**2 - dh**2) * (length - (reach - dw) / (sides * tangent)) if wide < limit else 0.0
    total = (cone + sleeve) / (np.pi * float(positive("youngs_modulus", youngs_modulus)))
    return ConeCompliance(float(total), float(tangent), float(limit))


def load_factor(bolt_stiffness: ArrayLike, member_stiffness: ArrayLike) -> Array:
    """Return the share of an outside load that the bolt takes while the joint is closed: kb/(kb + km).

    bolt_stiffness, member_stiffness : float or array, N/mm
    returns                          : float or array, 0 to 1
    raises ValueError                : a stiffness not above zero

    Source: Shigley ch. 8 (joint constant).
    """
    bolt = positive("bolt_stiffness", bolt_stiffness)
    return bolt / (bolt + positive("member_stiffness", member_stiffness))


def separation_load(preload: ArrayLike, factor: ArrayLike) -> Array:
    """Return the outside load at which the joint opens: Fi/(1 - factor).

    preload           : float or array, N
    factor            : float or array, of load_factor, below 1
    returns           : float or array, N
    raises ValueError : preload negative, factor outside 0..1

    Source: Shigley ch. 8.
    """
    share = not_negative("factor", factor)
    if np.any(share >= 1.0):
        raise ValueError(f"factor must be below 1, not {share}")
    return not_negative("preload", preload) / (1.0 - share)


def joint_loads(preload: ArrayLike, factor: ArrayLike, outside_load: ArrayLike) -> JointLoads:
    """Return bolt tension and clamp under an outside load; after separation the bolt carries it all.

    preload           : float or array, N
    factor            : float or array, of load_factor
    outside_load      : float or array, N, pulling the joint apart
    returns           : JointLoads
    raises ValueError : preload negative, factor outside 0..1, outside load not finite

    Source: Shigley ch. 8 (joint diagram).
    """
    pull = finite("outside_load", outside_load)
    open_joint = pull >= separation_load(preload, factor)
    force, share = np.asarray(preload, dtype=float), np.asarray(factor, dtype=float)
    return JointLoads(
        np.where(open_joint, pull, force + share * pull),
        np.where(open_joint, 0.0, force - (1.0 - share) * pull),
    )


def differential_growth(expansion_difference: ArrayLike, length: ArrayLike, temperature_change: ArrayLike) -> Array:
    """Return by how much one body outgrows another of the same length: difference x length x change.

    expansion_difference : float or array, 1/K
    length               : float or array, mm
    temperature_change   : float or array, K
    returns              : float or array, mm
    raises ValueError    : not finite, or length negative

    Source: linear thermal expansion, Timoshenko, Strength of Materials I.
    """
    strain = finite("expansion_difference", expansion_difference) * finite("temperature_change", temperature_change)
    return strain * not_negative("length", length)


def thermal_load(growth: ArrayLike, total_compliance: ArrayLike) -> Array:
    """Return the rise of a joint's force when its stack outgrows its stud: growth over compliance.

    growth            : float or array, mm, of differential_growth
    total_compliance  : float or array, mm/N, stud, stack and springs in series
    returns           : float or array, N
    raises ValueError : growth not finite, compliance not above zero

    Source: Timoshenko, Strength of Materials I (bolt in tube).
    """
    return finite("growth", growth) / positive("total_compliance", total_compliance)
