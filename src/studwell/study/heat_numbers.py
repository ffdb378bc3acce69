"""Numbers that a solved heat leaves: when the worst comes, how far stud and boss differ, what settling took."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from studwell.case.records import Setup
from studwell.errors import NotConverged
from studwell.history.conduction import SolvedHeat
from studwell.joint.forces import forces_of
from studwell.joint.solve import solve_state
from studwell.strength.outcomes import tip_gaps
from studwell.strength.recovery import run_steps
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, time_text

Array = np.ndarray

ALIKE = 1e-6
"""Relative: values that differ less are the same, so that of equal cycles the first is named."""

GIVEN_HEAT = "temperatures are given in this setup: no heat is solved"


@dataclass(frozen=True)
class Moment:
    """An instant in words of a history.

    phase : of solved heat, or 'assembled', 'seated', 'tightening' before any heat
    cycle : from 1, None before the heat; into: s since the phase began; ends: True at the phase's end
    """

    phase: str
    cycle: int | None
    into: float = 0.0
    ends: bool = False

    def text(self, cycles: int) -> str:
        """Return plain words; cycles: how many the history has, one is not counted."""
        if self.cycle is None:
            return self.phase
        name = self.phase if cycles == 1 else f"{self.phase} of cycle {self.cycle}"
        into = as_text(self.into, "time", digits=2) if self.into < 3600.0 else time_text(self.into)
        return f"end of {name}" if self.ends else f"{name}, {into} into it"


@dataclass(frozen=True)
class Difference:
    """A difference of temperature, K, and when: step of the run, its time in s, its moment."""

    value: float
    step: int
    time: float
    moment: Moment


@dataclass(frozen=True)
class Retightening:
    """The clamp (N) round re-tightening.

    hot    : in the run just before it; moment: when
    before : settled, at the assembly temperature, the nut untouched; None if that state was not found
    after  : with the nut tightened again, at the assembly temperature
    """

    hot: float
    before: float | None
    after: float
    moment: str


@dataclass(frozen=True)
class SetLoss:
    """What the setting of springs costs over a whole run, the nut tightened again or not as the case says.

    height        : mm of free height that the whole group lost
    before, after : N of clamp at the end of the run, had the springs not set and as it is; moment: when that is
    """

    height: float
    before: float
    after: float
    moment: str

    @property
    def lost(self) -> float:
        """Clamp lost, N."""
        return self.before - self.after


@dataclass(frozen=True)
class Worth:
    """What a difference between stud and boss is worth at one moment.

    growth : mm that the stud's end, from the middle of its engaged thread to its tip, grows beyond what it would at the
             boss's temperature
    force  : N of tip force that this makes, None where the tip carries nothing or the state was not found
    """

    growth: float
    force: float | None


def cycle_time(setup: Setup) -> float:
    """Length of one cycle of a setup, s, whether or not its history already carries solved instants."""
    history = setup.history
    return float(sum(phase.duration for phase in history.phases)) if history.phases else history.cycle_time


def cycles_lived(result: SetupResult) -> int:
    """How many cycles the states of a result go through."""
    if result.heat is not None:
        return result.heat.cycles
    times = result.history.times
    return max(1, round(float(times[-1] - times[0]) / cycle_time(result.setup)))


def moment_at(result: SetupResult, index: int) -> Moment:
    """Return the moment of a state of a solved heat; index: place in the timeline."""
    timeline = result.timeline
    if timeline.phases[index] in ("seated", "tightening"):
        return Moment(timeline.phases[index], None)
    return _moment_of_time(result.setup, float(timeline.times[index]))


def _moment_of_time(setup: Setup, time: float) -> Moment:
    """An instant lies in the phase that it ends; the start is the assembled joint."""
    if time <= 0.0:
        return Moment("assembled", None)
    phases = setup.history.phases
    period = cycle_time(setup)
    cycle = max(0, int(np.ceil(time / period - 1e-9)) - 1)
    inside = time - cycle * period
    ends = np.cumsum([phase.duration for phase in phases])
    place = min(int(np.searchsorted(ends, inside - 1e-9 * period)), len(phases) - 1)
    into = inside - float(ends[place]) + phases[place].duration
    return Moment(phases[place].label, cycle + 1, into, abs(inside - float(ends[place])) < 1e-9 * period)


def first_extreme(values: Array, pick: Literal["max", "min"]) -> int:
    """Return the first place of a largest or smallest value, of values that are alike to ALIKE."""
    largest = float(np.max(np.abs(values)))
    extreme = float(values.max() if pick == "max" else values.min())
    return int(np.argmax(np.abs(values - extreme) <= ALIKE * largest))


def worst_phases(result: SetupResult) -> dict[str, Moment | None]:
    """Return when clamp_max, clamp_min, tip_force_max and the governing margin occur; None where there is none."""
    timeline = result.timeline
    first = timeline.assembled
    clamp, tip = timeline.forces.clamp, timeline.forces.tip
    found: dict[str, Moment | None] = {
        "clamp_max": moment_at(result, first + first_extreme(clamp[first:], "max")),
        "clamp_min": moment_at(result, first + first_extreme(clamp[first:], "min")),
        "tip_force_max": moment_at(result, first_extreme(tip, "max")) if tip.max() > 0.0 else None,
        "governing": None,
    }
    if result.verdict.governing is not None:
        when = result.verdict.margins[result.verdict.governing].when
        alike = [index for index in range(len(timeline.states)) if timeline.when(index) == when]
        if alike:
            found["governing"] = moment_at(result, alike[-1])
    return found


def stud_temperature(result: SetupResult, place: Literal["tip", "thread"]) -> Array:
    """Return the stud's temperature (t,) degC over a solved run: mean of its tip face, or across the middle of its
    engaged thread. Raises ValueError: no heat was solved."""
    heat = _heat_of(result)
    nodes = next(body.spec.mesh.nodes for body in result.built.bodies if body.spec.name == "stud")
    distance = np.abs(nodes[:, 1] - (nodes[:, 1].min() if place == "tip" else _middle_of_thread(result)))
    return heat.fields["stud"][:, distance <= distance.min() + 1e-6].mean(axis=1)


def boss_temperature(result: SetupResult) -> Array:
    """Return the mean temperature (t,) degC of the boss over a solved run. Raises ValueError: no heat was solved."""
    return _heat_of(result).fields["boss"].mean(axis=1)


def stud_above_boss(result: SetupResult, place: Literal["tip", "thread"] = "tip") -> Array:
    """Return how much hotter (t,) K the stud is than the mean of the boss; place as in `stud_temperature`."""
    return stud_temperature(result, place) - boss_temperature(result)


def extreme_differences(result: SetupResult) -> tuple[Difference, Difference]:
    """Return where the stud's tip is hottest and coldest against the boss. Raises ValueError: no heat was solved."""
    above = stud_above_boss(result)
    return _difference(result, above, "max"), _difference(result, above, "min")


