"""One stud driven, turned back by some angle and lived through its history: what every part of the review is made of."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.fingerprint import same_heat_key
from studwell.case.records import Phase, Setup
from studwell.history.pocket import pressures
from studwell.history.seating import travel_left
from studwell.history.stages import AT_THE_HOLE, HistoryResult, heat_model, live_through
from studwell.history.torques import torques_of
from studwell.joint.build import BodyCache, BuiltJoint
from studwell.joint.forces import forces_of
from studwell.joint.solve import Control, solve_state
from studwell.joint.state import start_state
from studwell.parts.fastener import property_class
from studwell.review.beside import seat_margins
from studwell.strength.distances import distance_views
from studwell.strength.floor import floor_punch_margin, floor_split_margin, seat_split_margin
from studwell.strength.outcomes import floor_stress, tip_gaps
from studwell.strength.strip import (
    TENSION_ALONE,
    boss_thread,
    boss_thread_strip,
    engaged_length,
    insert_thread_strip,
)
from studwell.strength.timeline import Timeline, timeline_of
from studwell.strength.verdict import hold
from studwell.strength.wall import wall_burst
from studwell.study.compare import built_joint, heated

Array = np.ndarray

SWEEP_STEPS = 24
"""Steps of a history in the sweeps: its points are always among them, and extremes lie at points."""

HEAT_POINTS = 24
"""Instants of solved heat that are taken over as points."""

JUDGES = {
    "boss thread strip": boss_thread_strip,
    "insert thread strip": insert_thread_strip,
    "floor punch": floor_punch_margin,
    "floor split": floor_split_margin,
    "seat split": seat_split_margin,
    "wall burst": wall_burst,
}
BOSS_MODES = (*JUDGES, "floor corner")
"""Ways in which the boss breaks that bottoming or a liquid can change; floor corner: critical distance, once."""


@dataclass(frozen=True)
class Drive:
    """A stud driven by a torque (N mm) from hand contact.

    approach : mm that it sinks beyond first contact;  wind_up: turns of twist hidden from a reading at its top
    wedge    : N on tip and seat together;  pitch: mm
    """

    torque: float
    approach: float
    wind_up: float
    wedge: float
    pitch: float

    @property
    def turns(self) -> float:
        """Turns back, read at the stud's top, from the driven seat to first contact."""
        return self.approach / self.pitch + self.wind_up

    def travel(self, turns: float) -> float:
        """Return mm beyond first contact that is left after so many turns back; negative: lifted."""
        return travel_left(self.approach, self.wind_up, self.pitch, turns)


@dataclass(frozen=True)
class Trial:
    """One history and what it did. Turns counted from the driven seat, lift (mm) from first contact.

    wedge    : N on tip and seat when seated;  tip_run: N, largest from the assembled joint on, tip_max: of all
    need     : mm that the stud must be lifted from first contact so that its tip never touches; None if it touches
    gap_min  : mm over the whole history, seating included
    margins  : BOSS_MODES -> load over capacity, 0 where the part is not there, None where it is not known
    beside   : SEAT_MODES -> the same of what crushes or yields and breaks nothing;  reasons, beside_reasons: why not known
    corner   : MPa, floor stress averaged over the stated bands
    strip_capacity : N that strips the boss thread at the worst moment, None where not known;  tension_alone: the strip margin
               that stud tension alone makes, the load held by force: a thread that yields lets go of the rest
    """

    turns: float
    lift: float
    torque: float
    wedge: float
    tip_run: float
    tip_max: float
    need: float | None
    gap_min: float
    corner: float | None
    strip_capacity: float | None
    tension_alone: float | None
    thread: float
    clamp_max: float
    clamp_min: float
    engaged: float
    hold: float | None
    pressure: float
    margins: dict[str, float | None]
    reasons: dict[str, str] = field(repr=False)
    history: HistoryResult = field(repr=False)
    timeline: Timeline = field(repr=False)
    built: BuiltJoint = field(repr=False)
    beside: dict[str, float | None] = field(default_factory=dict)
    beside_reasons: dict[str, str] = field(default_factory=dict, repr=False)

    @property
    def failing(self) -> frozenset[str]:
        """The modes of `beside` that are known to be at their limit."""
        return frozenset(mode for mode, value in self.beside.items() if value is not None and value >= 1.0)

    @property
    def touches(self) -> bool:
        """True if the tip carries force at some moment after assembly."""
        return self.tip_run > 1e-6

    @property
    def governing(self) -> str | None:
        """The mode of BOSS_MODES with the largest known margin."""
        known = {mode: value for mode, value in self.margins.items() if value is not None}
        return max(known, key=lambda mode: known[mode]) if known else None

    @property
    def worst(self) -> float | None:
        """The largest known margin of BOSS_MODES."""
        mode = self.governing
        return None if mode is None else self.margins[mode]


