"""The boss round its blind hole as blocks: floor, filleted corner with a mesh line through it, wall and mouth."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from studwell.errors import BadMesh
from studwell.mesh.blocks import Block, Curve, Patch, arc, build, grid_block, node_block, with_middles
from studwell.mesh.mesh import Mesh
from studwell.section.groove import Teeth
from studwell.section.lines import Array, far_size, spaced
from studwell.section.teeth import ROOT_DEPTH, rows_with_teeth, toothed, with_roots


@dataclass(frozen=True)
class BossShape:
    """Dimensions of the boss section, mm and radians; z = 0 where the full hole diameter ends.

    cone_slope    : angle of the floor to the horizontal; 0 for a flat floor
    end_radius    : radius at which the corner's own blocks start on an end that is rounded under the tip; None: where the
                    fillet meets the straight floor. Inside it the floor follows the corner's arc, straight under the tip
    thread_bottom : z where the full thread begins; runout below it
    engaged       : (z, z) of the threads that the stud engages
    tip_lines     : radii of the mesh lines of the tip's contact on the floor; contact from contact_from outwards
    top_lines     : radii of the mesh lines of the mouth face, from its inner edge to the outer radius
    far           : mm from the hole beyond which elements may grow
    """

    drill_radius: float
    thread_radius: float
    outer_radius: float
    hole_depth: float
    floor_thickness: float
    cone_slope: float
    corner_radius: float
    thread_bottom: float
    runout: float
    mouth_start: float
    mouth_radius: float
    engaged: tuple[float, float]
    thread_lines: Array = field(repr=False)
    tip_lines: Array = field(repr=False)
    contact_from: float
    top_lines: Array = field(repr=False)
    column_at_top: float
    average_depth: float
    size: float
    far: float
    end_radius: float | None = None
    teeth: Teeth | None = None

    @property
    def cone_depth(self) -> float:
        return self.drill_radius * np.tan(self.cone_slope)

    @property
    def fillet_centre(self) -> tuple[float, float]:
        slope = self.cone_slope
        return (
            self.drill_radius - self.corner_radius,
            self.corner_radius * (1.0 - np.sin(slope)) / np.cos(slope),
        )

    @property
    def edge_slope(self) -> float:
        """Slope at which the corner's own blocks start, radian: the floor's own unless the end is rounded."""
        if self.end_radius is None:
            return self.cone_slope
        return float(np.arcsin((self.end_radius - self.fillet_centre[0]) / self.corner_radius))

    @property
    def floor_edge(self) -> tuple[float, float]:
        """Where the floor ends and the fillet begins."""
        r, z = self.fillet_centre
        return (
            r + self.corner_radius * np.sin(self.edge_slope),
            z - self.corner_radius * np.cos(self.edge_slope),
        )

    def floor_height(self, radius: Array) -> Array:
        """z of the floor at a radius, mm."""
        radius = np.asarray(radius, dtype=float)
        if self.end_radius is None:
            return -(self.drill_radius - radius) * np.tan(self.cone_slope)
        ends = np.array([self.contact_from, self.tip_lines[-1]])
        return np.where(
            (radius > ends[0]) & (radius < ends[1]),
            np.interp(radius, ends, round_end_height(ends, self.drill_radius, self.corner_radius)),
            round_end_height(radius, self.drill_radius, self.corner_radius),
        )

    @property
    def reach(self) -> float:
        """How far the filleted corner's own blocks reach into the body, mm."""
        return corner_reach(self.floor_thickness, self.outer_radius, self.drill_radius)


@dataclass(frozen=True)
class CornerSpacing:
    """How the filleted corner is divided: elements along half the fillet, shares of the way into the body.

    inner : shares from 0 to the averaging depth; away : shares from 0 to 1, inner ones first
    """

    n_arc: int
    arc_size: float
    inner: Array
    outer: Array

    @property
    def away(self) -> Array:
        return np.concatenate([self.inner, self.outer[1:]])