def largest_difference(result: SetupResult) -> Difference:
    """Return the larger of the two extreme differences between the stud's tip and the boss, with its sign."""
    return max(extreme_differences(result), key=lambda difference: abs(difference.value))


def _difference(result: SetupResult, above: Array, pick: Literal["max", "min"]) -> Difference:
    step = first_extreme(above, pick)
    time = float(_heat_of(result).times[step])
    return Difference(float(above[step]), step, time, _moment_of_time(result.setup, time))


def worth_of_difference(result: SetupResult, step: int) -> Worth:
    """Return what the difference between the stud's end and the boss is worth at a step of a solved run.

    The growth is the mean excess of the stud's free strain over that at the boss's temperature, times the length from
    the middle of the engaged thread to the tip. The force is the change of the tip force when the state is solved once
    more with the tip's gap opened by that growth. raises ValueError : no heat was solved
    """
    heat = _heat_of(result)
    stud = next(body for body in result.built.bodies if body.spec.name == "stud")
    heights = stud.spec.mesh.nodes[:, 1]
    middle = _middle_of_thread(result)
    own = heat.fields["stud"][step, heights <= middle + 1e-6]
    assembly = result.setup.history.assembly_temperature
    strain = np.asarray(stud.material.thermal_strain(own, assembly), dtype=float)
    at_boss = np.asarray(stud.material.thermal_strain(boss_temperature(result)[step : step + 1], assembly), dtype=float)
    growth = float(strain.mean() - at_boss[0]) * float(middle - heights.min())
    state, joint = result.history.run[step], result.built.joint
    before = float(result.history.run_forces.tip[step])
    if before <= 0.0 or state.flow is not None:
        return Worth(growth, None)
    gaps = np.zeros(joint.n_ports) if state.heat.gap_change is None else state.heat.gap_change.copy()
    gaps[joint.slices["tip"]] += growth * (joint.interface("tip").axial > 0.0)
    try:
        without = solve_state(joint, state, replace(state.heat, gap_change=gaps))
    except NotConverged:
        return Worth(growth, None)
    return Worth(growth, before - float(joint.axial_load("tip", without.forces)))


