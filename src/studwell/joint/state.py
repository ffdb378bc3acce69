"""One instant of a joint: its heat, its forces and openings, and the record of how it was found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from studwell.fem.plastic_laws import PointState
from studwell.joint.reduced import ReducedJoint

Array = np.ndarray

LAST_SHOWN = 3
"""Residuals that the message on a state that was not found names."""


@dataclass(frozen=True)
class Heat:
    """Thermal state of every body at one instant.

    amplitudes    : per body (thermal modes,) free thermal strain of each mode relative to assembly, -
    modulus_ratio : (B,) E(T) / E at the reference temperature
    stud_yield    : MPa, yield strength of the stud's weakest length at its temperature
    gap_change    : (n,) mm by which parts without a mesh (gaskets, flat springs) open or close a port's gap; None: 0
    zones         : body -> degC at the points of its zone that may flow, a number or (P,)
    pocket        : degC of the liquid under the tip, None without one
    """

    amplitudes: tuple[Array, ...]
    modulus_ratio: Array
    stud_yield: float
    gap_change: Array | None = None
    zones: Mapping[str, Any] = field(default_factory=dict, repr=False)
    pocket: float | None = None


@dataclass(frozen=True)
class StrainEffect:
    """What an inelastic strain of a zone does at no force: openings (m,) mm at the body's columns, and the stress (P, 4)
    MPa at the reference modulus that it leaves in the zone."""

    openings: Array = field(repr=False)
    self_stress: Array = field(repr=False)


@dataclass(frozen=True)
class Flow:
    """What the bodies that may flow and creep have been through by one instant; body -> value in each.

    zones        : PointState of the zone's points; empty where only what follows is kept
    strain       : (P, 4) inelastic strain;  elements: (Z,) of the zone, numbers in the body's mesh
    plastic      : largest accumulated equivalent plastic strain;  where: (2,) mm, its point
    added_stress : place of the body's stress maps -> (places, 4) MPa to add to what port forces make
    rim          : largest accumulated equivalent plastic strain at the zone's edge to the elastic rest; 0 without a rest
    iterations   : of the step that led here
    effects      : of the strain, where it is known already; empty where only what is above is kept
    """

    zones: Mapping[str, PointState] = field(repr=False)
    strain: Mapping[str, Array] = field(repr=False)
    elements: Mapping[str, Array] = field(repr=False)
    plastic: Mapping[str, float]
    where: Mapping[str, Array] = field(repr=False)
    added_stress: Mapping[str, Mapping[str, Array]] = field(repr=False)
    rim: Mapping[str, float] = field(default_factory=dict)
    iterations: int = 0
    effects: Mapping[str, StrainEffect] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class SolveRecord:
    """How one state was found: iterations, final residual (N), and the residual after each iteration.

    where : what the final residual belongs to where no state was found: an interface, a balance; "": not told
    """

    iterations: int
    residual: float
    residuals: tuple[float, ...]
    halvings: int = 0
    where: str = ""

    @property
    def words(self) -> str:
        """What is left after how many steps, and where: the end of a message on a state that was not found."""
        last = ", ".join(f"{value:.2g}" for value in self.residuals[-LAST_SHOWN:])
        at = f" at {self.where}" if self.where else ""
        return f" ({self.iterations} iterations; {self.residual:.2g} N is left{at}{f'; last {last} N' if last else ''})"


@dataclass(frozen=True)
class JointState:
    """Forces (n,) N and openings (n,) mm at the ports, shifts (B,) mm of floating bodies, travels of the screws (mm),
    plastic stretch (mm) of the shank, law states, and the loads that belong to them; flow: None if all is elastic."""

    forces: Array
    openings: Array
    shifts: Array
    travels: Mapping[str, float]
    stretch: float
    law_states: tuple[Any, ...]
    heat: Heat
    outside_load: float
    shear: float
    absent: frozenset[str]
    record: SolveRecord = field(compare=False)
    flow: Flow | None = field(default=None, compare=False, repr=False)


def start_state(joint: ReducedJoint, heat: Heat, absent: frozenset[str] = frozenset()) -> JointState:
    """Return the loose joint: no force anywhere, gaps as drawn."""
    return JointState(
        forces=np.zeros(joint.n_ports),
        openings=joint.gap.copy(),
        shifts=np.zeros(len(joint.bodies)),
        travels=dict.fromkeys(joint.travels, 0.0),
        stretch=0.0,
        law_states=tuple(face.law.start(face.count) for face in joint.interfaces),
        heat=heat,
        outside_load=0.0,
        shear=0.0,
        absent=absent,
        record=SolveRecord(0, 0.0, ()),
    )


def mode_amplitudes(joint: ReducedJoint, body: int, state_heat: Heat, stretch: float) -> Array:
    """Return all mode amplitudes (k,) of a body: thermal ones, then the shank's plastic strain if it is its body."""
    amplitudes = np.zeros(joint.bodies[body].n_modes)
    thermal = state_heat.amplitudes[body]
    amplitudes[: len(thermal)] = thermal
    if joint.shank is not None and joint.shank[0] == body:
        amplitudes[joint.shank[1]] = stretch / joint.shank[2].length
    return amplitudes


def shank_tension(joint: ReducedJoint, state: JointState) -> float:
    """Return the stud's tension S (N) from the stress in a section of its body, not from any other force."""
    for index, body in enumerate(joint.bodies):
        if body.tension is not None:
            force_row, strain_row = body.tension
            columns = joint.column_forces(index, state.forces, state.outside_load)
            amplitudes = mode_amplitudes(joint, index, state.heat, state.stretch)
            ratio = float(state.heat.modulus_ratio[index])
            return float(force_row @ columns + ratio * (strain_row @ amplitudes))
    raise ValueError("no body of this joint has a tension section")
