"""Ring cracks of the case's flaw at the floor's corner and at thread roots: which lines are followed, over which sizes."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from studwell.crack.curves import crack_curve
from studwell.crack.lines import FLOOR_PATH, crack_lines
from studwell.crack.records import CrackLine, KCurve
from studwell.crack.stress import SpaceCache
from studwell.crack.submodel import WeightCache
from studwell.errors import BadMesh, Unknown
from studwell.joint.build import BuiltJoint
from studwell.parts.crack_size import interpolation_errors
from studwell.strength.distances import cycle_states
from studwell.strength.flaws import CrackHistory
from studwell.strength.ligament import floor_ligament
from studwell.strength.timeline import Timeline

Array = np.ndarray

BELOW, ABOVE = 4, 5
"""Sizes of a curve up to the flaw and from it on, the flaw in both; an even number of steps from it keeps what was compared."""

MISSED = 0.03
MOST_SIZES = 14
"""Sizes are added beside the one that its neighbours miss most, until they miss none by more than this share."""

SMALLEST = 0.1
LARGEST = 2.5
"""mm, the sizes of a curve, unless the flaw is smaller or larger or the wall ends it sooner."""

WALL_SHARE = 0.6
"""Share of the wall to which a crack is followed; one that begins near it or beyond, half way through what it leaves."""

ROOM = 1.2
"""Times the flaw that a curve must reach at least before WALL_SHARE may end it."""

AT_FLAW, RANGE, DEEPER = "pulled most at the flaw's depth", "widest range at the flaw's depth", "pulled most further on"
THINNEST = "least metal straight down from its tip"


def ring_histories(
    built: BuiltJoint, timeline: Timeline, cache: WeightCache | None = None
) -> tuple[tuple[CrackHistory, ...], str]:
    """Return the stress intensity of ring cracks that the case's flaw could start, and what could not be had in the boss.

    Where several lines leave one place, all are compared by their intensity at the flaw's own depth, half way (as a ratio)
    to the deepest size followed, and there, and by the metal that the flaw leaves below its tip; those that are worst in
    one of these are followed. None without a [crack] flaw
    or inspection_size, since each size is a mesh of its own. Effective intensity: opening and sliding together.

    cache : solved cracks, shared between setups
    """
    crack = built.setup.crack
    flaw = None if crack is None else crack.flaw or crack.inspection_size
    if crack is None or flaw is None:
        return (), ""
    work = _Work(built, timeline, {} if cache is None else cache, flaw, crack.inspection_size)
    found: list[CrackHistory] = []
    for (body, _), group in groupby(crack_lines(built), key=lambda line: (line.body, line.place)):
        lines = list(group)
        for line, chosen in work.followed(lines):
            history = work.history(line, chosen)
            if history is not None:
                found.append(history)
        if body != "boss":
            work.missing.pop(body, None)
    return tuple(found), "; ".join(text for texts in work.missing.values() for text in texts)


def last_size(flaw: float, wall: float) -> float:
    """Return the deepest size, mm, to which a crack that begins with a flaw is followed in a wall."""
    usual = min(max(LARGEST, 2.0 * flaw), WALL_SHARE * wall)
    return usual if usual >= ROOM * flaw else flaw + 0.5 * (wall - flaw)


def followed_sizes(flaw: float, wall: float, inspected: float | None = None) -> Array:
    """Return the sizes (n,) mm of a curve: even in their logarithm on both sides of the flaw, which is one of them.

    inspected : mm, another size that is solved itself, where it is within the curve
    """
    end = last_size(flaw, wall)
    sizes = np.concatenate([np.geomspace(min(SMALLEST, 0.5 * flaw), flaw, BELOW)[:-1], np.geomspace(flaw, end, ABOVE)])
    sizes[BELOW - 1] = flaw
    if inspected is not None and sizes[0] < inspected < end:
        sizes = np.append(sizes, inspected)
    sizes = np.unique(sizes)
    apart = np.append(np.inf, np.diff(sizes) / sizes[:-1]) > 1e-6
    return np.asarray(sizes[apart])


def more_sizes(sizes: Array, place: int) -> Array:
    """Return sizes (n,) mm with one more in the middle (as a ratio) of the wider gap beside the one at a place."""
    before = place - 1 if sizes[place] ** 2 > sizes[place - 1] * sizes[place + 1] else place
    return np.insert(sizes, before + 1, float(np.sqrt(sizes[before] * sizes[before + 1])))


def _at_floor(line: CrackLine) -> bool:
    return line.body == "boss" and (line.path or "").startswith(FLOOR_PATH)


@dataclass
class _Work:
    """What one setup's ring cracks share: the flaw, solved cracks, spaces, and what could not be had by body."""

    built: BuiltJoint
    timeline: Timeline
    cache: WeightCache
    flaw: float
    inspected: float | None
    spaces: SpaceCache = field(default_factory=dict)
    missing: dict[str, list[str]] = field(default_factory=dict)

    def followed(self, lines: list[CrackLine]) -> list[tuple[CrackLine, str]]:
        """The lines that are worst of those that leave one place, each with the words of how it was chosen."""
        if len(lines) == 1:
            return [(lines[0], "the only direction from this place")]
        cycle = cycle_states(self.timeline)
        compared: list[tuple[CrackLine, Array, float]] = []  # intensity at the depths compared, range at the flaw
        for line in lines:
            curve = self._compared(line)
            if curve is not None:
                swing = float(np.ptp(curve.effective[cycle, 0]))
                compared.append((line, curve.effective.max(axis=0), swing))
        if not compared:
            return []
        chosen: dict[int, list[str]] = {}

        def note(values: list[float], word: str) -> None:
            chosen.setdefault(int(np.argmax(values)), []).append(word)

        note([most[0] for _, most, _ in compared], AT_FLAW)
        note([swing for _, _, swing in compared], RANGE)
        for depth in (1, 2):
            note([most[min(depth, len(most) - 1)] for _, most, _ in compared], DEEPER)
        floors = [floor_ligament(self.built, self.timeline, line) for line, _, _ in compared if _at_floor(line)]
        if len(floors) == len(compared):
            ones = np.ones(len(self.timeline.states))
            note([0.0 if each is None else float(each.share(self.flaw, ones).max()) for each in floors], THINNEST)
        angles = ", ".join(f"{line.angle:.0f}" for line, _, _ in compared)
        least, most = (ends([last_size(self.flaw, line.wall) for line, _, _ in compared]) for ends in (min, max))
        deepest = f"{most:.3g}" if most - least < 0.005 * most else f"{least:.3g} to {most:.3g}"
        how = f"of {angles} degrees, compared at {self.flaw:.3g} mm and on to {deepest} mm"
        return [(compared[k][0], f"{how}: {', '.join(dict.fromkeys(words))}") for k, words in sorted(chosen.items())]

    def _compared(self, line: CrackLine) -> KCurve | None:
        """A line's curve at the depths at which directions are compared; at the flaw's alone where the others fail."""
        if self.flaw >= line.wall:
            self._lack(line, f"a flaw of {self.flaw:g} mm has gone through the {line.wall:.3g} mm wall")
            return None
        return self._curve(line, np.geomspace(self.flaw, last_size(self.flaw, line.wall), 3))

    def _curve(self, line: CrackLine, sizes: Array) -> KCurve | None:
        problem: BadMesh | Unknown | None = None
        for wanted in (sizes, sizes[sizes <= self.flaw * (1.0 + 1e-9)]):
            try:
                return crack_curve(
                    self.built, self.timeline.states, line, sizes=wanted, cache=self.cache, spaces=self.spaces
                )
            except (BadMesh, Unknown) as found:
                problem = found
        assert problem is not None
        self._lack(line, problem.line)
        return None

    def _lack(self, line: CrackLine, why: str) -> None:
        self.missing.setdefault(line.body, []).append(f"{line.place} at {line.angle:.0f} degrees: {why}")

    def history(self, line: CrackLine, chosen: str) -> CrackHistory | None:
        """Return the crack along one line over all its sizes, None where it could not be had."""
        if self.flaw >= line.wall:
            self._lack(line, f"a flaw of {self.flaw:g} mm has gone through the {line.wall:.3g} mm wall")
            return None
        curve = self._curve(line, followed_sizes(self.flaw, line.wall, self.inspected))
        while curve is not None and len(curve.sizes) < MOST_SIZES:
            errors = interpolation_errors(curve.sizes, curve.effective)
            if errors.max(initial=0.0) <= MISSED:
                break
            finer = self._curve(line, more_sizes(curve.sizes, int(np.argmax(errors)) + 1))
            if finer is None or len(finer.sizes) <= len(curve.sizes):
                break
            curve = finer
        if curve is None:
            return None
        place = f"{line.place.removeprefix(line.body).lstrip(' ,')}, {line.angle:.0f} degrees from straight down"
        return CrackHistory(
            place,
            line.body,
            line.wall,
            curve.method,
            curve.sizes,
            curve.effective,
            curve,
            chosen,
            floor_ligament(self.built, self.timeline, line) if _at_floor(line) else None,
        )