def round_end_height(radius: Array | float, drill_radius: float, corner_radius: float) -> Array:
    """Return z (mm) of an end with a large corner radius at a radius (mm): 0 where it is flat, then up the arc."""
    out = np.clip(np.asarray(radius, dtype=float) - (drill_radius - corner_radius), 0.0, corner_radius)
    return corner_radius - np.sqrt(corner_radius**2 - out**2)


def corner_reach(floor_thickness: float, outer_radius: float, drill_radius: float) -> float:
    """How far the filleted corner's own blocks reach into the body, mm."""
    return min(0.45 * floor_thickness, 0.4 * (outer_radius - drill_radius), 2.0)


def corner_spacing(reach: float, corner_radius: float, cone_slope: float, depth: float, size: float) -> CornerSpacing:
    """Return the divisions of the corner: lengths in mm, slope in radians, depth is that of the averaging band."""
    half_arc = corner_radius * (np.pi / 2 - cone_slope) / 2
    n_arc = max(3, round(half_arc / (0.11 * size)))
    arc_size = half_arc / n_arc
    depth = min(depth, 0.5 * reach)
    inner = spaced(0.0, depth, max(arc_size, 0.06 * size), 0.16 * size) / reach
    outer = spaced(depth, reach, 0.16 * size, 0.6 * size) / reach
    return CornerSpacing(n_arc, arc_size, inner, outer)


