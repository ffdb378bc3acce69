"""Sections at other sizes than the setup's own, and how the change that each makes is carried to sizes between them."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.odds.limits import COLUMNS, MODES, SMALL, as_followed
from studwell.odds.node import Node

Array = np.ndarray
Values = Mapping[str, Array]

TOLERANCE = 0.005
"""Error of interpolation, of an outcome's value or a margin's limit, beyond which more sections are taken. Our own choice."""

CAPPED = 2.0
"""Times its limit beyond which it no longer matters how large a margin is."""

INVERTED = [COLUMNS.index(name) for name in ("leak", "false seat")]
"""Columns that have a force which may vanish under the line: interpolated as one over their value."""


@dataclass(frozen=True)
class Off:
    """How far interpolated rows are off: column -> largest difference, as share of the value (outcomes) or of the limit
    (margins, up to CAPPED times it); judgements that change sides, and how many there are."""

    worst: Mapping[str, float] = field(repr=False)
    flipped: int
    judged: int

    @property
    def largest(self) -> tuple[str, float]:
        """The column that is worst off, and by how much."""
        name = max(self.worst, key=lambda each: self.worst[each])
        return name, self.worst[name]


def off(near: Array, exact: Array) -> Off:
    """Return how far rows (n, COLUMNS) are from exact ones."""
    worst, flipped, judged = {}, 0, 0
    for column, name in enumerate(COLUMNS):
        here, there = near[:, column], exact[:, column]
        both = ~np.isnan(here) & ~np.isnan(there)
        if name in MODES:
            flipped += int(np.count_nonzero((here >= 1.0)[both] != (there >= 1.0)[both]))
            judged += int(np.count_nonzero(both))
            here, there = np.minimum(here, CAPPED), np.minimum(there, CAPPED)
        if both.any():
            least = 1.0 if name in MODES else SMALL.get(name, 10.0)
            whole = 1.0 if name in MODES else max(least, float(np.abs(there[both]).max()))
            worst[name] = float(np.abs(here - there)[both].max()) / whole
    return Off(worst, flipped, judged)


class Sections:
    """A setup's own section and others about it, for some dimensions.

    base : of the setup's own sizes;  own: (d,) mm;  places: of each dimension, its own and up to two others
    make : sizes by number of the dimension -> Node; raises StudwellError where there is no such section
    """

    def __init__(
        self,
        base: Node,
        own: Sequence[float],
        places: Sequence[tuple[float, ...]],
        make: Callable[[Mapping[int, float]], Node],
    ) -> None:
        self.base, self.own, self.places, self.make = base, tuple(own), tuple(places), make
        self.ends = [{place: make({i: place}) for place in of if place != own[i]} for i, of in enumerate(self.places)]
        self.between: list[dict[float, Node]] = [{} for _ in self.places]
        self.corners: dict[tuple[int, int, float, float], Node] = {}

    @property
    def counts(self) -> tuple[int, int, int]:
        """Sections at the ends of each dimension, between them, and at corners of two."""
        return (
            sum(len(each) for each in self.ends),
            sum(len(each) for each in self.between),
            len(self.corners),
        )

    def rows(self, sizes: Array, values: Values) -> tuple[Array, Array]:
        """Return outcomes and margins (n, COLUMNS) at sizes (n, d), and how each was found (n,); values: key -> (n,).

        The setup's own rows, and the change of each dimension by Lagrange's polynomial through its sections; where it has
        sections between them, what is left there by the next higher polynomial on that side; where two dimensions
        have sections at their corners, what is left there in proportion to both.
        """
        count = len(sizes)
        table, how = self.base.raw(values, count)
        if not self.places:
            return as_followed(table), how
        start = _turned(table)
        total, changes = start.copy(), []
        for i, nodes in enumerate(self.ends):
            mine = {}
            for place, node in nodes.items():
                there, found = node.raw(values, count)
                how = np.maximum(how, found)
                mine[place] = _change(start, _turned(there))
                total += _lagrange(sizes[:, i], self.places[i], place)[:, None] * mine[place]
            changes.append(mine)
        for i, nodes in enumerate(self.between):
            for place, node in nodes.items():
                side = self._side(sizes[:, i], i, place)
                there = self._at(node, values, side)
                for end, change in changes[i].items():
                    there -= _lagrange(np.array([place]), self.places[i], end) * change[side]
                left = _change(start[side], there)
                total[side] += _bump(sizes[side, i], self.places[i], place)[:, None] * left
        for (i, j, one, two), node in self.corners.items():
            share_i = (sizes[:, i] - self.own[i]) / (one - self.own[i])
            share_j = (sizes[:, j] - self.own[j]) / (two - self.own[j])
            inside = np.flatnonzero((share_i > 0.0) & (share_j > 0.0))
            there = self._at(node, values, inside)
            left = _change(start[inside], there - changes[i][one][inside] - changes[j][two][inside])
            total[inside] += (share_i * share_j)[inside, None] * left
        back = _turned(total)
        return as_followed(np.where(table >= 0.0, np.maximum(back, 0.0), back)), how

    def refine(self, probe: Callable[[Mapping[int, float]], tuple[Off, Node] | None]) -> None:
        """Take further sections where interpolation is off by more than TOLERANCE.

        probe : sizes by number of the dimension -> how far interpolation is off there, and the section; None: there is none
        """
        for i, places in enumerate(self.places):
            kept = {}
            for a, b in itertools.pairwise(places):
                tried = probe({i: 0.5 * (a + b)})
                if tried is not None and tried[0].largest[1] > TOLERANCE:
                    kept[0.5 * (a + b)] = tried[1]
            self.between[i] = kept
        if len(self.places) < 2:
            return
        for corner in self.outermost():
            tried = probe(corner)
            if tried is None or tried[0].largest[1] <= TOLERANCE:
                continue
            for i, j in itertools.combinations(range(len(self.places)), 2):
                if corner[i] == self.own[i] or corner[j] == self.own[j] or (i, j, corner[i], corner[j]) in self.corners:
                    continue
                pair = probe({i: corner[i], j: corner[j]})
                if pair is not None and pair[0].largest[1] > 0.5 * TOLERANCE:
                    self.corners[i, j, corner[i], corner[j]] = pair[1]

    def outermost(self, share: float = 1.0) -> list[dict[int, float]]:
        """Return corners of all dimensions such that each pair of ends is in some: by rows of a Hadamard matrix.

        share : of the way from the setup's own sizes to the outermost sections
        """
        count, corners = len(self.places), []
        size = 1 << int(count).bit_length()
        for row in range(size):
            signs = [(-1) ** bin(row & (column + 1)).count("1") for column in range(count)]
            corners.append({
                i: self.own[i] + share * (places[0 if sign < 0 else -1] - self.own[i])
                for i, (places, sign) in enumerate(zip(self.places, signs, strict=True))
            })  # fmt: skip
        return corners

    def _side(self, x: Array, i: int, place: float) -> Array:
        """Numbers of the samples that lie on the same side of the middle section as a place between sections."""
        if len(self.places[i]) < 3:
            return np.arange(len(x))
        middle = self.places[i][1]
        return np.flatnonzero(x < middle if place < middle else x >= middle)

    @staticmethod
    def _at(node: Node, values: Values, chosen: Array) -> Array:
        """Rows of some samples in a section, as they are interpolated."""
        if not len(chosen):
            return np.zeros((0, len(COLUMNS) + 1))
        return _turned(node.raw({name: each[chosen] for name, each in values.items()}, len(chosen))[0])


def _turned(table: Array) -> Array:
    """Rows with one over the value in INVERTED columns; the same again turns them back."""
    result = table.copy()
    with np.errstate(divide="ignore"):
        result[:, INVERTED] = 1.0 / np.maximum(table[:, INVERTED], 0.0)
    return result


def _change(start: Array, there: Array) -> Array:
    """Differences, zero where one of the two is not known or not bounded."""
    both = np.isfinite(start) & np.isfinite(there)
    return np.where(both, np.where(both, there, 0.0) - np.where(both, start, 0.0), 0.0)


def _lagrange(x: Array, places: tuple[float, ...], place: float) -> Array:
    """The polynomial (n,) that is 1 at one place and 0 at the others."""
    result = np.ones_like(x)
    for other in places:
        if other != place:
            result = result * (x - other) / (place - other)
    return result


def _bump(x: Array, places: tuple[float, ...], place: float) -> Array:
    """The polynomial (n,) that is 0 at all places and 1 at one between them."""
    result = np.ones_like(x)
    for other in places:
        result = result * (x - other) / (place - other)
    return result
