"""A setup with everything that is spread: loads side by side, dimensions by interpolation between condensed sections."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from studwell.case.checks import check_setup
from studwell.case.overrides import Origin
from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey
from studwell.case.spread_record import Spread
from studwell.errors import StudwellError
from studwell.joint.build import BodyCache
from studwell.odds.node import Node
from studwell.odds.scalar import varied
from studwell.odds.sections import Off, Sections, off
from studwell.odds.spread import Sampler, sampler
from studwell.odds.springs import ROOM, SIZES, laid_out_room, room_of

Array = np.ndarray

REACH = 0.005
"""Probability beyond which the outermost sections of a spread dimension lie; draws beyond are carried on."""

FAR = 0.0005
"""Probability of the sizes at the far corner, where it is tried how well draws beyond the sections are carried on."""

PROBES = 24
"""Samples whose interpolation between sections is compared with a section of their own."""

DRAWN = 6
"""Random draws of all sizes that are compared with sections of their own."""


@dataclass(frozen=True)
class InterpolationError:
    """How far interpolation is off at one place, or some places, that are none of its sections.

    where : what was tried;  off: over PROBES samples at each, None where there is no section of that size, and why
    far   : beyond the outermost sections of all dimensions
    """

    where: str
    off: Off | None = field(repr=False)
    why: str = ""
    far: bool = False

    @property
    def worst(self) -> Mapping[str, float]:
        """Column -> largest difference; empty where there is no section."""
        return {} if self.off is None else self.off.worst

    @property
    def largest(self) -> tuple[str, float]:
        """The column that is worst off, and by how much; nan where there is no section."""
        return ("", float("nan")) if self.off is None else self.off.largest

    @property
    def told(self) -> str:
        """In words."""
        if self.off is None:
            return f"not known how far draws out there are off: {self.why}"
        name, share = self.largest
        return f"off by at most {share:.2g} ({name}); {self.off.flipped} of {self.off.judged} judgements change sides"


class SetupModel:
    """What turns inputs (n, d) of one setup into rows (n, COLUMNS)."""

    def __init__(self, setup: Setup, spread: Spread, keys: Mapping[str, SpreadKey], refinement: float) -> None:
        self.setup, self.keys, self.refinement = setup, keys, refinement
        self.sampler: Sampler = sampler(spread, setup, dict(keys))
        self.names = self.sampler.names
        self.cache: BodyCache = {}
        self.base = Node(setup, keys, refinement, self.cache)
        marginals = self.sampler.marginals
        self.sized = [i for i, each in enumerate(marginals) if each.key.effect == "geometry"]
        self.resized = [i for i, name in enumerate(self.names) if i in self.sized or name in SIZES]
        self.room = self._room()
        self.sections = Sections(
            self.base,
            [marginals[i].own for i in self.sized],
            [self._places(i) for i in self.sized],
            lambda sizes: self._node({self.names[self.sized[i]]: size for i, size in sizes.items()}),
        )
        self.probes = self.sampler.draw(1, 0, PROBES)
        self.sections.refine(self._probe)

    def _room(self) -> dict[int, float]:
        """Input -> mm that one millimetre of it adds to the room in a domed nut."""
        found: dict[int, float] = {}
        if self.base.built.layout.dome_gap is None:
            return found
        for i in self.resized:
            key, own = self.keys[self.names[i]], self.sampler.marginals[i].own
            more = room_of(key.put(self.setup, 1.01 * own)) - room_of(self.setup)
            if abs(more) > 1e-9 * own:
                found[i] = more / (0.01 * own)
        return found

    def _places(self, index: int) -> tuple[float, ...]:
        each = self.sampler.marginals[index]
        low, high = (float(v) for v in each.at(np.array([REACH, 1.0 - REACH])))
        if low < each.own < high:
            return low, each.own, high
        return tuple(sorted({each.own, low, high}))

    def _node(self, sizes: Mapping[str, float]) -> Node:
        setup = varied(self.setup, self.keys, sizes)
        told = ", ".join(f"{name} = {value:.4g} mm" for name, value in sizes.items())
        try:
            check_setup(setup, Origin(""))
            node = Node(setup, self.keys, self.refinement, dict(self.cache))
        except (StudwellError, ValueError) as problem:
            raise StudwellError(
                f"[spread]: setup {self.setup.name!r} has no section at {told}: {getattr(problem, 'line', problem)}",
                "cannot-fit",
            ) from None
        if node.why_alone != self.base.why_alone:
            why = node.why_alone or f"as it stands it has {self.base.why_alone}"
            raise StudwellError(
                f"[spread]: setup {self.setup.name!r} is another kind of joint at {told}: {why}. Sections of two kinds are "
                "not interpolated: give a narrower spread, or cut it off with low and high",
                "cannot-fit",
            )
        return node

    def loads(self, inputs: Array) -> dict[str, Array]:
        """Return what moves loads, limits and laws: key -> (n,)."""
        found = {name: inputs[:, i] for i, name in enumerate(self.names) if i not in self.sized}
        if self.room:
            room = np.full(len(inputs), laid_out_room(self.base.built.layout))
            for i, each in self.room.items():
                room += each * (inputs[:, i] - self.sampler.marginals[i].own)
            found[ROOM] = room
        return found

    def rows(self, inputs: Array, also: Mapping[str, Array] | None = None) -> tuple[Array, Array]:
        """Return outcomes and margins (n, COLUMNS) and how each was found (n,).

        also : further loads, key -> (n,), that are not spread

        Dimensions by interpolation, as `Sections.rows`; spring washers and the room in a domed nut, which bend the answer
        sharply where they close, are each sample's own in every section.
        """
        return self.sections.rows(inputs[:, self.sized], {**self.loads(inputs), **(also or {})})

    def _tried(self, sizes: Mapping[int, float], probes: Array) -> tuple[Array, Array, Node]:
        """Rows by interpolation and by a section of their own at sizes by input, the others' sizes own; and the section."""
        at = probes.copy()
        for i in self.resized:
            at[:, i] = sizes.get(i, self.sampler.marginals[i].own)
        node = self._node({self.names[i]: size for i, size in sizes.items()})
        return self.rows(at)[0], node.rows(self.loads(at), len(at))[0], node

    def _probe(self, sizes: Mapping[int, float]) -> tuple[Off, Node] | None:
        """As `Sections.refine` asks."""
        try:
            near, exact, node = self._tried({self.sized[i]: size for i, size in sizes.items()}, self.probes)
        except StudwellError:
            return None
        return off(near, exact), node

    def errors(self, seed: int) -> tuple[InterpolationError, ...]:
        """Return how far interpolation is off at sizes that are no sections: between those of each dimension, at corners
        inside and outside of them all, and at random draws."""
        if not self.resized:
            return ()
        tries: list[tuple[str, list[dict[int, float]]]] = []
        for i in self.resized:
            places = self._places(i)
            if len(places) < 2:
                continue
            if i in self.sized:
                places = tuple(sorted((*places, *self.sections.between[self.sized.index(i)])))
                pairs = list(itertools.pairwise(places))
                wide = max(pairs, key=lambda pair: pair[1] - pair[0])
                outer = pairs[0] if wide != pairs[0] else pairs[-1]
                points = {0.5 * sum(wide), 0.5 * sum(outer)}
            else:
                points = {places[0], places[-1]}
            tries += [(f"{self.names[i]} = {point:.4g} mm", [{i: point}]) for point in sorted(points)]
        drawn = self.sampler.draw(seed + 1, 0, DRAWN)
        if len(self.resized) > 1:
            low, high = ({i: self._towards(i, end, 0.75) for i in self.resized} for end in (0, -1))
            mixed = {i: (low if place % 2 else high)[i] for place, i in enumerate(self.resized)}
            tries.append(("three corners of all, three quarters of the way to the ends", [low, high, mixed]))
        tries.append((f"{DRAWN} random draws", [{i: float(row[i]) for i in self.resized} for row in drawn]))
        inside = len(tries)
        for p in (FAR, 1.0 - FAR):
            far = {i: float(self.sampler.marginals[i].at(np.array([p]))[0]) for i in self.resized}
            words = ", ".join(f"{self.names[i]} = {size:.4g} mm" for i, size in far.items())
            tries.append((f"the far {'low' if p < 0.5 else 'high'} end, {words}", [far]))
        probes = self.sampler.draw(seed + 1, DRAWN, PROBES)
        found = []
        for number, (words, listed) in enumerate(tries):
            near, exact, missing, why = [], [], 0, ""
            for sizes in listed:
                try:
                    here, there, _ = self._tried(sizes, probes)
                except StudwellError as problem:
                    missing, why = missing + 1, problem.line.partition("]: ")[2]
                    continue
                near.append(here)
                exact.append(there)
            if missing and near:
                words = f"{words} ({missing} without a section)"
            seen = off(np.concatenate(near), np.concatenate(exact)) if near else None
            found.append(InterpolationError(words, seen, why, number >= inside))
        return tuple(found)

    def _towards(self, i: int, end: int, share: float) -> float:
        own = self.sampler.marginals[i].own
        return own + share * (self._places(i)[end] - own)
