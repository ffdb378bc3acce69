"""What may be combined: parts that need a section of their own, and settings on a grid that a bench can set."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from typing import Any

from studwell import units
from studwell.case.bounds_record import Bounds, Range, WasherChoice
from studwell.case.records import Setup
from studwell.errors import BadCase
from studwell.review.inputs import review_inputs
from studwell.section.spring_edges import best_turned, unheld

TORQUE_STEP = {"metric": 100.0, "inch": 0.1 * 1355.8179483314004}
"""N mm between the torques tried: 0.1 N*m or 0.1 lbf*ft, finer than a wrench repeats. Our own choice."""

TURN_STEP = 0.01
"""Turns between the back-offs tried. Our own choice."""

LENGTH_STEP = {"metric": 0.1, "inch": 0.005 * 25.4}
"""mm to which a stud's length is rounded: 0.1 mm or 0.005 in, finer than one is cut. Our own choice."""

UNHELD = "an edge of its springs is not held"
"""How the reason begins why a combination with such springs is left out."""

PROTRUSIONS = 3
"""Lengths tried at first over the range of the protrusion, its ends included. Our own choice."""


@dataclass(frozen=True)
class Axis:
    """One setting on its grid: `least` to `most` in `count` steps; unit and kind as texts are written.

    count : steps, 0 where there is only one value
    """

    least: float
    most: float
    count: int
    kind: str
    unit: str

    @classmethod
    def over(cls, bound: Range, kind: str, unit: str, step: float) -> Axis:
        """Return the grid of a range: multiples of a step, and the ends."""
        return cls(bound[0], bound[1], max(round((bound[1] - bound[0]) / step), int(bound[1] > bound[0])), kind, unit)

    def value(self, place: int) -> float:
        """Return the value at a place 0 .. count."""
        return self.least if not self.count else self.least + (self.most - self.least) * place / self.count

    def text(self, place: int) -> str:
        """Return the value as a case file has it."""
        system = "inch" if self.unit == "lbf*ft" else "metric"
        value = self.value(place) if self.kind == "turn" else float(units.in_unit(self.value(place), self.kind, system))
        return f"{value:.4g} {self.unit}"


@dataclass(frozen=True)
class Combination:
    """Parts and a way of seating; what is left are settings, which the same section serves.

    mode     : "bottomed", "backed off", or "" as the setup that it starts from
    washer, nut, insert, protrusion : None where the setup that it starts from decides; protrusion in mm beyond the hexagon
               of the nut, the stud on its seat and the washers free; the stud's length follows, rounded to LENGTH_STEP
    system   : "metric" or "inch", of its words
    """

    mode: str
    washer: WasherChoice | None
    nut: str | None
    insert: str | float | None
    protrusion: float | None
    system: str = "metric"

    @property
    def height(self) -> str:
        """The protrusion with its unit, "" where it is not open."""
        return (
            "" if self.protrusion is None else units.unmarked(units.as_text(self.protrusion, "length", self.system, 3))
        )

    @property
    def text(self) -> str:
        """The combination in a few words, "as it is" for nothing of its own."""
        words = [self.mode] if self.mode else []
        words += [self.washer.text] if self.washer else []
        words += [f"{self.nut} nut"] if self.nut else []
        words += [f"insert {_length(self.insert)}"] if self.insert is not None else []
        words += [f"stud {self.height} beyond the nut's hexagon"] if self.protrusion is not None else []
        return ", ".join(words) or "as it is"


def room_needed(setup: Setup) -> float:
    """Return the least gap (mm) between tip and floor with which a stud that is turned back stays clear of the floor.

    What a hand misses in feeling the first contact and in the turn, and a chip under the tip, all at once: feel, rule less
    rule_least, and chip of [review], else of the data; 0 for a stud that is not turned back.
    """
    if setup.seating.mode != "backed off":
        return 0.0
    given = review_inputs(setup)
    turns = given["feel"].value + max(given["rule"].value - given["rule_least"].value, 0.0)
    return turns * setup.stud.thread.pitch + given["chip"].value


def protrusions(bounds: Bounds) -> tuple[float, ...]:
    """Return the protrusions (mm) that a search tries first, rising; none where they are not open."""
    if bounds.protrusion is None:
        return ()
    least, most = bounds.protrusion
    steps = PROTRUSIONS - 1 if most > least else 0
    return tuple(least + (most - least) * i / max(steps, 1) for i in range(steps + 1))


def combinations(bounds: Bounds, system: str = "metric") -> Iterator[Combination]:
    """Yield every combination of parts and ways of seating."""
    heights: tuple[float | None, ...] = protrusions(bounds) or (None,)
    for mode, washer, nut, insert, height in product(
        bounds.modes or ("",), bounds.washers or (None,), bounds.nuts or (None,), bounds.inserts or (None,), heights
    ):
        yield Combination(mode, washer, nut, insert, height, system)


