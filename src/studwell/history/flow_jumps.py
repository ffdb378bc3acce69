"""Cycles of what flows and creeps: solved while few, else jumped over at the rate of the last one and solved behind."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, TypeVar

import numpy as np

from studwell.errors import NotConverged
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.fem.plastic_laws import PointState, equivalent_strain

Array = np.ndarray
State = TypeVar("State")

JUMPS_A_DECADE = 4
"""Jumps in each tenfold of cycles, at most as long as that."""

CHANGE = 0.25
"""Share by which all that a jump adds may be wrong in the first trial. Our own choice."""

LEAST_SHARE = 1e-3
"""Least share that what a cycle adds may fall to over a jump before it is taken as that."""

CORRECTING = 2
"""Cycles solved behind a jump: the first finds the way back to where the bodies would be, the second counts."""

LEAST = 4
"""Cycles that a jump must leave out to be worth those solved behind it."""

PAUSE = 5
"""Cycles solved one by one after jumps were refused down to LEAST."""

STILL = 1e-6
"""Strain that counts as none: that all cycles left would add, or by which a jump may be wrong. Our own choice."""

REST = 1e-4
"""Share of the measure that counts as none: what all cycles left would change it by. Our own choice."""

FURTHER = 1.1
"""A strain beyond small strain at the start (which is warned of) is followed up to so many times that. Our own choice."""

ADDS_UP = ("inelastic", "plastic_strain", "creep_strain", "backstrain", "plastic_work", "dissipation")
"""What a jump carries on of a point; its stress and creep rate at the cycle's end stay, until the next cycle."""


@dataclass(frozen=True)
class Carried:
    """What one cycle hands on to the next, or what one adds to it.

    zones   : body -> PointState at the cycle's end
    stretch : mm, plastic stretch of the stud
    crept   : (n,) mm that gaskets have crept
    """

    zones: Mapping[str, PointState] = field(repr=False)
    stretch: float = 0.0
    crept: Array | float = field(default=0.0, repr=False)

    def plus(self, more: Carried, count: float, crept_count: float) -> Carried:
        """Return this with so many times what a cycle adds; crept_count: the same for gaskets, which creep in log time."""
        zones = {
            name: replace(one, **{key: getattr(one, key) + count * getattr(more.zones[name], key) for key in ADDS_UP})
            for name, one in self.zones.items()
        }
        return Carried(zones, self.stretch + count * more.stretch, self.crept + crept_count * more.crept)

    def times(self, count: float) -> Carried:
        """Return so many times this."""
        return self.plus(self, count - 1.0, count - 1.0)

    def less(self, before: Carried) -> Carried:
        """Return what was added since."""
        return self.plus(before, -1.0, -1.0)

    def share_of(self, other: Carried) -> float:
        """Return how much of another one this is, by projection of the strains, stretches in mm beside them."""
        pairs = [(one.inelastic, other.zones[name].inelastic) for name, one in self.zones.items()]
        along = self.stretch * other.stretch + sum(float(np.sum(x * y)) for x, y in pairs)
        whole = other.stretch**2 + sum(float(np.sum(y * y)) for _, y in pairs)
        return along / whole if whole > 0.0 else 1.0

    def size(self) -> float:
        """Return the largest part of a strain or backstrain, of a stretch in mm."""
        parts = [np.abs(x).max(initial=0.0) for one in self.zones.values() for x in (one.inelastic, one.backstrain)]
        return float(max([abs(self.stretch), *parts]))


class Cycles(Protocol[State]):
    """A cycle that repeats, seen from its end."""

    @property
    def creeps(self) -> bool:
        """True if gaskets creep, which comes to no rest."""

    def following(self, state: State) -> State:
        """Return the state at the end of the next cycle, solved."""

    def carried(self, state: State) -> Carried:
        """Return what a state hands on."""

    def moved(self, state: State, carried: Carried, skipped: int) -> State:
        """Return the state that hands on other things, so many cycles later."""

    def clock(self, state: State, later: int) -> float:
        """Return the time by which gaskets creep evenly, so many cycles later (negative: earlier), any unit."""

    def measure(self, state: State) -> float:
        """Return the number whose error is estimated."""


@dataclass(frozen=True)
class Reached:
    """One number of cycles that was reached.

    state  : at its end;  carried : what that hands on;  more : what its last cycle added
    solved : False for a copy of the last cycle solved, where nothing moves any more;  jumped : by a jump
    error  : of the measure, estimated, all jumps so far;  strain_errors : body -> the same of plastic and creep strain
    """

    cycle: int
    state: Any = field(repr=False)
    carried: Carried = field(repr=False)
    more: Carried = field(repr=False)
    solved: bool
    jumped: bool
    error: float
    strain_errors: Mapping[str, float]


