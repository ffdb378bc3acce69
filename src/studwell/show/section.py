"""What drawings of the section share: parts and their names, outlines, triangles, axes, names that do not collide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PathCollection
from matplotlib.patches import Polygon
from matplotlib.path import Path
from matplotlib.ticker import FuncFormatter

from studwell.case.records import Layer, SpringWasher
from studwell.joint.build import BuiltJoint
from studwell.mesh.mesh import Mesh
from studwell.show import theme
from studwell.units import in_unit, label

Array = np.ndarray

BELOW = -1.0
"""Drawing order of coloured areas: all of an axes' areas become one picture inside a vector file."""


@dataclass(frozen=True)
class Part:
    """A drawn part: kind as in theme.part_colour, place among the layers, its ring (mm).

    body, mesh  : of a meshed part; lower, upper : names of the parts that a gasket or spring lies between
    """

    name: str
    kind: str
    place: int
    inner: float
    outer: float
    low: float
    high: float
    body: int | None = None
    mesh: Mesh | None = field(default=None, repr=False)
    lower: str = ""
    upper: str = ""

    @property
    def colour(self) -> str:
        """Fill of the part."""
        return theme.part_colour(self.kind, self.place)


def parts_of(built: BuiltJoint) -> tuple[Part, ...]:
    """Return the parts of a section from the boss upwards, gaskets and spring washers (not meshed) included."""
    washers = {ring.name for ring in built.layout.rings if ring.is_washer}
    parts = []
    place = 0
    for number, body in enumerate(built.bodies):
        name, mesh = body.spec.name, body.spec.mesh
        kind = name if name in ("boss", "stud", "insert", "nut") else "washer" if name in washers else "layer"
        (inner, low), (outer, high) = mesh.nodes.min(axis=0), mesh.nodes.max(axis=0)
        parts.append(Part(name, kind, place, float(inner), float(outer), float(low), float(high), number, mesh))
        place += kind == "layer"
    parts += _soft_parts(built, {part.name: part for part in parts})
    return tuple(sorted(parts, key=lambda part: (part.kind != "boss", part.kind != "stud", part.low)))


def _soft_parts(built: BuiltJoint, solid: dict[str, Part]) -> list[Part]:
    setup = built.setup
    items: list[Layer | SpringWasher] = [layer for layer in setup.stack if layer.gasket is not None]
    items += setup.springs
    faces = [joining for joining in built.layout.joinings if joining.kind in ("gasket", "spring")]
    found = []
    for item, face in zip(items, faces, strict=True):
        low = setup.boss.hole_depth if face.lower == "boss" else solid[face.lower].high
        high = solid[face.upper].low - (built.layout.nut_lift if face.upper == "nut" else 0.0)
        inner, outer = 0.5 * item.inner_diameter, 0.5 * item.outer_diameter
        name = item.name
        if isinstance(item, SpringWasher) and item.series * item.parallel > 1:
            name = f"{item.series * item.parallel} x {name}"
        found.append(Part(name, face.kind, 0, inner, outer, low, high, lower=face.lower, upper=face.upper))
    return found


def triangles(mesh: Mesh, elements: Array | None = None) -> Array:
    """Return node numbers of eight triangles an element, (8 M, 3), of all or of chosen elements."""
    parts = mesh.linear_quads().reshape(-1, 4, 4)
    quads = (parts if elements is None else parts[elements]).reshape(-1, 4)
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def edge_lines(mesh: Mesh, facets: Array, positions: Array) -> Array:
    """Return the polylines (n, 3, 2) of facets, through their middle nodes, at node positions (N, 2)."""
    return positions[mesh.facet_nodes[facets][:, [0, 2, 1]]]


def joined_lines(lines: Array, colour: str, width: float) -> PathCollection:
    """Return polylines (n, k, 2) as one artist of one path: in a file a tenth of what n of them take. width: points."""
    count, points = lines.shape[:2]
    codes = np.tile([Path.MOVETO, *[Path.LINETO] * (points - 1)], count).astype(Path.code_type)
    path = Path(lines.reshape(-1, 2), codes)
    return PathCollection([path], facecolors="none", edgecolors=colour, linewidths=width)


