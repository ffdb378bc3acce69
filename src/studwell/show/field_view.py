"""One setup's fields at one moment, drawn on its deformed section: what every field drawing shares."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Colormap, Normalize
from matplotlib.tri import Triangulation

from studwell.show import theme
from studwell.show.section import (
    BELOW,
    Part,
    draw_outline,
    draw_soft,
    inside_point,
    name_parts,
    parts_of,
    section_axes,
    triangles,
)
from studwell.strength.recovery import BodyFields, SpaceCache, recover
from studwell.study.heat_numbers import moment_at
from studwell.study.results import SetupResult

Array = np.ndarray

DRAWN_SHARE = 0.035
"""Share of the drawing's height that the largest drawn displacement is given, at most."""


@dataclass(frozen=True)
class Colouring:
    """How a field becomes colour.

    values : a body's fields -> values (states, N) in the shown unit; levels (n,) : bounds of the colours in that unit
    """

    values: Callable[[BodyFields], Array]
    levels: Array = field(repr=False)
    norm: Normalize
    colours: Colormap


@dataclass(frozen=True)
class FieldView:
    """One setup at one moment: its fields in that state.

    index : place in the timeline; fields : one state of every body
    """

    result: SetupResult
    index: int
    fields: tuple[BodyFields, ...] = field(repr=False)

    @property
    def when(self) -> str:
        """The moment in plain words; of solved heat by phase and cycle."""
        if self.result.heat is not None:
            return moment_at(self.result, self.index).text(self.result.heat.cycles)
        return self.result.timeline.when(self.index)

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """The drawn parts."""
        return parts_of(self.result.built)

    @cached_property
    def carried(self) -> Array:
        """How far each body moved without any strain, (bodies,) mm: drawn as it is, only the rest is enlarged.

        The stud rises by its back-off; what lies on a spring washer sinks by its travel; a nut that a dome holds up
        stays up.
        """
        built = self.result.built
        state = self.result.timeline.states[self.index]
        names = [body.spec.name for body in built.bodies]
        moves = np.zeros(len(names))
        moves[names.index("stud")] = built.setup.tip_gap
        sunk = 0.0
        for face in built.layout.joinings:
            if face.kind == "spring" and face.name not in state.absent:
                sunk += float(np.mean(np.maximum(-state.openings[built.joint.slices[face.name]], 0.0)))
            moves[names.index(face.upper)] = -sunk
        return moves

    def positions(self, body: int, scale: float) -> Array:
        """Return node positions (N, 2) mm of a body with its strained displacement enlarged `scale` times."""
        fields = self.fields[body]
        carried = np.array([0.0, self.carried[body]])
        return fields.mesh.nodes + carried + scale * (fields.displacement[0] - carried)

    def largest_move(self) -> float:
        """Return the largest displacement that is enlarged, mm."""
        return max(
            float(np.abs(self.positions(k, 1.0) - f.mesh.nodes - [0.0, self.carried[k]]).max())
            for k, f in enumerate(self.fields)
        )


def field_view(result: SetupResult, index: int, cache: SpaceCache | None = None) -> FieldView:
    """Return one setup's fields at a place in its timeline; cache: spaces shared between setups."""
    return field_views(result, [index], cache)[0]


def field_views(result: SetupResult, indices: Sequence[int], cache: SpaceCache | None = None) -> tuple[FieldView, ...]:
    """Return one setup's fields at several places in its timeline; cache: spaces shared between setups."""
    found = recover(result.built, result.timeline, result.history.temperatures, indices, cache)

    def one(place: int) -> tuple[BodyFields, ...]:
        part = slice(place, place + 1)
        return tuple(
            BodyFields(f.name, f.mesh, f.displacement[part], f.temperature[part], f.stress[part]) for f in found
        )

    return tuple(FieldView(result, index, one(place)) for place, index in enumerate(indices))


def deformation_scale(views: Sequence[FieldView], height: float) -> float:
    """Return 1, 2 or 5 times a power of ten: the largest that keeps what is drawn within DRAWN_SHARE of `height` (mm)."""
    largest = max(max(view.largest_move() for view in views), 1e-9)
    wanted = DRAWN_SHARE * height / largest
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(max(power * max(step for step in (1.0, 2.0, 5.0) if step <= wanted / power + 1e-9), 1.0))


