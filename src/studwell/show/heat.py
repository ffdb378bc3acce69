"""Solved heat drawn: temperatures over the last cycle, how far stud and boss differ, temperature on the section."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import BoundaryNorm
from matplotlib.ticker import FuncFormatter

from studwell.show import theme
from studwell.show.field_view import (
    Colouring,
    FieldView,
    deformation_scale,
    draw_fields,
    draw_whole_section,
    head_lines,
)
from studwell.show.history import write_above
from studwell.show.time_axis import TimeAxis, axis_of, last_cycle, time_in_cycle
from studwell.study.heat_numbers import boss_temperature, stud_above_boss, stud_temperature
from studwell.study.results import Comparison, SetupResult
from studwell.units import in_unit, label, number_text

Array = np.ndarray

BANDS = 18
"""About how many bands of colour a temperature drawing has."""

PLACES = (("tip", "stud's tip"), ("thread", "middle of its thread"))
"""Places of the stud that are held against the boss, and how the figure calls them."""


def shown_heat(comparison: Comparison) -> SetupResult | None:
    """Return the best-ranked setup whose heat was solved, None if there is none."""
    return next((result for result in comparison.results if result.heat is not None), None)


def plot_temperatures(result: SetupResult, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Draw boss, layers, stud tip, stud top and nut over the last cycle of a solved heat, its phases named."""
    ax = theme.new_axes() if ax is None else ax
    axis, steps = axis_of([result], "last"), last_cycle(result)
    places = axis.within(time_in_cycle(result, steps))
    for order, (name, values) in enumerate(named_temperatures(result)):
        shown = in_unit(values[steps], "temperature", units)
        every = max(1, len(steps) // 7)
        start = (order * every) // 6
        ax.plot(places, shown, label=name, markevery=(start, every), **theme.series_style(order))
    _dress(ax, axis)
    ax.set_ylabel(f"temperature, {label('temperature', units)}")
    write_above(ax, [(name, place / axis.end) for name, place in axis.phase_places()])
    return ax


def plot_differences(
    results: Sequence[SetupResult], *, ax: Axes | None = None, colours: Sequence[int] | None = None
) -> Axes:
    """Draw how much hotter the stud's tip and the middle of its thread are than the boss, in K, over the last cycle.

    results : of solved heat with the same phases; colours : place of each in theme.series_style
    """
    ax = theme.new_axes() if ax is None else ax
    axis = axis_of(results, "last")
    ax.axhline(0.0, color=theme.LIGHT.weak, lw=0.8)
    for number, result in enumerate(results):
        steps = last_cycle(result)
        places = axis.within(time_in_cycle(result, steps))
        style = dict(theme.series_style(number if colours is None else colours[number]))
        for place, words in PLACES:
            values = stud_above_boss(result, "tip" if place == "tip" else "thread")[steps]
            style["linestyle"] = "-" if place == "tip" else theme.DASHES[2]
            every = max(1, len(steps) // 7)
            start = (2 * number + (place == "thread")) * every // 4
            name = theme.wrapped(f"{result.name}: {words}", 60, 2)
            ax.plot(places, values, label=name, markevery=(start, every), **style)
    _dress(ax, axis)
    ax.set_ylabel(f"stud above boss, {label('temperature_difference')}")
    return ax


def named_temperatures(result: SetupResult) -> list[tuple[str, Array]]:
    """Return (name, (t,) degC) of the boss, each layer, the stud's ends and the nut over a solved run."""
    assert result.heat is not None
    fields = result.heat.fields
    layers = [layer.name for layer in result.setup.stack if layer.material is not None]
    stud = next(body.spec.mesh.nodes for body in result.built.bodies if body.spec.name == "stud")
    top = stud[:, 1] >= stud[:, 1].max() - 1e-6
    return [
        ("boss", boss_temperature(result)),
        ("stud tip", stud_temperature(result, "tip")),
        *[(name, fields[name].mean(axis=1)) for name in layers],
        ("stud top", fields["stud"][:, top].mean(axis=1)),
        ("nut", fields["nut"].mean(axis=1)),
    ]


def _dress(ax: Axes, axis: TimeAxis) -> None:
    for place in axis.boundaries():
        ax.axvline(place, color=theme.LIGHT.faint, lw=0.8, zorder=0)
    ax.set_xlim(0.0, axis.end)
    ax.grid(axis="y")
    ax.set_axisbelow(True)
    axis.dress(ax)


def temperature_levels(views: Sequence[FieldView], units: str) -> Array:
    """Return the bounds of the colours (n,) in the shown unit: round steps over all temperatures of the views."""
    values = np.concatenate([np.ravel(f.temperature) for view in views for f in view.fields])
    low, high = (float(in_unit(float(value), "temperature", units)) for value in (values.min(), values.max()))
    return round_levels(low, high, BANDS)


def round_levels(low: float, high: float, bands: int) -> Array:
    """Return bounds (n,) in steps of 1, 2, 2.5 or 5 times a power of ten that hold low and high, about `bands` of them."""
    rough = max(high - low, 1e-3) / bands
    power = 10.0 ** np.floor(np.log10(rough))
    step = power * next(s for s in (1.0, 2.0, 2.5, 5.0, 10.0) if s >= rough / power - 1e-9)
    first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
    return np.arange(first, max(last, first + 2) + 0.5) * step


def temperature_colouring(levels: Array, units: str) -> Colouring:
    """Return how temperature becomes colour between bounds in the shown unit."""
    return Colouring(
        lambda fields: np.asarray(in_unit(fields.temperature, "temperature", units), dtype=float),
        levels,
        BoundaryNorm(list(levels), theme.COLD_TO_HOT.N, extend="both"),
        theme.COLD_TO_HOT,
    )


def draw_temperature_bar(bar: Axes, levels: Array, units: str, upright: bool = False) -> None:
    """Draw the colour bar of a temperature drawing into an axes of its own, with its unit."""
    colouring = temperature_colouring(levels, units)
    figure = bar.figure
    assert figure is not None
    drawn = figure.colorbar(
        ScalarMappable(norm=colouring.norm, cmap=colouring.colours),
        cax=bar,
        orientation="vertical" if upright else "horizontal",
        spacing="uniform",
    )
    drawn.set_ticks(list(levels[:: max(1, len(levels) // 6)]))
    drawn.set_label(f"temperature, {label('temperature', units)}")
    (drawn.ax.yaxis if upright else drawn.ax.xaxis).set_major_formatter(
        FuncFormatter(lambda value, _: number_text(value, 4))
    )


def plot_temperature_field(
    views: Sequence[FieldView],
    *,
    ax: Axes | None = None,
    levels: Array | None = None,
    scale: float | None = None,
    units: str = "metric",
    said: Sequence[str] | None = None,
) -> Axes:
    """Draw the temperature on the deformed section at one or two moments, parts named.

    views  : the first left of the axis, the second right (one alone is drawn on both sides)
    levels : bounds of the colours in the shown unit; scale : how many times displacements are enlarged
    said   : a line or two above each side
    """
    ax = theme.new_axes() if ax is None else ax
    boss = views[0].parts[0]
    top = max(part.high for view in views for part in view.parts)
    levels = temperature_levels(views, units) if levels is None else levels
    scale = deformation_scale(views, top - boss.low) if scale is None else scale
    title = f"Temperature, movement x {scale:g}"
    draw_whole_section(ax, views, temperature_colouring(levels, units), scale, units, title, said)
    return ax


def plot_boss_temperature(
    view: FieldView, *, ax: Axes | None = None, levels: Array | None = None, units: str = "metric", said: str = ""
) -> Axes:
    """Draw the temperature of the boss and of the stud in it at one moment, on colours of its own.

    levels : bounds of the colours in the shown unit, of `boss_levels`; said : a line or two above it
    """
    ax = theme.new_axes() if ax is None else ax
    levels = boss_levels(view, units) if levels is None else levels
    boss = view.parts[0]
    top = boss.high + 0.2 * (boss.high - boss.low)
    window = (boss.outer + 1.0, boss.low - 1.0, top)
    factor = draw_fields(ax, [view], temperature_colouring(levels, units), 1.0, units, window)
    margin = 0.04 * (boss.high - boss.low)
    ax.set_xlim(-factor * (boss.outer + margin), factor * (boss.outer + margin))
    ax.set_ylim(factor * (boss.low - margin), factor * top)
    head_lines(ax, [view], "Boss and stud when they differ most", [said] if said else None)
    return ax


def boss_levels(view: FieldView, units: str) -> Array:
    """Return the bounds of the colours (n,) in the shown unit over the boss and the stud's end in it."""
    boss = view.parts[0]
    values = [view.fields[boss.body or 0].temperature[0]]
    stud = next(f for f in view.fields if f.name == "stud")
    values.append(stud.temperature[0][stud.mesh.nodes[:, 1] <= boss.high])
    shown = np.asarray(in_unit(np.concatenate(values), "temperature", units), dtype=float)
    return round_levels(float(shown.min()), float(shown.max()), BANDS)


def said_of(view: FieldView, what: str, width: int = 20) -> str:
    """Return what a drawing says above a moment: what it is, and when; width: of its lines, in letters."""
    return f"{what}\n{theme.wrapped(view.when, width, 3)}"
