"""The smallest back-off at which the tip never touches, and what makes it uncertain: a budget in mm, turns and degrees."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Setup
from studwell.errors import Unknown
from studwell.history.torques import torques_of
from studwell.parts.material import Curve
from studwell.parts.thread import pitch_diameter
from studwell.parts.torque import thread_torque_factor
from studwell.review.inputs import Inputs
from studwell.review.trials import Drive, Trial, Trials
from studwell.study.finding import margin_words

MOST_TURNS = 4.0
"""Turns from first contact to which the search for a free tip goes."""


@dataclass(frozen=True)
class BudgetItem:
    """One thing that takes from the gap: mm; where it is from and how far that is trusted. mm None: no back-off covers it."""

    name: str
    mm: float | None
    note: str
    source: str
    status: str


@dataclass(frozen=True)
class Need:
    """The smallest back-off. Lengths in mm of lift from first contact, turns at the stud's top from the driven seat.

    heat      : mm that the history alone needs;  closing: mm by which it closes most at the rule's back-off
    seat      : mm from the driven seat to first contact;  wind_up: turns
    items     : the budget, each by itself
    rms, sum  : mm, the items combined by root of the sum of squares, and all of them at their worst
    rule      : turns (least, stated, most);  pitch: mm
    hold, hold_worst : share of what holds the stud while the nut is tightened, as the case says and at the worst friction
    """

    heat: float
    closing: float
    seat: float
    wind_up: float
    items: tuple[BudgetItem, ...]
    rms: float
    sum: float
    rule: tuple[float, float, float]
    pitch: float
    hold: float | None
    hold_worst: float | None

    @property
    def likely(self) -> float:
        """Lift from first contact that is needed with the budget by root of squares, mm."""
        return self.heat + self.rms

    @property
    def worst(self) -> float:
        """Lift from first contact that is needed with every item at its worst, mm."""
        return self.heat + self.sum

    def turns(self, lift: float, driven: bool = False) -> float:
        """Return a lift (mm) in turns from first contact, or from the driven seat."""
        return (lift + (self.seat if driven else 0.0)) / self.pitch + (self.wind_up if driven else 0.0)

    def lift(self, turns: float, driven: bool = False) -> float:
        """Return the lift (mm) that turns leave, counted from first contact or from the driven seat."""
        return turns * self.pitch - ((self.seat + self.wind_up * self.pitch) if driven else 0.0)

    @property
    def word(self) -> str:
        """Return how the rule stands to the need when it is counted from the driven seat, the less kind count."""
        have = self.lift(self.rule[1], driven=True)
        if have < self.heat:
            return "not enough"
        if have < self.likely:
            return "enough only if nothing scatters"
        if have < self.worst:
            return "enough"
        return "more than enough"


def free_need(trials: Trials, setup: Setup, turns: float, hand: Drive) -> tuple[float, Trial]:
    """Return the lift (mm) from first contact at which the tip just stays free through the history, and a free trial.

    As long as the tip is free, lifting the stud further lifts its tip by as much and changes nothing else: one free trial
    tells. hand: the stud at hand contact
    raises Unknown : the tip touches even at MOST_TURNS
    """
    while turns <= MOST_TURNS:
        trial = trials.live(setup, hand, turns)
        if trial.need is not None:
            return trial.need, trial
        turns *= 2.0
    raise Unknown(f"the tip touches even {MOST_TURNS:g} turns back: what closes the gap is no heat")


def needed(trials: Trials, setup: Setup, drive: Drive, inputs: Inputs) -> tuple[Need, Trial]:
    """Return the smallest back-off of a plain setup with its budget, and the free trial at the rule's back-off."""
    rule = tuple(inputs[key].value for key in ("rule_least", "rule", "rule_most"))
    pitch = setup.stud.thread.pitch
    hand = Drive(0.0, 0.0, 0.0, 0.0, pitch)
    heat, free = free_need(trials, setup, inputs["rule"].value, hand)
    turns = max(free.turns, inputs["rule"].value)

    def more(changed: Setup) -> float:
        return max(0.0, free_need(trials, changed, turns, hand)[0] - heat)

    def largest(*changes: Callable[[], Setup]) -> float:
        return max(more(change()) for change in changes)

    kelvin = inputs["temperature_scatter"]
    spread = inputs["expansion_scatter"]
    shift = inputs["pitch_scatter"]
    feel, chip, friction = inputs["feel"], inputs["chip"], inputs["friction_scatter"]
    torsion, follows = _while_tightening(setup, free)
    hold_worst = _held(setup, free, friction.value)
    items = [
        BudgetItem(
            "pitch tolerance",
            shift.value * inputs["rule"].value * pitch,
            f"{100 * shift.value:g} % of the rule's travel",
            shift.source,
            shift.status,
        ),
        BudgetItem(
            "expansion of stud and boss",
            largest(
                lambda: _expanding(setup, 1.0 + spread.value, 1.0),
                lambda: _expanding(setup, 1.0 - spread.value, 1.0),
                lambda: _expanding(setup, 1.0, 1.0 + spread.value),
                lambda: _expanding(setup, 1.0, 1.0 - spread.value),
            ),
            f"{100 * spread.value:g} % of either coefficient, the worse of four histories",
            spread.source,
            spread.status,
        ),
        BudgetItem(
            "temperature of stud and boss",
            largest(
                lambda: _warmer(setup, ("boss",), -kelvin.value),
                lambda: _warmer(setup, ("boss",), kelvin.value),
                lambda: _warmer(setup, ("stud_tip", "stud_top"), kelvin.value),
                lambda: _warmer(setup, ("stud_tip", "stud_top"), -kelvin.value),
            ),
            f"{kelvin.value:g} K between boss and stud after assembly, the worse of four histories",
            kelvin.source,
            kelvin.status,
        ),
        BudgetItem(
            "torsional wind-up",
            torsion,
            "twist of the engaged end while the nut is tightened, which screws the tip down",
            "this model: twist of the engaged end under the nut's thread torque",
            "computed",
        ),
        BudgetItem(
            "chips under the tip", chip.value, "lie in the gap, not in the hole's depth", chip.source, chip.status
        ),
        BudgetItem(
            "where zero was felt",
            feel.value * pitch,
            f"{feel.value:g} turn either way of first contact",
            feel.source,
            feel.status,
        ),
        BudgetItem(
            "stud following the nut",
            None if follows else 0.0,
            "the stud turns with the nut and the whole back-off is lost: no back-off covers it"
            if follows
            else f"stands as long as the hold ratio, {margin_words(free.hold)}, stays below 1"
            + (
                ""
                if hold_worst is None or hold_worst < 1.0
                else f"; at the worst friction within {friction.value:g} it is {margin_words(hold_worst)}: "
                "the stud must be held"
            ),
            f"long form of the torque; friction scatter: {friction.source}",
            "computed",
        ),
    ]
    known = [item.mm for item in items if item.mm is not None]
    need = Need(
        heat=heat,
        closing=free.lift - free.gap_min,
        seat=drive.approach,
        wind_up=drive.wind_up,
        items=tuple(items),
        rms=math.sqrt(sum(mm * mm for mm in known)),
        sum=sum(known),
        rule=(rule[0], rule[1], rule[2]),
        pitch=pitch,
        hold=free.hold,
        hold_worst=hold_worst,
    )
    return need, free


