"""The first principal stress on the deformed section, one setup on each side of the stud's axis."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize, TwoSlopeNorm
from matplotlib.ticker import FuncFormatter

from studwell.show import theme
from studwell.show.field_view import (
    Colouring,
    FieldView,
    deformation_scale,
    draw_fields,
    draw_whole_section,
    field_view,
    head_lines,
)
from studwell.strength.recovery import SpaceCache
from studwell.study.results import SetupResult
from studwell.units import in_unit, label, number_text

Array = np.ndarray


def stress_view(result: SetupResult, index: int | None = None, cache: SpaceCache | None = None) -> FieldView:
    """Return one setup's fields at a moment; by default when the floor's stress is largest.

    index : place in the timeline; cache : spaces shared between setups
    """
    if index is None:
        index = result.outcomes["floor_stress_max"].index
        index = result.timeline.assembled if index is None else index
    return field_view(result, index, cache)


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


def stress_levels(views: Sequence[FieldView], units: str = "metric") -> Array:
    """Return the bounds of the colours (n,) in the shown unit: round steps, the middle one about 0, for boss and stud."""
    inside = np.concatenate([f.first_principal[0] for v in views for f in v.fields if f.name in ("boss", "stud")])
    values = np.asarray(in_unit(inside, "pressure", units), dtype=float)
    low, high = min(float(np.quantile(values, 0.003)), 0.0), max(float(np.quantile(values, 0.995)), 1.0)
    rough = (high - low) / 16.0
    power = 10.0 ** np.floor(np.log10(rough))
    step = power * next(s for s in (1.0, 2.0, 2.5, 5.0, 10.0) if s >= rough / power - 1e-9)
    return (np.arange(np.floor(low / step - 0.5), np.ceil(high / step + 0.5) + 0.5) + 0.5) * step


def draw_stress_bar(bar: Axes, levels: Array, units: str) -> None:
    """Draw the colour bar of a stress drawing into an axes of its own, lying, with its unit; levels: in that unit."""
    shown = np.asarray(levels, dtype=float)
    colours = ScalarMappable(norm=stress_norm(shown), cmap=theme.COOL_TO_WARM)
    figure = bar.figure
    assert figure is not None
    drawn = figure.colorbar(colours, cax=bar, orientation="horizontal", boundaries=shown, extend="both")
    middles = 0.5 * (shown[1:] + shown[:-1])
    drawn.set_ticks(list(middles[:: max(1, len(middles) // 5)]))
    drawn.set_label(f"first principal stress, {label('pressure', units)} (tension positive)")
    drawn.ax.xaxis.set_major_formatter(
        FuncFormatter(lambda value, _: number_text(0.0 if abs(value) < 1e-9 else value, 3))
    )


def stress_colouring(levels: Array, units: str = "metric") -> Colouring:
    """Return how first principal stress becomes colour between the bounds of `stress_levels` in the same units."""
    return Colouring(
        lambda fields: np.asarray(in_unit(fields.first_principal, "pressure", units), dtype=float),
        levels,
        stress_norm(np.asarray(levels, dtype=float)),
        theme.COOL_TO_WARM,
    )


def stress_norm(levels: Array) -> Normalize:
    """Return the colours' norm over bounds (n,): 0 in the middle, so that what carries nothing is pale."""
    low, high = float(levels[0]), float(levels[-1])
    if low < 0.0 < high:
        return TwoSlopeNorm(0.0, low, high)
    return TwoSlopeNorm(0.0, -max(abs(high), 1e-9), max(high, 1e-9)) if low >= 0.0 else Normalize(low, high)


def plot_stress(
    views: Sequence[FieldView],
    *,
    ax: Axes | None = None,
    levels: Array | None = None,
    scale: float | None = None,
    units: str = "metric",
) -> Axes:
    """Draw the first principal stress of one or two setups on the deformed section, parts named.

    views  : one or two; the first left of the axis, the second right (one alone is drawn on both sides)
    levels : bounds of the colours in the shown unit; scale : how many times displacements are enlarged
    units  : "metric" or "inch"
    """
    ax = theme.new_axes() if ax is None else ax
    boss = views[0].parts[0]
    top = max(part.high for view in views for part in view.parts)
    levels = stress_levels(views, units) if levels is None else levels
    scale = deformation_scale(views, top - boss.low) if scale is None else scale
    title = f"First principal stress, movement x {scale:g}"
    draw_whole_section(ax, views, stress_colouring(levels, units), scale, units, title)
    return ax


def plot_floor_stress(
    views: Sequence[FieldView],
    *,
    ax: Axes | None = None,
    levels: Array | None = None,
    scale: float | None = None,
    units: str = "metric",
    colouring: Colouring | None = None,
    heading: str = "The same at the hole's floor and fillet",
) -> Axes:
    """Draw the first principal stress at the hole's floor and its fillet; arguments as in `plot_stress`.

    colouring : another field than that, with its colours, instead of levels; heading : what it is
    """
    ax = theme.new_axes() if ax is None else ax
    shape = views[0].result.built.layout.boss
    reach = max(1.45 * shape.drill_radius, shape.drill_radius + 6.0 * shape.corner_radius)
    low = -(shape.cone_depth + min(shape.floor_thickness, 0.8 * reach))
    high = 0.85 * reach
    if colouring is None:
        colouring = stress_colouring(stress_levels(views, units) if levels is None else levels, units)
    scale = 10.0 if scale is None else scale
    factor = draw_fields(ax, views, colouring, scale, units, (2.0 * reach, low - reach, high + reach))
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
    head_lines(ax, views, f"{heading}, movement x {scale:g}")
    return ax
