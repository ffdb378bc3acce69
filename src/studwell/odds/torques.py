"""Torque factors of many samples, each with its own torques and frictions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from studwell.joint.reduced import ReducedJoint
from studwell.odds.many import Turned
from studwell.parts.thread import pitch_diameter
from studwell.parts.torque import hold_share, thread_torque_factor
from studwell.parts.torsion import torsion_stress

if TYPE_CHECKING:
    from studwell.odds.lives import Lives

Array = np.ndarray


@dataclass(frozen=True)
class ManyTorques:
    """Torque per newton (S,) mm at each rubbing surface, targets (S,), shears (S,) MPa, and what holds the stud.

    turning_amounts (g, S) of the groups of ports that resist the nut; drive: target of the seating torque, N mm
    """

    boss_thread: Array = field(repr=False)
    tip: Array = field(repr=False)
    nut_thread: Array = field(repr=False)
    bearing: Array = field(repr=False)
    dome: Array = field(repr=False)
    target: Array = field(repr=False)
    turning_amounts: Array = field(repr=False)
    turning_groups: tuple[str, ...]
    drive: Array = field(repr=False)
    shear: Array = field(repr=False)
    driving_shear: Array = field(repr=False)
    locked: Array = field(repr=False)
    wind_up_turns: Array = field(repr=False)
    lock_torque: Array = field(repr=False)
    by_preload: bool

    def driving(self, joint: ReducedJoint) -> Turned:
        """The stud driven home: torque on it by thread and tip."""
        return Turned("stud", _basis(joint, ("boss thread", "tip")), np.stack([self.boss_thread, self.tip]), self.drive)

    def turning(self, joint: ReducedJoint) -> Turned:
        """The nut turned until the wrench clicks, or the preload is there."""
        return Turned("nut", _basis(joint, self.turning_groups), self.turning_amounts, self.target)

    def hold(self, nut_thread: Array, tip: Array, thread: Array) -> Array:
        """Torque down the stud over what holds it (S,), from forces (S,) N at the end of tightening."""
        loads = [np.where(np.abs(load) < 1e-6, 0.0, load) for load in (nut_thread, thread, tip)]
        return np.asarray(
            hold_share(
                loads[0], self.nut_thread, loads[1], self.boss_thread, loads[2] * self.tip, 1.0, self.lock_torque
            )
        )


def _basis(joint: ReducedJoint, groups: tuple[str, ...]) -> Array:
    basis = np.zeros((len(groups), joint.n_ports))
    for row, name in zip(basis, groups, strict=True):
        row[joint.slices[name]] = joint.interface(name).axial
    return basis


def many_torques(lives: Lives, values: Mapping[str, Array], count: int) -> ManyTorques:
    """Return the torque factors of samples; values: key -> (S,).

    Source: as `history.torques`, whose factors are proportional to friction at tip, bearing and dome.
    """
    setup, one = lives.setup, lives.torques
    stud, seating, tightening = setup.stud, setup.seating, setup.tightening

    def sampled(name: str, own: float | None) -> Array:
        return np.broadcast_to(np.asarray(values.get(name, 0.0 if own is None else own), dtype=float), (count,))

    def rubbing(own: float, name: str, friction: float, unit: float) -> Array:
        return unit * sampled(name, friction) if name in values else np.full(count, own)

    d2 = float(pitch_diameter(stud.thread.nominal_diameter, stud.thread.pitch))
    d2_nut = float(pitch_diameter(stud.nut_thread.nominal_diameter, stud.nut_thread.pitch))
    boss = np.asarray(
        thread_torque_factor(stud.thread.pitch, d2, sampled("seating.thread_friction", seating.thread_friction))
    )
    nut = np.asarray(
        thread_torque_factor(
            stud.nut_thread.pitch, d2_nut, sampled("tightening.thread_friction", tightening.thread_friction)
        )
    )
    units = lives.unit_rubbing
    tip = rubbing(one.tip, "seating.tip_friction", seating.tip_friction, units["tip"])
    bearing = rubbing(one.bearing, "tightening.bearing_friction", tightening.bearing_friction, units["bearing"])
    dome = rubbing(one.dome, "tightening.bearing_friction", tightening.bearing_friction, units["dome"])
    joint = lives.joint
    last = [face.name for face in joint.interfaces if face.name.startswith("face ")][-1]
    ones = np.ones(count)
    if one.by_preload:
        target = sampled("tightening.preload", tightening.preload)
        groups: tuple[str, ...] = ("nut thread",)
        amounts, force = ones[None, :], target
    else:
        target = sampled("tightening.torque", tightening.torque)
        if one.nut_factor_lever is not None:
            groups = ("nut thread",)
            lever = sampled("tightening.nut_factor", tightening.nut_factor) * stud.nut_thread.nominal_diameter
            amounts, force = lever[None, :], target / lever
        else:
            groups, amounts = ("nut thread", last), np.stack([nut, bearing])
            if joint.has("dome"):
                groups, amounts = (*groups, "dome"), np.stack([nut, bearing, dome])
            force = target / (nut + bearing)
    drive = sampled("seating.torque", seating.torque)
    return ManyTorques(
        boss_thread=boss,
        tip=tip,
        nut_thread=nut,
        bearing=bearing,
        dome=dome,
        target=target,
        turning_amounts=amounts,
        turning_groups=groups,
        drive=drive,
        shear=np.asarray(torsion_stress(nut * force, one.stress_diameter)),
        driving_shear=np.asarray(torsion_stress(drive, one.stress_diameter)),
        locked=sampled("tightening.locked_torsion_share", tightening.locked_torsion_share),
        wind_up_turns=drive * one.wind_up_per_torque,
        lock_torque=sampled("seating.lock_torque", seating.lock_torque)
        if "seating.lock_torque" in values
        else np.full(count, one.lock_torque),
        by_preload=one.by_preload,
    )
