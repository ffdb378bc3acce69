"""A liquid shut in under the tip: pressure from heat, in closed form."""

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, not_negative, positive


def cylinder_give(
    inner_radius: ArrayLike, outer_radius: ArrayLike, youngs_modulus: ArrayLike, poisson: ArrayLike
) -> Array:
    """Return the volume strain of a closed-end cylindrical pocket per unit of pressure in it.

    C = 2 e_hoop + e_axial at the bore, from the stresses per unit of pressure there: axial
    f = a^2/(b^2 - a^2), hoop f (1 + b^2/a^2), radial -1.

    inner_radius, outer_radius : float or array, mm
    youngs_modulus, poisson    : float or array, MPa and 1
    returns                    : float or array, 1/MPa
    raises ValueError          : not above zero, or outer not larger than inner

    Source: Lame thick cylinder with closed ends, Timoshenko & Goodier.
    """
    a, b = _wall(inner_radius, outer_radius)
    modulus, nu = positive("youngs_modulus", youngs_modulus), finite("poisson", poisson)
    axial = a**2 / (b**2 - a**2)
    hoop, radial = axial * (1.0 + b**2 / a**2), -1.0
    hoop_strain = (hoop - nu * (radial + axial)) / modulus
    axial_strain = (axial - nu * (hoop + radial)) / modulus
    return 2.0 * hoop_strain + axial_strain


def sphere_give(
    inner_radius: ArrayLike, outer_radius: ArrayLike, youngs_modulus: ArrayLike, poisson: ArrayLike
) -> Array:
    """Return the volume strain of a spherical pocket per unit of pressure in it, 3 u(a)/(p a).

    inner_radius, outer_radius : float or array, mm
    youngs_modulus, poisson    : float or array, MPa and 1
    returns                    : float or array, 1/MPa
    raises ValueError          : not above zero, or outer not larger than inner

    Source: thick sphere, Timoshenko & Goodier.
    """
    a, b = _wall(inner_radius, outer_radius)
    modulus, nu = positive("youngs_modulus", youngs_modulus), finite("poisson", poisson)
    shape = (1.0 - 2.0 * nu) * a**3 + (1.0 + nu) * b**3 / 2.0
    return 3.0 * shape / (modulus * (b**3 - a**3))


def heated_pocket_pressure(
    liquid_expansion: ArrayLike,
    bulk_modulus: ArrayLike,
    wall_expansion: ArrayLike,
    wall_give: ArrayLike,
    temperature_change: ArrayLike,
) -> Array:
    """Return the pressure rise of a full, sealed pocket: (bf - 3a) dT / (1/Kf + C).

    liquid_expansion   : float or array, volume expansion of the liquid, 1/K
    bulk_modulus       : float or array, of the liquid, MPa
    wall_expansion     : float or array, linear expansion of the wall, 1/K
    wall_give          : float or array, of cylinder_give or sphere_give, 1/MPa; zero for a rigid wall
    temperature_change : float or array, K
    returns            : float or array, MPa
    raises ValueError  : bulk modulus not above zero, give negative, others not finite

    Source: volume balance of liquid and pocket.
    """
    growth = finite("liquid_expansion", liquid_expansion) - 3.0 * finite("wall_expansion", wall_expansion)
    give = 1.0 / positive("bulk_modulus", bulk_modulus) + not_negative("wall_give", wall_give)
    return growth * finite("temperature_change", temperature_change) / give


def air_cushion_rise(void_share: ArrayLike, liquid_expansion: ArrayLike, wall_expansion: ArrayLike) -> Array:
    """Return the heating that a liquid needs to fill the void beside it: x/(bf - 3a).

    void_share        : float or array, void over liquid volume
    liquid_expansion  : float or array, volume expansion, 1/K
    wall_expansion    : float or array, linear, 1/K
    returns           : float or array, K
    raises ValueError : void negative, or a liquid that does not outgrow its pocket

    Source: volume balance of liquid and pocket; the air is taken as without resistance.
    """
    growth = finite("liquid_expansion", liquid_expansion) - 3.0 * finite("wall_expansion", wall_expansion)
    return not_negative("void_share", void_share) / positive("growth of the liquid", growth)


def cylinder_limit_pressure(inner_radius: ArrayLike, outer_radius: ArrayLike, yield_strength: ArrayLike) -> Array:
    """Return the pressure at which a thick cylinder's whole wall yields: 2 / sqrt(3) S_y ln(b/a).

    inner_radius, outer_radius : float or array, mm, a and b
    yield_strength             : float or array, MPa, of metal that does not harden
    returns                    : float or array, MPa
    raises ValueError          : not above zero, or outer not larger than inner

    Source: Hill 1950, tube that cannot lengthen, yielding by von Mises (from memory).
    >>> round(float(cylinder_limit_pressure(3.4, 12.0, 165.0)), 1)
    240.3
    """
    a, b = _wall(inner_radius, outer_radius)
    return np.asarray(2.0 / np.sqrt(3.0) * positive("yield_strength", yield_strength) * np.log(b / a))


def cylinder_bore_tension(inner_radius: ArrayLike, outer_radius: ArrayLike, pressure: ArrayLike) -> Array:
    """Return the hoop stress at the bore of a thick cylinder under a pressure in it: p (b^2 + a^2)/(b^2 - a^2).

    inner_radius, outer_radius : float or array, mm, a and b
    pressure                   : float or array, MPa, not negative
    returns                    : float or array, MPa
    raises ValueError          : pressure negative, a radius not above zero, or outer not larger than inner

    Source: Lame thick cylinder, Timoshenko & Goodier.
    >>> round(float(cylinder_bore_tension(3.4, 12.0, 209.0)), 1)
    245.5
    """
    a, b = _wall(inner_radius, outer_radius)
    return not_negative("pressure", pressure) * (b**2 + a**2) / (b**2 - a**2)


def _wall(inner_radius: ArrayLike, outer_radius: ArrayLike) -> tuple[Array, Array]:
    a, b = positive("inner_radius", inner_radius), positive("outer_radius", outer_radius)
    if np.any(b <= a):
        raise ValueError(f"outer_radius {b} must exceed inner_radius {a}")
    return a, b
