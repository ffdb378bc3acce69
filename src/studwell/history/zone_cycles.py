"""What repeated cycles do to a body that may flow: nothing, shakedown, plastic strain to and fro, or ratcheting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from studwell.fem.plastic_laws import PointState, equivalent_strain
from studwell.history.flow_jumps import Reached

STILL = 1e-6
"""Largest plastic strain a cycle that counts as none: a thousand cycles add one in a thousand. Our own choice."""

FALLING = 0.9
"""Plastic strain of a cycle over that of the cycle before, below which (twice running) it dies out."""

ONE_WAY = 0.05
"""Share of a cycle's plastic strain that is left at its end, above which the body ratchets."""

VERDICTS = ("elastic", "settles", "shakes down", "cycles plastically", "ratchets")
"""From best to worst."""


@dataclass(frozen=True)
class ZoneCycles:
    """Plastic strain and creep of a zone over repeated cycles.

    verdict   : "elastic", "settles" (creep alone), "shakes down" (the increments vanish or die out), "cycles
                plastically" (as much back as forth) or "ratchets" (more in one direction every cycle)
    strain    : largest accumulated equivalent plastic strain at the end
    error     : of plastic and creep strain where it is largest, estimated, by jumping
    increments: (cycles,) largest plastic strain added in each cycle solved for itself or last behind a jump
    one_way   : share of the last increment that is still there at the cycle's end; 0 without increment
    creep     : largest accumulated creep strain at the end;  creep_increment : what the last cycle added
    """

    verdict: str
    strain: float
    increments: tuple[float, ...]
    one_way: float
    error: float = 0.0
    creep: float = 0.0
    creep_increment: float = 0.0


class ZoneWatch:
    """Follows the plastic strain of all zones, cycle by cycle; starts at the points (body -> PointState) of a cycle's
    end."""

    def __init__(self, points: Mapping[str, PointState]) -> None:
        self.points = dict(points)
        self.increments: dict[str, list[float]] = {name: [] for name in self.points}
        self.crept = dict.fromkeys(self.points, 0.0)
        self.one_way = dict.fromkeys(self.points, 0.0)
        self.errors: dict[str, float] = dict.fromkeys(self.points, 0.0)
        self.jumped = False

    def take(self, reached: Reached) -> None:
        """Take in another number of cycles, solved."""
        self.points = dict(reached.carried.zones)
        self.errors = dict(reached.strain_errors)
        self.jumped = self.jumped or reached.jumped
        for name, more in reached.more.zones.items():
            where = int(np.argmax(more.plastic_strain))
            largest = float(more.plastic_strain[where])
            self.increments[name].append(largest)
            self.crept[name] = float(more.creep_strain.max(initial=0.0))
            left = float(equivalent_strain(more.inelastic[where])) - float(more.creep_strain[where])
            self.one_way[name] = max(left, 0.0) / largest if largest > STILL else 0.0

    def results(self) -> dict[str, ZoneCycles]:
        """Return each zone's record."""
        found = {}
        for name, points in self.points.items():
            strain = float(points.plastic_strain.max(initial=0.0))
            creep = float(points.creep_strain.max(initial=0.0))
            increments = tuple(self.increments[name])
            # increments before and behind a jump are not of cycles that follow each other
            verdict = zone_verdict(strain, increments[-1:] if self.jumped else increments, self.one_way[name])
            if verdict == "elastic" and creep > 0.0:
                verdict = "settles"
            found[name] = ZoneCycles(
                verdict, strain, increments, self.one_way[name], self.errors[name], creep, self.crept[name]
            )
        return found


def zone_verdict(strain: float, increments: Sequence[float], one_way: float) -> str:
    """Return the verdict on plastic strain that grew by increments (cycles,), of the last one so much in one way."""
    if strain == 0.0:
        return "elastic"
    last = [float(value) for value in increments[-3:]]
    if not last or last[-1] <= STILL:
        return "shakes down"
    if len(last) == 3 and last[2] < FALLING * last[1] < FALLING**2 * last[0]:
        return "shakes down"
    return "ratchets" if one_way > ONE_WAY else "cycles plastically"


def worst_verdict(verdicts: Sequence[str]) -> str:
    """Return the worst of some verdicts."""
    return max(verdicts, key=VERDICTS.index)
