"""The lever of a disc spring: how far apart its edges are held, and what a shorter one does to force and travel."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, positive


@dataclass(frozen=True)
class LeverFactors:
    """What force, travel and stiffness of a spring held on its whole lever are multiplied by, dimensionless."""

    force: Array
    travel: Array
    stiffness: Array


def lever_share(
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    held_outer_diameter: ArrayLike,
    held_inner_diameter: ArrayLike,
) -> Array:
    """Return the share of a disc spring's lever that is left where its edges are not held.

    An edge that hangs over the face it stands on bears on the edge of that face: L = (De' - Di') / (De - Di).

    outer_diameter, inner_diameter           : float or array, De and Di of the spring, mm
    held_outer_diameter, held_inner_diameter : float or array, De' and Di' where its load goes over, mm; of a wider face
                                               or a smaller bore than the spring's the spring's own edge counts
    returns                                  : float or array, 1 with both edges held, 0 with nothing between them
    raises ValueError                        : a diameter not above zero, or outer not larger than inner

    Source: geometry; DIN 2092 / EN 16984, shortened lever arm (from memory).
    >>> round(float(lever_share(18.0, 8.4, 16.0, 8.4)), 3)
    0.792
    """
    outer, inner = positive("outer_diameter", outer_diameter), positive("inner_diameter", inner_diameter)
    if np.any(outer <= inner):
        raise ValueError(f"the outer diameter {outer} must exceed the inner {inner}")
    held_outer = np.minimum(positive("held_outer_diameter", held_outer_diameter), outer)
    held_inner = np.maximum(positive("held_inner_diameter", held_inner_diameter), inner)
    return np.asarray(np.maximum(held_outer - held_inner, 0.0) / (outer - inner))


def lever_factors(share: ArrayLike) -> LeverFactors:
    """Return what a shorter lever does to the force, the travel and the stiffness of a disc spring.

    The cone turns by the same angle under the same moment: F' = F / L, s' = s L, k' = k / L^2, so that the work stays.

    share             : float or array, L, as lever_share returns it, above 0
    returns           : LeverFactors
    raises ValueError : share not above zero

    Source: DIN 2092 / EN 16984, shortened lever arm (from memory).
    >>> round(float(lever_factors(0.8).stiffness), 4)
    1.5625
    """
    lever = positive("share", share)
    return LeverFactors(1.0 / lever, lever, 1.0 / lever**2)
