"""Heat in time: second-order L-stable steps on given instants or under error control, with the ledger of heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike

from studwell.errors import NotConverged
from studwell.fem.heat_equations import HeatEquations
from studwell.fem.heat_ledger import HeatHistory, HeatLedger, StepRecord
from studwell.fem.thermal import HeatSystem, Moment, flows_by_condition, sides_of
from studwell.mesh.mesh import Floats

GAMMA = 2.0 - np.sqrt(2.0)
"""Share of a step after which the first stage (trapezoid) ends and the second (backward difference) begins."""
DIAGONAL = 0.5 * GAMMA
OUTER = 0.25 * np.sqrt(2.0)
WEIGHTS = np.array([OUTER, OUTER, DIAGONAL])
"""Weights of the heat flows at start, stage and end; with these the scheme's own heat adds up."""
THIRD_ORDER = np.array([(1 - OUTER) / 3, (3 * OUTER + 1) / 3, DIAGONAL / 3])

INSIDE = 1e-9
"""Share of a step by which its ends are read inside, so that a jump at a step's end belongs to one side only."""

SAFETY = 0.85


class Model(Protocol):
    """What can be marched in time: a `HeatSystem`, or a reduced model of one."""

    @property
    def equations(self) -> HeatEquations:
        """The equations in the model's unknowns."""

    @property
    def system(self) -> HeatSystem:
        """The full system."""

    def moment(self, time: float) -> Moment:
        """What the conditions are at a time, s."""

    def start(self, initial: ArrayLike) -> Floats:
        """Unknowns of a nodal field, degC."""

    def expand(self, unknowns: Floats) -> Floats:
        """Nodal temperatures of unknowns, or of rows of them."""

    def functional(self, rows: Any) -> Any:
        """Functionals of nodal temperatures as functionals of the unknowns."""


def solve_transient(
    model: Model, initial: ArrayLike, times: ArrayLike, keep: ArrayLike | None = None, rows: Any = None
) -> HeatHistory:
    """Return temperatures in time, one step from each instant to the next.

    model             : HeatSystem or a reduced model
    initial           : (N,), degC at the first instant
    times             : (s + 1,), s, rising; equal steps share a factor. A jump of a condition belongs on an instant
    keep              : instants to keep, each one of times; default: all
    rows              : functionals (k, N) of the temperature, dense or sparse, evaluated at every instant
    raises ValueError : times that do not rise or are fewer than two, an instant to keep that is not among them,
                        initial temperatures of another shape or not finite

    A held boundary whose temperature differs from the field at the start, or jumps, is set at once; the heat
    for it counts as entered there.

    Source: TR-BDF2; Bank et al., IEEE Trans. Electron Devices 32 (1985) 1992-2007; Hosea & Shampine, Applied
    Numerical Mathematics 20 (1996) 21-37 (references from memory; order and damping are tested).
    """
    instants = _rising(times, "times", least=2)
    kept = instants if keep is None else _rising(keep, "instants to keep", least=1)
    middles = 0.5 * (instants[:-1] + instants[1:])
    nearest = instants[np.searchsorted(middles, kept)]
    if np.abs(nearest - kept).max() > 1e-9 * np.ptp(instants):
        raise ValueError("every instant to keep has to be one of times")
    march = _March(model, initial, float(instants[0]), nearest, rows)
    for end in instants[1:]:
        march.accept(march.step(float(end)))
    return march.history(rejected=0)