def boss_mesh(shape: BossShape) -> Mesh:
    """Return the mesh of a boss with boundaries 'seat', 'thread', 'mouth', 'underside', 'outer', 'fillet'.

    Regions 'fillet floor side' and 'fillet wall side' are the bands of stated depth under the two halves of the
    corner fillet; the mesh line between them starts in the middle of the fillet. raises BadMesh.
    """
    h = shape.size
    b = shape.reach
    slope = shape.edge_slope
    rc, zc = shape.fillet_centre
    rf, zf = shape.floor_edge
    radius = shape.corner_radius
    start_angle = -(90.0 - np.degrees(slope))
    middle_angle = 0.5 * start_angle
    knee = np.array([shape.drill_radius + b, -b])
    base = -(shape.cone_depth + shape.floor_thickness)

    spacing = corner_spacing(b, radius, slope, shape.average_depth, h)
    n_arc, arc_size, away = spacing.n_arc, spacing.arc_size, spacing.away
    from_far = (1.0 - away)[::-1]
    n_away = len(away) - 1
    blocks: list[Patch] = []

    floor_arc = arc((rc, zc), radius, start_angle, middle_angle)
    wall_arc = arc((rc, zc), radius, middle_angle, 0.0)
    blocks += _under_arc(floor_arc, np.array([rf, zf - b]), knee, spacing, "fillet floor side")
    blocks += _under_arc(wall_arc, knee, np.array([shape.drill_radius + b, zc]), spacing, "fillet wall side")

    # the floor out to the fillet, and what lies under it
    tip = shape.tip_lines
    outside_tip = spaced(tip[-1], rf, 0.4 * h, min(2.5 * arc_size, 0.3 * h))
    floor_lines = np.concatenate([tip, outside_tip[1:]])
    vertices = np.empty((len(floor_lines), n_away + 1, 2))
    vertices[:, :, 0] = floor_lines[:, None]
    vertices[:, :, 1] = shape.floor_height(floor_lines)[:, None] - b * (1.0 - from_far)[None, :]
    blocks.append(grid_block(vertices, "boss", {"north": "floor"}))
    corner_lines = rf + (knee[0] - rf) * np.linspace(0, 1, n_arc + 1)
    corner_heights = (zf - b) + (knee[1] - zf + b) * np.linspace(0, 1, n_arc + 1)
    under = np.concatenate([floor_lines, corner_lines[1:]])
    under_top = np.concatenate([shape.floor_height(floor_lines) - b, corner_heights[1:]])
    down = _down(shape)
    vertices = np.empty((len(under), len(down), 2))
    vertices[:, :, 0] = under[:, None]
    vertices[:, :, 1] = base + (under_top - base)[:, None] * (1.0 - down[::-1])[None, :]
    blocks.append(grid_block(vertices, "boss", {"south": "underside"}))

    # beyond the corner: shares of the way from the column line to the outer radius, as on the mouth face
    top = shape.top_lines
    beyond_top = top[top >= shape.column_at_top - 1e-9]
    shares = (beyond_top - shape.column_at_top) / (shape.outer_radius - shape.column_at_top)
    beyond = knee[0] + (shape.outer_radius - knee[0]) * shares
    heights = np.concatenate([base + (knee[1] - base) * (1.0 - down[::-1])])
    vertices = np.empty((len(beyond), len(heights), 2))
    vertices[:, :, 0], vertices[:, :, 1] = beyond[:, None], heights[None, :]
    blocks.append(grid_block(vertices, "boss", {"south": "underside", "east": "outer"}))
    heights = knee[1] + (zc - knee[1]) * np.linspace(0, 1, n_arc + 1)
    vertices = np.empty((len(beyond), n_arc + 1, 2))
    vertices[:, :, 0], vertices[:, :, 1] = beyond[:, None], heights[None, :]
    blocks.append(grid_block(vertices, "boss", {"east": "outer"}))

    # the wall, row by row: drilled hole, run-out taper, thread at pitch radius, mouth
    taper_start = max(zc, shape.thread_bottom - shape.runout)
    profile_z = [zc, taper_start, max(shape.thread_bottom, taper_start + 1e-3), shape.mouth_start, shape.hole_depth]
    profile_r = [
        shape.drill_radius,
        shape.drill_radius,
        shape.thread_radius,
        shape.thread_radius,
        shape.mouth_radius,
    ]
    bands = () if shape.teeth is None else (shape.teeth,)
    heights = _wall_rows(shape, zc, taper_start, arc_size)
    rows = rows_with_teeth(heights, bands, "internal")
    column = np.interp(rows, [zc, shape.hole_depth], [knee[0], shape.column_at_top])
    wall = with_middles(np.interp(heights, profile_z, profile_r))
    for band in bands:
        inside = band.within(rows, "internal")
        wall[inside] = band.internal_radius(rows[inside])
    near_top = top[top <= shape.column_at_top + 1e-9]
    across = with_middles(away)
    nodes = np.empty((2 * n_away + 1, len(rows), 2))
    nodes[:, :, 0] = wall[None, :] + (column - wall)[None, :] * across[:, None]
    for band in bands:
        inside = band.within(rows, "internal")
        depth = ROOT_DEPTH * band.pitch
        nodes[:, inside, 0] = band.layered(1.0 - across, wall[inside], column[inside], depth)
    nodes[:, :, 1] = rows[None, :]
    if len(near_top) > 1:
        # the mouth face is touched inside the column line: its lines there are the wall column's own
        nodes[:, -1, 0] = with_middles(near_top)
        nodes[:, -2, 0] = 0.5 * (nodes[:, -3, 0] + nodes[:, -1, 0])
    blocks.append(node_block(nodes, "boss", {"north": "mouth", "west": "wall"}))
    across = with_middles(shares)
    nodes = np.empty((len(across), len(rows), 2))
    nodes[:, :, 0] = column[None, :] + (shape.outer_radius - column)[None, :] * across[:, None]
    nodes[:, :, 1] = rows[None, :]
    blocks.append(node_block(nodes, "boss", {"north": "mouth", "east": "outer"}))

    mesh = build(blocks)
    low, high = shape.engaged
    if shape.teeth is not None:
        mesh = with_roots(toothed(mesh, "thread", shape.teeth), shape.teeth, "internal")
    else:
        mesh = mesh.with_boundary(
            "thread",
            lambda r, z: (np.abs(r - shape.thread_radius) < 1e-6) & (z > low) & (z < high),
        )
    inner_edge, outer_edge = shape.contact_from, tip[-1]
    seat_height = shape.floor_height
    return mesh.with_boundary(
        "seat",
        lambda r, z: (r > inner_edge) & (r < outer_edge) & (np.abs(z - seat_height(r)) < 1e-6),
    )


