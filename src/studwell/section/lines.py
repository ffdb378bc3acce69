"""Positions of mesh lines: breaks that must be hit, sizes that should be kept."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from studwell.errors import BadMesh

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


FAR = 3.0
"""Thread diameters beyond which metal without a contact is far: from there on its elements may grow. Our own choice."""

FAR_GROWTH = 3.0
"""How much an element grows, in sizes, over each further FAR. Our own choice."""


def far_size(size: float, length: float, far: float) -> float:
    """Return the element size (mm) at the end of metal so long that nothing touches: `size` unless it is longer than `far`.

    size, length, far : mm
    """
    return size * (1.0 + FAR_GROWTH * max(length / far - 1.0, 0.0))


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


def outwards(breaks: Sequence[float], size: float, far: float) -> Array:
    """Return radii through all breaks, about `size` mm apart, growing outwards between two that are over `far` mm apart."""
    points = merged(breaks)
    pieces = [points[:1]]
    for a, b in itertools.pairwise(points):
        pieces.append(spaced(a, b, size, far_size(size, b - a, far))[1:])
    return np.concatenate(pieces)


def moved_onto(lines: Array, marks: Sequence[float]) -> Array:
    """Return as many lines between the same ends, moved so that every mark between the ends is a line.

    lines : (n + 1,) rising, mm;  marks : positions, mm; those not between the ends are left out
    raises BadMesh : more marks than lines between two marks that are lines already
    """
    last = len(lines) - 1
    pinned = {0: float(lines[0]), last: float(lines[-1])}
    free = []
    for mark in merged([m for m in marks if lines[0] + 1e-6 < m < lines[-1] - 1e-6]):
        near = int(np.argmin(np.abs(lines - mark)))
        if abs(lines[near] - mark) < 1e-6:
            pinned[near] = float(mark)
        else:
            free.append(float(mark))
    fixed = sorted(pinned)
    for low, high in itertools.pairwise(fixed):
        own = [mark for mark in free if pinned[low] < mark < pinned[high]]
        if len(own) > high - low - 1:
            wanted = ", ".join(f"{mark:.4g}" for mark in own)
            raise BadMesh(
                f"{high - low} edges between {lines[low]:.4g} and {lines[high]:.4g} mm are too few for the edges of "
                f"parts above them, at {wanted} mm"
            )
        previous = low
        for left, mark in enumerate(own):
            candidates = np.arange(previous + 1, high - (len(own) - 1 - left))
            previous = int(candidates[np.argmin(np.abs(lines[candidates] - mark))])
            pinned[previous] = mark
    places = sorted(pinned)
    return np.interp(lines, lines[places], [pinned[place] for place in places])


def own_mouth_lines(
    mouth: Array, contact: tuple[float, float], radii: Sequence[float], size: float
) -> tuple[Array, Array]:
    """Return radial lines of the parts on a given mouth: for everything, and at the bottom of the lowest part.

    mouth   : (n + 1,) radii of the mouth's own lines;  contact : radii of the loaded ring, both of them lines of it
    radii   : edges of the parts, which must be lines of all but the lowest part's bottom;  size : mm, elsewhere
    returns : two arrays of one length, mm; inside the ring the second has the mouth's own lines
    raises BadMesh : too few lines in the ring for the edges of the parts above it
    """
    inner, outer = contact
    core = within(mouth, inner, outer)
    below = through([*[r for r in radii if r < inner - 1e-9], inner], size)[:-1]
    above = through([outer, *[r for r in radii if r > outer + 1e-9]], size)[1:]
    everywhere = np.concatenate([below, moved_onto(core, radii), above])
    return everywhere, np.concatenate([below, core, above])


def within(lines: Array, low: float, high: float) -> Array:
    """Return the lines from low to high (mm), both of which must be lines."""
    inside = lines[(lines >= low - 1e-7) & (lines <= high + 1e-7)]
    if len(inside) < 2 or abs(inside[0] - low) > 1e-6 or abs(inside[-1] - high) > 1e-6:
        raise ValueError(f"{low} and {high} mm must be mesh lines")
    return inside
