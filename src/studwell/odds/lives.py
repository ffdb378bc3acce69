"""Many samples of one setup through seating, tightening and a short heat history, solved side by side."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.records import Setup
from studwell.history.settling import HOUR, Settlement, settlement_of
from studwell.history.stages import AT_THE_HOLE, MOST_GIVEN_CYCLES, course_of, heat_model, live_through, pressure_load
from studwell.history.torques import torques_of
from studwell.joint.bodies import REFERENCE_TEMPERATURE
from studwell.joint.build import BuiltJoint
from studwell.odds.batch import Moment
from studwell.odds.channels import Channels, channel_maps
from studwell.odds.many import ManyHeat, ManyStates, heat_of_many, loose, not_in_batches
from studwell.odds.springs import ManySprings, grown, many_springs, own_gaps
from studwell.odds.torques import ManyTorques, many_torques
from studwell.strength.timeline import Timeline, timeline_of
from studwell.units import time_text

Array = np.ndarray

MOST_INSTANTS = 6
"""Instants between a history's points that samples live through; the checked samples take all steps of the history."""


@dataclass(frozen=True)
class ManyLives:
    """What S samples went through: channels (states, S) by name, which were solved (S,), and the torque factors.

    run, pressed : states of the run and of the run under cylinder pressure, where they were to be kept
    """

    channels: Channels = field(repr=False)
    solved: Array = field(repr=False)
    torques: ManyTorques = field(repr=False)
    run: tuple[ManyStates, ...] = field(default=(), repr=False)
    pressed: tuple[ManyStates, ...] = field(default=(), repr=False)


def not_side_by_side(built: BuiltJoint) -> str:
    """Return why samples of a setup must be solved one by one, "" if they need not."""
    setup = built.setup
    for there, what in (
        (setup.inelastic is not None, "bodies that yield or creep"),
        (setup.retighten is not None, "re-tightening"),
        (setup.pocket.filled, "a liquid under the tip"),
        (setup.settling is not None and bool(setup.settling.spring_set), "springs that set"),
        (not built.seat.by_tip, "a seat that is not the tip"),
        (bool(setup.history.phases), "solved heat"),
    ):
        if there:
            return what
    return not_in_batches(built.joint)


def short(setup: Setup, instants: tuple[float, ...]) -> Setup:
    """Return a setup whose history has no other steps than its points and these instants of a cycle, s."""
    history = setup.history
    points = np.asarray(history.times, dtype=float)
    extra = [t for t in instants if np.min(np.abs(points - t)) > 1e-9 * (points[-1] - points[0])]
    times = np.sort(np.concatenate([points, extra]))
    rows = tuple(tuple(float(v) for v in np.interp(times, points, row)) for row in history.temperatures)
    known = dict(zip(history.times, history.labels, strict=True))
    labels = tuple(known.get(float(t), time_text(float(t))) for t in times)
    return replace(
        setup,
        history=replace(history, times=tuple(float(t) for t in times), labels=labels, temperatures=rows, steps=1),
    )


def telling_instants(setup: Setup, timeline: Timeline) -> tuple[float, ...]:
    """Return instants of a cycle (s) between its points: where a full history of the setup has its extremes, and the
    middles of the pieces; at most MOST_INSTANTS, extremes first."""
    forces, run, points = timeline.forces, timeline.run, setup.history.times
    length = points[-1] - points[0]
    found: list[float] = []
    for values in (forces.thread, forces.clamp, -forces.clamp, forces.tip, forces.tension):
        own = values[run]
        at = float(timeline.times[run[int(np.argmax(own))]])
        if float(np.ptp(own)) > 0.0:
            found.append(points[0] + ((at - points[0]) % length if length > 0.0 else 0.0))
    middles = [0.5 * (a + b) for a, b in itertools.pairwise(points)]
    chosen = [t for t in dict.fromkeys([*found, *middles]) if min(abs(t - p) for p in points) > 1e-9 * length]
    return tuple(sorted(chosen[:MOST_INSTANTS]))


