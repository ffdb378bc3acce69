"""The first principal stress on the deformed section, one setup on each side of the stud's axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize, TwoSlopeNorm
from matplotlib.ticker import FuncFormatter
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
from studwell.study.results import SetupResult
from studwell.units import in_unit, label, number_text

Array = np.ndarray

DRAWN_SHARE = 0.035
"""Share of the drawing's height that the largest drawn displacement is given, at most."""


@dataclass(frozen=True)
class StressView:
    """One setup at one moment: its fields in that state.

    index : place in the timeline; fields : one state of every body
    """

    result: SetupResult
    index: int
    fields: tuple[BodyFields, ...] = field(repr=False)

    @property
    def when(self) -> str:
        """The moment in plain words."""
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


def stress_view(result: SetupResult, index: int | None = None, cache: SpaceCache | None = None) -> StressView:
    """Return one setup's fields at a moment; by default when the floor's stress is largest.

    index : place in the timeline; cache : spaces shared between setups
    """
    if index is None:
        index = result.outcomes["floor_stress_max"].index
        index = result.timeline.assembled if index is None else index
    fields = recover(result.built, result.timeline, result.history.temperatures, [index], cache)
    return StressView(result, index, fields)


def side_by_side(results: Sequence[SetupResult]) -> tuple[SetupResult, ...]:
    """Return the bottomed setup that ranks best and the best backed-off one that is otherwise most like it.

    One setup alone if all are seated alike.
    """
    bottomed = [r for r in results if r.setup.seating.mode == "bottomed"]
    backed = [r for r in results if r.setup.seating.mode != "bottomed"]
    if not bottomed or not backed:
        return tuple(results[:1])

    def differences(one: SetupResult, other: SetupResult) -> int:
        a, b = one.setup, other.setup
        return sum(
            getattr(a, key) != getattr(b, key) for key in ("boss", "stud", "stack", "washers", "nut", "tightening")
        )

    pairs = [(differences(a, b), i, j) for i, a in enumerate(bottomed) for j, b in enumerate(backed)]
    _, i, j = min(pairs)
    return bottomed[i], backed[j]


def deformation_scale(views: Sequence[StressView], height: float) -> float:
    """Return 1, 2 or 5 times a power of ten: the largest that keeps what is drawn within DRAWN_SHARE of `height` (mm)."""
    largest = max(max(view.largest_move() for view in views), 1e-9)
    wanted = DRAWN_SHARE * height / largest
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(max(power * max(step for step in (1.0, 2.0, 5.0) if step <= wanted / power + 1e-9), 1.0))


def stress_levels(views: Sequence[StressView]) -> Array:
    """Return the bounds of the colours (n,) MPa: round steps, the middle one about 0, for the boss's and stud's stress."""
    values = np.concatenate([f.first_principal[0] for v in views for f in v.fields if f.name in ("boss", "stud")])
    low, high = min(float(np.quantile(values, 0.003)), 0.0), max(float(np.quantile(values, 0.995)), 1.0)
    rough = (high - low) / 16.0
    power = 10.0 ** np.floor(np.log10(rough))
    step = power * next(s for s in (1.0, 2.0, 2.5, 5.0, 10.0) if s >= rough / power - 1e-9)
    return (np.arange(np.floor(low / step - 0.5), np.ceil(high / step + 0.5) + 0.5) + 0.5) * step


