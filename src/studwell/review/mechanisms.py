"""Why a driven stud loads its hole: six mechanisms, each put on and off alone, at one stated instant."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.records import Setup
from studwell.crack.curves import crack_curve
from studwell.crack.lines import crack_lines
from studwell.errors import StudwellError
from studwell.history.heat import HeatModel
from studwell.history.pocket import filled_pocket
from studwell.history.stages import heat_model
from studwell.joint.build import BuiltJoint
from studwell.joint.forces import forces_of
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, JointState
from studwell.parts.fastener import property_class
from studwell.review.shapley import Shares, shapley
from studwell.review.trials import Drive, Trial, Trials
from studwell.strength.outcomes import FLOOR_REASON, floor_stress
from studwell.strength.timeline import Timeline

Array = np.ndarray

WEDGE, STEADY, HOTTER = "wedge of the seating torque", "steady heat of boss and stud", "stud hotter than boss"
COLD, LIQUID, STACK = "cold soak of boss and stud", "liquid under the tip", "growth of the stack"
MECHANISMS = (WEDGE, STEADY, HOTTER, COLD, LIQUID, STACK)

QUANTITIES = {"floor stress": "MPa", "thread load": "N", "crack driving force": "MPa m^0.5"}
AT_HOLE = ("boss", "stud", "insert")
"""Bodies that follow the boss's and the stud's temperature; all others are the stack."""


@dataclass(frozen=True)
class Apart:
    """The mechanisms apart at one instant of a driven stud's history.

    when, time (s) : the instant;  boss, above (K), stack (K) : degC of the boss, and the mean that stud and stack are hotter
    amplitudes : mechanism -> True if it is there at all
    shares     : quantity -> Shares;  reasons: quantity -> why its shares are not known
    lived      : quantity -> its value at that instant of the whole history, which the subsets reach in one step
    relieved   : quantity -> Shares of what turning back takes off it: as driven less as turned back, from the same subsets;
                 empty if no turns were given
    solves     : states solved;  model: of the threads
    """

    when: str
    time: float
    boss: float
    above: float
    stack: float
    amplitudes: dict[str, bool]
    shares: dict[str, Shares]
    reasons: dict[str, str]
    lived: dict[str, float]
    solves: int
    flaw: float
    model: str = "layer"
    relieved: dict[str, Shares] = field(default_factory=dict)


DRIVEN, TOUCHING, BACK = "driven", "touching", "turned back"
"""How a stud was fitted: the joint from which a subset starts."""


@dataclass
class _Setting:
    built: BuiltJoint
    model: HeatModel
    starts: dict[str, JointState] = field(default_factory=dict)


def mechanisms_apart(
    trials: Trials, setup: Setup, drive: Drive, driven: Trial, step: int, flaw: float, turns: float | None = None
) -> Apart:
    """Return the mechanisms apart at one step of a driven stud's run.

    setup  : plain, of which `driven` is the trial at no turns back;  step: of its run;  flaw: mm
    turns  : back from the driven seat, of the stud beside which the driven one is set; None: none
    Each subset starts from its own assembled joint (driven or touching, with or without its liquid) and goes to its own
    temperatures in one step. A mechanism that is not there leaves every subset as it was. A turned back stud has no wedge:
    its subsets with and without are the same.
    """
    history = driven.history
    nodes = list(history.node_names)
    now, rest = history.temperatures[step], setup.history.assembly_temperature
    boss = float(now[nodes.index("boss")])
    stud = [nodes.index("stud_tip"), nodes.index("stud_top")]
    others = [k for k, name in enumerate(nodes) if name not in ("boss", "stud_tip", "stud_top")]
    there = {
        WEDGE: drive.torque > 0.0,
        STEADY: boss > rest,
        HOTTER: bool(np.any(np.abs(now[stud] - boss) > 1e-9)),
        COLD: boss < rest,
        LIQUID: setup.pocket.filled,
        STACK: bool(np.any(np.abs(now[others] - rest) > 1e-9)),
    }
    settings = {False: _setting(trials, _dry(setup), drive, turns)}
    if there[LIQUID]:
        settings[True] = _setting(trials, setup, drive, turns)
    amplitudes = [name for name in MECHANISMS if there[name]]
    subsets = [frozenset(some) for k in range(len(amplitudes) + 1) for some in itertools.combinations(amplitudes, k)]

    def solve(present: frozenset[str], start: str) -> JointState:
        return _solve(settings[LIQUID in present], start, setup, present, now, boss, rest)

    solved = {each: solve(each, DRIVEN if WEDGE in each else TOUCHING) for each in subsets}
    freed = {} if turns is None else {each: solve(each, BACK) for each in subsets if WEDGE not in each}
    reasons: dict[str, str] = {}
    shares: dict[str, Shares] = {}
    relieved: dict[str, Shares] = {}
    values, without = (_values(found, settings, flaw, reasons) for found in (solved, freed))
    for name, value in values.items():
        shares[name] = shapley(MECHANISMS, lambda s, v=value: v[s.intersection(amplitudes)])  # type: ignore[misc]
        if name in without:
            relieved[name] = shapley(
                MECHANISMS,
                lambda s, v=value, w=without[name]: (
                    v[s.intersection(amplitudes)] - w[s.intersection(amplitudes) - {WEDGE}]
                ),  # type: ignore[misc]
            )
    timeline = driven.timeline
    place = int(timeline.run[step])
    lived = {"thread load": float(timeline.forces.thread[place])}
    corner = floor_stress(driven.built, timeline)
    if corner is not None:
        lived["floor stress"] = float(corner[place])
    return Apart(
        when=timeline.when(place),
        time=float(timeline.times[place]),
        boss=boss,
        above=float(np.mean(now[stud]) - boss),
        stack=float(np.mean(now[others]) - boss) if others else 0.0,
        amplitudes=there,
        shares=shares,
        reasons=reasons,
        lived=lived,
        solves=len(solved) + len(freed),
        flaw=flaw,
        model=setup.stud.thread_model,
        relieved=relieved,
    )


def governing_quantity(trial: Trial) -> str:
    """Return which of QUANTITIES makes a trial's largest margin: floor stress for its floor, else thread load."""
    floor = trial.governing in ("floor punch", "floor split", "floor corner") and trial.corner is not None
    return "floor stress" if floor else "thread load"


