"""A case as plain frozen records in N, mm, MPa, degC, s: what every later room reads."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from studwell.case.boss_mesh import BossMesh
from studwell.case.bounds_record import Bounds
from studwell.case.crack import Crack
from studwell.case.insert_record import Insert
from studwell.case.part_records import Boss, Layer, Nut, PlainWasher, SpringWasher, Stud
from studwell.case.review import Review
from studwell.case.service_records import (
    LATER,
    History,
    Inelastic,
    Phase,
    Retighten,
    Settling,
    Thermal,
    ThermalSurface,
)
from studwell.case.spread_record import Spread
from studwell.case.workshop_records import Repair, Threadlocker
from studwell.parts.fluid import Fluid

__all__ = [
    "Boss",
    "BossMesh",
    "Case",
    "Crack",
    "CylinderPressure",
    "History",
    "Inelastic",
    "Insert",
    "Layer",
    "Limits",
    "Nut",
    "Phase",
    "PlainWasher",
    "Pocket",
    "Repair",
    "Retighten",
    "Seating",
    "Settling",
    "Setup",
    "SpringWasher",
    "Stud",
    "Thermal",
    "ThermalSurface",
    "Threadlocker",
    "Tightening",
]


@dataclass(frozen=True)
class Seating:
    """How the stud was put in. Torques N mm; turns counted from `counted_from`, 0 when bottomed."""

    mode: str
    torque: float | None
    turns: float
    counted_from: str
    thread_friction: float
    tip_friction: float
    seat: str
    lock_torque: float
    threadlocker: Threadlocker | None = field(default=None, metadata=LATER)


@dataclass(frozen=True)
class Tightening:
    """How the nut was tightened: torque N mm or preload N, the other None; nut_factor None: the long form."""

    torque: float | None
    preload: float | None
    thread_friction: float
    bearing_friction: float
    nut_factor: float | None
    locked_torsion_share: float


@dataclass(frozen=True)
class Limits:
    """What the joint must keep: clamp N, gasket pressure MPa; None where the user sets none."""

    minimum_clamp: float | None
    minimum_gasket_pressure: float | None


@dataclass(frozen=True)
class CylinderPressure:
    """Cylinder pressure, MPa, on a bore, mm."""

    peak: float
    bore: float


@dataclass(frozen=True)
class Pocket:
    """The closed space under the tip: "empty", "vented", or what liquid is in it.

    fill      : share of the pocket's volume that the liquid takes at no pressure and the assembly temperature
    fill_at   : "first contact" (of the tip with its seat, by hand) or "as fitted" (filled again once the stud stands)
    seal      : "sealed", "leaking" or "vented"; leak_time: s in which a rigid pocket would lose its pressure to 1 / e
    fluid     : None where there is no liquid
    """

    contents: str
    fill: float = field(default=0.0, metadata=LATER)
    fill_at: str = field(default="", metadata=LATER)
    seal: str = field(default="", metadata=LATER)
    leak_time: float | None = field(default=None, metadata=LATER)
    fluid: Fluid | None = field(default=None, metadata=LATER)

    @property
    def filled(self) -> bool:
        """True if a liquid is shut in, so that it may push."""
        return self.fluid is not None and self.seal != "vented"


@dataclass(frozen=True)
class Setup:
    """One way of fitting the joint, complete."""

    name: str
    boss: Boss
    stud: Stud
    stack: tuple[Layer, ...]
    washers: tuple[PlainWasher | SpringWasher, ...]
    nut: Nut
    seating: Seating
    tightening: Tightening
    history: History
    limits: Limits
    pressure: CylinderPressure | None
    pocket: Pocket
    n_studs: int
    thermal: Thermal | None = field(default=None, metadata=LATER)
    settling: Settling | None = field(default=None, metadata=LATER)
    retighten: Retighten | None = field(default=None, metadata=LATER)
    inelastic: Inelastic | None = field(default=None, metadata=LATER)
    repair: Repair | None = field(default=None, metadata=LATER)
    crack: Crack | None = field(default=None, metadata=LATER)
    review: Review | None = field(default=None, metadata=LATER)

    @property
    def tip_seat_z(self) -> float:
        """z of the tip when it rests on the floor, or with its edge on the drill cone or the radius of the end, mm."""
        return self.boss.end_height(self.stud.tip_diameter / 2)

    @property
    def tip_gap(self) -> float:
        """Distance that the turns lift the stud off its seat, mm; 0 when bottomed."""
        return self.seating.turns * self.stud.thread.pitch

    @property
    def tip_z(self) -> float:
        """z of the tip as fitted, mm, the drive's elastic approach left out."""
        return self.tip_seat_z + self.tip_gap

    @property
    def engaged_thread(self) -> float:
        """Engaged thread in the boss (or what stands in its insert) as fitted, mm: less what the turns lift; the drive's
        elastic approach left out."""
        first = self.tip_seat_z + self.stud.tip_length
        bottom, top = self.boss.insert_ends or (-math.inf, math.inf)
        return max(min(first + self.stud.engaged_length, top) - max(first + self.tip_gap, bottom), 0.0)

    @property
    def stud_top_z(self) -> float:
        """z of the stud's upper end as fitted, mm."""
        return self.tip_z + self.stud.length

    @property
    def stack_top_z(self) -> float:
        """z of the face on which the washers lie, before tightening, mm."""
        return self.boss.hole_depth + sum(layer.thickness for layer in self.stack)

    @property
    def nut_face_z(self) -> float:
        """z of the nut's bearing face with the washers free, mm."""
        return self.stack_top_z + sum(washer.height for washer in self.washers)

    @property
    def nut_face_least_z(self) -> float:
        """z of the nut's bearing face with the washers pressed flat, mm."""
        return self.stack_top_z + sum(washer.least_height for washer in self.washers)

    @property
    def protrusion(self) -> float:
        """Length of stud above the nut's bearing face with the washers free, mm."""
        return self.stud_top_z - self.nut_face_z

    @property
    def springs(self) -> tuple[SpringWasher, ...]:
        """The spring washers among the washers."""
        return tuple(washer for washer in self.washers if isinstance(washer, SpringWasher))


@dataclass(frozen=True)
class Case:
    """A case file, read and checked."""

    file: str
    title: str
    notes: str
    units: str
    setups: tuple[Setup, ...]
    spread: Spread | None = field(default=None, metadata=LATER)
    bounds: Bounds | None = field(default=None, metadata=LATER)

    def setup(self, name: str) -> Setup:
        """Return the setup of this name. Raises KeyError: no such setup."""
        for setup in self.setups:
            if setup.name == name:
                return setup
        raise KeyError(f"no setup {name}; setups: {', '.join(setup.name for setup in self.setups)}")
