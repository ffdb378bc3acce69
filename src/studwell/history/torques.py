"""Torques of seating and tightening as sums over port forces: pitch, thread friction, bearing, tip and dome."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.case.records import Setup
from studwell.joint.reduced import ReducedJoint
from studwell.parts.thread import pitch_diameter, root_diameter
from studwell.parts.threadlocker import bond_torque
from studwell.parts.torque import (
    bearing_torque_factor,
    cone_tip_torque_factor,
    flat_tip_torque_factor,
    hold_share,
    mean_bearing_diameter,
    thread_torque_factor,
)
from studwell.parts.torsion import torsion_stress, wind_up
from studwell.section.layout import Layout
from studwell.section.seat import TANG

Array = np.ndarray


@dataclass(frozen=True)
class Torques:
    """Torque per newton at each rubbing surface, mm (N mm per N), and what the wrench must reach.

    boss_thread, tip, seat   : for driving the stud; seat is that of another seat than the tip, 0 without one
    nut_thread, bearing, dome: for turning the nut
    target                   : N mm, or N when a preload is asked for
    by_preload               : True if the target is the bearing force itself
    stress_diameter          : mm, of the stud's weakest length, for its torsion
    """

    boss_thread: float
    tip: float
    nut_thread: float
    bearing: float
    dome: float
    target: float
    by_preload: bool
    nut_factor_lever: float | None
    stress_diameter: float
    wind_up_per_torque: float
    lock_torque: float
    seat: float = 0.0

    def seating_coefficients(self, joint: ReducedJoint) -> Array:
        """(n,) torque on the driven stud of each port's force: long form with all three friction terms."""
        coefficients = np.zeros(joint.n_ports)
        coefficients[joint.slices["boss thread"]] = self.boss_thread * joint.interface("boss thread").axial
        coefficients[joint.slices["tip"]] = self.tip * joint.interface("tip").axial
        if joint.has("seat"):
            coefficients[joint.slices["seat"]] = self.seat * joint.interface("seat").axial
        return coefficients

    def tightening_control(self, joint: ReducedJoint) -> tuple[Array, float]:
        """(n,) coefficients of the nut's control and its target: torque by the long or short form, or a preload."""
        coefficients = np.zeros(joint.n_ports)
        last = [face.name for face in joint.interfaces if face.name.startswith("face ")][-1]
        bearing, thread = joint.slices[last], joint.slices["nut thread"]
        if self.by_preload:
            coefficients[thread] = joint.interface("nut thread").axial
            return coefficients, self.target
        if self.nut_factor_lever is not None:
            coefficients[thread] = self.nut_factor_lever * joint.interface("nut thread").axial
            return coefficients, self.target
        coefficients[thread] = self.nut_thread * joint.interface("nut thread").axial
        coefficients[bearing] = self.bearing * joint.interface(last).axial
        if joint.has("dome"):
            coefficients[joint.slices["dome"]] = self.dome * joint.interface("dome").axial
        return coefficients, self.target

    def thread_torque_while_tightening(self, share: float) -> float:
        """Torque (N mm) that the nut's thread sends down the stud at a share of the target."""
        force = self.target * share
        if not self.by_preload:
            force /= self.nut_factor_lever if self.nut_factor_lever is not None else self.nut_thread + self.bearing
        return self.nut_thread * force

    def torsion(self, torque: float) -> float:
        """Torsional stress (MPa) of a torque (N mm) in the stud's weakest length."""
        return float(torsion_stress(torque, self.stress_diameter))

    def shear_while_tightening(self, share: float) -> float:
        """Torsional stress (MPa) in the stud's weakest length at a share of the target."""
        return self.torsion(self.thread_torque_while_tightening(share))

    def wind_up_turns(self, torque: float) -> float:
        """Turns of twist between mouth and mid engagement under a drive torque (N mm)."""
        return torque * self.wind_up_per_torque

    def hold_ratio(self, nut_thread: Array, tip: Array, thread: Array, seat: Array | float = 0.0) -> Array:
        """Torque down the stud over the torque that holds it against turning on into the hole, (t,).

        nut_thread, tip, thread, seat : (t,) N, forces while tightening
        The boss thread (with thread load L = S + W + seat), tip and seat and the threadlocker hold. Above 1 the stud turns
        with the nut. Source: the long form of the torque applied to both threads.
        """
        loads = [np.where(np.abs(load) < 1e-6, 0.0, load) for load in (nut_thread, thread, tip, seat)]
        rubbing = loads[2] * self.tip + loads[3] * self.seat
        return hold_share(loads[0], self.nut_thread, loads[1], self.boss_thread, rubbing, 1.0, self.lock_torque)