def telling_steps(driven: Trial) -> tuple[int, ...]:
    """Return the steps of a driven stud's run at which mechanisms are taken apart: the hottest, the coldest, and the one
    at which what governs is largest."""
    timeline, mean = driven.timeline, driven.history.temperatures.mean(axis=1)
    values = timeline.forces.thread
    if governing_quantity(driven) == "floor stress":
        corner = floor_stress(driven.built, timeline)
        values = values if corner is None else corner
    worst = int(np.argmax(values[timeline.run]))
    return tuple(dict.fromkeys((int(mean.argmax()), int(mean.argmin()), worst)))


def stated_of(apart: Sequence[Apart], quantity: str) -> int:
    """Return the place of the instant with the largest value of a quantity; thread load where it is not known."""

    def size(one: Apart) -> float:
        return one.shares[quantity if quantity in one.shares else "thread load"].everything

    return max(range(len(apart)), key=lambda k: size(apart[k]), default=0)


def _dry(setup: Setup) -> Setup:
    return replace(setup, pocket=replace(setup.pocket, contents="empty", fluid=None))


def _setting(trials: Trials, setup: Setup, drive: Drive, turns: float | None) -> _Setting:
    built = trials.joint(setup)
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter).yield_strength
    setting = _Setting(built, heat_model(setup, built.layout, built.bodies, built.joint, strength))
    one = replace(setup, history=replace(setup.history, steps=1))
    starts = {TOUCHING: drive.turns}
    if drive.torque > 0.0:
        starts[DRIVEN] = 0.0
    if turns is not None:
        starts[BACK] = turns
    for name, back in starts.items():
        setting.starts[name] = trials.live(one, drive, back).history.run[0]
    return setting


