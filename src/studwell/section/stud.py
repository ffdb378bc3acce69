"""The stud as one swept block: tip, boss thread at pitch radius, shank, nut thread, end chamfer."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from studwell.mesh.blocks import Patch, build, grid_block, node_block, with_middles
from studwell.mesh.mesh import Mesh
from studwell.section.groove import Teeth
from studwell.section.lines import Array, spaced
from studwell.section.teeth import ROOT_DEPTH, rows_with_teeth, toothed, with_roots

CORE = 0.8
"""Columns within this share of a thread's root run straight through a band of teeth."""


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
    boss_teeth: Teeth | None = None
    nut_teeth: Teeth | None = None

    @property
    def teeth(self) -> tuple[Teeth, ...]:
        """The bands of thread teeth, from the tip upwards; none where the threads are smooth layers."""
        return tuple(teeth for teeth in (self.boss_teeth, self.nut_teeth) if teeth is not None)


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
    rows = rows_with_teeth(heights, shape.teeth, "external")
    radius = with_middles(np.interp(heights, shape.profile[:, 1], shape.profile[:, 0]))
    shares = shape.tip_lines / shape.tip_lines[-1]

    lowest = float(shape.tip_heights.min())
    point = spaced(0.0, 1.0, 0.15 * h / (start - lowest), 0.45 * h / (start - lowest))
    n_r = len(shares)
    point_vertices = np.empty((n_r, len(point), 2))
    tip_radius = shape.tip_lines[-1]
    top_radius = radius[0]
    point_vertices[:, :, 0] = shares[:, None] * (tip_radius + (top_radius - tip_radius) * point)[None, :]
    point_vertices[:, :, 1] = shape.tip_heights[:, None] + (start - shape.tip_heights)[:, None] * point[None, :]
    nodes = _swept(with_middles(shares), rows, radius, shape.teeth)

    blocks: list[Patch] = [grid_block(point_vertices, "stud", {"south": "tip face"})]
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
        blocks.append(node_block(nodes[:, 2 * a : 2 * b + 1], region, tags))
    mesh = build(blocks)
    if shape.boss_teeth is not None:
        mesh = with_roots(toothed(mesh, "thread", shape.boss_teeth), shape.boss_teeth, "external")
    else:
        mesh = _wall(mesh, "thread", shape.thread_radius, shape.thread_lines)
    if shape.nut_teeth is not None:
        mesh = toothed(mesh, "nut thread", shape.nut_teeth)
    else:
        mesh = _wall(mesh, "nut thread", shape.nut_thread_radius, shape.nut_lines)
    grip_low, grip_high = shape.grip

    def beside_the_stack(r: Array, z: Array) -> Array:
        return (r > 0.5 * shape.thread_radius) & (z > grip_low) & (z < grip_high)

    mesh = mesh.with_boundary("side", beside_the_stack)
    edge, tip_top = shape.tip_contact_from, float(shape.tip_heights.max())
    return mesh.with_boundary("tip", lambda r, z: (r > edge) & (r < tip_radius) & (z < tip_top + 1e-6))


def _wall(mesh: Mesh, name: str, radius: float, lines: Array) -> Mesh:
    low, high = lines[0], lines[-1]
    return mesh.with_boundary(name, lambda r, z: (np.abs(r - radius) < 1e-6) & (z > low) & (z < high))


def _swept(shares: Array, rows: Array, radius: Array, teeth: tuple[Teeth, ...]) -> Array:
    """Node positions of the sweep: columns at shares of the radius; in bands of teeth only the outer ones follow it."""
    nodes = np.empty((len(shares), len(rows), 2))
    nodes[:, :, 0] = shares[:, None] * radius[None, :]
    nodes[:, :, 1] = rows[None, :]
    for band in teeth:
        inside = band.within(rows, "external")
        mean, profile = band.pitch_radius, band.external_radius(rows[inside])
        core = shares[::2][shares[::2] * mean < CORE * band.root_radius][-1]
        outwards = (shares - core) / (1.0 - core)
        start = np.full(len(profile), core * mean)
        followed = band.layered(np.maximum(outwards, 0.0), profile, start, ROOT_DEPTH * band.pitch)
        nodes[:, inside, 0] = np.where(shares[:, None] <= core, shares[:, None] * mean, followed)
    return nodes


def _line(heights: Array, z: float) -> int:
    index = int(np.argmin(np.abs(heights - z)))
    if abs(heights[index] - z) > 1e-6:
        raise ValueError(f"z = {z} mm is no mesh line of the stud")
    return index
