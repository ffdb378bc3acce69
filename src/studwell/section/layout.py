"""A setup's dimensions as shapes: heights, radial mesh lines, contact rings; still no mesh."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.errors import Unknown
from studwell.mesh.mesh import Mesh
from studwell.parts.thread import minor_diameter, pitch_diameter, stress_area
from studwell.section.boss import BossShape, corner_reach, corner_spacing, round_end_height
from studwell.section.engagement import boss_teeth_of, nut_teeth_of
from studwell.section.insert import InsertShape, insert_pitch_diameter, lay_out_insert
from studwell.section.lines import FAR, Array, outwards, own_mouth_lines, through, within
from studwell.section.nut import NutShape
from studwell.section.pile import Joining, Ring, pile
from studwell.section.seat import Wedge, first_seat, wedge_of
from studwell.section.stud import StudShape
from studwell.section.teeth import lines_to_teeth

AVERAGE_DEPTH = 0.4
"""mm, depth of the bands under the corner fillet over which floor stress is averaged: part of the outcome's name."""


@dataclass(frozen=True)
class Layout:
    """Shapes of all bodies of one setup and what lies between them.

    cone_slope : slope of the tip's contact to the horizontal, radian: on a drill cone, or on a rounded end
    tip_lift   : mm between tip and floor when the stud is in its seat; 0 where the tip is the seat
    wedge      : where an incomplete thread is the seat, None where it is another
    own_boss   : the user's own mesh of the boss, None where its shape gives the mesh
    insert     : the wire thread insert in the boss, None without one
    """

    boss: BossShape
    stud: StudShape
    nut: NutShape
    rings: tuple[Ring, ...]
    joinings: tuple[Joining, ...]
    stack_profile: tuple[tuple[float, str], ...]
    tip_z: float
    stud_top: float
    nut_lift: float
    dome_gap: float | None
    stretch_area: float
    stretch_length: float
    stretch_name: str
    head: str
    cone_slope: float
    size: float
    own_boss: Mesh | None = field(default=None, repr=False)
    tip_lift: float = 0.0
    wedge: Wedge | None = None
    insert: InsertShape | None = None


def element_size(setup: Setup, refinement: float) -> float:
    """Return the element size that the mesh aims at, mm: a share of the thread's diameter over the refinement."""
    return 0.08 * setup.stud.thread.nominal_diameter / refinement


