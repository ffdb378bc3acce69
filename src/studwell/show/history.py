"""Forces, gap, stress and pressure of every setup over seating, tightening and the heat cycle."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.transforms import IdentityTransform

from studwell.history.pocket import pressures
from studwell.show import theme
from studwell.show.room import RowName
from studwell.show.time_axis import TimeAxis, comparison_axis
from studwell.strength.outcomes import floor_stress, tip_gaps
from studwell.study.heat_numbers import cycles_lived
from studwell.study.results import Comparison, SetupResult
from studwell.units import in_unit, label

Array = np.ndarray

LEAD_SHARE = 0.12
"""Width of the strip before the run, as a share of the run: seating and tightening have no time scale."""
NAME_ROOM = 0.038
"""Share of an axes' width that a line of a slanting name needs before the next."""
MARKED = 9
"""About how many markers a line carries."""


@dataclass(frozen=True)
class Lines:
    """What is drawn of one setup: places (n,) in shown time, values (n,) N; negative places lie before the run."""

    name: str
    places: Array = field(repr=False)
    values: Array = field(repr=False)


@dataclass(frozen=True)
class CycleQuantity:
    """What can be drawn over a history: words, kind of unit, and (states,) values of a setup, None if it has none."""

    words: str
    kind: str
    values: Callable[[SetupResult], Array | None] = field(repr=False)


def _force(name: str) -> Callable[[SetupResult], Array | None]:
    return lambda result: np.asarray(getattr(result.timeline.forces, name), dtype=float)


def _pocket(result: SetupResult) -> Array | None:
    if result.history.liquid is None:
        return None
    return pressures(result.built.joint, result.timeline.states)


CYCLE_QUANTITIES = {
    "clamp": CycleQuantity("clamp", "force", _force("clamp")),
    "tip_force": CycleQuantity("tip force", "force", _force("tip")),
    "thread_load": CycleQuantity("thread load", "force", _force("thread")),
    "stud_tension": CycleQuantity("stud tension", "force", _force("tension")),
    "nut_thread_load": CycleQuantity("nut thread load", "force", _force("nut_thread")),
    "tip_gap": CycleQuantity("gap under the tip", "length", lambda result: tip_gaps(result.built, result.timeline)),
    "floor_stress": CycleQuantity(
        "stress in the floor's fillet", "pressure", lambda result: floor_stress(result.built, result.timeline)
    ),
    "pocket_pressure": CycleQuantity("pressure under the tip", "pressure", _pocket),
}
"""Name -> what is drawn. Clamp at the lowest clamped face; thread load is that of the boss thread; stress is the first
principal one averaged under the fillet; the pressure is that of a liquid shut in."""


def plot_clamp(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the clamp load at the lowest clamped face of every setup."""
    return plot_cycle(comparison, "clamp", ax=ax)


def plot_tip_force(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the force of the stud's tip on the hole's floor of every setup."""
    return plot_cycle(comparison, "tip_force", ax=ax)


def plot_thread_load(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the load that the boss thread carries of every setup."""
    return plot_cycle(comparison, "thread_load", ax=ax)


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
    write_above(ax, [(name, (place - low) / (end * 1.01 - low)) for name, place in points])


def write_above(ax: Axes, names: Sequence[tuple[str, float]]) -> None:
    """Write slanting names above an axes at shares of its width; one too near its neighbour moves on, led by a line.

    Where a small axes has no room for them all, those are left out that would lie on the one before.
    """
    room, row = 0.0, list[RowName]()
    for name, place in sorted(names, key=lambda pair: pair[1]):
        text = theme.wrapped(name, 18)
        lines = 1 + text.count("\n")
        at = max(place, room)
        room = at + NAME_ROOM * lines
        moved = at - place > 1e-9
        written = RowName(
            text,
            row=row,
            xy=(place, 1.0),
            xycoords="axes fraction",
            xytext=(at, 1.035 if moved else 1.02),
            textcoords="axes fraction",
            rotation=28,
            rotation_mode="anchor",
            ha="left",
            va="bottom",
            fontsize=7.5,
            color=theme.LIGHT.weak,
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "lw": 0.6, "color": theme.LIGHT.weak, "shrinkA": 0, "shrinkB": 0}
            if moved
            else None,
        )
        written.set_transform(IdentityTransform())  # its place is given by xycoords alone
        ax.add_artist(written)
        written.set_clip_on(False)


def placed(result: SetupResult, values: Array, axis: TimeAxis) -> Lines:
    """Return one setup's line of a quantity given in every state of its timeline, (states,)."""
    timeline = result.timeline
    before = timeline.assembled
    lead = -LEAD_SHARE * axis.end * (1.0 - np.arange(before) / max(before, 1))
    places, steps = axis.places(result)
    return Lines(
        result.name, np.concatenate([lead, places]), np.concatenate([values[:before], values[timeline.run][steps]])
    )


def plot_cycle(comparison: Comparison, quantity: str, *, ax: Axes | None = None) -> Axes:
    """Draw a quantity of CYCLE_QUANTITIES of every setup that has it over seating, tightening and heat."""
    ax = theme.new_axes() if ax is None else ax
    units, drawn = comparison.case.units, CYCLE_QUANTITIES[quantity]
    axis = comparison_axis(comparison)
    end = axis.end
    order = {setup.name: place for place, setup in enumerate(comparison.case.setups)}
    highest = lowest = 0.0
    for result in sorted(comparison.results, key=lambda r: order[r.name]):
        values = drawn.values(result)
        if values is None:
            continue
        line = placed(result, values, axis)
        place = order[result.name]
        shown = np.asarray(in_unit(np.where(np.abs(line.values) < 1e-6, 0.0, line.values), drawn.kind, units))
        every = max(1, len(shown) // MARKED)
        start = (place * every) // max(len(order), 1)
        ax.plot(
            line.places,
            shown,
            label=theme.wrapped(line.name, 44, 2),
            markevery=(start, every),
            **theme.series_style(place),
        )
        highest, lowest = max(highest, float(np.nanmax(shown))), min(lowest, float(np.nanmin(shown)))
    ax.axvspan(-LEAD_SHARE * end, 0.0, color=theme.LIGHT.faint, alpha=0.45, lw=0)
    for at in axis.boundaries() or [time * axis.scale for time in _point_times(comparison)]:
        ax.axvline(at, color=theme.LIGHT.faint, lw=0.8, zorder=0)
    room = max(highest, -0.05 * lowest) or 1.0  # a line at 0 alone gets a plain axis
    ax.set_xlim(-LEAD_SHARE * end, end * 1.01)
    ax.set_ylim(min(-0.03 * room, 1.08 * lowest), 1.08 * room)
    ax.grid(axis="y")
    ax.set_axisbelow(True)
    ax.set_ylabel(f"{drawn.words}, {label(drawn.kind, units)}")
    axis.dress(ax)
    return ax


def _point_times(comparison: Comparison) -> list[float]:
    return sorted({float(r.timeline.times[at]) for r in comparison.results for at, _ in r.timeline.labels})