@dataclass(frozen=True)
class CarriedOn:
    """The end of many cycles.

    last    : Reached, of the last cycle solved, None if none was
    solved  : cycles solved in all, those behind refused jumps too
    reached : cycles in all;  rested : nothing moved any more, the rest are copies
    stopped : why it ended before the number asked for, "" if it did not
    """

    last: Reached | None
    solved: int
    reached: int
    rested: bool
    stopped: str


class _Refused(Exception):
    """What a cycle adds did not change over a jump as was assumed."""


class _Course:
    """Cycles on their way: where they are, what the last one added, and what jumping cost and may be wrong by."""

    def __init__(self, cycles: Cycles, state: State, done: int) -> None:
        self.cycles, self.state, self.cycle = cycles, state, done
        self.carried = cycles.carried(state)
        self.limits = _limits(self.carried)
        self.last: Reached | None = None
        self.solved, self.error, self.drift = 0, 0.0, 0.0
        self.strain_errors = dict.fromkeys(self.carried.zones, 0.0)
        self.fall = 1.0  # what a cycle adds over what the one before it added
        self.bend: float | None = None  # by how much the last cycle missed that, each cycle

    def solve(self) -> Reached:
        """Solve the next cycle."""
        before = None if self.last is None else self.last.more
        self.state, more = self._following(self.state)
        self.cycle += 1
        self.carried = self.cycles.carried(self.state)
        if before is not None:
            self.bend = more.less(before.times(self.fall)).size()
            self.fall = min(max(more.share_of(before), 0.0), 1.0)
        return self._arrived(more, jumped=False)

    def jump(self, skipped: int) -> Reached:
        """Leave out so many cycles and solve those behind. Raises _Refused, with the state as it was."""
        assert self.last is not None
        start, steps = self.last.more, skipped + CORRECTING
        falls = self.fall ** np.arange(1, skipped + 1)
        tenfolds = self.cycles.clock(self.state, skipped) - self.cycles.clock(self.state, 0)
        creep = tenfolds / (self.cycles.clock(self.state, 0) - self.cycles.clock(self.state, -1))
        first: Any
        first, trial = self._landed(self.carried.plus(start, falls.sum(), creep), skipped)
        missed = trial.less(start.times(self.fall**steps)).size()
        if skipped * missed > max(CHANGE * falls.sum() * start.size(), STILL):
            raise _Refused
        # again, with what a cycle adds going over from that before the jump to that behind it
        share = min(max(trial.share_of(start), LEAST_SHARE), 1.0)
        falls = share ** (np.arange(1, skipped + 1) / steps)
        end = float(falls @ np.arange(1, skipped + 1)) / steps
        other = tenfolds / (self.cycles.clock(self.state, steps) - self.cycles.clock(self.state, steps - 1))
        on = self.carried.plus(start, falls.sum() - end, 0.5 * creep).plus(trial, end / share, 0.5 * other)
        self.state, more = self._landed(on, skipped)
        self.cycle += steps
        self.carried = self.cycles.carried(self.state)
        self.fall, self.bend = min(max(more.share_of(start), 0.0), 1.0) ** (1 / steps), missed / steps
        self.error += abs(self.cycles.measure(self.state) - self.cycles.measure(first))
        for name, zone in self.cycles.carried(first).zones.items():
            ours = self.carried.zones[name]
            apart = np.abs(zone.plastic_strain - ours.plastic_strain) + np.abs(zone.creep_strain - ours.creep_strain)
            self.strain_errors[name] += float(apart.max(initial=0.0))
        return self._arrived(more, jumped=True)

    def _landed(self, on: Carried, skipped: int) -> tuple[Any, Carried]:
        """State that hands on other things, so many cycles later, with the cycles solved behind; what the last added."""
        state: Any = self.cycles.moved(self.state, on, skipped)
        for _ in range(CORRECTING):
            state, more = self._following(state)
        return state, more

    def _following(self, state: Any) -> tuple[Any, Carried]:
        old, measure = self.cycles.carried(state), self.cycles.measure(state)
        new = self.cycles.following(state)
        self.solved += 1
        self.drift = abs(self.cycles.measure(new) - measure)
        return new, self.cycles.carried(new).less(old)

    def _arrived(self, more: Carried, jumped: bool) -> Reached:
        self.last = Reached(
            self.cycle, self.state, self.carried, more, True, jumped, self.error, dict(self.strain_errors)
        )
        return self.last

    def rests(self, aim: int) -> bool:
        """Whether all cycles left would add nothing that counts."""
        left = aim - self.cycle
        if self.cycles.creeps or self.last is None or self.last.more.size() * left > STILL:
            return False
        return self.drift * left <= REST * abs(self.cycles.measure(self.state))

    def longest(self, target: int) -> int:
        """Return how many cycles a jump towards a target may leave out."""
        assert self.last is not None
        most = min(
            target - self.cycle - CORRECTING,
            int(min(_until_outgrown(self.carried, self.last.more, self.limits), target)),
        )
        if self.bend is None or most < 1:
            return 0
        count = np.arange(1, most + 1)
        adds = np.cumsum(self.fall**count) * self.last.more.size()
        held = count**2 * self.bend <= np.maximum(CHANGE * adds, STILL)
        return most if held.all() else int(np.argmin(held))


