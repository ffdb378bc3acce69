"""The engaged thread as a layer: how far a pair of teeth gives way, per unit of load and length.

The stiffness belongs between two smooth bodies, the stud's core and the boss. What the bodies do
themselves (stretch, bulge, dilate) is left to them. Of the five terms of thread theory the four local ones
are kept; the fifth, the radial give of core and nut under the wedging of the flanks, is a strain of the
bodies and would be counted twice.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, positive
from studwell.parts.thread import FLANK_ANGLE, pitch_diameter

# Sections of the basic profile in pitches: depth from the pitch line to the root, and width there.
LOAD_WIDTH = 0.5
EXTERNAL_DEPTH = np.sqrt(3.0) / 6.0  # H/3, down to d3
INTERNAL_DEPTH = 3.0 * np.sqrt(3.0) / 16.0  # 3/8 H, up to D


@dataclass(frozen=True)
class ToothCompliance:
    """Axial give of one tooth at its pitch line under an axial load on its flank, 1/MPa.

    Each times the axial load per unit of helix length (N/mm) is a displacement in mm.
    bending, shear : of the tooth as a tapered beam
    root_rotation  : tilting of the tooth on its root
    root_shear     : sliding of the root
    """

    bending: Array
    shear: Array
    root_rotation: Array
    root_shear: Array

    @property
    def total(self) -> Array:
        """Sum of the four, 1/MPa."""
        return self.bending + self.shear + self.root_rotation + self.root_shear


def tooth_compliance(depth: float, youngs_modulus: ArrayLike, poisson: ArrayLike) -> ToothCompliance:
    """Return the local axial compliance of a 60 degree tooth loaded at its pitch line.

    Per unit pitch, with b = 1/2 the width at the pitch line, c the depth to the root, a = b + 2 c tan 30 the
    width there, E' = E/(1-nu^2), and a flank load normal to the flank (frictionless):
    bending 3/(4E') {[1 - (2 - b/a)^2 + 2 ln(a/b)] cot^3 30 - 4 (c/a)^2 tan 30},
    shear 6 (1+nu)/(5E) cot 30 ln(a/b),
    root rotation 12 c/(pi E' a^2) (c - (b/2) tan 30),
    root shear 2/(pi E') {(1/a) ln[(1 + a/2)/(1 - a/2)] + ln(4/a^2 - 1)/2}.

    depth                   : float, c/P: EXTERNAL_DEPTH or INTERNAL_DEPTH
    youngs_modulus, poisson : float or array, MPa and 1
    returns                 : ToothCompliance, 1/MPa, the same for every pitch
    raises ValueError       : depth or modulus not above zero, or a root wider than two pitches

    The root terms are those of a half plane: the chord of the root under a linear stress, and the middle of a
    uniformly sheared strip against a place one pitch away. Taking the energy mean of the root's rotation
    instead of its chord would put 18 in the place of 12. Source: Yamamoto, theory of thread load
    (from memory); all four terms rederived here from beam and half plane.
    """
    c = float(positive("depth", depth))
    tangent = np.tan(FLANK_ANGLE)
    b = LOAD_WIDTH
    a = b + 2.0 * c * tangent
    if a >= 2.0:
        raise ValueError(f"depth {depth} makes the root wider than two pitches")
    modulus, nu = positive("youngs_modulus", youngs_modulus), finite("poisson", poisson)
    plane = modulus / (1.0 - nu**2)
    beam = (1.0 - (2.0 - b / a) ** 2 + 2.0 * np.log(a / b)) / tangent**3 - 4.0 * (c / a) ** 2 * tangent
    sheared = np.log((1.0 + a / 2.0) / (1.0 - a / 2.0)) / a + 0.5 * np.log(4.0 / a**2 - 1.0)
    return ToothCompliance(
        bending=0.75 / plane * beam,
        shear=1.2 * (1.0 + nu) / modulus / tangent * np.log(a / b),
        root_rotation=12.0 * c / (np.pi * plane * a**2) * (c - b / 2.0 * tangent),
        root_shear=2.0 / (np.pi * plane) * sheared,
    )


def thread_layer_stiffness(
    nominal_diameter: ArrayLike,
    pitch: ArrayLike,
    external_modulus: ArrayLike,
    external_poisson: ArrayLike,
    internal_modulus: ArrayLike,
    internal_poisson: ArrayLike,
) -> Array:
    """Return the axial stiffness of an engaged thread per unit of engaged length, whole circumference.

    k' = pi d2 / [P (external + internal tooth compliance)]: pi d2 / P is the helix per unit length. The axial
    force passed on over a length dz is k' times the relative axial displacement times dz.

    nominal_diameter, pitch            : float or array, mm
    external_modulus, external_poisson : float or array, MPa and 1, of the stud
    internal_modulus, internal_poisson : float or array, MPa and 1, of the boss or nut
    returns                            : float or array, N/mm per mm (MPa)
    raises ValueError                  : a size or modulus not above zero

    Source: Yamamoto, theory of thread load (from memory), see tooth_compliance.
    """
    outer = tooth_compliance(float(EXTERNAL_DEPTH), external_modulus, external_poisson).total
    inner = tooth_compliance(float(INTERNAL_DEPTH), internal_modulus, internal_poisson).total
    helix = np.pi * pitch_diameter(nominal_diameter, pitch) / positive("pitch", pitch)
    return helix / (outer + inner)


def one_side_stiffness(
    nominal_diameter: ArrayLike, pitch: ArrayLike, depth: float, youngs_modulus: ArrayLike, poisson: ArrayLike
) -> Array:
    """Return the axial stiffness of one side of an engaged thread per unit of length, the other side taken as rigid.

    For a thread in which a body of its own stands on the other side and gives way as a whole, as an insert's wire does.

    nominal_diameter, pitch : float or array, mm
    depth                   : float, c/P: EXTERNAL_DEPTH for the stud, INTERNAL_DEPTH for the boss
    youngs_modulus, poisson : float or array, MPa and 1, of that side
    returns                 : float or array, N/mm per mm (MPa)
    raises ValueError       : a size or modulus not above zero

    Source: thread_layer_stiffness, with one of its two sides.
    """
    side = tooth_compliance(float(depth), youngs_modulus, poisson).total
    return np.pi * pitch_diameter(nominal_diameter, pitch) / positive("pitch", pitch) / side


def layer_spread(
    length: ArrayLike, layer_stiffness: ArrayLike, stud_stiffness: ArrayLike, boss_stiffness: ArrayLike
) -> Array:
    """Return lambda L of a thread layer between two bars: L sqrt[k' (1/(EA)_stud + 1/(EA)_boss)].

    length                         : float or array, engaged length, mm
    layer_stiffness                : float or array, of thread_layer_stiffness, MPa
    stud_stiffness, boss_stiffness : float or array, E A of the two bars, N
    returns                        : float or array, 1, for fastener.thread_load_left; the form for a stud
                                     in tension and a nut in compression, held at the same face
    raises ValueError              : an argument not above zero

    Source: Goodier 1940; Sopwith 1948; Yamamoto.
    """
    bars = 1.0 / positive("stud_stiffness", stud_stiffness) + 1.0 / positive("boss_stiffness", boss_stiffness)
    return positive("length", length) * np.sqrt(positive("layer_stiffness", layer_stiffness) * bars)