def solve_transient_adaptive(
    model: Model,
    initial: ArrayLike,
    start: float,
    end: float,
    tolerance: float,
    keep: ArrayLike | None = None,
    rows: Any = None,
    largest_step: float | None = None,
    smallest_step: float | None = None,
) -> HeatHistory:
    """Return temperatures in time with steps chosen so that each errs by no more than a tolerance anywhere.

    Between the instants at which histories bend, step sizes are halves of halves of the whole, so that few
    matrices are factorised. Kept instants inside a step come from the parabola through its start, stage and end.

    model, initial, rows : as in `solve_transient`
    start, end           : s
    tolerance            : K, largest estimated error a step at any node
    keep                 : instants to keep, rising, from start to end; default: the ends of all steps
    largest_step         : s, default: the whole time between two bends
    smallest_step        : s, default: a millionth of end - start
    raises ValueError    : end not after start, tolerance or steps not positive, instants outside start to end
    raises NotConverged  : the tolerance asks for steps below the smallest, as after a jump of a held temperature

    Source: as `solve_transient`; the error estimate is the embedded third-order formula, damped by one solve.
    """
    if not (np.isfinite([start, end]).all() and end > start):
        raise ValueError(f"the end, {end} s, has to come after the start, {start} s")
    whole = end - start
    most = whole if largest_step is None else largest_step
    least = min(1e-6 * whole, most) if smallest_step is None else smallest_step
    if not tolerance > 0 or not 0 < least <= most:
        raise ValueError("allowed: tolerance > 0 K and 0 < smallest step <= largest step")
    kept = None if keep is None else _rising(keep, "instants to keep", least=1)
    if kept is not None and (kept[0] < start or kept[-1] > end):
        raise ValueError(f"instants to keep have to lie between {start} and {end} s")
    march = _March(model, initial, start, kept, rows)
    rejected = 0
    wanted = min(most, whole / 64)
    for until in [*model.system.breaks(start, end).tolist(), end]:
        begin, length = march.time, until - march.time
        finest = max(0, int(np.floor(np.log2(length / least) + 1e-9)))
        coarsest = min(finest, max(0, int(np.ceil(np.log2(length / most) - 1e-9))))
        level = int(np.clip(np.ceil(np.log2(length / wanted)), coarsest, finest))
        place = 0  # in units of length / 2**finest
        while place < 2**finest:
            stride = 2 ** (finest - level)
            step = march.step(until if place + stride == 2**finest else begin + length * (place + stride) / 2**finest)
            error = march.error(step)
            growth = SAFETY * (tolerance / max(error, 1e-3 * tolerance)) ** (1 / 3)
            if error > tolerance:
                rejected += 1
                if level == finest:
                    record = march.record(rejected)
                    raise NotConverged(
                        record,
                        f"heat, at {march.time:.6g} s: a step of {length / 2**level:.3g} s errs by {error:.3g} K, more "
                        f"than {tolerance:.3g} K, and is the smallest allowed ({record})",
                    )
                level = min(finest, level + max(1, int(np.ceil(-np.log2(growth)))))
                continue
            march.accept(step, error)
            place += stride
            wanted = length / 2**level * max(growth, 1.0)
            while level > coarsest and growth >= 2 and place % (2 * stride) == 0:
                level, stride, growth = level - 1, 2 * stride, growth / 2
    return march.history(rejected)


@dataclass(eq=False)
class _Step:
    """One step that was tried: unknowns and heat flows at start, stage and end."""

    begin: float
    end: float
    unknowns: list[Floats]
    flows: list[Floats]
    given: list[Floats]
    scales: Floats
    impulse: Floats


