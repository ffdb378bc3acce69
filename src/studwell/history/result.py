"""What a history returns: how the stud was seated, and every state from there to the end."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.history.course import HeatCourse
from studwell.history.pocket import FilledPocket
from studwell.history.settling import Settlement
from studwell.history.torques import Torques
from studwell.joint.flowing import FlowingBodies
from studwell.joint.forces import CLOSED, Forces
from studwell.joint.state import JointState
from studwell.section.seat import Seat

Array = np.ndarray


@dataclass(frozen=True)
class SeatingResult:
    """What seating the stud left.

    travel          : mm that the stud was screwed beyond first contact (elastic approach); negative: lifted
    drive_torque    : N mm used, None if none
    drive_approach  : mm of elastic approach of a drive before backing off, 0 if none
    wind_up_turns   : turns that the drive's twist would hide from a reading at the stud's top
    drive_wedge     : N, of the seat when driven;  drive_pressure: MPa, of a liquid under the tip then, 0 without one
    """

    travel: float
    drive_torque: float | None
    drive_approach: float
    wind_up_turns: float
    drive_wedge: float
    drive_pressure: float = 0.0

    @property
    def on_liquid(self) -> bool:
        """True if a liquid alone stopped the driven stud: a hydraulic lock, the tip bears on nothing."""
        return self.drive_pressure > 0.0 and self.drive_wedge < CLOSED


@dataclass(frozen=True)
class HistoryResult:
    """One setup's whole history.

    seated, tightening, run : states; tightening ends with the locked nut, run[0] is the assembled state
    times (steps,) s, temperatures (steps, nodes) degC, labels of the history's points by step index
    pressurised : states under cylinder pressure at the same instants, empty without pressure
    refinements : (stage, time, halvings) wherever a step had to be cut
    course, settlement, crept (n,) mm : the heat lived through, how it settles, how far gaskets crept by the end
    retightened : the state after re-tightening, None without; retightened_after: index of the run's state before it
    flowing     : the bodies that may flow, None if all is elastic; warnings: plain sentences about them
    liquid      : what is shut in under the tip, None if nothing is
    """

    seated: JointState
    tightening: tuple[JointState, ...]
    run: tuple[JointState, ...]
    pressurised: tuple[JointState, ...]
    times: Array = field(repr=False)
    temperatures: Array = field(repr=False)
    node_names: tuple[str, ...]
    labels: tuple[tuple[int, str], ...]
    seat: Seat
    seating: SeatingResult
    torques: Torques
    refinements: tuple[tuple[str, float, int], ...]
    seated_forces: Forces = field(repr=False)
    tightening_forces: Forces = field(repr=False)
    run_forces: Forces = field(repr=False)
    pressurised_forces: Forces | None = field(repr=False)
    course: HeatCourse = field(repr=False)
    settlement: Settlement | None = field(repr=False)
    crept: Array = field(repr=False)
    retightened: JointState | None = None
    retightened_after: int | None = None
    flowing: FlowingBodies | None = field(default=None, repr=False)
    warnings: tuple[str, ...] = ()
    liquid: FilledPocket | None = field(default=None, repr=False)
