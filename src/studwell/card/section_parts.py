"""The joint's parts as lines and hatching at a scale: boss, stack, washers, stud and nut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.card.drawing import Area, Line, Shape
from studwell.case.records import Layer, PlainWasher, SpringWasher
from studwell.joint.build import BuiltJoint
from studwell.parts.insert import insert_hole
from studwell.parts.thread import root_diameter
from studwell.study.fitted import Fitted


@dataclass(frozen=True)
class Sheet:
    """Where a part's (r, z) in mm lies on the paper."""

    scale: float
    middle: float
    bottom: float
    low: float

    def at(self, r: float, z: float) -> tuple[float, float]:
        return self.middle + self.scale * r, self.bottom - self.scale * (z - self.low)

    def both_sides(self, outline: list[tuple[float, float]], fill: str, weight: float = 0.25) -> list[Shape]:
        """Areas of an (r, z) outline on both sides of the axis."""
        return [Area(tuple(self.at(side * r, z) for r, z in outline), fill, weight) for side in (1.0, -1.0)]

    def across(self, outline: list[tuple[float, float]], fill: str, weight: float = 0.3) -> Area:
        """One area from an (r, z) outline, from the axis at its lower to the axis at its upper end, and its mirror."""
        right = [self.at(r, z) for r, z in outline]
        left = [self.at(-r, z) for r, z in reversed(outline)]
        return Area((*right, *left), fill, weight)


def boss_shapes(sheet: Sheet, built: BuiltJoint, wide: float) -> list[Shape]:
    """Return the boss with its hole, thread and insert, cut off at the radius `wide`, mm."""
    setup = built.setup
    boss, thread = setup.boss, setup.stud.thread
    drill = 0.5 * boss.drill_diameter
    outer = min(0.5 * boss.outer_diameter, wide)
    mouth = boss.hole_depth
    ends = np.linspace(0.0, 1.0, 13)
    hole = [(drill * float(s), boss.end_height(drill * float(s))) for s in ends]
    if boss.hole_end == "flat":
        turn = np.linspace(0.0, 0.5 * np.pi, 7)
        corner = min(boss.corner_radius, drill)
        hole = [(0.0, 0.0)]
        hole += [(drill - corner + corner * float(np.sin(a)), corner - corner * float(np.cos(a))) for a in turn]
    if boss.counterbore_diameter is not None:
        wall = 0.5 * boss.counterbore_diameter
        rim = [(drill, mouth - boss.counterbore_depth), (wall, mouth - boss.counterbore_depth), (wall, mouth)]
    else:
        rim = [(drill, mouth - boss.mouth_chamfer), (drill + boss.mouth_chamfer, mouth)]
    low = -boss.cone_depth - boss.floor_thickness
    shapes = sheet.both_sides([*hole, *rim, (outer, mouth), (outer, low), (0.0, low)], "hatch", 0.0)
    # the joint between both halves lies on the axis, below the hole: drawn as one outline
    edge = [*hole, *rim, (outer, mouth)]
    for side in (1.0, -1.0):
        shapes.append(Line(tuple(sheet.at(side * r, z) for r, z in edge), 0.3))
        shapes.append(
            Line((sheet.at(side * outer, mouth), sheet.at(side * outer, low)), 0.12, outer < 0.5 * boss.outer_diameter)
        )
    shapes.append(Line((sheet.at(-outer, low), sheet.at(outer, low)), 0.3))
    # the thread of the hole: a thin line at its outside, ISO 6410 (from memory)
    major = 0.5 * thread.nominal_diameter
    if boss.insert is not None:
        major = 0.5 * float(insert_hole(thread.nominal_diameter, thread.pitch).major_diameter)
    start, end = mouth - boss.thread_depth, mouth - boss.open_depth
    for side in (1.0, -1.0):
        shapes.append(Line((sheet.at(side * major, start), sheet.at(side * major, end)), 0.15))
        shapes.append(Line((sheet.at(side * major, start), sheet.at(side * drill, start)), 0.2))
    if boss.insert_ends is not None:
        bottom, top = boss.insert_ends
        inner = 0.5 * thread.nominal_diameter
        shapes += sheet.both_sides([(inner, bottom), (major, bottom), (major, top), (inner, top)], "cross", 0.2)
    return shapes


def pile_shapes(sheet: Sheet, built: BuiltJoint, wide: float) -> list[Shape]:
    """Return stack and washers, cut off at the radius `wide`, mm."""
    setup = built.setup
    shapes: list[Shape] = []
    z = setup.boss.hole_depth
    for number, layer in enumerate(setup.stack):
        shapes += _layer(sheet, layer, z, wide, number)
        z += layer.thickness
    for washer in setup.washers:
        if isinstance(washer, PlainWasher):
            outline = _rectangle(0.5 * washer.inner_diameter, 0.5 * washer.outer_diameter, z, z + washer.thickness)
            shapes += sheet.both_sides(outline, "paper")
        else:
            for outline in spring_outlines(washer, z):
                shapes += sheet.both_sides(outline, "paper", 0.2)
        z += washer.height
    return shapes


def _rectangle(inner: float, outer: float, low: float, high: float) -> list[tuple[float, float]]:
    return [(inner, low), (outer, low), (outer, high), (inner, high)]