def draw_whole_section(
    ax: Axes,
    views: Sequence[FieldView],
    colouring: Colouring,
    scale: float,
    units: str,
    title: str,
    said: Sequence[str] | None = None,
) -> None:
    """Draw a field of one or two views on the whole deformed section, every part named.

    views : the first left of the axis, the second right (one alone is drawn on both sides)
    scale : how many times displacements are enlarged
    said  : a line or two above each side; None: the setup and the moment
    """
    boss = views[0].parts[0]
    top = max(part.high for view in views for part in view.parts)
    factor = draw_fields(ax, views, colouring, scale, units)
    width = factor * max(part.outer for view in views for part in view.parts)
    height = factor * (top - boss.low)
    names = []
    known: set[str] = set()
    for view, side in zip(reversed(views[:2]), (1.0, -1.0), strict=False):
        for part in view.parts:
            if part.name not in known:
                known.add(part.name)
                r, z = inside_point(part, side, factor)
                names.append((theme.wrapped(part.name, 16), r, z + factor * _rise(view, part, scale)))
    limits = (factor * boss.low, factor * top + 0.03 * height)
    name_parts(ax, names, width + 0.09 * height, 0.036 * height, limits)
    ax.set_xlim(-width - 0.05 * height, width + 0.05 * height)
    ax.set_ylim(factor * boss.low - 0.03 * height, factor * top + 0.07 * height)
    head_lines(ax, views, title, said)


def head_lines(ax: Axes, views: Sequence[FieldView], title: str, said: Sequence[str] | None = None) -> None:
    """Write the title, and under it which setup and moment stands on which side, or what is `said` of each."""
    if said is None:
        said = [f"{theme.wrapped(v.result.name, 30, 2)}\n{theme.wrapped(v.when, 40, 2)}" for v in views[:2]]
    for place, text in enumerate(said):
        at, align = ((0.47, "right") if place == 0 else (0.53, "left")) if len(views) > 1 else (0.5, "center")
        ax.text(
            at, 1.01, text, transform=ax.transAxes, ha=align, va="bottom", fontsize=7.5, linespacing=1.15
        )  # fmt: skip
    most = max(text.count("\n") for text in said) + 1
    ax.set_title(title, pad=8.0 + 9.5 * most, loc="left")


def _rise(view: FieldView, part: Part, scale: float) -> float:
    """How far a part is drawn from its place, on average, mm."""
    if part.body is None or part.mesh is None:
        return float(np.mean(_between(view, part, scale))) - 0.5 * (part.low + part.high)
    return float(np.mean(view.positions(part.body, scale)[:, 1] - part.mesh.nodes[:, 1]))


def _between(view: FieldView, part: Part, scale: float) -> tuple[float, float]:
    """Return the drawn heights, mm, of the two faces that a gasket or spring lies between."""
    parts = {other.name: other for other in view.parts}
    heights = []
    for name, height in ((part.lower, part.low), (part.upper, parts[part.upper].low)):
        other = parts[name]
        assert other.mesh is not None and other.body is not None
        on_face = np.abs(other.mesh.nodes[:, 1] - height) < 1e-6
        heights.append(float(np.mean(view.positions(other.body, scale)[on_face, 1])))
    return heights[0], heights[1]


def draw_fields(
    ax: Axes,
    views: Sequence[FieldView],
    colouring: Colouring,
    scale: float,
    units: str,
    window: tuple[float, float, float] | None = None,
) -> float:
    """Fill the section on both sides and draw its outlines; returns shown length per mm.

    window : mm, only elements up to a radius and between two heights
    """
    factor = section_axes(ax, units)
    for place, view in enumerate(views[:2]):
        for side in (-1.0, 1.0) if len(views) == 1 else ((-1.0,), (1.0,))[place]:
            draw_half(ax, view, side, colouring, scale, factor, window)
    ax.axvline(0.0, color=theme.LIGHT.weak, lw=0.8, ls=(0, (8, 2, 1.5, 2)))
    ax.set_rasterization_zorder(0.0)
    return factor


def draw_half(
    ax: Axes,
    view: FieldView,
    side: float,
    colouring: Colouring,
    scale: float,
    factor: float,
    window: tuple[float, float, float] | None = None,
) -> None:
    """Fill one half of the section (side 1 right, -1 left of the axis) and draw its outlines.

    factor : shown length per mm; the rest as in `draw_fields`
    """
    for part in view.parts:
        if part.mesh is None or part.body is None:
            if window is None:
                draw_soft(ax, part, side, factor, *_between(view, part, scale))
            continue
        fields = view.fields[part.body]
        chosen = None
        if window is not None:
            centre = part.mesh.nodes[part.mesh.elements[:, 8]]
            chosen = np.nonzero((centre[:, 0] < window[0]) & (centre[:, 1] > window[1]) & (centre[:, 1] < window[2]))[0]
            if not len(chosen):
                continue
        positions = factor * view.positions(part.body, scale) * [side, 1.0]
        filled = ax.tricontourf(
            Triangulation(positions[:, 0], positions[:, 1], triangles(part.mesh, chosen)),
            colouring.values(fields)[0],
            levels=colouring.levels,
            cmap=colouring.colours,
            norm=colouring.norm,
            extend="both",
        )
        filled.set_zorder(BELOW)
        draw_outline(ax, part.mesh, positions)