def lock_torque(setup: Setup, temperature: float) -> float:
    """Return the torque that breaks the lock of the boss thread, N mm: as given, or a cured threadlocker's at a
    temperature, degC.

    Source: the case, or parts.threadlocker.bond_torque.
    """
    lock = setup.seating.threadlocker
    if lock is None or not lock.cured:
        return setup.seating.lock_torque
    strength = lock.grade.shear_strength.at(temperature)
    return float(bond_torque(setup.stud.thread, setup.engaged_thread, strength, lock.fill))


def torques_of(setup: Setup, layout: Layout) -> Torques:
    """Return all torque factors of a setup.

    Source: Motosh 1976 (long form); solid pivot and cone clutch for tip and seat, Shigley ch. 16.
    """
    stud, seating, tightening = setup.stud, setup.seating, setup.tightening
    d2 = float(pitch_diameter(stud.thread.nominal_diameter, stud.thread.pitch))
    d2_nut = float(pitch_diameter(stud.nut_thread.nominal_diameter, stud.nut_thread.pitch))
    tip_radius = 0.5 * stud.tip_diameter
    if layout.cone_slope:
        contact = tip_radius - 0.5 * (tip_radius - layout.stud.tip_contact_from)
        tip = cone_tip_torque_factor(contact, np.pi / 2 - layout.cone_slope, seating.tip_friction)
    else:
        tip = flat_tip_torque_factor(tip_radius, seating.tip_friction)
    seat = 0.0
    if layout.wedge is not None:
        seat = float(cone_tip_torque_factor(layout.wedge.radius, layout.wedge.half_angle, seating.thread_friction))
    elif seating.seat == TANG:
        seat = float(flat_tip_torque_factor(tip_radius, seating.tip_friction))
    last = layout.joinings[-1]
    ring = mean_bearing_diameter(2.0 * last.upper_outer, 2.0 * last.upper_inner)
    top_radius = layout.nut.roof_contact
    root = float(root_diameter(stud.thread.nominal_diameter, stud.thread.pitch))
    modulus = float(stud.material.youngs_modulus.at(20.0))
    shear_modulus = modulus / (2.0 * (1.0 + stud.material.poisson))
    by_preload = tightening.torque is None
    lever = None
    if tightening.nut_factor is not None and not by_preload:
        lever = tightening.nut_factor * stud.nut_thread.nominal_diameter
    return Torques(
        boss_thread=float(thread_torque_factor(stud.thread.pitch, d2, seating.thread_friction)),
        tip=float(tip),
        nut_thread=float(thread_torque_factor(stud.nut_thread.pitch, d2_nut, tightening.thread_friction)),
        bearing=float(bearing_torque_factor(ring, tightening.bearing_friction)),
        dome=float(flat_tip_torque_factor(top_radius, tightening.bearing_friction)) if top_radius else 0.0,
        target=float(tightening.preload if by_preload else tightening.torque),  # type: ignore[arg-type]
        by_preload=by_preload,
        nut_factor_lever=lever,
        stress_diameter=float(np.sqrt(4.0 * layout.stretch_area / np.pi)),
        wind_up_per_torque=float(wind_up(1.0, 0.5 * stud.engaged_length, root, shear_modulus)) / (2.0 * np.pi),
        lock_torque=lock_torque(setup, setup.history.assembly_temperature),
        seat=seat,
    )
