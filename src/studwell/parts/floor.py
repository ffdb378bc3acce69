"""The floor of a blind hole under a tip, by closed forms: a clamped disc that bends, a plug that shears, a half-space."""

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, not_negative, positive


def punch_shear(load: ArrayLike, diameter: ArrayLike, thickness: ArrayLike) -> Array:
    """Return the mean shear stress on the cylinder that a tip would punch out of a floor: W / (pi d t).

    load                : float or array, N, not negative
    diameter, thickness : float or array, mm, of the plug
    returns             : float or array, MPa
    raises ValueError   : load negative, or a size not above zero

    Source: equilibrium of the plug.
    """
    return not_negative("load", load) / (np.pi * positive("diameter", diameter) * positive("thickness", thickness))


def disc_centre_tension(
    load: ArrayLike, thickness: ArrayLike, radius: ArrayLike, patch_radius: ArrayLike, poisson: ArrayLike
) -> Array:
    """Return the tension under the middle of a disc clamped at its edge, pressed evenly on a patch round its axis.

    6 M / t^2 with M = W (1 + nu) [ln(a/c) + c^2/(4 a^2)] / (4 pi), equal radially and round the axis.

    load                 : float or array, N, not negative
    thickness            : float or array, mm
    radius, patch_radius : float or array, mm, a and c; the patch not larger than the disc
    poisson              : float or array, 1
    returns              : float or array, MPa
    raises ValueError    : load negative, a size not above zero, or the patch larger than the disc

    Source: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, ch. 3, circular plate loaded over a concentric
    circle. A thin plate: without the shear's deflection and the squeeze under the patch.
    """
    outer, patch = _disc(radius, patch_radius)
    shape = np.log(outer / patch) + patch**2 / (4.0 * outer**2)
    moment = not_negative("load", load) * (1.0 + not_negative("poisson", poisson)) * shape / (4.0 * np.pi)
    return 6.0 * moment / positive("thickness", thickness) ** 2


def disc_ring_tension(
    load: ArrayLike, thickness: ArrayLike, radius: ArrayLike, ring_radius: ArrayLike, poisson: ArrayLike
) -> Array:
    """Return the tension under a disc clamped at its edge and pressed on a ring round its axis, anywhere inside the ring.

    6 M / t^2 with M = W (1 + nu) [ln(a/c) - (a^2 - c^2)/(2 a^2)] / (4 pi). A stiff tip on a floor that bends away from under
    it bears on its edge: a ring bounds the tension from below, an even patch from above.

    arguments         : as disc_centre_tension, with the ring's radius in the place of the patch's
    returns           : float or array, MPa
    raises ValueError : as disc_centre_tension

    Source: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, ch. 3, load along a concentric circle.
    """
    outer, ring = _disc(radius, ring_radius)
    shape = np.log(outer / ring) - (outer**2 - ring**2) / (2.0 * outer**2)
    moment = not_negative("load", load) * (1.0 + not_negative("poisson", poisson)) * shape / (4.0 * np.pi)
    return 6.0 * moment / positive("thickness", thickness) ** 2


def disc_edge_tension(load: ArrayLike, thickness: ArrayLike, radius: ArrayLike, patch_radius: ArrayLike) -> Array:
    """Return the radial tension on top of a clamped disc at its edge: 6 M / t^2, M = W [1 - c^2/(2 a^2)] / (4 pi).

    arguments         : as disc_centre_tension
    returns           : float or array, MPa
    raises ValueError : as disc_centre_tension

    Source: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, ch. 3.
    """
    outer, patch = _disc(radius, patch_radius)
    moment = not_negative("load", load) * (1.0 - patch**2 / (2.0 * outer**2)) / (4.0 * np.pi)
    return 6.0 * moment / positive("thickness", thickness) ** 2


def half_space_axis_stress(
    pressure: ArrayLike, patch_radius: ArrayLike, depth: ArrayLike, poisson: ArrayLike
) -> tuple[Array, Array]:
    """Return radial (and hoop) and axial stress on the axis of a half-space pressed evenly on a circle, tension positive.

    With s = z / sqrt(c^2 + z^2): axial -p (1 - s^3), radial -p/2 [1 + 2 nu - 2 (1 + nu) s + s^3].

    pressure          : float or array, MPa, not negative
    patch_radius      : float or array, mm
    depth             : float or array, mm, not negative
    poisson           : float or array, 1
    returns           : two floats or arrays, MPa
    raises ValueError : pressure or depth negative, or the radius not above zero

    Source: Boussinesq 1885; Timoshenko & Goodier, Theory of Elasticity, load over part of the boundary.
    """
    z, nu = not_negative("depth", depth), not_negative("poisson", poisson)
    force = not_negative("pressure", pressure)
    s = z / np.sqrt(positive("patch_radius", patch_radius) ** 2 + z**2)
    return -0.5 * force * (1.0 + 2.0 * nu - 2.0 * (1.0 + nu) * s + s**3), -force * (1.0 - s**3)


def thickness_of_change(
    radius: ArrayLike, patch_radius: ArrayLike, poisson: ArrayLike, shear_strength_ratio: ArrayLike
) -> Array:
    """Return the floor's thickness at which splitting from below and punching out are equally near, by the closed forms.

    Below it the disc splits first, above it the plug shears first: the tension falls with t^2, the shear with t only.

    radius, patch_radius : float or array, mm, as in disc_centre_tension
    poisson              : float or array, 1
    shear_strength_ratio : float or array, 1, shear over tensile strength
    returns              : float or array, mm; it does not depend on the load
    raises ValueError    : as disc_centre_tension

    Source: the two forms above set equal.
    """
    tension = disc_centre_tension(1.0, 1.0, radius, patch_radius, poisson)
    shear = punch_shear(1.0, 2.0 * np.asarray(patch_radius, dtype=float), 1.0)
    return tension * positive("shear_strength_ratio", shear_strength_ratio) / shear


def _disc(radius: ArrayLike, patch_radius: ArrayLike) -> tuple[Array, Array]:
    outer, patch = positive("radius", radius), positive("patch_radius", patch_radius)
    if np.any(patch > outer):
        raise ValueError(f"the patch_radius {patch} must not exceed the radius {outer}")
    return outer, patch