def _solve(
    setting: _Setting, fitted: str, setup: Setup, present: frozenset[str], now: Array, boss: float, rest: float
) -> JointState:
    built, model = setting.built, setting.model
    nodes = list(model.nodes)
    at_hole = np.full(len(nodes), boss if present & {STEADY, COLD} else rest)
    if HOTTER in present:
        for name in ("stud_tip", "stud_top"):
            at_hole[nodes.index(name)] += now[nodes.index(name)] - boss
    above = now if STACK in present else np.full(len(nodes), rest)
    hole, stack = model.states(np.stack([at_hole, above]))
    mine = [body.spec.name in AT_HOLE for body in built.bodies]
    heat = Heat(
        amplitudes=tuple(h if own else s for own, h, s in zip(mine, hole.amplitudes, stack.amplitudes, strict=True)),
        modulus_ratio=np.where(mine, hole.modulus_ratio, stack.modulus_ratio),
        stud_yield=hole.stud_yield,
        gap_change=stack.gap_change,
        pocket=0.5 * float(at_hole[nodes.index("boss")] + at_hole[nodes.index("stud_tip")]),
    )
    start = setting.starts[fitted]
    liquid = filled_pocket(built.setup, built.joint)
    if liquid is not None:
        return liquid.solver(solve_state)(built.joint, start, heat)
    return solve_state(built.joint, start, replace(heat, pocket=None))


def _values(
    found: dict[frozenset[str], JointState], settings: dict[bool, _Setting], flaw: float, reasons: dict[str, str]
) -> dict[str, dict[frozenset[str], float]]:
    """Quantity -> present mechanisms -> value, of the subsets solved."""
    values: dict[str, dict[frozenset[str], float]] = {}
    for wet, setting in settings.items():
        keys = [key for key in found if (LIQUID in key) == wet]
        states = [found[key] for key in keys]
        if not states:
            continue
        timeline = states_as_timeline(setting.built, states)
        _put(values, "thread load", keys, timeline.forces.thread)
        corner = floor_stress(setting.built, timeline)
        if corner is None:
            reasons["floor stress"] = FLOOR_REASON
        else:
            _put(values, "floor stress", keys, corner)
        try:
            _put(values, "crack driving force", keys, _intensity(setting.built, states, flaw))
        except StudwellError as problem:
            reasons["crack driving force"] = problem.line
    return {name: values[name] for name in QUANTITIES if name in values and name not in reasons}


def _put(values: dict[str, dict[frozenset[str], float]], name: str, keys: list[frozenset[str]], numbers: Array) -> None:
    values.setdefault(name, {}).update(zip(keys, map(float, numbers), strict=True))


def _intensity(built: BuiltJoint, states: list[JointState], flaw: float) -> Array:
    """Stress intensity (states,) MPa m^0.5 of a ring crack at the fillet, on the line nearest to 45 degrees."""
    lines = [line for line in crack_lines(built) if line.body == "boss" and line.place == "boss fillet"]
    if not lines:
        from studwell.errors import Unknown

        raise Unknown("no line from the floor's fillet in this mesh")
    line = min(lines, key=lambda each: abs(each.angle - 45.0))
    return np.asarray(crack_curve(built, states, line, sizes=[flaw]).effective[:, 0])


def states_as_timeline(built: BuiltJoint, states: list[JointState]) -> Timeline:
    """Return states side by side as a timeline, so that what reads timelines reads them; its instants mean nothing."""
    count = len(states)
    return Timeline(
        states=tuple(states),
        phases=("run",) * count,
        times=np.zeros(count),
        forces=forces_of(built.joint, states),
        run=np.arange(count),
        assembled=0,
        labels=(),
    )
