"""Positions of mesh lines: breaks that must be hit, sizes that should be kept."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

Array = np.ndarray


def merged(breaks: Sequence[float], nearest: float = 1e-6) -> Array:
    """Return breaks sorted, those nearer than `nearest` (mm) to one before dropped."""
    result: list[float] = []
    for value in sorted(breaks):
        if not result or value - result[-1] > nearest:
            result.append(float(value))
    return np.array(result)


def spaced(start: float, end: float, first: float, last: float) -> Array:
    """Return positions from start to end (mm) whose intervals grow geometrically from about `first` to about `last`.

    first, last : wanted sizes at the two ends, mm
    returns     : (n + 1,) mm, both ends exact
    """
    length = end - start
    first, last = min(first, length), min(last, length)
    mean = (last - first) / np.log(last / first) if abs(last / first - 1.0) > 1e-6 else first
    n = max(1, int(np.ceil(length / mean - 1e-9)))
    ratio = (last / first) ** (1.0 / n)
    steps = ratio ** np.arange(n)
    positions = start + length * np.concatenate([[0.0], np.cumsum(steps)]) / steps.sum()
    positions[-1] = end
    return positions


def through(breaks: Sequence[float], size: float, fine: Sequence[float] = (), fine_size: float | None = None) -> Array:
    """Return positions through all breaks, about `size` mm apart, and about `fine_size` mm next to the fine ones."""
    points = merged(breaks)
    near = fine_size if fine_size is not None else size
    pieces = [points[:1]]
    for a, b in itertools.pairwise(points):
        at_a = near if any(abs(a - f) < 1e-6 for f in fine) else size
        at_b = near if any(abs(b - f) < 1e-6 for f in fine) else size
        if at_a < size and at_b < size and b - a > 2.5 * near:
            middle = 0.5 * (a + b)
            pieces.append(spaced(a, middle, at_a, size)[1:])
            pieces.append((a + b - spaced(a, middle, at_a, size))[::-1][1:])
        else:
            pieces.append(spaced(a, b, at_a, at_b)[1:])
    return np.concatenate(pieces)


def within(lines: Array, low: float, high: float) -> Array:
    """Return the lines from low to high (mm), both of which must be lines."""
    inside = lines[(lines >= low - 1e-7) & (lines <= high + 1e-7)]
    if len(inside) < 2 or abs(inside[0] - low) > 1e-6 or abs(inside[-1] - high) > 1e-6:
        raise ValueError(f"{low} and {high} mm must be mesh lines")
    return inside
