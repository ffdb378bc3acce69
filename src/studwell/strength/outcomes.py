"""What a history did: extremes of forces, gap, stresses and washer travel, each with its moment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.joint.interfaces import spring_flat_loads
from studwell.strength.floor import (
    NO_WEDGE,
    PUNCH_REASON,
    TANG_REASON,
    UNDERSIDE_REASON,
    floor_punch,
    floor_split,
    wedge_hoop,
)
from studwell.strength.floor import floor_stress as floor_stress
from studwell.strength.insert import NO_INSERT, pitch_share
from studwell.strength.timeline import Timeline

Array = np.ndarray

TIP_SEAT = "the tip is the seat of a driven stud in this setup: see tip_force"

ELASTIC_REASON = "the boss is elastic in this setup: it has no [inelastic] table"

ELASTIC_BOSS = "the boss is elastic in this setup: [inelastic] gives no zone"

ELASTIC_LAYERS = "the layers are elastic in this setup: [inelastic] layers names none"

FLOOR_REASON = (
    'the boss mesh of the case has no regions "fillet floor side" and "fillet wall side" over which to average'
)


@dataclass(frozen=True)
class Outcome:
    """One quantity: value (None if unknown), unit, the moment, and the reason when unknown or not applicable.

    absent : there is no such quantity, because the setup lacks the part that it belongs to
    """

    value: float | None
    unit: str
    when: str = ""
    time: float | None = None
    index: int | None = None
    reason: str = ""
    absent: bool = False


SAME = 1e-7
"""Values that differ by less, relative to the larger of 1 and their size, are the same."""

Outcomes = dict[str, Outcome]


def outcomes_of(built: BuiltJoint, timeline: Timeline, elastic_tip: Array | None = None) -> Outcomes:
    """Return all outcomes by name: forces in N, lengths in mm, stresses in MPa.

    clamp_* over the assembled joint and its run (with cylinder pressure where given); tip, thread and floor over
    seating and tightening too. floor_stress: first principal stress of the stress averaged over the stated bands.
    floor_punch: mean shear through the floor at the tip's edge; floor_split: first principal on the underside; seat_hoop:
    hoop stress averaged in bands round an incomplete thread that wedges.

    elastic_tip : (states,) N, tip force of the same history with an elastic boss; None if the boss is elastic
    """
    forces = timeline.forces
    everything = np.arange(len(timeline.states))
    after = everything[timeline.assembled :]
    result: Outcomes = {}

    def extreme(name: str, values: Array, among: Array, pick: Literal["max", "min"], unit: str) -> None:
        best = values[among].max() if pick == "max" else values[among].min()
        # the first of the moments that rounding alone tells apart, as those of equal cycles
        chosen = among[int(np.argmax(np.abs(values[among] - best) <= SAME * max(1.0, abs(best))))]
        result[name] = _at(timeline, float(values[chosen]), int(chosen), unit)

    def moment(name: str, values: Array, index: int, unit: str = "N") -> None:
        result[name] = _at(timeline, float(values[index]), index, unit)

    moment("preload", forces.tension, timeline.assembled - 1)
    moment("clamp_assembled", forces.clamp, timeline.assembled)
    extreme("clamp_max", forces.clamp, after, "max", "N")
    extreme("clamp_min", forces.clamp, after, "min", "N")
    moment("clamp_end", forces.clamp, int(timeline.run[-1]))
    extreme("stud_tension_max", forces.tension, everything, "max", "N")
    moment("tip_force_assembled", forces.tip, timeline.assembled)
    extreme("tip_force_max", forces.tip, everything, "max", "N")
    extreme("thread_load_max", forces.thread, everything, "max", "N")
    gaps = tip_gaps(built, timeline)
    extreme("tip_gap_min", gaps, after, "min", "mm")

    corner = floor_stress(built, timeline)
    if corner is None:
        result["floor_stress_max"] = Outcome(None, "MPa", reason=FLOOR_REASON)
    else:
        extreme("floor_stress_max", corner, everything, "max", "MPa")
    for name, values, reason in (
        ("floor_punch_max", floor_punch(built, timeline), PUNCH_REASON),
        ("floor_split_max", floor_split(built, timeline), UNDERSIDE_REASON),
        ("seat_hoop_max", wedge_hoop(built, timeline), NO_WEDGE if built.seat.by_tip else TANG_REASON),
    ):
        result[name] = Outcome(None, "MPa", reason=reason, absent=reason == NO_WEDGE)
        if values is not None:
            extreme(name, values, everything, "max", "MPa")
    if built.seat.by_tip:
        result |= dict.fromkeys(
            ("seat_force_assembled", "seat_force_max"), Outcome(None, "N", reason=TIP_SEAT, absent=True)
        )
    else:
        moment("seat_force_assembled", forces.seat, timeline.assembled)
        extreme("seat_force_max", forces.seat, everything, "max", "N")

    shares = pitch_share(built, timeline)
    if shares is None:
        result["insert_load_max"] = Outcome(None, "N", reason=NO_INSERT, absent=True)
        result["insert_pitch_share_max"] = Outcome(None, "", reason=NO_INSERT, absent=True)
    else:
        extreme("insert_load_max", forces.insert, everything, "max", "N")
        extreme("insert_pitch_share_max", shares, after, "max", "")

    springs = built.setup.springs
    if springs:
        face = next(j.name for j in built.layout.joinings if j.kind == "spring")
        flat = spring_flat_loads(built.joint, springs[0], face, timeline.states)
        load = built.joint.axial_load(face, np.stack([s.forces for s in timeline.states]))
        extreme("washer_flat_share_max", load / flat, after, "max", "")
        travel = -np.array([s.openings[built.joint.slices[face]][0] for s in timeline.states])
        extreme("washer_travel_max", travel, after, "max", "mm")
    else:
        result["washer_flat_share_max"] = Outcome(None, "", reason="no spring washer in this setup", absent=True)
        result["washer_travel_max"] = Outcome(None, "mm", reason="no spring washer in this setup", absent=True)
    stretch = np.array([s.stretch for s in timeline.states])
    extreme("stud_stretch_max", stretch, everything, "max", "mm")
    if elastic_tip is None:
        result["wedge_force_lost"] = Outcome(None, "N", reason=ELASTIC_REASON, absent=True)
    else:
        extreme("wedge_force_lost", np.maximum(elastic_tip - forces.tip, 0.0), everything, "max", "N")
    found = plastic_strains(timeline)
    table = built.setup.inelastic is not None
    elastic = Outcome(None, "", reason=ELASTIC_BOSS if table else ELASTIC_REASON, absent=True)
    result["floor_plastic_strain_max"] = found.pop("boss", elastic)
    elastic = Outcome(None, "", reason=ELASTIC_LAYERS, absent=True)
    layer = max(found.values(), key=lambda one: one.value or 0.0, default=elastic)
    result["layer_plastic_strain_max"] = layer
    return result


def plastic_strains(timeline: Timeline) -> dict[str, Outcome]:
    """Return the largest accumulated equivalent plastic strain of every body that may flow, by its name.

    The reason of each says where; empty if all is elastic.
    """
    first = timeline.states[0].flow
    result = {}
    for name in () if first is None else first.plastic:
        flows = [state.flow for state in timeline.states]
        strain = np.array([0.0 if flow is None else flow.plastic[name] for flow in flows])
        index = int(np.argmax(strain >= strain.max() - SAME))
        outcome = _at(timeline, float(strain.max()), index, "")
        flow = flows[index]
        if outcome.value and flow is not None:
            r, z = flow.where[name]
            what = "equivalent" if name == "boss" else f"equivalent, in the layer {name}"
            outcome = replace(outcome, reason=f"{what}, at r {r:.2f} mm, z {z:.2f} mm")
        result[name] = outcome
    return result


def _at(timeline: Timeline, value: float, index: int, unit: str) -> Outcome:
    return Outcome(value, unit, timeline.when(index), float(timeline.times[index]), index)


def tip_gaps(built: BuiltJoint, timeline: Timeline) -> Array:
    """Return the smallest axial gap (states,) mm under the tip; 0 where it is closed."""
    part = built.joint.slices["tip"]
    count = int(np.count_nonzero(built.joint.interface("tip").axial > 0.0))
    openings = np.stack([s.openings[part][:count] for s in timeline.states])
    return np.maximum(openings.min(axis=1), 0.0) / np.cos(built.layout.cone_slope)
