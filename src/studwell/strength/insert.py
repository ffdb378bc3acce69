"""Does an insert stay in its hole when its stud turns."""

from __future__ import annotations

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.joint.forces import LEAST_FORCE
from studwell.parts.insert import insert_hole
from studwell.parts.thread import basic_internal_shear_area, pitch_diameter
from studwell.parts.torque import thread_torque_factor
from studwell.section.insert import insert_pitch_diameter
from studwell.strength.margin import Margin, absent_margin, unknown_margin
from studwell.strength.strip import pitch_loads
from studwell.strength.timeline import Timeline

Array = np.ndarray

MODE = "insert turning"
NO_INSERT = "the hole has no insert"


def insert_turning(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Torque that the stud's thread puts on the insert over the torque that holds the insert in its hole.

    Under a thread load both grow with it: L (r2 mu / cos 30 + P / 2 pi) when driven in, - P / 2 pi when turned out, with
    the pitch radius and friction of either thread. What grips the insert beside that, its coils wound smaller than the
    hole, is left out: no source says how much it holds, and with no load it is all that holds.
    Source: the long form of the torque (Motosh 1976), for both threads of the insert.
    """
    setup = built.setup
    insert = setup.boss.insert
    if insert is None:
        return absent_margin(MODE, "function", NO_INSERT)
    if insert.hole_friction is None:
        return unknown_margin(
            MODE,
            "function",
            "the friction of the insert in its hole is not given ([boss.insert] hole_friction), and how far its coils, wound "
            "smaller than the hole, grip by themselves has no source here",
        )
    thread = setup.stud.thread
    inner = float(pitch_diameter(thread.nominal_diameter, thread.pitch)), setup.seating.thread_friction
    outer = insert_pitch_diameter(setup), insert.hole_friction
    worst = int(np.argmax(timeline.forces.thread))
    load = float(timeline.forces.thread[worst])
    method = "stud's thread against the insert's in its hole, long form; the grip of the coils themselves left out"
    cases = []
    for direction, pitch in (("driven in", thread.pitch), ("turned out", -thread.pitch)):
        torque, holds = (_factor(pitch, *each) * load for each in (inner, outer))
        cases.append((_ratio(torque, holds), torque, holds, direction))
    value, torque, holds, direction = max(cases, key=lambda case: case[0])
    return Margin(
        MODE,
        "function",
        value,
        load=torque,
        capacity=max(holds, 0.0),
        unit="N mm",
        when=timeline.when(worst),
        reason=f"worst when {direction}; without load on the thread only the coils' own grip holds, which is not known",
        method=method,
    )


def _factor(pitch: float, diameter: float, friction: float) -> float:
    """Torque per newton of thread load, mm; a pitch below zero is one that is turned out."""
    rubbing = float(thread_torque_factor(abs(pitch), diameter, friction)) - abs(pitch) / (2.0 * np.pi)
    return rubbing + pitch / (2.0 * np.pi)


def _ratio(torque: float, holds: float) -> float:
    if torque <= 0.0:
        return 0.0
    return torque / holds if holds > 0.0 else float("inf")


def hole_gain(built: BuiltJoint) -> float:
    """Return how much more of the boss shears round an insert than round the stud's own thread, per length, 1.

    Source: internal shear areas at basic sizes, FED-STD-H28: their ratio is that of the two major diameters.
    """
    thread = built.setup.stud.thread
    major = insert_hole(thread.nominal_diameter, thread.pitch).major_diameter
    larger, plain = (basic_internal_shear_area(d, thread.pitch, 1.0) for d in (major, thread.nominal_diameter))
    return float(larger / plain)


def pitch_share(built: BuiltJoint, timeline: Timeline) -> Array | None:
    """Return the largest share (states,) of its load that an insert passes to the boss in one pitch.

    None without an insert; 0 where it carries nothing.
    """
    loads = pitch_loads("insert thread", built, timeline, built.setup.stud.thread)
    if loads is None:
        return None
    return np.where(timeline.forces.insert > LEAST_FORCE, loads.shares.max(axis=1), 0.0)
