"""Clamp, tip force and thread load of every setup over seating, tightening and the heat cycle."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes

from studwell.show import theme
from studwell.study.results import Comparison, SetupResult
from studwell.units import in_unit, label

Array = np.ndarray

LEAD_SHARE = 0.12
"""Width of the strip before the run, as a share of the run: seating and tightening have no time scale."""
LONG = 5 * 3600.0
"""s; longer histories are drawn in hours."""
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
    """Write the names of the history's points above an axes, and of the strip before the run."""
    if not comparison.results:
        return
    longest = max(comparison.results, key=lambda r: r.timeline.times.max())
    scale, _ = time_scale(comparison)
    points = [(float(longest.timeline.times[at]) * scale, name) for at, name in longest.timeline.labels]
    end = float(longest.timeline.times.max()) * scale
    if all(name.lower() != "assembled" for _, name in points):
        points.append((0.0, "assembled"))
    points.append((-0.5 * LEAD_SHARE * end, "seat, tighten"))
    low = -LEAD_SHARE * end
    ax.set_xlim(low, end * 1.01)
    for place, name in points:
        ax.annotate(
            theme.wrapped(name, 18),
            xy=((place - low) / (end * 1.01 - low), 1.0),
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


def time_scale(comparison: Comparison) -> tuple[float, str]:
    """Return shown time per second and its unit: minutes, or hours for long histories."""
    longest = max((float(r.timeline.times.max()) for r in comparison.results), default=0.0)
    return (1 / 3600.0, "h") if longest > LONG else (1 / 60.0, label("time"))


def lines_of(result: SetupResult, force: str, scale: float, end: float) -> Lines:
    """Return one setup's line of a force.

    force : a field of Forces; scale : shown time per s; end : shown time at which the longest history ends
    """
    timeline = result.timeline
    values = np.asarray(getattr(timeline.forces, force), dtype=float)
    before = timeline.assembled
    lead = -LEAD_SHARE * end * (1.0 - np.arange(before) / max(before, 1))
    places = np.concatenate([lead, timeline.times[timeline.run] * scale])
    return Lines(result.name, places, np.concatenate([values[:before], values[timeline.run]]))


def _plot(comparison: Comparison, force: str, quantity: str, ax: Axes | None) -> Axes:
    ax = theme.new_axes() if ax is None else ax
    units = comparison.case.units
    scale, time_unit = time_scale(comparison)
    end = max((float(r.timeline.times.max()) for r in comparison.results), default=1.0) * scale
    order = {setup.name: place for place, setup in enumerate(comparison.case.setups)}
    highest = 0.0
    for result in sorted(comparison.results, key=lambda r: order[r.name]):
        line = lines_of(result, force, scale, end)
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
    for at in _point_times(comparison):
        ax.axvline(at * scale, color=theme.LIGHT.faint, lw=0.8, zorder=0)
    ax.set_xlim(-LEAD_SHARE * end, end * 1.01)
    ax.set_ylim(-0.03 * max(highest, 1e-6), 1.08 * max(highest, 1e-6))
    ax.grid(axis="y")
    ax.set_axisbelow(True)
    ax.set_ylabel(f"{quantity}, {label('force', units)}")
    ax.set_xlabel(f"time, {time_unit}")
    return ax


def _point_times(comparison: Comparison) -> list[float]:
    return sorted({float(r.timeline.times[at]) for r in comparison.results for at, _ in r.timeline.labels})
