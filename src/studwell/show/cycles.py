"""Clamp left against the number of cycles, for every setup that is taken through more than one."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from studwell.history.cycles import CycleResult
from studwell.show import theme
from studwell.show.sheet import Sheet
from studwell.study.results import Comparison
from studwell.units import as_text, in_unit, label


def plot_clamp_left(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the least clamp of a cycle against the number of cycles (log axis); hollow marks were reached by jumps."""
    ax = theme.new_axes() if ax is None else ax
    units = comparison.case.units
    place = 0
    for result in comparison.results:
        if result.cycles is None:
            continue
        _draw(ax, result.cycles.as_given, result.name, place, units)
        if result.cycles.untouched is not None:
            _draw(ax, result.cycles.untouched, f"{result.name}: never re-tightened", place + 1, units)
            place += 1
        if result.cycles.retightened is not None:
            _draw(ax, result.cycles.retightened, f"{result.name}: re-tightened after the first heat", place + 1, units)
            place += 1
        place += 1
    ax.set_xscale("log")
    ax.set_xlabel("cycles")
    ax.set_ylabel(f"least clamp in the cycle, {label('force', units)}")
    ax.set_ylim(bottom=0.0)
    return ax


def _draw(ax: Axes, cycles: CycleResult, name: str, place: int, units: str) -> None:
    style = dict(theme.series_style(place))
    count = np.array([mark.cycle for mark in cycles.marks])
    clamp = np.asarray(in_unit(np.array([mark.clamp_min for mark in cycles.marks]), "force", units))
    (line,) = ax.plot(count, clamp, label=theme.wrapped(name, 44), **style)
    jumped = np.array([mark.jumped for mark in cycles.marks])
    if jumped.any():
        ax.plot(count[jumped], clamp[jumped], "o", color=line.get_color(), mfc="none", ms=9, label="_jumped")


def cycle_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of the clamp left after many cycles, none if no setup has more than one."""
    shown = [result for result in comparison.results if result.cycles is not None]
    if not shown:
        return ()
    figure = Figure(figsize=(9.2, 4.6 + 0.2 * len(shown)), layout="constrained")
    ax = figure.subplots()
    plot_clamp_left(comparison, ax=ax)
    figure.legend(loc="outside lower center", ncols=2, handlelength=3.2)
    told = []
    for result in shown:
        assert result.cycles is not None
        last = result.cycles.as_given.marks[-1]
        clamp = as_text(last.clamp_min, "force", comparison.case.units, 3)
        told.append(f"{result.name}: {clamp} in cycle {last.cycle}.")
    return (
        Sheet(
            "clamp-left",
            "Clamp left after many cycles",
            "Least clamp in each cycle. Cycles are solved one by one while they are few; ringed marks were reached by jumps, "
            "whose estimated error is in the summary.",
            " ".join(told),
            figure,
        ),
    )
