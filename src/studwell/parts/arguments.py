"""Checks on the numbers handed to the closed forms, and names suggested for a misspelt one."""

from collections.abc import Iterable
from difflib import get_close_matches

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def finite(name: str, value: ArrayLike) -> Array:
    """Return the value as a float array after checking that every entry is finite.

    name              : str, the argument's name for the message
    value             : float or array, any unit
    returns           : float array of the same shape and unit
    raises ValueError : an entry is not finite

    Source: none needed (a check).
    """
    array = np.asarray(value, dtype=float)
    if not np.isfinite(array).all():
        raise ValueError(f"{name} must be finite, not {array}")
    return array


def positive(name: str, value: ArrayLike) -> Array:
    """Return the value as a float array after checking that every entry is finite and above zero.

    name              : str, the argument's name for the message
    value             : float or array, any unit
    returns           : float array of the same shape and unit
    raises ValueError : an entry is not finite, or not above zero

    Source: none needed (a check).
    """
    array = finite(name, value)
    if (array <= 0.0).any():
        raise ValueError(f"{name} must be above zero, not {array}")
    return array


def not_negative(name: str, value: ArrayLike) -> Array:
    """Return the value as a float array after checking that every entry is finite and not below zero.

    name              : str, the argument's name for the message
    value             : float or array, any unit
    returns           : float array of the same shape and unit
    raises ValueError : an entry is not finite, or below zero

    Source: none needed (a check).
    """
    array = finite(name, value)
    if (array < 0.0).any():
        raise ValueError(f"{name} must not be below zero, not {array}")
    return array


def unknown_name(kind: str, name: str, known: Iterable[str]) -> str:
    """Return the message for a name that is not in stock, with the nearest known one if any is near.

    kind    : str, what was looked for ("material")
    name    : str, as the user wrote it
    known   : the names in stock
    returns : str, one sentence

    Source: none needed (a message).
    """
    names = list(known)
    lower = {one.lower(): one for one in names}
    near = get_close_matches(name.lower(), lower, n=1)
    hint = f"; did you mean {lower[near[0]]!r}?" if near else "."
    return f"no {kind} named {name!r} in stock{hint} In stock: {', '.join(names)}"