def _layer(sheet: Sheet, layer: Layer, z: float, wide: float, number: int) -> list[Shape]:
    outer = min(0.5 * layer.outer_diameter, wide)
    outline = _rectangle(0.5 * layer.inner_diameter, outer, z, z + layer.thickness)
    if layer.gasket is not None:
        return sheet.both_sides(outline, "ink", 0.1)
    fill = "hatch back" if number % 2 == 0 else "hatch"
    if outer == 0.5 * layer.outer_diameter:
        return sheet.both_sides(outline, fill, 0.25)
    shapes = sheet.both_sides(outline, fill, 0.0)
    inner = 0.5 * layer.inner_diameter
    for side in (1.0, -1.0):
        for ends in (((inner, z), (outer, z)), ((inner, z + layer.thickness), (outer, z + layer.thickness))):
            shapes.append(Line(tuple(sheet.at(side * r, height) for r, height in ends), 0.25))
        bore = sheet.at(side * inner, z), sheet.at(side * inner, z + layer.thickness)
        cut = sheet.at(side * outer, z), sheet.at(side * outer, z + layer.thickness)
        shapes += [Line(bore, 0.25), Line(cut, 0.12, dashed=True)]
    return shapes


def spring_outlines(washer: SpringWasher, bottom: float) -> list[list[tuple[float, float]]]:
    """Return the (r, z) outline of every washer of a group, free, from the lowest: nested in packets, packets turned about.

    The crown is the inner edge; "crown up" lifts it by the cone height in the lowest packet.
    """
    inner, outer = 0.5 * washer.inner_diameter, 0.5 * washer.outer_diameter
    up = washer.orientation == "crown up"
    found = []
    for packet in range(washer.series):
        base = bottom + packet * (washer.cone_height + washer.parallel * washer.thickness)
        lifted = up if packet % 2 == 0 else not up
        inside, outside = (washer.cone_height, 0.0) if lifted else (0.0, washer.cone_height)
        for nested in range(washer.parallel):
            z = base + nested * washer.thickness
            found.append(
                [
                    (inner, z + inside),
                    (outer, z + outside),
                    (outer, z + outside + washer.thickness),
                    (inner, z + inside + washer.thickness),
                ]
            )
    return found


def stud_shapes(sheet: Sheet, built: BuiltJoint, stands: Fitted, gap: float) -> list[Shape]:
    """Return the stud as seen from outside, its tip drawn `gap` mm off the floor; threads by their outside and a thin line
    at the root, ISO 6410 (from memory)."""
    setup = built.setup
    stud = setup.stud
    true_tip = stands.tip_z
    tip = true_tip - stands.gap + gap
    major, nut_major = 0.5 * stud.thread.nominal_diameter, 0.5 * stud.nut_thread.nominal_diameter
    root = 0.5 * float(root_diameter(stud.thread.nominal_diameter, stud.thread.pitch))
    nut_root = 0.5 * float(root_diameter(stud.nut_thread.nominal_diameter, stud.nut_thread.pitch))
    top = true_tip + stud.length
    first, end = true_tip + stud.tip_length, true_tip + stud.boss_thread_length
    start = top - stud.nut_thread_length
    first = max(first, tip + 0.05)
    shank = 0.5 * stud.shank_diameter
    outline = [(0.0, tip), (0.5 * stud.tip_diameter, tip), (major, first), (major, end)]
    if start > end:
        outline += [(shank, end + 0.25 * (major - shank)), (shank, start - 0.25 * (nut_major - shank))]
    outline += [(nut_major, max(start, end)), (nut_major, top - (nut_major - nut_root)), (nut_root, top), (0.0, top)]
    shapes: list[Shape] = [sheet.across(outline, "paper", 0.35)]
    for low, high, radius, full in (
        (first, end, root, major),
        (max(start, end), top - (nut_major - nut_root), nut_root, nut_major),
    ):
        for side in (1.0, -1.0):
            shapes.append(Line((sheet.at(side * radius, low), sheet.at(side * radius, high)), 0.12))
        edge = high if radius == root else low
        shapes.append(Line((sheet.at(-full, edge), sheet.at(full, edge)), 0.2))
    return shapes


def nut_shapes(sheet: Sheet, built: BuiltJoint) -> list[Shape]:
    """Return the nut in section, across its flats; a domed one with its room."""
    setup = built.setup
    nut = setup.nut
    face = setup.nut_face_z + built.layout.nut_lift
    flat = 0.5 * nut.width_across_flats
    bore = 0.5 * nut.thread.nominal_diameter
    top = face + nut.height
    if nut.kind == "hex":
        return sheet.both_sides(_rectangle(bore, flat, face, top), "paper", 0.35)
    crown = face + nut.overall_height
    roof = face + nut.usable_thread_depth
    turn = np.linspace(0.0, 0.5 * np.pi, 12)
    dome = [(0.8 * flat * float(np.cos(a)), top + (crown - top) * float(np.sin(a))) for a in turn]
    outside = sheet.across([(0.0, face), (flat, face), (flat, top), *dome], "paper", 0.35)
    return [outside, sheet.across([(0.0, face), (bore, face), (bore, roof), (0.0, roof)], "paper", 0.2)]