def carry_on(
    cycles: Cycles[State],
    state: State,
    *,
    done: int,
    aim: int,
    first: int,
    most: int,
    wanted: Sequence[int],
    tell: Callable[[Reached], None],
) -> CarriedOn:
    """Repeat a cycle until so many are done, nothing moves, small strain ends, or too many were solved.

    done, aim : cycles that `state` has behind it, and wanted in all;  first : cycles to solve one by one
    most      : cycles to solve at most;  wanted : numbers of cycles to land on, in order, the last of them `aim`
    tell      : called with every number of cycles reached

    A jump adds to every point what the cycles left out would add if that went on falling as it did, and solves
    CORRECTING cycles behind. It counts if the last of them adds what was assumed, by CHANGE of all that the jump added;
    then it is made again with what a cycle adds going over from that before to that behind. The error estimate is the
    difference of the two, summed over jumps, and at rest what the last cycle changed times the cycles left.
    raises NotConverged

    Source: cycle jumps whose length the change of the increments controls, as in Lesne & Savalle 1989 and in Cojocaru
    & Karlsson 2006, International Journal of Fatigue 28, 1677-1689 (from memory).
    """
    course = _Course(cycles, state, done)
    pause, shorter = 0, aim
    while course.cycle < aim:
        last = course.last
        if last is not None:
            if course.rests(aim):
                for other in (number for number in wanted if number > course.cycle):
                    far = course.error + (other - course.cycle) * course.drift
                    tell(replace(last, cycle=other, solved=False, jumped=False, error=far))
                return CarriedOn(last, course.solved, aim, True, "")
            outgrown = _outgrown(course.carried, last.more, course.limits)
            if outgrown:
                return CarriedOn(last, course.solved, course.cycle, False, outgrown)
            if course.solved >= first and not pause and course.solved + 2 * CORRECTING <= most:
                decade = int(np.ceil(course.cycle * 10 ** (1 / JUMPS_A_DECADE)))
                skipped = min(shorter, course.longest(min(next(n for n in wanted if n > course.cycle), decade)))
                if skipped >= LEAST:
                    try:
                        tell(course.jump(skipped))
                        shorter = aim
                    except (_Refused, NotConverged):
                        shorter = skipped // 3
                        pause = PAUSE if shorter < LEAST else 0
                    continue
        if course.solved >= most:
            return CarriedOn(
                last, course.solved, course.cycle, False, f"it still moves after {course.solved} cycles solved"
            )
        tell(course.solve())
        pause = max(0, pause - 1)
        shorter = shorter if pause else aim
    return CarriedOn(course.last, course.solved, course.cycle, False, "")


def _limits(start: Carried) -> dict[str, Array]:
    """Equivalent strain (P,) of every body's points beyond which they are not followed."""
    return {
        name: np.maximum(SMALL_STRAIN, FURTHER * equivalent_strain(zone.inelastic))
        for name, zone in start.zones.items()
    }


def _growing(carried: Carried, more: Carried, limits: Mapping[str, Array]) -> Iterator[tuple[str, Array, Array]]:
    """(body, strain left to the limit, what a cycle adds) of the points whose strain moves on in one way; equivalent."""
    for name, zone in carried.zones.items():
        adds = equivalent_strain(more.zones[name].inelastic)
        moves = adds > STILL
        yield name, (limits[name] - equivalent_strain(zone.inelastic))[moves], adds[moves]


def _outgrown(carried: Carried, more: Carried, limits: Mapping[str, Array]) -> str:
    """Say which body's strain grows on beyond its limit, "" if none does."""
    for name, left, _ in _growing(carried, more, limits):
        if left.min(initial=0.0) < 0.0:
            return f"the strain of the {name} grows on beyond small strain ({SMALL_STRAIN:g}), which is not followed"
    return ""


def _until_outgrown(carried: Carried, more: Carried, limits: Mapping[str, Array]) -> float:
    """Cycles until the first growing strain passes its limit."""
    cycles = [(left / adds).min(initial=np.inf) for _, left, adds in _growing(carried, more, limits)]
    return float(min(cycles, default=np.inf)) + 1.0