class Trials:
    """Joints and drives that trials share: condensed bodies by what they depend on, joints by their setup."""

    def __init__(self, refinement: float = 1.0) -> None:
        self.refinement = refinement
        self.cache: BodyCache = {}
        self._joints: dict[str, BuiltJoint] = {}
        self._plain: dict[str, Setup] = {}
        self.count = 0

    def plain(self, setup: Setup) -> Setup:
        """Return a setup whose temperatures are given at nodes; solved heat is solved once and read off at the nodes.

        What many cycles, settling and re-tightening add is left out: they move the clamp, not the seat.
        """
        setup = replace(setup, settling=None, retighten=None, inelastic=None)
        setup = replace(setup, history=replace(setup.history, cycles=1, until_periodic=None))
        if not setup.history.phases:
            return setup
        key = same_heat_key(setup)
        if key not in self._plain:
            self._plain[key] = _at_nodes(setup, self.refinement)
        other = self._plain[key]
        return replace(setup, history=other.history, stack=other.stack, thermal=None)

    def joint(self, setup: Setup) -> BuiltJoint:
        """Return the joint of a plain setup; seating, tightening and instants of its history need no new one."""
        seating = replace(setup.seating, mode="bottomed", torque=1.0, turns=0.0, lock_torque=0.0, threadlocker=None)
        tightening = replace(setup.tightening, torque=1.0, preload=None)
        history = replace(setup.history, times=(), temperatures=(), labels=(), steps=1)
        pocket = replace(setup.pocket, fill=0.0, fill_at="")
        bare = replace(setup, seating=seating, tightening=tightening, history=history, pocket=pocket, review=None)
        key = same_heat_key(bare)
        if key not in self._joints:
            self._joints[key] = built_joint(setup, refinement=self.refinement, cache=self.cache, fields=False)
        return replace(self._joints[key], setup=setup)

    def drive(self, setup: Setup, torque: float) -> Drive:
        """Return a dry stud driven by a torque (N mm) onto its seat; no torque: hand contact."""
        built, pitch = self.joint(setup), setup.stud.thread.pitch
        if torque <= 0.0:
            return Drive(0.0, 0.0, 0.0, 0.0, pitch)
        torques, loose = self._loose(setup, built)
        coefficients = torques.seating_coefficients(built.joint)
        driven = solve_state(built.joint, loose, loose.heat, control=Control("stud", coefficients, torque))
        forces = forces_of(built.joint, [driven])
        wedge = float(forces.tip[0] + forces.seat[0])
        return Drive(torque, driven.travels["stud"], torques.wind_up_turns(torque), wedge, pitch)

    def torque_at(self, setup: Setup, travel: float) -> float:
        """Return the torque (N mm) that drives a dry stud so far (mm) beyond first contact."""
        built = self.joint(setup)
        torques, loose = self._loose(setup, built)
        state = solve_state(built.joint, loose, loose.heat, travels={"stud": travel})
        return float(torques.seating_coefficients(built.joint) @ state.forces)

    def _loose(self, setup: Setup, built: BuiltJoint):
        model = heat_model(setup, built.layout, built.bodies, built.joint, _yield(setup))
        history = setup.history
        heat = model.state(np.full(len(history.node_names), history.assembly_temperature))
        later = frozenset(face.name for face in built.joint.interfaces if face.name not in AT_THE_HOLE)
        return torques_of(setup, built.layout), start_state(built.joint, heat, absent=later)

    def seated(self, setup: Setup, drive: Drive, turns: float) -> Setup:
        """Return a setup whose stud was driven and turned back by some turns from there.

        A wedge that is only partly relieved is that of the smaller torque which drives just as deep.
        """
        dry = replace(setup, pocket=replace(setup.pocket, contents="empty", fluid=None))
        travel = drive.travel(turns)
        seating = setup.seating
        if travel <= 0.0:
            turned = replace(
                seating, mode="backed off", turns=-travel / drive.pitch, counted_from="first contact", torque=None
            )
        else:
            torque = drive.torque if turns <= drive.wind_up else self.torque_at(dry, travel)
            turned = replace(seating, mode="bottomed", turns=0.0, torque=torque)
        return replace(setup, seating=turned)

    def live(self, setup: Setup, drive: Drive, turns: float, steps: int | None = SWEEP_STEPS) -> Trial:
        """Live a driven and turned back stud through its setup's history.

        steps : of the history, None: as the case says
        raises NotConverged, Unknown, BadMesh, ValueError : as solve_setup
        """
        seated = self.seated(setup, drive, turns)
        if steps is not None:
            seated = replace(seated, history=replace(seated.history, steps=min(steps, seated.history.steps)))
        built = self.joint(seated)
        built = replace(built, setup=seated)
        history = live_through(
            seated, built.layout, built.bodies, built.joint, built.seat, yield_strength=_yield(seated)
        )
        self.count += 1
        return measured(built, history, turns, drive)


