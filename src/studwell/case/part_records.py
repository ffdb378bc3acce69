"""The parts of a joint as plain frozen records in mm, MPa, degC: boss, stud, stack, washers, nut."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from studwell.case.boss_mesh import BossMesh
from studwell.case.insert_record import Insert
from studwell.case.service_records import LATER
from studwell.parts.gasket import Gasket
from studwell.parts.material import Material
from studwell.parts.thread import Thread


@dataclass(frozen=True)
class Boss:
    """The casting round the hole; z = 0 is the end of the full-diameter hole. Lengths in mm, angle in deg.

    floor_thickness     : what is left under the lowest point of the hole
    hole_end            : "flat", "cone" or "radiused"; cone_angle is the full angle of the cone, None without one
    corner_radius       : of the fillet between floor and wall; of a radiused end, on which the tip's edge may land
    drill_diameter      : of the hole before tapping, the thread's minor diameter
    mouth_chamfer       : depth and width of a 45 deg chamfer, 0 if there is none
    counterbore_diameter: None if there is none; counterbore_depth is then 0
    own_mesh            : the user's own mesh, None where the dimensions give it
    """

    material: Material
    outer_diameter: float
    hole_depth: float
    thread_depth: float
    floor_thickness: float
    hole_end: str
    cone_angle: float | None
    corner_radius: float
    mouth_chamfer: float
    counterbore_diameter: float | None
    counterbore_depth: float
    drill_diameter: float
    insert: Insert | None
    own_mesh: BossMesh | None = field(default=None, metadata=LATER)

    @property
    def cone_depth(self) -> float:
        """Depth of the drill cone below z = 0, mm; 0 for a flat end."""
        return self.depth_on_cone(0.0)

    def depth_on_cone(self, radius: float) -> float:
        """Depth below z = 0 at which the cone has this radius, mm; 0 for a flat end."""
        if self.cone_angle is None:
            return 0.0
        return (self.drill_diameter / 2 - radius) / math.tan(math.radians(self.cone_angle / 2))

    def end_height(self, radius: float) -> float:
        """Return z of the hole's end at a radius, mm: the floor, the drill cone, or the arc of a radiused end."""
        if self.hole_end != "radiused":
            return -self.depth_on_cone(radius)
        out = min(max(radius - self.drill_diameter / 2 + self.corner_radius, 0.0), self.corner_radius)
        return self.corner_radius - math.sqrt(self.corner_radius**2 - out**2)

    @property
    def height(self) -> float:
        """From the mouth face to the face under the floor, mm."""
        return self.hole_depth + self.cone_depth + self.floor_thickness

    @property
    def mouth_depth(self) -> float:
        """The depth below the mouth face that chamfer, counterbore or insert's set-down take from the thread, mm."""
        return max(self.open_depth, self.insert.set_down if self.insert else 0.0)

    @property
    def insert_ends(self) -> tuple[float, float] | None:
        """z of the lower and upper end of the insert, mm; None without one."""
        return None if self.insert is None else self.insert.ends(self.hole_depth)

    @property
    def open_depth(self) -> float:
        """The depth below the mouth face that chamfer or counterbore take from the hole's own thread, mm."""
        return max(self.mouth_chamfer, self.counterbore_depth)


@dataclass(frozen=True)
class Stud:
    """The stud from its tip upwards, mm. engaged_length: full threads in the boss when the tip is on its seat.

    thread_clearance : of the pitch diameters, for the grooves model; None: the mean of a medium fit
    """

    thread: Thread
    nut_thread: Thread
    property_class: str
    material: Material
    length: float
    boss_thread_length: float
    nut_thread_length: float
    engaged_length: float
    tip_diameter: float
    tip_length: float
    shank: str
    shank_diameter: float
    thread_model: str
    nut_thread_model: str
    thread_clearance: float | None = field(default=None, metadata=LATER)


@dataclass(frozen=True)
class Layer:
    """One layer of the stack, mm; either material or gasket is given, the other is None.

    node : whose temperature it follows; "" where heat is solved and the case names none
    """

    name: str
    thickness: float
    outer_diameter: float
    inner_diameter: float
    node: str
    material: Material | None
    gasket: Gasket | None


@dataclass(frozen=True)
class PlainWasher:
    """A flat washer, mm."""

    inner_diameter: float
    outer_diameter: float
    thickness: float
    material: Material

    @property
    def height(self) -> float:
        """Height between its faces, mm."""
        return self.thickness

    @property
    def least_height(self) -> float:
        """Height when pressed flat, mm."""
        return self.thickness


@dataclass(frozen=True)
class SpringWasher:
    """A group of equal disc or conical spring washers: `parallel` nested in a packet, `series` packets on end.

    cone_height      : travel of one washer to flat (h0), mm; cone_height_min, cone_height_max: its band
    orientation      : "crown up" (the small end towards the nut) or "crown down", of the lowest packet
    edge_friction    : share of the force lost at the edges, -
    surface_friction : share of the force lost at each face between nested washers, -
    """

    name: str
    inner_diameter: float
    outer_diameter: float
    thickness: float
    cone_height: float
    cone_height_min: float
    cone_height_max: float
    parallel: int
    series: int
    orientation: str
    edge_friction: float
    surface_friction: float
    material: Material

    @property
    def friction(self) -> float:
        """Share of the group's force that friction takes, -; DIN 2092 / EN 16984: w_R + (n - 1) w_M."""
        return self.edge_friction + (self.parallel - 1) * self.surface_friction

    @property
    def height(self) -> float:
        """Free height of the group, mm."""
        return self.series * (self.cone_height + self.parallel * self.thickness)

    @property
    def least_height(self) -> float:
        """Height of the group when flat, mm."""
        return self.series * self.parallel * self.thickness


@dataclass(frozen=True)
class Nut:
    """The nut, mm.

    height                 : of the hexagon; overall_height with the dome, the same for a hex nut
    bearing_diameter       : outside of the bearing face; bearing_inner_diameter its inside
    usable_thread_depth    : a stud end further in than this meets the dome; the height for a hex nut
    """

    kind: str
    thread: Thread
    height: float
    overall_height: float
    bearing_diameter: float
    bearing_inner_diameter: float
    width_across_flats: float
    usable_thread_depth: float
    material: Material