def draw_outline(ax: Axes, mesh: Mesh, positions: Array, faint: bool = False) -> None:
    """Draw the outer edges of a mesh at node positions (N, 2), the axis of revolution left out; faint: behind all."""
    lines = edge_lines(mesh, mesh.outer, positions)
    on_axis = np.abs(lines[:, :, 0]).max(axis=1) < 1e-9
    colour = theme.LIGHT.weak if faint else theme.CELL_INK
    drawn = joined_lines(lines[~on_axis], colour, 0.5 if faint else 0.7)
    if faint:
        drawn.set_zorder(BELOW - 1.0)
    ax.add_collection(drawn)


def draw_soft(ax: Axes, part: Part, side: float, factor: float, low: float, high: float) -> None:
    """Draw a gasket or spring washers as a hatched ring on one side (1 right, -1 left of the axis).

    factor : shown length per mm; low, high : the heights between which it lies now, mm
    """
    r = side * factor * np.array([part.inner, part.outer, part.outer, part.inner])
    z = factor * np.array([low, low, max(low, high), max(low, high)])
    ax.add_patch(
        Polygon(
            np.column_stack([r, z]),
            facecolor=part.colour,
            edgecolor=theme.CELL_INK,
            linewidth=0.6,
            hatch="////" if part.kind == "gasket" else "xxxx",
        )
    )


def section_axes(ax: Axes, units: str) -> float:
    """Set equal scales, axis labels with their unit, and distances from the stud's axis on both sides.

    returns : shown length per mm
    """
    ax.set_aspect("equal")
    ax.set_xlabel(f"distance from the stud's axis, {label('length', units)}")
    ax.set_ylabel(f"height above the hole's floor, {label('length', units)}")
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{abs(value):g}"))
    return float(in_unit(1.0, "length", units))


def name_parts(
    ax: Axes, names: Sequence[tuple[str, float, float]], at: float, gap: float, limits: tuple[float, float]
) -> None:
    """Write names beside a section with a thin line to a point of each part.

    names  : (text, r, z) in shown lengths, the point that the line ends at
    at     : where the names stand; they are written away from the section
    gap    : the least distance between two names; limits: the lowest and highest place of a name
    """
    ordered = sorted(names, key=lambda entry: entry[2])
    heights = spread([z for _, _, z in ordered], gap, limits)
    align = "left" if at > 0 else "right"
    for (text, r, z), height in zip(ordered, heights, strict=True):
        ax.annotate(
            text,
            xy=(r, z),
            xytext=(at, height),
            ha=align,
            va="center",
            fontsize=8,
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": theme.LIGHT.weak, "lw": 0.6, "shrinkA": 2, "shrinkB": 0},
        )


def spread(positions: Sequence[float], gap: float, limits: tuple[float, float]) -> list[float]:
    """Return rising positions moved as little as a simple pass up and a pass down can, at least `gap` apart."""
    moved = list(positions)
    for i in range(1, len(moved)):
        moved[i] = max(moved[i], moved[i - 1] + gap)
    if moved and moved[-1] > limits[1]:
        moved[-1] = limits[1]
        for i in range(len(moved) - 2, -1, -1):
            moved[i] = min(moved[i], moved[i + 1] - gap)
    return moved


def inside_point(part: Part, side: float, factor: float) -> tuple[float, float]:
    """Return a point of a part for its name's line, near its outer edge, in shown lengths."""
    height = 0.5 * (part.low + part.high)
    if part.kind == "boss":
        height = part.low + 0.6 * (part.high - part.low)
    if part.kind == "stud":
        return 0.0, factor * (part.high - 0.02 * (part.high - part.low))
    return side * factor * (part.outer - 0.12 * (part.outer - part.inner)), factor * height