@dataclass(frozen=True)
class Candidate:
    """A combination whose parts go together, ready for settings. settings: grid of (torque, seating torque or back-off)."""

    bounds: Bounds = field(repr=False)
    combination: Combination
    system: str

    @cached_property
    def axes(self) -> tuple[Axis, Axis]:
        """The grids of the tightening torque, and of the seating torque or the back-off; one value where nothing is open."""
        unit, step = ("lbf*ft" if self.system == "inch" else "N*m"), TORQUE_STEP[self.system]
        bounds, fixed = self.bounds, Axis(0.0, 0.0, 0, "", "")
        torque = fixed if bounds.torque is None else Axis.over(bounds.torque, "torque", unit, step)
        if self.combination.mode == "bottomed" and bounds.seating_torque is not None:
            return torque, Axis.over(bounds.seating_torque, "torque", unit, step)
        if self.combination.mode == "backed off" and bounds.back_off is not None:
            return torque, Axis.over(bounds.back_off, "turn", "turn", TURN_STEP)
        return torque, fixed

    def overrides(self, at: tuple[int, int]) -> dict[str, Any]:
        """Return the tables of the candidate with its settings, to lay on the setup that it starts from."""
        tables = dict(self._parts)
        torque = self.axes[0]
        if torque.unit:
            tables["tightening"] = {"torque": torque.text(at[0])}
        tables.update(self._seating(at[1]))
        length = self._length
        if length is not None:
            tables["stud"] = {"length": units.unmarked(units.as_text(length, "length", self.system, 6))}
        return tables

    def setup(self, at: tuple[int, int], name: str = "candidate") -> Setup:
        """Return the setup with these settings. Raises BadCase: it cannot be put together."""
        made: Setup = self.bounds.make(name, self.overrides(at))
        return made

    def beyond_nut(self, place: int) -> float:
        """Return how far (mm) the stud stands beyond the nut's hexagon at a place of its second axis, the washers free.

        Below 0 it ends inside, and the nut's last threads are empty.
        """
        low, high = self._beyond
        return low + (high - low) * place / max(self.axes[1].count, 1)

    @cached_property
    def room_needed(self) -> float:
        """The gap (mm) under the tip with which its stud stays clear of the floor, 0 where it is not turned back."""
        made: Setup = self.bounds.make("candidate", self.overrides((0, 0)), False)
        return room_needed(made)

    @cached_property
    def _beyond(self) -> tuple[float, float]:
        """The same at both ends of the axis: a stud that is turned back rises evenly."""
        ends = []
        for place in (0, self.axes[1].count):
            made: Setup = self.bounds.make("candidate", self.overrides((0, place)), False)
            ends.append(made.protrusion - made.nut.height)
        return ends[0], ends[1]

    @cached_property
    def _parts(self) -> dict[str, Any]:
        chosen = self.combination
        tables: dict[str, Any] = {}
        if chosen.washer is not None:
            tables["washer"] = self._washers(chosen.washer)
        if chosen.nut is not None:
            tables["nut"] = {"kind": chosen.nut}
        if chosen.insert is not None:
            tables["boss"] = {"insert": {"length": _length(chosen.insert)}}
        if chosen.washer is not None and chosen.washer.spring:
            probe: Setup = self.bounds.make("candidate", tables, False)
            orientation = best_turned(probe).springs[0].orientation
            if orientation != "crown up":
                tables["washer"][-1]["orientation"] = orientation
        return tables

    def _seating(self, place: int) -> dict[str, Any]:
        seat = self.axes[1]
        if self.combination.mode == "bottomed":
            return {"seating": {"mode": "bottomed", "torque": seat.text(place)}}
        if self.combination.mode == "backed off":
            counted = self._start.seating.counted_from if self._start.seating.mode == "backed off" else "first contact"
            return {"seating": {"mode": "backed off", "back_off": seat.text(place), "counted_from": counted}}
        return {}

    @cached_property
    def _start(self) -> Setup:
        made: Setup = self.bounds.make(self.bounds.setup, {}, False)
        return made

    @cached_property
    def _length(self) -> float | None:
        """The stud's length that gives the protrusion, None where it is not open."""
        if self.combination.protrusion is None:
            return None
        probe: Setup = self.bounds.make("candidate", self._parts | self._seating(0), False)
        own = probe.protrusion - probe.tip_gap - probe.nut.height
        step = LENGTH_STEP[self.system]
        return round((probe.stud.length + self.combination.protrusion - own) / step) * step

    def _washers(self, choice: WasherChoice) -> list[dict[str, Any]]:
        plain = [{"kind": "plain", "size": choice.size}] if choice.size else [dict(each) for each in self.bounds.plain]
        if not choice.spring:
            return plain
        spring: dict[str, Any] = {"kind": "spring", "size": choice.spring}
        spring |= {"parallel": choice.parallel} if choice.parallel > 1 else {}
        spring |= {"series": choice.series} if choice.series > 1 else {}
        return [*plain, spring]


def fits(candidate: Candidate) -> BadCase | None:
    """Return None if a candidate's parts go together at either end of its settings, else why they do not."""
    torque, seat = candidate.axes
    problem: BadCase | None = None
    for at in ((0, 0), (torque.count, seat.count)):
        try:
            candidate.setup(at)
        except BadCase as error:
            problem = problem or error
        else:
            return None
    return problem


def candidates(bounds: Bounds, system: str) -> tuple[list[Candidate], dict[str, str]]:
    """Return the candidates to search, and the combinations left out: text -> reason.

    Left out are those whose parts do not go together at any setting, and those whose springs have an edge that nothing holds
    whichever way they lie, which are not solved.
    """
    fitting, refused = [], {}
    for combination in combinations(bounds, system):
        candidate = Candidate(bounds, combination, system)
        problem = fits(candidate)
        if problem is not None:
            refused[combination.text] = problem.problem
            continue
        made: Setup = bounds.make("candidate", candidate.overrides((0, 0)), False)
        loose = unheld(made)
        if loose:
            refused[combination.text] = f"{UNHELD}: {loose}"
        else:
            fitting.append(candidate)
    return fitting, refused


def _length(value: str | float | None) -> str:
    return value if isinstance(value, str) else f"{value:.6g} mm"