def tip_range(result: SetupResult) -> tuple[float, float]:
    """Return by how much the run changes the tip's gap (mm) and its force (N), most less least."""
    run = result.timeline.run
    gaps, tip = tip_gaps(result.built, result.timeline)[run], result.timeline.forces.tip[run]
    return float(np.ptp(gaps)), float(np.ptp(tip))


def clamp_by_cycle(result: SetupResult) -> tuple[float, ...]:
    """Return the clamp (N) at the end of each cycle that was lived through."""
    times, period = result.history.times, cycle_time(result.setup)
    ends = [int(np.argmin(np.abs(times - times[0] - period * (k + 1)))) for k in range(cycles_lived(result))]
    return tuple(float(result.history.run_forces.clamp[end]) for end in ends)


def retightening(result: SetupResult) -> Retightening | None:
    """Return the clamp before and after re-tightening, None if the nut was not tightened again."""
    history, joint = result.history, result.built.joint
    if history.retightened is None or history.retightened_after is None:
        return None
    state = history.run[history.retightened_after]
    before = None
    if state.flow is None:  # what has flowed is not kept with the state: its clamp once cooled is not known then
        try:
            cooled = solve_state(joint, state, history.retightened.heat)
            before = float(forces_of(joint, [cooled]).clamp[0])
        except NotConverged:
            pass
    index = int(result.timeline.run[history.retightened_after])
    lived = cycles_lived(result)
    when = moment_at(result, index).text(lived) if result.heat is not None else result.timeline.when(index)
    return Retightening(
        hot=float(history.run_forces.clamp[history.retightened_after]),
        before=before,
        after=float(forces_of(joint, [history.retightened]).clamp[0]),
        moment=when,
    )


def spring_set_loss(result: SetupResult) -> SetLoss | None:
    """Return what the springs' set costs: the run against the same run with springs that do not set; None without."""
    settlement = result.history.settlement
    if result.unset_clamp is None or settlement is None:
        return None
    index = int(result.timeline.run[-1])
    when = moment_at(result, index).text(cycles_lived(result)) if result.heat else result.timeline.when(index)
    height = sum(whole for _, whole in settlement.setting)
    return SetLoss(height, float(result.unset_clamp[-1]), float(result.history.run_forces.clamp[-1]), when)


def least_clamp_after(result: SetupResult, step: int) -> float:
    """Return the least clamp (N) of the run after a step of it, cylinder pressure included."""
    timeline = result.timeline
    steps = run_steps(timeline, range(len(timeline.states)))
    later = (steps > step) & (np.arange(len(timeline.states)) >= timeline.assembled)
    return float(timeline.forces.clamp[later].min())


def alike_but(
    comparison: Comparison, result: SetupResult, changed: Callable[[Setup], Setup], wanted: Callable[[Setup], bool]
) -> SetupResult | None:
    """Return a solved setup that is the same as another's but for what `changed` removes, None if there is none.

    changed : a setup with the keys that may differ taken out; wanted: which of those setups counts
    """
    given = {setup.name: setup for setup in comparison.case.setups}
    own = given.get(result.name)
    if own is None:
        return None
    bare = replace(changed(own), name="")
    for other in comparison.results:
        setup = given.get(other.name)
        if setup is None or other.name == result.name or not wanted(setup):
            continue
        if replace(changed(setup), name="") == bare:
            return other
    return None


def _middle_of_thread(result: SetupResult) -> float:
    lines = result.built.layout.stud.thread_lines
    return 0.5 * float(lines[0] + lines[-1])


def _heat_of(result: SetupResult) -> SolvedHeat:
    if result.heat is None:
        raise ValueError(GIVEN_HEAT)
    return result.heat
