"""The figure of what is shut in under the tip: its pressure over seating, tightening and the heat cycle."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from studwell.history.pocket import pressures
from studwell.show import theme
from studwell.show.both_units import in_units
from studwell.show.history import LEAD_SHARE, MARKED, name_phases, placed
from studwell.show.sheet import Sheet, drawn_in_both
from studwell.show.time_axis import comparison_axis
from studwell.study.results import Comparison
from studwell.units import as_text, in_unit, label


def plot_pocket_pressure(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the gauge pressure under the tip of every setup in which a liquid is shut in; MPa, or psi in inch cases."""
    ax = theme.new_axes() if ax is None else ax
    units, axis = comparison.case.units, comparison_axis(comparison)
    order = {setup.name: place for place, setup in enumerate(comparison.case.setups)}
    highest = 0.0
    for result in sorted(comparison.results, key=lambda r: order[r.name]):
        if result.history.liquid is None:
            continue
        pressure = pressures(result.built.joint, result.timeline.states)
        line = placed(result, pressure, axis)
        shown = np.asarray(in_unit(np.where(np.abs(line.values) < 1e-9, 0.0, line.values), "pressure", units))
        place = order[result.name]
        every = max(1, len(shown) // MARKED)
        ax.plot(
            line.places,
            shown,
            label=theme.wrapped(f"{line.name} ({result.setup.pocket.contents})", 44, 2),
            markevery=((place * every) // max(len(order), 1), every),
            **theme.series_style(place),
        )
        highest = max(highest, float(np.nanmax(shown, initial=0.0)))
    ax.axvspan(-LEAD_SHARE * axis.end, 0.0, color=theme.LIGHT.faint, alpha=0.45, lw=0)
    for at in axis.boundaries():
        ax.axvline(at, color=theme.LIGHT.faint, lw=0.8, zorder=0)
    ax.set_xlim(-LEAD_SHARE * axis.end, axis.end * 1.01)
    ax.set_ylim(-0.03 * max(highest, 1e-6), 1.08 * max(highest, 1e-6))
    ax.grid(axis="y")
    ax.set_axisbelow(True)
    ax.set_ylabel(f"pressure under the tip, {label('pressure', units)}")
    axis.dress(ax)
    return ax


def pocket_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of the pocket's pressure; none where no setup shuts a liquid in."""
    filled = [result for result in comparison.results if result.history.liquid is not None]
    if not filled:
        return ()
    return (drawn_in_both(lambda units: _sheet(in_units(comparison, units)), comparison.case.units),)


def _sheet(comparison: Comparison) -> Sheet:
    filled = [result for result in comparison.results if result.history.liquid is not None]
    figure = Figure(figsize=(9.2, 4.4 + 0.2 * ((len(filled) + 1) // 2)), layout="constrained")
    ax = plot_pocket_pressure(comparison, ax=figure.subplots())
    name_phases(comparison, ax)
    handles, labels = ax.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, handlelength=3.2)
    told = []
    for result in filled:
        worst = result.outcomes["pocket_pressure_max"]
        most = as_text(worst.value or 0.0, "pressure", comparison.case.units, 3)
        when = result.setup.pocket.fill_at
        told.append(f"{result.name}: at most {most} ({worst.when}), the fill counted {_counted(when)}.")
    return Sheet(
        "pocket-pressure",
        "Pressure of the liquid under the tip",
        "Gauge pressure; 0 while the liquid leaves a void. It acts on the floor, the fillet, the wall below the lowest "
        "engaged thread and the stud's end, and pushes the stud out. A full and tight pocket is the worst case: threads "
        "may leak. Water that freezes follows the melting curve while some of it is liquid.",
        " ".join(told),
        figure,
    )


def _counted(fill_at: str) -> str:
    return "at first contact" if fill_at == "first contact" else "as fitted"