class _March:
    """The state of a march, and what it has written down."""

    def __init__(self, model: Model, initial: ArrayLike, time: float, keep: Floats | None, rows: Any) -> None:
        self.model, self.equations, self.time = model, model.equations, time
        self.conditions = model.system.conditions
        self.unknowns = model.start(initial)
        self.before = vars(self.equations.counts).copy()
        self.rows = None if rows is None else model.functional(rows)
        self.held, self.held_owner = self.equations.held_owner
        self.keep = keep
        self.times: list[float] = [time]
        self.errors: list[float] = []
        self.heat = [np.zeros(len(self.conditions))]
        self.exchanged = [0.0]
        self.stored = [self.equations.stored @ self.unknowns]
        self.kept_times: list[float] = []
        self.kept: list[Floats] = []
        at_start = self.unknowns.copy()
        self._set_held(at_start, model.moment(time))
        self.functionals = [self._measure(at_start)]
        if keep is None or keep[0] <= time:
            self._note(time, at_start)

    def _set_held(self, unknowns: Floats, moment: Moment) -> Floats:
        """Set the held unknowns and return by how much each held boundary's heat rose, (d,)."""
        level = moment.held[self.held_owner]
        rise = level - unknowns[self.held]
        unknowns[self.held] = level
        sums = self.equations.held_sums * rise
        return np.bincount(self.held_owner, sums, minlength=len(self.equations.held)).astype(float)

    def _note(self, time: float, unknowns: Floats) -> None:
        self.kept_times.append(time)
        self.kept.append(self.model.expand(unknowns).copy())

    def _measure(self, unknowns: Floats) -> Floats:
        return np.zeros(0) if self.rows is None else np.asarray(self.rows @ unknowns)

    def step(self, end: float) -> _Step:
        """Try a step to a time, s."""
        equations, free, length = self.equations, self.equations.free, end - self.time
        times = self.time + length * np.array([INSIDE, GAMMA, 1 - INSIDE])
        moments = [self.model.moment(float(time)) for time in times]
        first = self.unknowns.copy()
        impulse = self._set_held(first, moments[0])
        unknowns, flows = [first], [self._flow(first, moments[0])]
        for stage in (1, 2):
            moment = moments[stage]
            level = moment.held[self.held_owner]
            guess = unknowns[0].copy()
            guess[self.held] = level
            # capacity (T - T0) = length (earlier flows + DIAGONAL flow(T)), solved for T - guess
            earlier = DIAGONAL * flows[0] if stage == 1 else OUTER * (flows[0] + flows[1])
            load = length * (earlier + DIAGONAL * self._flow(guess, moment))
            load = load - equations.capacity @ (guess - unknowns[0])
            guess[free] += equations.solve(1.0, DIAGONAL * length, moment.scales, load[free])
            unknowns.append(guess)
            flows.append(self._flow(guess, moment))
        n = len(self.conditions)
        given = [flows_by_condition(equations, n, m, u) for m, u in zip(moments, unknowns, strict=True)]
        return _Step(self.time, end, unknowns, flows, given, moments[2].scales, impulse)

    def _flow(self, unknowns: Floats, moment: Moment) -> Floats:
        equations = self.equations
        return np.asarray(equations.loads @ moment.loads - equations.conductance(moment.scales) @ unknowns)

    def error(self, step: _Step) -> float:
        """Return the estimated error of a step, K, largest of all nodes."""
        length, free = step.end - step.begin, self.equations.free
        miss = length * _sum(WEIGHTS - THIRD_ORDER, step.flows)
        answer = np.zeros_like(self.unknowns)
        answer[free] = self.equations.solve(1.0, DIAGONAL * length, step.scales, miss[free])
        return float(np.abs(self.model.expand(answer)).max())

    def accept(self, step: _Step, error: float = np.nan) -> None:
        """Go to the end of a step and write down temperatures and heat."""
        equations, length = self.equations, step.end - step.begin
        heat = length * _sum(WEIGHTS, step.given)
        if len(self.held):
            supplied = length * _sum(WEIGHTS, step.flows)
            fed = (equations.capacity @ (step.unknowns[2] - step.unknowns[0]) - supplied)[self.held]
            by_boundary = np.bincount(self.held_owner, fed, minlength=len(equations.held)) + step.impulse
            np.add.at(heat, equations.held_labels, by_boundary)
        self.heat.append(self.heat[-1] + heat)
        self.exchanged.append(self.exchanged[-1] + float(np.abs(heat).sum()))
        if self.keep is None:
            self._note(step.end, step.unknowns[2])
        else:
            inside = self.keep[(self.keep > step.begin) & (self.keep <= step.end)]
            for time in inside.tolist():
                self._note(time, _between(step, (time - step.begin) / length))
        self.time, self.unknowns = step.end, step.unknowns[2]
        self.times.append(step.end)
        self.errors.append(error)
        self.stored.append(equations.stored @ self.unknowns)
        self.functionals.append(self._measure(self.unknowns))

    def record(self, rejected: int) -> StepRecord:
        """Return how the march went so far."""
        now, sizes = vars(self.equations.counts), np.diff(self.times)
        counts = {name: now[name] - self.before[name] for name in now}
        small, large = (float(sizes.min()), float(sizes.max())) if len(sizes) else (np.nan, np.nan)
        worst = max(self.errors, default=np.nan)
        return StepRecord(len(sizes), rejected, **counts, smallest=small, largest=large, largest_error=worst)

    def history(self, rejected: int) -> HeatHistory:
        """Return what the march wrote down."""
        system, times, heat = self.model.system, np.array(self.times), np.array(self.heat)
        stored = np.array(self.stored) - self.stored[0]
        sides = {name: sides_of(each) for name, each in zip(system.labels, self.conditions, strict=True)}
        by_name = dict(zip(system.labels, heat.T, strict=True))
        ledger = HeatLedger(
            times,
            dict(zip(system.bodies, stored.T, strict=True)),
            {name: value for name, value in by_name.items() if not sides[name][0]},
            {name: value for name, value in by_name.items() if sides[name][0]},
            np.array(self.exchanged),
            float(np.abs(self.stored[0]).sum()),
            sides,
        )
        kept = np.array(self.kept).reshape(-1, system.n_nodes)
        record, functionals = self.record(rejected), np.array(self.functionals)
        return HeatHistory(system, np.array(self.kept_times), kept, times, functionals, ledger, record)


def _between(step: _Step, share: float) -> Floats:
    """The parabola through start, stage and end of a step."""
    if share >= 1:
        return step.unknowns[2]
    s, g = share, GAMMA
    weights = np.array([(s - g) * (s - 1) / g, s * (s - 1) / (g * (g - 1)), s * (s - g) / (1 - g)])
    return _sum(weights, step.unknowns)


def _sum(weights: Floats, vectors: list[Floats]) -> Floats:
    """Weighted sum of three vectors."""
    return weights[0] * vectors[0] + weights[1] * vectors[1] + weights[2] * vectors[2]


def _rising(times: ArrayLike, what: str, least: int) -> Floats:
    array = np.asarray(times, float)
    if array.ndim != 1 or len(array) < least or not np.isfinite(array).all() or (np.diff(array) <= 0).any():
        raise ValueError(f"{what}: allowed: {least} or more, finite, each after the one before")
    return array