def _while_tightening(setup: Setup, free: Trial) -> tuple[float, bool]:
    """Lift (mm) that the twist of the stud's engaged end takes while the nut is tightened, and whether it follows."""
    torques = free.history.torques
    torque = torques.nut_thread * float(free.history.tightening_forces.nut_thread.max())
    held = free.hold
    return torques.wind_up_turns(torque) * setup.stud.thread.pitch, held is not None and held >= 1.0


def _held(setup: Setup, free: Trial, scatter: float) -> float | None:
    """The hold ratio with the nut's thread rougher and the boss's smoother than the case says."""
    torques = torques_of(setup, free.built.layout)
    stud = setup.stud
    mu_nut, mu_boss = setup.tightening.thread_friction + scatter, max(setup.seating.thread_friction - scatter, 0.0)
    forces = free.history.tightening_forces

    def factor(thread, friction: float) -> float:
        diameter = float(pitch_diameter(thread.nominal_diameter, thread.pitch))
        return float(thread_torque_factor(thread.pitch, diameter, friction))

    worse = replace(torques, nut_thread=factor(stud.nut_thread, mu_nut), boss_thread=factor(stud.thread, mu_boss))
    ratio = worse.hold_ratio(forces.nut_thread, forces.tip, forces.thread, forces.seat)
    value = float(np.max(ratio))
    return value if np.isfinite(value) else None


def _expanding(setup: Setup, boss: float, stud: float) -> Setup:
    """A setup whose boss and stud expand by so much more than the data say; shares of the coefficients."""

    def scaled(curve: Curve, factor: float) -> Curve:
        return replace(curve, values=tuple(factor * value for value in curve.values))

    own, other = setup.boss.material, setup.stud.material
    return replace(
        setup,
        boss=replace(setup.boss, material=replace(own, expansion=scaled(own.expansion, boss))),
        stud=replace(setup.stud, material=replace(other, expansion=scaled(other.expansion, stud))),
    )


def _warmer(setup: Setup, nodes: tuple[str, ...], kelvin: float) -> Setup:
    """A setup in which some nodes are warmer by so much, K, at all points but the first, at which it is assembled."""
    history = setup.history
    rows = [
        tuple(t if k == 0 else t + kelvin for k, t in enumerate(row)) if name in nodes else row
        for name, row in zip(history.node_names, history.temperatures, strict=True)
    ]
    return replace(setup, history=replace(history, temperatures=tuple(rows)))
