"""Loss of clamp with time: embedding of faces, creep relaxation, logarithmic loss."""

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, not_negative, positive


def embedding_loss(embedding: ArrayLike, total_compliance: ArrayLike) -> Array:
    """Return the force that a joint loses when its faces settle: f_Z/(delta_S + delta_P).

    embedding         : float or array, mm, sum over thread, bearing faces and joints
    total_compliance  : float or array, mm/N, stud, clamped parts and springs in series
    returns           : float or array, N
    raises ValueError : embedding negative, compliance not above zero

    Source: VDI 2230.
    """
    return not_negative("embedding", embedding) / positive("total_compliance", total_compliance)


def norton_relaxation(
    stress: ArrayLike,
    time: ArrayLike,
    youngs_modulus: ArrayLike,
    exponent: ArrayLike,
    rate: ArrayLike,
) -> Array:
    """Return the stress left at fixed strain in a body that creeps as rate = B sigma^n.

    sigma = [sigma0^(1-n) + (n-1) E B t]^(1/(1-n))

    stress            : float or array, MPa, at time zero
    time              : float or array, in the time unit of rate
    youngs_modulus    : float or array, MPa
    exponent          : float or array, n, above 1
    rate              : float or array, B, per unit of time and MPa^n
    returns           : float or array, MPa
    raises ValueError : stress or modulus not above zero, exponent not above 1, time or rate negative

    Source: Norton 1929 creep law integrated at constant total strain.
    """
    n = positive("exponent", exponent)
    if np.any(n <= 1.0):
        raise ValueError(f"exponent must be above 1, not {n}")
    crept = positive("youngs_modulus", youngs_modulus) * not_negative("rate", rate)
    start = positive("stress", stress) ** (1.0 - n)
    return (start + (n - 1.0) * crept * not_negative("time", time)) ** (1.0 / (1.0 - n))


def logarithmic_loss(force: ArrayLike, share: ArrayLike, time: ArrayLike, first_time: ArrayLike) -> Array:
    """Return the force left when each tenfold of time takes the same share: F0 [1 - a log10(t/t0)].

    force             : float or array, N, at first_time
    share             : float or array, a, lost in each tenfold of time
    time, first_time  : float or array, one unit; earlier than first_time nothing is lost
    returns           : float or array, N, not below zero
    raises ValueError : share negative, a time not above zero, force negative

    Source: usual form of gasket relaxation tests (from memory, EN 13555 gives the end value only).
    """
    decades = np.log10(positive("time", time) / positive("first_time", first_time))
    left = 1.0 - not_negative("share", share) * np.maximum(decades, 0.0)
    return not_negative("force", force) * np.maximum(left, 0.0)