class Lives:
    """A setup whose joint is condensed and whose nominal sample is solved: what all samples share.

    built : of the setup;  yield_strength: MPa of its stud's class
    every_step : True lives through every step of the history, not through the telling instants alone
    """

    def __init__(self, built: BuiltJoint, yield_strength: float, every_step: bool = False) -> None:
        whole = live_through(
            built.setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=yield_strength
        )
        self.instants = telling_instants(built.setup, timeline_of(whole))
        self.whole = built.setup.history
        self.setup, self.built, self.joint = built.setup, built, built.joint
        if not every_step:
            self.setup = short(built.setup, self.instants)
            whole = live_through(
                self.setup, built.layout, built.bodies, built.joint, built.seat, yield_strength=yield_strength
            )
        setup, joint, self.nominal = self.setup, self.joint, whole
        self.timeline: Timeline = timeline_of(self.nominal)
        self.model = heat_model(setup, built.layout, built.bodies, joint, yield_strength)
        self.course = course_of(setup, self.model, None)
        self.settlement: Settlement | None = self.nominal.settlement
        self.outside = pressure_load(setup)
        self.embedding_by_key = self._embedding_by_key()
        self.torques = torques_of(setup, built.layout)
        slippery = replace(
            setup,
            seating=replace(setup.seating, tip_friction=1.0),
            tightening=replace(setup.tightening, bearing_friction=1.0),
        )
        full = torques_of(slippery, built.layout)
        self.unit_rubbing = {"tip": full.tip, "bearing": full.bearing, "dome": full.dome}
        later = frozenset(face.name for face in joint.interfaces if face.name not in AT_THE_HOLE)
        one = many_torques(self, {}, 1)
        self.seat: Moment | None = None
        if setup.seating.torque:
            driven = self.nominal.seated
            if setup.seating.mode != "bottomed":
                alone = replace(setup, seating=replace(setup.seating, mode="bottomed", turns=0.0))
                driven = live_through(
                    alone, built.layout, built.bodies, joint, built.seat, yield_strength=yield_strength
                ).seated
            self.seat = Moment(joint, driven, later, one.driving(joint))
        self.tighten = [Moment(joint, each, frozenset(), one.turning(joint)) for each in self.nominal.tightening]
        self.run = [Moment(joint, state, frozenset()) for state in self.nominal.run]
        self.pressed = [Moment(joint, state, frozenset(), outside=self.outside) for state in self.nominal.pressurised]
        self.maps = channel_maps(built)
        points = np.asarray(self.whole.times, dtype=float)
        cycles = min(setup.history.cycles, MOST_GIVEN_CYCLES)
        inside = (
            (self.course.times - points[0]) % (points[-1] - points[0]) if cycles > 1 else self.course.times - points[0]
        )
        if cycles > 1:  # the end of a cycle is its last point, not its first
            inside = np.where((inside == 0.0) & (self.course.times > points[0]), points[-1] - points[0], inside)
        self.in_time = np.array([np.interp(inside + points[0], points, row) for row in np.eye(len(points))])

    def live(self, values: Mapping[str, Array], count: int, keep: bool = False) -> ManyLives:
        """Take samples through everything; keep: also return their states.

        values : key -> (S,) what each sample has instead of the setup's own; keys that move loads only
        """
        setup, joint = self.setup, self.joint
        torques = many_torques(self, values, count)
        springs, gaps = many_springs(setup, values, count), own_gaps(self.built, values, count)
        assembly = heat_of_many(joint, self.course.assembly)
        if gaps is not None:
            assembly = replace(assembly, gap=assembly.gap + gaps)
        state, channels = self._seated(values, torques, assembly, count), Channels(self.maps, count)
        cold = np.full((count, len(self.model.nodes)), setup.history.assembly_temperature)
        channels.add(state, assembly, cold, 0.0)
        state = self._tightened(state, torques, assembly, springs)
        channels.add(state, assembly, cold, 0.0)
        state = replace(state, shear=torques.locked * state.shear)
        temperatures = self._temperatures(values, count)
        embedding, load = self._embedding(values), np.asarray(self.outside)
        if self.outside and "pressure.peak" in values:
            assert setup.pressure is not None
            load = self.outside * values["pressure.peak"] / setup.pressure.peak
        crept, before = np.zeros((joint.n_ports, 1)), self.course.times[0]
        start = before
        pressed: list[tuple[ManyStates, ManyHeat, Array]] = []
        kept: list[ManyStates] = []
        last = self.tighten[-1]
        for step, moment in enumerate(self.run):
            now = self.course.times[step]
            there = cold if temperatures is None else temperatures[step]
            if temperatures is None:
                heat = heat_of_many(joint, self.course.heats[step])
                changes = self.course.heats[step].gap_change
                if changes is not None:
                    heat = replace(heat, gap=heat.gap + grown(self.built, values, changes[:, None]) - changes[:, None])
            else:
                heat = self._heat(there, values)
            if gaps is not None:
                heat = replace(heat, gap=heat.gap + gaps)
            if temperatures is None:
                there = np.broadcast_to(self.course.temperatures[step], (count, len(self.model.nodes)))
            if self.settlement is not None:
                if step:
                    crept = self._creep(self.settlement, state, crept, before - start, now - start)
                gap = heat.gap + self.settlement.share(now - start) * embedding + crept
                heat = replace(heat, gap=gap)
            before = now
            state = moment.solve(state, heat, guess=moment.after(state, last), springs=springs)
            last = moment
            channels.add(state, heat, there, 0.0)
            if keep:
                kept.append(state)
            if self.pressed:
                under = self.pressed[step].solve(state, heat, outside=load / self.outside, springs=springs)
                state = replace(state, solved=state.solved & under.solved)
                pressed.append((under, heat, there))
        for under, heat, there in pressed:
            channels.add(under, heat, there, load)
        return ManyLives(
            channels, state.solved, torques, tuple(kept), tuple(under for under, _, _ in pressed) if keep else ()
        )

    def _embedding_by_key(self) -> dict[str, Array]:
        """Embedding (n,) of each port by one millimetre of each kind of face, by key of [spread]."""
        setup, found = self.setup, {}
        if setup.settling is None:
            return {}
        none = replace(setup.settling, thread=0.0, bearing=0.0, inner=0.0, tip=0.0)
        for kind, alone in (
            ("thread", replace(none, thread=1.0)),
            ("bearing", replace(none, bearing=1.0)),
            ("inner", replace(none, inner=1.0)),
            ("tip", replace(none, tip=1.0)),
        ):
            settlement = settlement_of(replace(setup, settling=alone), self.built.layout, self.joint, self.course)
            assert settlement is not None
            found[f"settling.embedding_{kind}"] = settlement.embedding
        return found

    def _embedding(self, values: Mapping[str, Array]) -> Array:
        """How far each port opens (n, S or 1) mm when all faces have embedded."""
        if self.settlement is None:
            return np.zeros((self.joint.n_ports, 1))
        result = self.settlement.embedding[:, None]
        for key, pattern in self.embedding_by_key.items():
            if key in values:
                own = getattr(self.setup.settling, key.removeprefix("settling.embedding_"))
                result = result + pattern[:, None] * (values[key] - own)
        return result

    def _seated(self, values: Mapping[str, Array], torques: ManyTorques, assembly: ManyHeat, count: int) -> ManyStates:
        setup, joint = self.setup, self.joint
        start = loose(joint, count)
        driven = None if self.seat is None else self.seat.solve(start, assembly, torques.driving(joint))
        if setup.seating.mode == "bottomed":
            if driven is None:
                return start
            return replace(driven, shear=torques.driving_shear)
        pitch = setup.stud.thread.pitch
        turns = np.broadcast_to(values.get("seating.back_off", np.array([setup.seating.turns])), (count,))
        lift = turns * pitch
        if setup.seating.counted_from == "driven seat" and driven is not None:
            lift = lift - driven.travels["stud"] - torques.wind_up_turns * pitch
        # nothing touches: no force before the nut is on; a wedge that is only partly relieved is solved alone
        solved = (lift >= 0.0) if driven is None else driven.solved & (lift >= 0.0)
        return replace(start, travels={**start.travels, "stud": -lift}, solved=solved)

    def _tightened(
        self, seated: ManyStates, torques: ManyTorques, assembly: ManyHeat, springs: ManySprings | None
    ) -> ManyStates:
        """The nut turned on in one step, which leaves what many leave, but where a spring with friction goes flat.

        There the rest of the way is stuck within its loop, and what is left depends on where it began: the steps of
        `history.stages` are taken.
        """
        turned = torques.turning(self.joint)
        state = self.tighten[-1].solve(seated, assembly, turned, shear=torques.shear, springs=springs)
        spring = next((j for j in self.built.layout.joinings if j.spring is not None), None)
        if spring is None or spring.spring is None:
            return state
        flat = spring.spring.series * (spring.spring.cone_height if springs is None else springs.cone)
        if not np.any(-state.openings[self.joint.slices[spring.name]] >= flat):
            return state
        state = seated
        for step, moment in enumerate(self.tighten):
            share = (step + 1) / len(self.tighten)
            part = replace(turned, target=share * turned.target)
            state = moment.solve(state, assembly, part, shear=share * torques.shear, springs=springs)
        return state

    def _temperatures(self, values: Mapping[str, Array], count: int) -> Array | None:
        """Node temperatures (t, S, nodes) degC; None where no sample differs from the setup."""
        history = self.whole
        cold = history.assembly_temperature
        moved = [name for name in values if name.startswith("history.")]
        if not moved:
            return None
        points = np.asarray(history.temperatures, dtype=float)[:, :, None]  # nodes, points, 1
        away = points != cold
        for name in moved:
            parts = name.split(".")
            mine = np.array([len(parts) == 2 or node == ".".join(parts[1:-1]) for node in history.node_names])
            value = values[name]
            if parts[-1] == "offset":
                points = points + (away & mine[:, None, None]) * value
            else:
                points = np.where(away & mine[:, None, None], cold + value * (points - cold), points)
        points = np.broadcast_to(points, (*points.shape[:2], count))
        return np.asarray(np.einsum("pt,nps->tsn", self.in_time, points, optimize=True))

    def _heat(self, temperatures: Array, values: Mapping[str, Array]) -> ManyHeat:
        """Thermal states of samples at node temperatures (S, nodes), as `history.heat` makes one."""
        joint, model = self.joint, self.model
        gap = grown(self.built, values, model.gap_changes(temperatures).T)
        softness = np.ones((len(joint.bodies), len(temperatures)))
        tension, of_boss = np.zeros(len(temperatures)), None
        assert joint.shank is not None
        for index, body in enumerate(model.bodies):
            places = temperatures @ body.mode_weights.T
            strain = np.asarray(body.material.thermal_strain(places, model.assembly_temperature)).T
            gap = gap + joint.strain_response[index][:, : len(strain)] @ strain
            mean = places[:, [0, -1]].mean(axis=1) if places.shape[1] == 3 else places.mean(axis=1)
            curve = body.material.youngs_modulus
            softness[index] = float(curve.at(REFERENCE_TEMPERATURE)) / np.asarray(curve.at(mean))
            if joint.bodies[index].name == "boss":
                of_boss = strain
            if index == joint.shank[0]:
                rows = joint.bodies[index].tension
                assert rows is not None
                tension = (rows[1][: len(strain)] @ strain) / softness[index]
        return ManyHeat(gap, softness, tension, model.yield_strengths(temperatures), of_boss)

    @staticmethod
    def _creep(settlement: Settlement, state: ManyStates, crept: Array, before: float, now: float) -> Array:
        """As `history.settling`, for all samples."""
        if not settlement.creeping or now <= HOUR:
            return crept
        tenfolds = float(np.log10(now / max(before, HOUR)))
        result = np.array(np.broadcast_to(crept, state.forces.shape))
        for part, curves, areas, lost in settlement.creeping:
            pressure = state.forces[part] / areas[:, None]
            slope = np.interp(pressure, curves.unloading_pressure, curves.unloading_modulus) / curves.thickness
            result[part] += lost * tenfolds * pressure / slope
        return result