def measured(built: BuiltJoint, history: HistoryResult, turns: float, drive: Drive) -> Trial:
    """Return what a history did."""
    timeline = timeline_of(history)
    forces = timeline.forces
    lift = max(0.0, -drive.travel(turns))
    gaps = tip_gaps(built, timeline)
    first = timeline.assembled
    touching = bool(np.any(forces.tip > 1e-6))
    margins, reasons = boss_margins(built, timeline, history.temperatures)
    beside, beside_reasons = seat_margins(built, timeline, history.temperatures)
    strip = boss_thread(built, timeline, history.temperatures)
    known = strip.capacity is not None and strip.governing is not None
    corner = floor_stress(built, timeline)
    return Trial(
        turns=turns,
        lift=lift,
        torque=drive.torque,
        wedge=float(forces.tip[0] + forces.seat[0]),
        tip_run=float(forces.tip[first:].max()),
        tip_max=float(forces.tip.max()),
        need=None if touching else _beyond_rounding(lift - float(gaps.min())),
        gap_min=float(gaps.min()),
        corner=None if corner is None else float(corner.max()),
        strip_capacity=float(strip.capacity[strip.worst]) if known and strip.capacity is not None else None,
        tension_alone=strip.route(TENSION_ALONE).ratio if known else None,
        thread=float(forces.thread.max()),
        clamp_max=float(forces.clamp[first:].max()),
        clamp_min=float(forces.clamp[first:].min()),
        engaged=float(engaged_length(built)),
        hold=hold(history, timeline).value,
        pressure=float(pressures(built.joint, timeline.states).max()) if history.liquid is not None else 0.0,
        margins=margins,
        reasons=reasons,
        history=history,
        timeline=timeline,
        built=built,
        beside=beside,
        beside_reasons=beside_reasons,
    )


def boss_margins(
    built: BuiltJoint, timeline: Timeline, temperatures: Array
) -> tuple[dict[str, float | None], dict[str, str]]:
    """Return BOSS_MODES -> load over capacity, 0 where the part is not there, and, where not known, mode -> reason."""
    margins: dict[str, float | None] = {}
    reasons: dict[str, str] = {}
    for mode, judge in JUDGES.items():
        margin = judge(built, timeline, temperatures)
        margins[mode] = margin.value if margin.applies else 0.0
        if margin.unknown:
            reasons[mode] = margin.reason
    view = next(each for each in distance_views(built, timeline, temperatures) if each.place == "floor corner")
    margins["floor corner"] = None if view.once is None else view.once.value
    if view.once is None:
        reasons["floor corner"] = view.once_reason
    return margins, reasons


def _yield(setup: Setup) -> float:
    return property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter).yield_strength


def _at_nodes(setup: Setup, refinement: float) -> Setup:
    """A setup of solved heat with the temperatures of its nodes at HEAT_POINTS instants, ends of phases among them."""
    hot, _, heat = heated(setup, refinement)
    history = hot.history
    times = np.array(history.times)
    temperatures = np.array(history.temperatures)
    nodes = history.node_names
    apart = temperatures[nodes.index("stud_tip")] - temperatures[nodes.index("boss")]
    ends = dict(heat.phase_ends)
    wanted = {0, len(times) - 1, int(np.argmax(apart)), int(np.argmin(apart)), *ends}
    wanted |= {int(k) for k in np.linspace(0, len(times) - 1, HEAT_POINTS)}
    chosen = sorted(wanted)
    start = np.full((len(nodes), 1), history.assembly_temperature)
    kept = temperatures[:, chosen]
    if not np.allclose(kept[:, :1], start):
        kept[:, :1] = start
    phases: tuple[Phase, ...] = ()
    given = replace(
        history,
        times=tuple(times[chosen].tolist()),
        temperatures=tuple(tuple(row.tolist()) for row in kept),
        labels=tuple(_named(k, heat.phase_ends) for k in chosen),
        phases=phases,
        cycles=1,
        until_periodic=None,
        steps=len(chosen) - 1,
    )
    return replace(hot, history=given, thermal=None)


def _named(index: int, ends: tuple[tuple[int, str], ...]) -> str:
    """An instant of solved heat by its phase: "assembled", "end of warm-up", "during warm-up"."""
    if index == 0:
        return "assembled"
    end, label = next(((end, label) for end, label in ends if end >= index), ends[-1])
    return f"end of {label}" if end == index else f"during {label}"


def _beyond_rounding(length: float) -> float:
    return length if length > 1e-9 else 0.0
