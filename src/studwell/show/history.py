"""Clamp, tip force and thread load of every setup over seating, tightening and the heat cycle."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes

from studwell.show import theme
from studwell.show.time_axis import TimeAxis, comparison_axis
from studwell.study.heat_numbers import cycles_lived
from studwell.study.results import Comparison, SetupResult
from studwell.units import in_unit, label

Array = np.ndarray

LEAD_SHARE = 0.12
"""Width of the strip before the run, as a share of the run: seating and tightening have no time scale."""
MARKED = 9
"""About how many markers a line carries."""


@dataclass(frozen=True)
class Lines:
    """What is drawn of one setup: places (n,) in shown time, values (n,) N; negative places lie before the run."""

    name: str
    places: Array = field(repr=False)
    values: Array = field(repr=False)


def plot_clamp(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the clamp load at the lowest clamped face of every setup."""
    return _plot(comparison, "clamp", "clamp", ax)


def plot_tip_force(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the force of the stud's tip on the hole's floor of every setup."""
    return _plot(comparison, "tip", "tip force", ax)


def plot_thread_load(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the load that the boss thread carries of every setup."""
    return _plot(comparison, "thread", "thread load", ax)


def name_phases(comparison: Comparison, ax: Axes) -> None:
    """Write the names of the history's points or phases above an axes, and of the strip before the run."""
    if not comparison.results:
        return
    axis = comparison_axis(comparison)
    end, low = axis.end, -LEAD_SHARE * axis.end
    ax.set_xlim(low, end * 1.01)
    points = axis.phase_places()
    if not points:
        longest = max(comparison.results, key=lambda r: r.timeline.times.max())
        points = [(name, float(longest.timeline.times[at]) * axis.scale) for at, name in longest.timeline.labels]
        points = [(name, place) for name, place in points if place <= end * 1.01]
        if all(name.lower() != "assembled" for name, _ in points):
            points.append(("assembled", 0.0))
    else:
        last = {cycles_lived(result) for result in comparison.results}
        axis.name_cycles(ax, f"cycle {last.pop()}" if len(last) == 1 else "last cycle")
        if axis.cycles > 1:  # room for their names above the lines
            ax.set_ylim(top=1.09 * ax.get_ylim()[1])
    points.append(("seat, tighten", -0.5 * LEAD_SHARE * end))
    for name, place in points:
        write_above(ax, theme.wrapped(name, 18), (place - low) / (end * 1.01 - low))


def write_above(ax: Axes, text: str, place: float) -> None:
    """Write a slanting name above an axes at a share of its width."""
    ax.annotate(
        text,
        xy=(place, 1.0),
        xycoords="axes fraction",
        xytext=(2, 3),
        textcoords="offset points",
        rotation=28,
        rotation_mode="anchor",
        ha="left",
        va="bottom",
        fontsize=7.5,
        color=theme.LIGHT.weak,
        annotation_clip=False,
    )


def lines_of(result: SetupResult, force: str, axis: TimeAxis) -> Lines:
    """Return one setup's line of a force; force: a field of Forces."""
    return placed(result, np.asarray(getattr(result.timeline.forces, force), dtype=float), axis)


def placed(result: SetupResult, values: Array, axis: TimeAxis) -> Lines:
    """Return one setup's line of a quantity given in every state of its timeline, (states,)."""
    timeline = result.timeline
    before = timeline.assembled
    lead = -LEAD_SHARE * axis.end * (1.0 - np.arange(before) / max(before, 1))
    places, steps = axis.places(result)
    return Lines(
        result.name, np.concatenate([lead, places]), np.concatenate([values[:before], values[timeline.run][steps]])
    )


def _plot(comparison: Comparison, force: str, quantity: str, ax: Axes | None) -> Axes:
    ax = theme.new_axes() if ax is None else ax
    units = comparison.case.units
    axis = comparison_axis(comparison)
    end = axis.end
    order = {setup.name: place for place, setup in enumerate(comparison.case.setups)}
    highest = 0.0
    for result in sorted(comparison.results, key=lambda r: order[r.name]):
        line = lines_of(result, force, axis)
        place = order[result.name]
        shown = np.asarray(in_unit(np.where(np.abs(line.values) < 1e-6, 0.0, line.values), "force", units))
        every = max(1, len(shown) // MARKED)
        start = (place * every) // max(len(order), 1)
        ax.plot(
            line.places,
            shown,
            label=theme.wrapped(line.name, 44, 2),
            markevery=(start, every),
            **theme.series_style(place),
        )
        highest = max(highest, float(shown.max(initial=0.0)))
    ax.axvspan(-LEAD_SHARE * end, 0.0, color=theme.LIGHT.faint, alpha=0.45, lw=0)
    for at in axis.boundaries() or [time * axis.scale for time in _point_times(comparison)]:
        ax.axvline(at, color=theme.LIGHT.faint, lw=0.8, zorder=0)
    ax.set_xlim(-LEAD_SHARE * end, end * 1.01)
    ax.set_ylim(-0.03 * max(highest, 1e-6), 1.08 * max(highest, 1e-6))
    ax.grid(axis="y")
    ax.set_axisbelow(True)
    ax.set_ylabel(f"{quantity}, {label('force', units)}")
    axis.dress(ax)
    return ax


def _point_times(comparison: Comparison) -> list[float]:
    return sorted({float(r.timeline.times[at]) for r in comparison.results for at, _ in r.timeline.labels})