def lay_out(setup: Setup, refinement: float = 1.0) -> Layout:
    """Return the shapes of a setup's section.

    refinement : mesh density against the standard mesh, 1 = standard, 2 = half the element size
    raises Unknown : a stack that this model does not hold (gasket on gasket)
    """
    boss, stud, nut = setup.boss, setup.stud, setup.nut
    size = element_size(setup, refinement)
    far = FAR * setup.stud.thread.nominal_diameter
    slope = 0.0 if boss.cone_angle is None else np.pi / 2 - np.radians(boss.cone_angle) / 2
    drill = 0.5 * boss.drill_diameter
    thread = stud.thread
    thread_radius = 0.5 * float(pitch_diameter(thread.nominal_diameter, thread.pitch))
    hole_radius = thread_radius if boss.insert is None else 0.5 * insert_pitch_diameter(setup)
    nut_thread_radius = 0.5 * float(pitch_diameter(stud.nut_thread.nominal_diameter, stud.nut_thread.pitch))
    outer = 0.5 * boss.outer_diameter
    if boss.counterbore_diameter is not None:
        mouth_radius = 0.5 * boss.counterbore_diameter
    else:
        mouth_radius = hole_radius + boss.mouth_chamfer
    mouth_start = boss.hole_depth - max(boss.open_depth, 0.02)
    mouth_radius = max(mouth_radius, hole_radius + 0.02)
    own = boss.own_mesh
    if own is not None:
        mouth_radius, outer = float(own.mouth_lines[0]), float(own.mouth_lines[-1])

    # tip, its land on a cone, and the heights that follow from it
    tip_radius = 0.5 * stud.tip_diameter
    on_round_end = boss.hole_end == "radiused" and tip_radius > drill - boss.corner_radius + 1e-9
    land = min(assumption("tip_edge_land_width"), 0.3 * tip_radius) if slope or on_round_end else 0.0
    fine = 0.35 * size if stud.thread_model != "grooves" else 0.07 * thread.pitch * tip_radius / thread_radius
    tip_lines = _tip_lines(tip_radius, land, size, fine)
    if own is not None:
        tip_radius, land = float(own.seat_lines[-1]), float(np.ptp(own.seat_lines))
        tip_lines = _lines_to_seat(own.seat_lines, size)
    contact_from = tip_radius - land if land or own is not None else 0.0
    on_land = np.maximum(tip_lines, contact_from)
    tip_heights = -(drill - on_land) * np.tan(slope)
    contact_slope, end_radius = slope, None
    if on_round_end:
        ends = np.array([contact_from, tip_radius])
        rise = round_end_height(ends, drill, boss.corner_radius)
        tip_heights = np.interp(on_land, ends, rise)
        contact_slope = float(np.arctan2(rise[1] - rise[0], land))
        end_radius = tip_radius + 0.25 * (drill - tip_radius)
    seat = first_seat(setup)
    wedge = wedge_of(setup, seat)
    raised = 0.0 if own is not None else seat.clearance
    tip_heights = tip_heights + raised
    tip_z = float(tip_heights.min())
    low = tip_z + stud.tip_length
    high = low + stud.engaged_length
    if raised:
        high = min(high, mouth_start)
        if high - low < thread.pitch:
            raise Unknown(
                f"the {seat.name} stops the stud with {high - low:.2f} mm of thread engaged, less than a pitch: the thread "
                "model does not hold there"
            )
    thread_lines = np.linspace(low, high, max(4, round(stud.engaged_length / (0.5 * thread.pitch) * refinement)) + 1)
    insert = None
    if boss.insert is not None:
        insert = lay_out_insert(setup, low, high, size, refinement, None if own is None else own.thread_lines)
        thread_lines, low = insert.engaged, min(low, float(insert.engaged[0]))
    elif own is not None:
        thread_lines = own.thread_lines
        low, high = float(thread_lines[0]), float(thread_lines[-1])
    boss_teeth = boss_teeth_of(setup, low, high, mouth_start, refinement)
    internal_lines, held = (thread_lines, (low, high)) if insert is None else (insert.lines, insert.ends)
    if boss_teeth is not None:
        internal_lines = lines_to_teeth(low, high, boss_teeth, "internal", 0.5 * thread.pitch)
        held = (float(internal_lines[0]), float(internal_lines[-1]))
        thread_lines = lines_to_teeth(low, high, boss_teeth, "external", 0.5 * thread.pitch)
    stud_teeth = boss_teeth
    if insert is not None and insert.coils is not None:
        stud_teeth, boss_teeth = insert.coils.inside, insert.coils.outside
    stud_top = tip_z + stud.length

    # the pile from the mouth face to the nut
    reach = corner_reach(boss.floor_thickness, outer, drill)
    corner_slope = slope
    if end_radius is not None:
        corner_slope = float(np.arcsin((end_radius - drill + boss.corner_radius) / boss.corner_radius))
    spacing = corner_spacing(reach, boss.corner_radius, corner_slope, AVERAGE_DEPTH, size)
    bearing_inner = 0.5 * nut.bearing_inner_diameter
    bearing_outer = 0.5 * nut.bearing_diameter
    nut_outer = max(0.525 * nut.width_across_flats, bearing_outer)
    bodies, joinings, profile, nut_face = pile(setup, mouth_radius, outer, bearing_inner, bearing_outer)

    # radial mesh lines shared by everything that touches
    lowest = joinings[0]
    touches_mouth = lowest.inner <= mouth_radius + 1e-9
    column_at_top = mouth_radius + reach if touches_mouth else lowest.inner
    radii = {outer, bearing_inner, bearing_outer, nut_outer}
    if own is None:
        radii.add(column_at_top)
    for ring in bodies:
        radii |= {ring.inner_radius, ring.outer_radius}
    for joining in joinings:
        radii |= {joining.inner, joining.outer, joining.upper_inner, joining.upper_outer}
    bottom_lines = None
    if own is not None:
        lines, bottom_lines = own_mouth_lines(own.mouth_lines, (lowest.inner, lowest.outer), sorted(radii), 0.9 * size)
        top_lines, column_at_top = own.mouth_lines, mouth_radius
    elif touches_mouth:
        column = mouth_radius + (column_at_top - mouth_radius) * spacing.away
        below = [r for r in radii if r < mouth_radius - 1e-9] + [mouth_radius]
        above = [r for r in radii if r > column_at_top + 1e-9] + [column_at_top]
        inside = [r for r in radii if mouth_radius + 1e-9 < r < column_at_top - 1e-9]
        for r in inside:  # the nearest line of the wall column moves onto a radius that must be a line
            column[1 + int(np.argmin(np.abs(column[1:-1] - r)))] = r
        lines = np.concatenate([through(below, 0.9 * size)[:-1], column, outwards(above, 0.9 * size, far)[1:]])
        top_lines = within(lines, mouth_radius, outer)
    else:
        lines = outwards(sorted(radii), 0.9 * size, far)
        top_lines = within(lines, column_at_top, outer)
    rings = tuple(
        Ring(
            r.name,
            r.material,
            r.inner_radius,
            r.outer_radius,
            r.bottom,
            r.top,
            within(lines, r.inner_radius, r.outer_radius),
            r.is_washer,
            within(bottom_lines, r.inner_radius, r.outer_radius)
            if bottom_lines is not None and r.name == lowest.upper
            else None,
        )
        for r in bodies
    )

    # the nut, lifted if the stud's end meets a dome's roof first
    top_radius = 0.5 * float(minor_diameter(stud.nut_thread.nominal_diameter, stud.nut_thread.pitch))
    end_chamfer = nut_thread_radius - top_radius
    countersink = max(bearing_inner - nut_thread_radius, 0.1)
    lift, dome_gap, roof, crown = 0.0, None, None, None
    if nut.kind == "domed":
        free = nut_face + nut.usable_thread_depth - stud_top
        lift, dome_gap = max(0.0, -free), max(0.0, free)
    bottom = nut_face + lift
    hexagon_top = bottom + nut.height
    thread_top = hexagon_top - 0.5 * countersink
    if nut.kind == "domed":
        roof = bottom + nut.usable_thread_depth
        crown = bottom + nut.overall_height
        thread_top = roof - 0.5 * thread.pitch
    nut_low = bottom + countersink
    nut_high = min(thread_top, stud_top - end_chamfer)
    nut_engaged = nut_high - nut_low
    if nut_engaged < 2.0 * stud.nut_thread.pitch:
        raise Unknown(
            f"the nut engages {nut_engaged:.2f} mm of thread, fewer than two pitches: the thread model does not hold there"
        )
    nut_lines = np.linspace(
        nut_low, nut_high, max(4, round(nut_engaged / (0.5 * stud.nut_thread.pitch) * refinement)) + 1
    )
    nut_top = hexagon_top if nut.kind == "hex" else thread_top
    nut_teeth = nut_teeth_of(setup, nut_low, nut_high, nut_top, stud_top - end_chamfer, refinement)
    nut_internal_lines = nut_lines
    if nut_teeth is not None:
        nut_internal_lines = lines_to_teeth(nut_low, nut_high, nut_teeth, "internal", 0.5 * thread.pitch)
        nut_lines = lines_to_teeth(nut_low, nut_high, nut_teeth, "external", 0.5 * thread.pitch)
    roof_lines = None
    if nut.kind == "domed":
        on_roof = tip_lines / tip_radius * top_radius
        roof_lines = np.concatenate([on_roof, [nut_thread_radius]])
    nut_shape = NutShape(
        bearing_lines=within(lines, bearing_inner, nut_outer),
        thread_lines=nut_internal_lines,
        thread_radius=nut_thread_radius,
        bottom=bottom,
        hexagon_top=hexagon_top,
        size=size,
        roof=roof,
        crown=crown,
        crown_radius=None if crown is None else 1.15 * nut_thread_radius,
        roof_lines=roof_lines,
        roof_contact=top_radius,
        teeth=nut_teeth,
    )

    # the stud's outline, its weakest length and where its tension is summed
    shank = 0.5 * stud.shank_diameter
    thread_end = tip_z + stud.boss_thread_length
    nut_thread_start = stud_top - stud.nut_thread_length
    first_thread = float(thread_lines[0]) if insert is None else low  # below an insert full threads stand free
    outline = [(thread_radius, first_thread), (thread_radius, high)]
    blend = 0.5 * thread.pitch
    has_shank = nut_thread_start - thread_end > 2.0 * blend + 0.5
    if has_shank:
        outline += [
            (thread_radius, max(thread_end, high + 0.05)),
            (shank, max(thread_end, high + 0.05) + blend),
            (shank, nut_thread_start - blend),
            (nut_thread_radius, nut_thread_start),
        ]
    outline += [
        (nut_thread_radius, float(nut_lines[-1])),
        (nut_thread_radius, stud_top - end_chamfer),
        (top_radius, stud_top),
    ]
    if raised and nut_low < nut_thread_start - 1e-9:
        raise Unknown(
            f"the {seat.name} stops the stud {raised:.2f} mm above the floor, and the nut then runs off the end of its "
            f"thread by {nut_thread_start - nut_low:.2f} mm"
        )
    grip = (boss.hole_depth, bottom)
    # threads count over a pitch at least: the first engaged one carries the whole load on its stress area too
    under_nut = min(max(nut_thread_start, grip[0]), grip[1] - stud.nut_thread.pitch)
    pieces = [("thread under the nut", under_nut, grip[1], stress_area(stud.nut_thread))]
    if has_shank:
        above_boss = max(min(thread_end, grip[1]), grip[0] + thread.pitch)
        pieces.append(("thread above the boss", grip[0], above_boss, stress_area(thread)))
        if nut_thread_start - thread_end - 2.0 * blend > thread.pitch:
            pieces.append(("shank", thread_end + blend, nut_thread_start - blend, np.pi * shank**2))
    weakest = min(pieces, key=lambda p: (round(p[3], 6), -(p[2] - p[1])))
    stretch = (weakest[1], weakest[2])
    middle_low = thread_end + blend if has_shank else grip[0]
    middle_high = min(nut_thread_start - blend, grip[1]) if has_shank else grip[1]
    half = min(0.5 * size, 0.1 * (middle_high - middle_low))
    centre = 0.5 * (middle_low + middle_high)
    if weakest[0] == "shank":
        stretch = (centre + half, stretch[1])
    elif not has_shank:
        centre = stretch[0] + 3 * half
        stretch = (centre + half, stretch[1])
    stud_shape = StudShape(
        tip_lines=tip_lines,
        tip_heights=tip_heights,
        profile=_cleaned(np.array(outline)),
        thread_lines=thread_lines,
        nut_lines=nut_lines,
        thread_radius=thread_radius,
        nut_thread_radius=nut_thread_radius,
        grip=grip,
        tension=(centre - half, centre + half),
        stretch=stretch,
        tip_contact_from=contact_from,
        size=size,
        boss_teeth=stud_teeth,
        nut_teeth=nut_teeth,
    )
    boss_shape = BossShape(
        drill_radius=drill,
        thread_radius=hole_radius,
        outer_radius=outer,
        hole_depth=boss.hole_depth,
        floor_thickness=boss.floor_thickness,
        cone_slope=slope,
        corner_radius=boss.corner_radius,
        thread_bottom=min(boss.hole_depth - boss.thread_depth, held[0]),
        runout=assumption("tap_run_out_pitches") * thread.pitch,
        mouth_start=mouth_start,
        mouth_radius=mouth_radius,
        engaged=held,
        thread_lines=internal_lines,
        tip_lines=tip_lines,
        contact_from=contact_from,
        top_lines=top_lines,
        column_at_top=column_at_top,
        average_depth=AVERAGE_DEPTH,
        size=size,
        far=far,
        end_radius=end_radius,
        teeth=boss_teeth,
    )
    head = [r.name for r in rings if not r.is_washer]
    return Layout(
        boss=boss_shape,
        stud=stud_shape,
        nut=nut_shape,
        rings=rings,
        joinings=tuple(joinings),
        stack_profile=tuple(profile),
        tip_z=tip_z,
        stud_top=stud_top,
        nut_lift=lift,
        dome_gap=dome_gap,
        stretch_area=float(weakest[3]),
        stretch_length=float(stretch[1] - stretch[0]),
        stretch_name=weakest[0],
        head=head[-1] if head else "nut",
        cone_slope=float(contact_slope),
        size=size,
        own_boss=None if own is None else own.mesh,
        tip_lift=seat.clearance,
        wedge=wedge,
        insert=insert,
    )


def _lines_to_seat(seat_lines: Array, size: float) -> Array:
    """Radial mesh lines of the tip that go on from the axis to the seat of a boss mesh of the user's own."""
    edge = float(seat_lines[0])
    if edge < 1e-9:
        return seat_lines
    return np.concatenate([through([0.0, 0.6 * edge, edge], 0.8 * size, [edge], 0.35 * size), seat_lines[1:]])


def _tip_lines(radius: float, land: float, size: float, fine: float) -> Array:
    """Radial mesh lines of the tip: `fine` mm apart towards its edge, two elements on a cone's land."""
    edge = radius - land
    coarse = through([0.0, 0.6 * edge, edge], 0.8 * size, [edge], fine)
    if not land:
        return coarse
    return np.concatenate([coarse, [edge + 0.5 * land, radius]])


def _cleaned(outline: Array) -> Array:
    """Drop outline points that do not rise."""
    kept = [outline[0]]
    for point in outline[1:]:
        if point[1] > kept[-1][1] + 1e-6:
            kept.append(point)
    return np.array(kept)
