"""The section as it is meshed: parts named and dimensioned on the left, element edges on the right."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection

from studwell.joint.build import BuiltJoint
from studwell.mesh.quality import quality
from studwell.show import theme
from studwell.show.section import (
    BELOW,
    Part,
    draw_outline,
    draw_soft,
    edge_lines,
    inside_point,
    joined_lines,
    name_parts,
    parts_of,
    section_axes,
)
from studwell.units import as_text

Array = np.ndarray


def plot_mesh(built: BuiltJoint, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Draw a setup's mesh beside its dimensioned parts.

    built : BuiltJoint; units : "metric" or "inch"
    """
    ax = theme.new_axes() if ax is None else ax
    factor = section_axes(ax, units)
    parts = parts_of(built)
    _fill(ax, parts, factor)
    _name_and_frame(ax, built, parts, factor, units)
    ax.set_title(f"Section and mesh: {theme.wrapped(built.setup.name, 44, 2)}", loc="left")
    return ax


def plot_floor_mesh(built: BuiltJoint, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Draw a setup's mesh at the hole's floor and its fillet, parts on the left, element edges on the right."""
    ax = theme.new_axes() if ax is None else ax
    factor = section_axes(ax, units)
    _fill(ax, parts_of(built), factor, edge_width=0.4)
    shape = built.layout.boss
    reach = shape.drill_radius + max(5.0 * shape.corner_radius, 0.3 * shape.drill_radius)
    ax.set_xlim(-factor * reach, factor * reach)
    low = -(shape.cone_depth + min(shape.floor_thickness, 0.7 * reach))
    ax.set_ylim(factor * low, factor * 1.2 * reach)
    radius = as_text(shape.corner_radius, "length", units, 3)
    own = built.setup.boss.own_mesh
    what = f"fillet of {radius}" if own is None else f"mesh of {theme.wrapped(own.file, 30, 1)}"
    ax.set_title(f"The hole's floor: {what}", loc="left")
    return ax


def _fill(ax: Axes, parts: tuple[Part, ...], factor: float, edge_width: float = 0.18) -> None:
    """Fill all parts on both sides, with element edges on the right."""
    areas, colours, edges = [], [], []
    for part in parts:
        for side in (-1.0, 1.0):
            if part.mesh is None:
                draw_soft(ax, part, side, factor, part.low, part.high)
                continue
            positions = factor * part.mesh.nodes * [side, 1.0]
            areas.append(positions[part.mesh.elements[:, [0, 4, 1, 5, 2, 6, 3, 7]]])
            colours += [part.colour] * part.mesh.n_elements
            if side > 0:
                inner = np.setdiff1d(np.arange(len(part.mesh.facet_nodes)), part.mesh.outer)
                edges.append(edge_lines(part.mesh, inner, positions))
            draw_outline(ax, part.mesh, positions)
    fill = PolyCollection(list(np.concatenate(areas)), facecolors=colours, edgecolors=colours, linewidths=0.5)
    lines = joined_lines(np.concatenate(edges), theme.CELL_INK, edge_width)
    for below, artist in ((2 * BELOW, fill), (BELOW, lines)):
        artist.set_zorder(below)
        ax.add_collection(artist)
    ax.set_rasterization_zorder(0.0)
    ax.axvline(0.0, color=theme.LIGHT.weak, lw=0.8, ls=(0, (8, 2, 1.5, 2)))


def _name_and_frame(ax: Axes, built: BuiltJoint, parts: tuple[Part, ...], factor: float, units: str) -> None:
    """Name the parts with their outer sizes on the right, dimension the hole on the left, set the limits."""
    low, high = min(p.low for p in parts), max(p.high for p in parts)
    width = max(p.outer for p in parts)
    height = high - low
    named = []
    for part in parts:
        r, z = inside_point(part, 1.0, factor)
        size = f"dia. {as_text(2.0 * part.outer, 'length', units, 3)}"
        if part.kind == "nut":
            size = f"{as_text(built.setup.nut.width_across_flats, 'length', units, 3)} across flats"
        if part.kind == "insert":
            size = f"{as_text(part.high - part.low, 'length', units, 3)} long"
        named.append((f"{theme.wrapped(part.name, 18)}, {size}", r, z))
    name_parts(ax, named, factor * (width + 0.06 * height), 0.04 * factor * height, (factor * low, factor * high))
    _dimensions(ax, built, parts, factor, units)


def quality_line(built: BuiltJoint) -> str:
    """Return one line about the mesh: elements, unknowns, worst shapes."""
    every = [quality(body.spec.mesh) for body in built.bodies]
    return (
        f"{sum(q.n_elements for q in every)} nine-node quadrilaterals in {len(every)} bodies, "
        f"{built.unknowns} unknowns; least scaled Jacobian {min(q.least_scaled_jacobian for q in every):.2f}, "
        f"largest aspect ratio {max(q.largest_aspect_ratio for q in every):.1f}, "
        f"{sum(q.n_inverted for q in every)} folded"
    )


def _dimensions(ax: Axes, built: BuiltJoint, parts: tuple[Part, ...], factor: float, units: str) -> None:
    shape, layout = built.layout.boss, built.layout
    base = -(shape.cone_depth + shape.floor_thickness)
    height = max(p.high for p in parts) - base
    left = -max(p.outer for p in parts)
    step = 0.1 * max(height, 3.2 * -left)  # so that names of two rows stand clear of each other
    engaged = layout.stud.thread_lines[[0, -1]]
    upright = [
        ("engaged", engaged[0], engaged[1], -layout.stud.thread_radius, 1),
        ("hole depth", 0.0, shape.hole_depth, -shape.drill_radius, 2),
        ("floor", base, -shape.cone_depth, 0.0, 1),
        ("grip", shape.hole_depth, layout.nut.bottom, left, 1),
    ]
    for name, low, high, start, row in upright:
        x = left - row * step
        for z in (low, high):
            ax.plot([factor * start, factor * (x - 0.2 * step)], [factor * z] * 2, color=theme.LIGHT.weak, lw=0.45)
        _measure(ax, (factor * x, factor * low), (factor * x, factor * high))
        text = f"{name}\n{as_text(high - low, 'length', units, 3)}"
        ax.text(
            factor * (x - 0.15 * step),
            factor * 0.5 * (low + high),
            text,
            ha="right",
            va="center",
            fontsize=7,
            linespacing=1.1,
        )
    across = [
        ("bore", shape.drill_radius, 0.0 if not shape.cone_slope else 0.5 * shape.thread_bottom, 1),
        ("boss", shape.outer_radius, base, 2),
    ]
    for name, radius, from_height, row in across:
        z = base - row * 0.35 * step
        for side in (-1.0, 1.0):
            ends = [factor * from_height, factor * (z - 0.15 * step)]
            ax.plot([factor * side * radius] * 2, ends, color=theme.LIGHT.weak, lw=0.45)
        _measure(ax, (-factor * radius, factor * z), (factor * radius, factor * z))
        text = f"{name} dia. {as_text(2.0 * radius, 'length', units, 3)}"
        text += "\n(minor diameter)" if name == "bore" else ""
        ax.text(-factor * (radius + 0.2 * step), factor * z, text, ha="right", va="center", fontsize=7)
    ax.set_xlim(factor * (left - 3.2 * step), factor * (-left + 0.04 * height))
    ax.set_ylim(factor * (base - 0.9 * step), factor * (base + 1.04 * height))


def _measure(ax: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a dimension line with arrow heads at both ends."""
    style = {
        "arrowstyle": "<|-|>,head_length=0.25,head_width=0.1",
        "color": theme.LIGHT.weak,
        "lw": 0.7,
        "shrinkA": 0,
        "shrinkB": 0,
    }
    ax.annotate("", xy=end, xytext=start, arrowprops=style)