def draw_stress_bar(bar: Axes, levels: Array, units: str) -> None:
    """Draw the colour bar of a stress drawing into an axes of its own, lying, with its unit."""
    shown = np.asarray(in_unit(levels, "pressure", units), dtype=float)
    colours = ScalarMappable(norm=_norm(shown), cmap=theme.COOL_TO_WARM)
    figure = bar.figure
    assert figure is not None
    drawn = figure.colorbar(colours, cax=bar, orientation="horizontal", boundaries=shown, extend="both")
    middles = 0.5 * (shown[1:] + shown[:-1])
    drawn.set_ticks(list(middles[:: max(1, len(middles) // 5)]))
    drawn.set_label(f"first principal stress, {label('pressure', units)} (tension positive)")
    drawn.ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: number_text(value, 3)))


def _norm(levels: Array) -> Normalize:
    low, high = float(levels[0]), float(levels[-1])
    if low < 0.0 < high:
        return TwoSlopeNorm(0.0, low, high)
    return TwoSlopeNorm(0.0, -max(abs(high), 1e-9), max(high, 1e-9)) if low >= 0.0 else Normalize(low, high)


def plot_stress(
    views: Sequence[StressView],
    *,
    ax: Axes | None = None,
    levels: Array | None = None,
    scale: float | None = None,
    units: str = "metric",
) -> Axes:
    """Draw the first principal stress of one or two setups on the deformed section, parts named.

    views  : one or two; the first left of the axis, the second right (one alone is drawn on both sides)
    levels : MPa, bounds of the colours; scale : how many times displacements are enlarged; units : "metric" or "inch"
    """
    ax = theme.new_axes() if ax is None else ax
    boss = views[0].parts[0]
    top = max(part.high for view in views for part in view.parts)
    levels = stress_levels(views) if levels is None else levels
    scale = deformation_scale(views, top - boss.low) if scale is None else scale
    factor = _draw(ax, views, levels, scale, units)
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
    _head(ax, views, f"First principal stress, movement x {scale:g}")
    return ax


def plot_floor_stress(
    views: Sequence[StressView],
    *,
    ax: Axes | None = None,
    levels: Array | None = None,
    scale: float | None = None,
    units: str = "metric",
) -> Axes:
    """Draw the first principal stress at the hole's floor and its fillet; arguments as in `plot_stress`."""
    ax = theme.new_axes() if ax is None else ax
    shape = views[0].result.built.layout.boss
    reach = max(1.45 * shape.drill_radius, shape.drill_radius + 6.0 * shape.corner_radius)
    low = -(shape.cone_depth + min(shape.floor_thickness, 0.8 * reach))
    high = 0.85 * reach
    levels = stress_levels(views) if levels is None else levels
    scale = 10.0 if scale is None else scale
    factor = _draw(ax, views, levels, scale, units, (2.0 * reach, low - reach, high + reach))
    ax.set_xlim(-factor * reach, factor * reach)
    ax.set_ylim(factor * low, factor * high)
    centre, radius = shape.fillet_centre, shape.corner_radius
    place = (centre[0] + radius * np.cos(np.pi / 4), centre[1] - radius * np.sin(np.pi / 4))
    for text, point, at in (
        ("fillet", (-place[0], place[1]), (-0.93 * reach, 0.3 * low)),
        ("stud tip", (-0.4 * shape.drill_radius, 0.25 * high), (-0.93 * reach, 0.62 * high)),
        (
            "floor",
            (-0.35 * shape.drill_radius, float(shape.floor_height(np.array(0.35 * shape.drill_radius))) + 0.12 * low),
            (-0.93 * reach, 0.86 * low),
        ),
    ):
        ax.annotate(
            text,
            xy=(factor * point[0], factor * point[1]),
            xytext=(factor * at[0], factor * at[1]),
            fontsize=8,
            va="center",
            color=theme.CELL_INK,
            bbox={"boxstyle": "round,pad=0.2", "fc": theme.CELL_BLANK, "ec": "none", "alpha": 0.85},
            arrowprops={"arrowstyle": "-", "color": theme.CELL_INK, "lw": 0.7, "shrinkB": 0},
        )
    _head(ax, views, f"The same at the hole's floor and fillet, movement x {scale:g}")
    return ax


def _head(ax: Axes, views: Sequence[StressView], title: str) -> None:
    """Write the title, and under it which setup and moment stands on which side."""
    said = [f"{theme.wrapped(v.result.name, 30, 2)}\n{theme.wrapped(v.when, 34, 2)}" for v in views[:2]]
    for place, text in enumerate(said):
        at, align = ((0.49, "right") if place == 0 else (0.51, "left")) if len(views) > 1 else (0.5, "center")
        ax.text(
            at, 1.01, text, transform=ax.transAxes, ha=align, va="bottom", fontsize=7.5, linespacing=1.15
        )  # fmt: skip
    most = max(text.count("\n") for text in said) + 1
    ax.set_title(title, pad=8.0 + 9.5 * most, loc="left")


def _rise(view: StressView, part: Part, scale: float) -> float:
    """How far a part is drawn from its place, on average, mm."""
    if part.body is None or part.mesh is None:
        return float(np.mean(_between(view, part, scale))) - 0.5 * (part.low + part.high)
    return float(np.mean(view.positions(part.body, scale)[:, 1] - part.mesh.nodes[:, 1]))


def _between(view: StressView, part: Part, scale: float) -> tuple[float, float]:
    """Return the drawn heights, mm, of the two faces that a gasket or spring lies between."""
    parts = {other.name: other for other in view.parts}
    heights = []
    for name, height in ((part.lower, part.low), (part.upper, parts[part.upper].low)):
        other = parts[name]
        assert other.mesh is not None and other.body is not None
        on_face = np.abs(other.mesh.nodes[:, 1] - height) < 1e-6
        heights.append(float(np.mean(view.positions(other.body, scale)[on_face, 1])))
    return heights[0], heights[1]


def _draw(
    ax: Axes,
    views: Sequence[StressView],
    levels: Array,
    scale: float,
    units: str,
    window: tuple[float, float, float] | None = None,
) -> float:
    """Fill the section on both sides; window (mm): only elements up to a radius and between two heights."""
    factor = section_axes(ax, units)
    norm = _norm(np.asarray(levels, dtype=float))
    sides = [(view, side) for view, side in zip(views, (-1.0, 1.0), strict=False)]
    if len(views) == 1:
        sides.append((views[0], 1.0))
    for view, side in sides:
        for part in view.parts:
            if part.mesh is None or part.body is None:
                if window is None:
                    draw_soft(ax, part, side, factor, *_between(view, part, scale))
                continue
            fields = view.fields[part.body]
            chosen = None
            if window is not None:
                centre = part.mesh.nodes[part.mesh.elements[:, 8]]
                chosen = np.nonzero(
                    (centre[:, 0] < window[0]) & (centre[:, 1] > window[1]) & (centre[:, 1] < window[2])
                )[0]
                if not len(chosen):
                    continue
            positions = factor * view.positions(part.body, scale) * [side, 1.0]
            drawn = Triangulation(positions[:, 0], positions[:, 1], triangles(part.mesh, chosen))
            filled = ax.tricontourf(
                drawn, fields.first_principal[0], levels=levels, cmap=theme.COOL_TO_WARM, norm=norm, extend="both"
            )
            filled.set_zorder(BELOW)
            draw_outline(ax, part.mesh, positions)
    ax.axvline(0.0, color=theme.LIGHT.weak, lw=0.8, ls=(0, (8, 2, 1.5, 2)))
    ax.set_rasterization_zorder(0.0)
    return factor
