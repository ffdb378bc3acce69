"""The stud as one swept block: tip, boss thread at pitch radius, shank, nut thread, end chamfer."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from studwell.mesh.blocks import build, grid_block
from studwell.mesh.mesh import Mesh
from studwell.section.lines import Array, spaced


@dataclass(frozen=True)
class StudShape:
    """Dimensions of the stud section, mm; z as in the boss, tip on the floor.

    tip_lines     : radii of the mesh lines on the tip, from 0 to the tip's radius
    tip_heights   : z of those lines on the tip (a land parallel to a drill cone rises at its edge)
    profile       : (n, 2) radius and z of the outline from the first full thread to the top
    engaged, nut_engaged : z lines of the engaged threads in the boss and in the nut (mesh lines)
    breaks        : further z that must be mesh lines
    grip          : (z, z) from the mouth face to the nut, beside the stack
    tension       : (z, z) between which the tension is summed
    stretch       : (z, z) of the weakest length, where the stud yields first
    """

    tip_lines: Array = field(repr=False)
    tip_heights: Array = field(repr=False)
    profile: Array = field(repr=False)
    thread_lines: Array = field(repr=False)
    nut_lines: Array = field(repr=False)
    thread_radius: float
    nut_thread_radius: float
    grip: tuple[float, float]
    tension: tuple[float, float]
    stretch: tuple[float, float]
    tip_contact_from: float
    size: float


def stud_mesh(shape: StudShape) -> Mesh:
    """Return the mesh of a stud with boundaries 'tip', 'thread', 'nut thread', 'side' (beside the stack),
    'end face'; regions 'stud', 'tension',
    'stretch'. raises BadMesh.
    """
    h = shape.size
    start = shape.profile[0, 1]
    fixed = [shape.thread_lines, shape.nut_lines]
    breaks = sorted(
        {float(z) for z in shape.profile[:, 1]}
        | {float(line) for lines in fixed for line in (lines[0], lines[-1])}
        | set(shape.tension)
        | set(shape.stretch)
    )
    lines = [np.array([start])]
    for a, b in itertools.pairwise(breaks):
        if b - a < 1e-9:
            continue
        middle = 0.5 * (a + b)
        inside = next((f for f in fixed if f[0] < middle < f[-1]), None)
        if inside is not None:
            piece = inside[(inside > a - 1e-9) & (inside < b + 1e-9)]
            piece = np.unique(np.concatenate([[a], piece, [b]]).round(9))
            lines.append(piece[1:])
            continue
        near_thread = any(min(abs(e - f[0]), abs(e - f[-1])) < 1e-9 for e in (a, b) for f in fixed)
        size = 0.45 * h if near_thread and b - a < 3 * h else 0.9 * h
        lines.append(spaced(a, b, size, size)[1:])
    heights = np.concatenate(lines)
    radius = np.interp(heights, shape.profile[:, 1], shape.profile[:, 0])
    shares = shape.tip_lines / shape.tip_lines[-1]

    lowest = float(shape.tip_heights.min())
    point = spaced(0.0, 1.0, 0.15 * h / (start - lowest), 0.45 * h / (start - lowest))
    n_r = len(shares)
    point_vertices = np.empty((n_r, len(point), 2))
    tip_radius = shape.tip_lines[-1]
    top_radius = radius[0]
    point_vertices[:, :, 0] = shares[:, None] * (tip_radius + (top_radius - tip_radius) * point)[None, :]
    point_vertices[:, :, 1] = shape.tip_heights[:, None] + (start - shape.tip_heights)[:, None] * point[None, :]
    vertices = np.empty((n_r, len(heights), 2))
    vertices[:, :, 0] = shares[:, None] * radius[None, :]
    vertices[:, :, 1] = heights[None, :]

    blocks = [grid_block(point_vertices, "stud", {"south": "tip face"})]
    cuts = sorted({0, len(heights) - 1} | {_line(heights, z) for z in (*shape.tension, *shape.stretch)})
    tension = (_line(heights, shape.tension[0]), _line(heights, shape.tension[1]))
    stretch = (_line(heights, shape.stretch[0]), _line(heights, shape.stretch[1]))
    for a, b in itertools.pairwise(cuts):
        region = "stud"
        if tension[0] <= a and b <= tension[1]:
            region = "tension"
        elif stretch[0] <= a and b <= stretch[1]:
            region = "stretch"
        tags = {"north": "end face"} if b == len(heights) - 1 else {}
        blocks.append(grid_block(vertices[:, a : b + 1], region, tags))
    mesh = build(blocks)
    low, high = shape.thread_lines[0], shape.thread_lines[-1]
    mesh = mesh.with_boundary("thread", lambda r, z: (np.abs(r - shape.thread_radius) < 1e-6) & (z > low) & (z < high))
    nut_low, nut_high = shape.nut_lines[0], shape.nut_lines[-1]
    mesh = mesh.with_boundary(
        "nut thread", lambda r, z: (np.abs(r - shape.nut_thread_radius) < 1e-6) & (z > nut_low) & (z < nut_high)
    )
    grip_low, grip_high = shape.grip

    def beside_the_stack(r: Array, z: Array) -> Array:
        return (r > 0.5 * shape.thread_radius) & (z > grip_low) & (z < grip_high)

    mesh = mesh.with_boundary("side", beside_the_stack)
    edge, tip_top = shape.tip_contact_from, float(shape.tip_heights.max())
    return mesh.with_boundary("tip", lambda r, z: (r > edge) & (r < tip_radius) & (z < tip_top + 1e-6))


def _line(heights: Array, z: float) -> int:
    index = int(np.argmin(np.abs(heights - z)))
    if abs(heights[index] - z) > 1e-6:
        raise ValueError(f"z = {z} mm is no mesh line of the stud")
    return index
