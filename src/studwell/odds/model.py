"""A setup with everything that is spread: loads side by side, dimensions by interpolation between condensed sections."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey
from studwell.case.spread_record import Spread
from studwell.errors import StudwellError
from studwell.joint.build import BodyCache
from studwell.odds.limits import COLUMNS, apart
from studwell.odds.node import Node
from studwell.odds.spread import Sampler, sampler

Array = np.ndarray

REACH = 0.005
"""Probability beyond which the outermost sections of a spread dimension lie; draws beyond are carried on."""

PROBES = 24
"""Samples whose interpolation between sections is compared with a section of their own."""


@dataclass(frozen=True)
class InterpolationError:
    """How far interpolation is off at one place between sections.

    where : what was tried;  worst: column -> largest difference over PROBES samples, as share of the value (outcomes) or
    of the limit (margins)
    """

    where: str
    worst: Mapping[str, float] = field(repr=False)

    @property
    def largest(self) -> tuple[str, float]:
        """The column that is worst off, and by how much."""
        name = max(self.worst, key=lambda each: self.worst[each])
        return name, self.worst[name]


class SetupModel:
    """What turns inputs (n, d) of one setup into rows (n, COLUMNS)."""

    def __init__(self, setup: Setup, spread: Spread, keys: Mapping[str, SpreadKey], refinement: float) -> None:
        self.setup, self.keys, self.refinement = setup, keys, refinement
        self.sampler: Sampler = sampler(spread, setup, dict(keys))
        self.names = self.sampler.names
        self.cache: BodyCache = {}
        self.base = Node(setup, keys, refinement, self.cache)
        self.sized = [i for i, each in enumerate(self.sampler.marginals) if each.key.effect == "geometry"]
        self.places = [self._places(i) for i in self.sized]
        self.nodes = [
            {place: self._node({self.names[i]: place}) for place in places if place != self.sampler.marginals[i].own}
            for i, places in zip(self.sized, self.places, strict=True)
        ]

    def _places(self, index: int) -> tuple[float, ...]:
        each = self.sampler.marginals[index]
        low, high = (float(v) for v in each.at(np.array([REACH, 1.0 - REACH])))
        if low < each.own < high:
            return low, each.own, high
        return tuple(sorted({each.own, low, high}))

    def _node(self, sizes: Mapping[str, float]) -> Node:
        setup = self.setup
        for name, value in sizes.items():
            setup = self.keys[name].put(setup, value)
        try:
            return Node(setup, self.keys, self.refinement, dict(self.cache))
        except (StudwellError, ValueError) as problem:
            told = ", ".join(f"{name} = {value:.4g} mm" for name, value in sizes.items())
            raise StudwellError(
                f"[spread]: setup {self.setup.name!r} has no section at {told}: {getattr(problem, 'line', problem)}",
                "cannot-fit",
            ) from None

    def loads(self, inputs: Array) -> dict[str, Array]:
        """Return what moves loads and limits: key -> (n,)."""
        return {name: inputs[:, i] for i, name in enumerate(self.names) if i not in self.sized}

    def rows(self, inputs: Array, also: Mapping[str, Array] | None = None) -> tuple[Array, Array]:
        """Return outcomes and margins (n, COLUMNS) and how each was found (n,).

        also : further loads, key -> (n,), that are not spread

        Dimensions: the setup's own section, and for each dimension the change that sections at other sizes make, by
        Lagrange's polynomial through them; what two dimensions do together beyond that is left out, and its size is
        in `errors`.
        """
        values, count = {**self.loads(inputs), **(also or {})}, len(inputs)
        table, how = self.base.rows(values, count)
        if not self.sized:
            return table, how
        sum_ = table.copy()
        for i, places, nodes in zip(self.sized, self.places, self.nodes, strict=True):
            for place, node in nodes.items():
                there, found = node.rows(values, count)
                how = np.maximum(how, found)
                share = _lagrange(inputs[:, i], places, place)
                change = np.where(np.isfinite(table) & np.isfinite(there), there - table, 0.0)
                sum_ += share[:, None] * change
        return sum_, how

    def errors(self, seed: int) -> tuple[InterpolationError, ...]:
        """Return how far interpolation is off between the sections of each dimension, and at a corner of all."""
        probes = self.sampler.draw(seed + 1, 0, PROBES)
        found = []
        tries: list[tuple[str, dict[int, float]]] = []
        for i, places in zip(self.sized, self.places, strict=True):
            for a, b in itertools.pairwise(places):
                tries.append((f"{self.names[i]} = {0.5 * (a + b):.4g} mm", {i: 0.5 * (a + b)}))
        if len(self.sized) > 1:
            corner = {i: 0.5 * (places[0] + places[1]) for i, places in zip(self.sized, self.places, strict=True)}
            tries.append((", ".join(f"{self.names[i]} = {v:.4g} mm" for i, v in corner.items()), corner))
        for words, sizes in tries:
            at = probes.copy()
            for i in self.sized:
                at[:, i] = sizes.get(i, self.sampler.marginals[i].own)
            exact, _ = self._node({self.names[i]: v for i, v in sizes.items()}).rows(self.loads(at), PROBES)
            near, _ = self.rows(at)
            worst = {}
            for column, name in enumerate(COLUMNS):
                both = np.isfinite(exact[:, column]) & np.isfinite(near[:, column])
                if both.any():
                    worst[name] = apart(name, near[both, column], exact[both, column])
            found.append(InterpolationError(words, worst))
        return tuple(found)


def _lagrange(x: Array, places: tuple[float, ...], place: float) -> Array:
    """The polynomial (n,) that is 1 at one place and 0 at the others."""
    result = np.ones_like(x)
    for other in places:
        if other != place:
            result = result * (x - other) / (place - other)
    return result