def _down(shape: BossShape) -> Array:
    """Return shares of the way from the corner's own blocks down to the underside."""
    h, deep = shape.size, shape.floor_thickness - shape.reach
    return spaced(0.0, 1.0, 0.6 * h / deep, far_size(0.9 * h, deep, shape.far) / deep)


def boss_elements(shape: BossShape) -> int:
    """Return about how many elements `boss_mesh` makes, before it makes them."""
    h = shape.size
    spacing = corner_spacing(shape.reach, shape.corner_radius, shape.edge_slope, shape.average_depth, h)
    beyond = int(np.sum(shape.top_lines >= shape.column_at_top - 1e-9))
    floor = len(shape.tip_lines) + (shape.drill_radius - shape.tip_lines[-1]) / (0.35 * h) + 2 * spacing.n_arc
    low, high = shape.engaged
    rows = len(shape.thread_lines) + max(shape.hole_depth - (high - low), 0.0) / (0.45 * h)
    under = (floor + beyond) * len(_down(shape)) + floor * len(spacing.away)
    return int(under + (len(spacing.away) + beyond) * (rows + spacing.n_arc))


def _under_arc(curve: Curve, far_start: Array, far_end: Array, spacing: CornerSpacing, band: str) -> list[Block]:
    """Two blocks between an arc and a far straight line: the band under the arc, and the rest."""
    t = np.linspace(0.0, 1.0, 2 * spacing.n_arc + 1)
    near = np.asarray(curve(t))
    far = (1.0 - t[:, None]) * far_start + t[:, None] * far_end
    split = spacing.inner[-1]

    def line(share: float) -> Curve:
        points = (1.0 - share) * near + share * far
        return lambda s: np.stack([np.interp(s, t, points[:, 0]), np.interp(s, t, points[:, 1])], axis=-1)

    blocks = []
    for first, second, shares, region, tags in (
        (0.0, split, spacing.inner / split, band, {"north": "fillet"}),
        (split, 1.0, (spacing.outer - split) / (1.0 - split), "boss", {}),
    ):
        # v runs from the far line to the near one, so that both halves are counter-clockwise
        south, north = line(second), line(first)
        ends = np.array([0.0, 1.0])
        low, high = np.asarray(south(ends)), np.asarray(north(ends))
        blocks.append(
            Block(
                corners=[low[0], low[1], high[1], high[0]],
                divisions=(spacing.n_arc, len(shares) - 1),
                region=region,
                v_spacing=(1.0 - shares)[::-1],
                curves={"south": south, "north": north},
                tags=tags,
            )
        )
    return blocks


def _wall_rows(shape: BossShape, zc: float, taper_start: float, arc_size: float) -> Array:
    """Return the heights of the mesh lines along the hole wall."""
    h = shape.size
    low, high = shape.engaged
    if low < zc:
        raise BadMesh(
            f"the radius at the hole's end, {shape.corner_radius:.4g} mm, ends at {zc:.4g} mm above the floor's edge, but the "
            f"engaged thread begins at {low:.4g} mm: a smaller radius, or a thread engaged less deep, leaves a wall to it"
        )
    breaks = sorted({zc, taper_start, shape.thread_bottom, low})
    breaks = [z for z in breaks if zc <= z <= low]
    kept = [breaks[0]]
    for z in breaks[1:]:
        if z - kept[-1] > 0.02:
            kept.append(z)
        elif z == low:
            kept[-1] = low
    rows = [np.array([kept[0]])]
    size_before = 2.0 * arc_size
    for a, b in itertools.pairwise(kept):
        size_after = min(0.5 * h, size_before + 0.5 * (b - a))
        rows.append(spaced(a, b, size_before, size_after)[1:])
        size_before = size_after
    rows.append(shape.thread_lines[1:])
    above = [z for z in (shape.mouth_start, shape.hole_depth) if z > high + 1e-9]
    previous = high
    for z in above:
        rows.append(spaced(previous, z, 0.4 * h, 0.4 * h)[1:])
        previous = z
    return np.concatenate(rows)
