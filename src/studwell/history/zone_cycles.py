"""What repeated cycles do to a body that may flow: nothing, shakedown, plastic strain to and fro, or ratcheting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from studwell.fem.plastic_laws import PointState
from studwell.joint.flowing import FlowingBodies
from studwell.joint.state import JointState

Array = np.ndarray

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
    """Plastic strain of a zone over repeated cycles.

    verdict   : "elastic", "shakes down" (the increments vanish or die out), "cycles plastically" (as much back as
                forth) or "ratchets" (more in one direction every cycle)
    strain    : largest accumulated equivalent plastic strain at the end
    increments: (cycles,) largest plastic strain added in each cycle solved
    one_way   : share of the last increment that is still there at the cycle's end; 0 without increment
    """

    verdict: str
    strain: float
    increments: tuple[float, ...]
    one_way: float


class ZoneWatch:
    """Follows the plastic strain of all zones, cycle by cycle; starts at the state that ends a cycle."""

    def __init__(self, flowing: FlowingBodies, state: JointState) -> None:
        self.names = tuple(flowing.zones)
        self.points = self._points(state)
        self.increments: dict[str, list[float]] = {name: [] for name in self.names}
        self.one_way = dict.fromkeys(self.names, 0.0)

    @staticmethod
    def _points(state: JointState) -> dict[str, PointState]:
        if state.flow is None or not state.flow.zones:
            raise ValueError("the state that ends the cycle does not hold its zones' points")
        return dict(state.flow.zones)

    def cycle_done(self, state: JointState) -> None:
        """Take in the state at the end of another cycle."""
        after = self._points(state)
        for name in self.names:
            old, new = self.points[name], after[name]
            added = new.plastic_strain - old.plastic_strain
            crept = new.creep_strain - old.creep_strain
            where = int(np.argmax(added))
            largest = float(added[where])
            self.increments[name].append(largest)
            left = _equivalent(new.inelastic[where] - old.inelastic[where]) - float(crept[where])
            self.one_way[name] = max(left, 0.0) / largest if largest > STILL else 0.0
        self.points = after

    @property
    def still(self) -> bool:
        """True if no zone flowed or crept in the last cycle."""
        return all(
            bool(increments) and increments[-1] <= STILL and float(self.points[name].creep_strain.max()) == 0.0
            for name, increments in self.increments.items()
        )

    def results(self) -> dict[str, ZoneCycles]:
        """Return each zone's record."""
        found = {}
        for name in self.names:
            strain = float(self.points[name].plastic_strain.max(initial=0.0))
            increments = tuple(self.increments[name])
            found[name] = ZoneCycles(
                zone_verdict(strain, increments, self.one_way[name]), strain, increments, self.one_way[name]
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


def _equivalent(strain: Array) -> float:
    """Equivalent strain of a deviatoric one (4,) with engineering shear."""
    return float(np.sqrt(2.0 / 3.0 * (np.sum(strain[:3] ** 2) + 0.5 * strain[3] ** 2)))
