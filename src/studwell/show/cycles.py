"""Clamp left against the number of cycles, for every setup that is taken through more than one."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from studwell.history.cycles import CycleResult
from studwell.show import theme
from studwell.show.both_units import in_units
from studwell.show.sheet import Sheet, drawn_in_both
from studwell.study.results import Comparison
from studwell.units import as_text, in_unit, label


def plot_clamp_left(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the least clamp of a cycle against the number of cycles (log axis); ringed marks were reached by jumps.

    A setup has its colour of every other figure; what it would be without or with re-tightening is dotted.
    """
    ax = theme.new_axes() if ax is None else ax
    units = comparison.case.units
    order = {setup.name: place for place, setup in enumerate(comparison.case.setups)}
    counts: set[int] = set()
    for result in sorted(comparison.results, key=lambda r: order[r.name]):
        if result.cycles is None:
            continue
        place, study = order[result.name], result.cycles
        variants = (
            (study.as_given, result.name),
            (study.untouched, f"{result.name}: never re-tightened"),
            (study.retightened, f"{result.name}: re-tightened after the first heat"),
        )
        for kind, (cycles, name) in enumerate(variants):
            if cycles is not None:
                _draw(ax, cycles, name, place, units, kind)
                counts |= {mark.cycle for mark in cycles.marks}
    _count_cycles(ax, sorted(counts))
    ax.set_ylabel(f"least clamp in the cycle, {label('force', units)}\n(axis need not start at 0)")
    ax.margins(y=0.12)
    ax.grid(axis="y")
    ax.set_axisbelow(True)
    return ax


VARIANTS: tuple[dict[str, Any], ...] = (
    {},
    {"linestyle": (0, (1, 1.6)), "marker": "x", "markersize": 6.0},
    {"linestyle": (0, (1, 3.0)), "marker": "*", "markersize": 6.5},
)
"""How a setup's line changes: as the case says, never re-tightened, re-tightened after the first heat."""


def _draw(ax: Axes, cycles: CycleResult, name: str, place: int, units: str, kind: int) -> None:
    style = {**theme.series_style(place), **VARIANTS[kind]}
    count = np.array([mark.cycle for mark in cycles.marks])
    clamp = np.asarray(in_unit(np.array([mark.clamp_min for mark in cycles.marks]), "force", units))
    (line,) = ax.plot(count, clamp, label=theme.wrapped(name, 44), **style)
    jumped = np.array([mark.jumped for mark in cycles.marks])
    if jumped.any():
        ax.plot(count[jumped], clamp[jumped], "o", color=line.get_color(), mfc="none", ms=9, label="_jumped")


CROWDED = 0.06
"""Ticks nearer than this, as a share of the axis, would run into each other."""


def _count_cycles(ax: Axes, counts: list[int]) -> None:
    """A log axis whose ticks are the numbers of cycles that have a mark, the crowded ones left out from the right."""
    ax.set_xscale("log")
    ax.set_xlabel("cycles")
    if not counts:
        return
    least = CROWDED * np.log(max(counts[-1] / counts[0], 1.1))
    shown = [counts[-1]]
    for count in reversed(counts):
        if np.log(shown[-1] / count) >= least:
            shown.append(count)
    ax.set_xticks(shown, [f"{count:,}".replace(",", "\u202f") for count in shown])
    ax.set_xticks([], minor=True)


def cycle_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of the clamp left after many cycles, none if no setup has more than one."""
    if all(result.cycles is None for result in comparison.results):
        return ()
    return (drawn_in_both(lambda units: _sheet(in_units(comparison, units)), comparison.case.units),)


def _sheet(comparison: Comparison) -> Sheet:
    shown = [result for result in comparison.results if result.cycles is not None]
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
    return Sheet(
        "clamp-left",
        "Clamp left after many cycles",
        "Least clamp in each cycle. Cycles are solved one by one while they are few; ringed marks were reached by jumps, "
        "whose estimated error is in the summary. Dotted: the same joint, re-tightened otherwise than the case says.",
        " ".join(told),
        figure,
    )
