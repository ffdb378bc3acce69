"""Where instants stand on a time axis: straight, or each phase of solved heat at its own scale, many cycles cut short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from matplotlib.axes import Axes

from studwell.case.records import Phase
from studwell.show import theme
from studwell.show.room import set_roomy_ticks
from studwell.study.heat_numbers import cycle_time, cycles_lived
from studwell.study.results import Comparison, SetupResult
from studwell.units import number_text

Array = np.ndarray

LONG = 5 * 3600.0
"""s; longer histories are placed in hours, others in minutes."""
MOST_CYCLES = 3
"""Of more cycles only the first and the last are drawn."""
CUT = 0.06
"""Room between first and last cycle where the others are left out, as a share of a cycle."""
LETTER, TICK_GAP = 0.0085, 0.012
"""Width of a tick's letter and of the room between two ticks, as shares of an axis as wide as a page."""
MOST_TICKS = 9
"""Steps of a straight axis at most."""
EVEN_SHARE = 0.5
"""Share of a cycle's width that its phases get alike; the rest goes by their lengths."""


@dataclass(frozen=True)
class TimeAxis:
    """How instants of histories are placed.

    scale  : shown time per s; width : shown width of one cycle; end : shown place of the last instant
    knots  : (n, 2) s within a cycle -> shown place within it; None: straight
    phases : names of the phases between the knots, () if straight
    cycles : how many are drawn; cut : only the first and the last
    """

    scale: float
    width: float
    end: float
    cycles: int
    cut: bool = False
    knots: Array | None = field(default=None, repr=False)
    phases: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What the axis is called; its ticks carry their units."""
        if self.knots is not None:
            return f"time{' in the cycle' if self.cut else ''}, each phase at its own scale"
        return f"time{' in the cycle' if self.cut else ''}"

    def within(self, times: Array) -> Array:
        """Return shown places within a cycle of times (s) from its start."""
        if self.knots is None:
            return np.asarray(times) * self.scale
        return np.interp(times, self.knots[:, 0], self.knots[:, 1])

    def places(self, result: SetupResult) -> tuple[Array, Array]:
        """Return shown places and steps of the run that stand there; a place of nan breaks the line where cycles miss."""
        times = result.history.times - result.history.times[0]
        period, lived = cycle_time(result.setup), cycles_lived(result)
        steps = np.arange(len(times))
        if not self.cut:
            if self.knots is None:
                return result.history.times * self.scale, steps
            cycle = np.clip(np.ceil(times / period - 1e-9) - 1, 0, lived - 1)
            return cycle * self.width + self.within(times - cycle * period), steps
        first = steps[times <= period * (1 + 1e-9)]
        shown, which = self.within(times[first]), first
        if lived > 1:
            start = (lived - 1) * period
            last = steps[times >= start - 1e-9 * period]
            moved = self.slot(1) + self.within(np.maximum(times[last] - start, 0.0))
            shown = np.concatenate([shown, [np.nan], moved])
            which = np.concatenate([which, last[:1], last])
        return shown, which

    def slot(self, place: int) -> float:
        """Return where the drawn cycle at a place starts."""
        return place * self.width * (1.0 + CUT if self.cut else 1.0)

    def boundaries(self) -> list[float]:
        """Return the shown places at which phases end, of all drawn cycles."""
        if self.knots is None:
            return []
        return [self.slot(k) + float(place) for k in range(self.cycles) for place in self.knots[1:, 1]]

    def phase_places(self) -> list[tuple[str, float]]:
        """Return (phase, shown place of its middle) of all drawn cycles."""
        if self.knots is None:
            return []
        middles = 0.5 * (self.knots[1:, 1] + self.knots[:-1, 1])
        return [
            (name, self.slot(k) + float(middle))
            for k in range(self.cycles)
            for name, middle in zip(self.phases, middles, strict=True)
        ]

    def dress(self, ax: Axes, tidy: bool = True) -> None:
        """Write the axis's name and, where places are not plain times, its ticks; mark the cut. tidy: drop crowded ticks."""
        ax.set_xlabel(self.name)
        if self.knots is None and not self.cut:
            times = even_times(self.end / self.scale)
            set_roomy_ticks(ax, [time * self.scale for time in times], [clock_text(time) for time in times])
            return
        inside = self.knots if self.knots is not None else np.array([[0.0, 0.0], [self.width / self.scale, self.width]])
        ticks = [
            (self.slot(k) + float(place), clock_text(float(time + (0.0 if self.cut else k * inside[-1, 0]))))
            for k in range(self.cycles)
            for time, place in inside[0 if k == 0 or self.cut else 1 :]
        ]
        if tidy:
            ticks = _apart(ticks, self.end)
            set_roomy_ticks(ax, [place for place, _ in ticks], [text for _, text in ticks])
        else:
            ax.set_xticks([place for place, _ in ticks], [text for _, text in ticks])
        for k in range(1, self.cycles):
            ax.axvline(self.slot(k), color=theme.LIGHT.weak, lw=0.9, zorder=0)
        if self.cut and self.cycles > 1:
            ax.axvspan(self.width, self.slot(1), color=theme.LIGHT.faint, alpha=0.6, lw=0, hatch="////")

    def name_cycles(self, ax: Axes, last: str) -> None:
        """Write which cycle is drawn where, inside the top of an axes; last: what the last one is called."""
        for k in range(self.cycles if self.cycles > 1 else 0):
            ax.annotate(
                last if self.cut and k else f"cycle {k + 1}",
                xy=(self.slot(k), 1.0),
                xycoords=ax.get_xaxis_transform(),
                xytext=(4, -3),
                textcoords="offset points",
                ha="left",
                va="top",
                fontsize=7.5,
                color=theme.LIGHT.weak,
            )


def axis_of(results: Sequence[SetupResult], show: Literal["all", "last"] = "all") -> TimeAxis:
    """Return the time axis that histories share.

    show : "last" draws the last cycle only, its time from the cycle's start
    """
    longest = max((float(r.history.times[-1] - r.history.times[0]) for r in results), default=0.0)
    period = max((cycle_time(r.setup) for r in results), default=0.0)
    lived = max((cycles_lived(r) for r in results), default=1)
    cut = show == "all" and lived > MOST_CYCLES
    drawn = 1 if show == "last" else 2 if cut else lived
    spanned = period if cut or show == "last" else longest
    scale = 1 / 3600.0 if spanned > LONG else 1 / 60.0
    knots: Array | None = None
    names: tuple[str, ...] = ()
    first = results[0].setup.history.phases if results else ()
    if first and all(r.heat is not None and r.setup.history.phases == first for r in results):
        knots, names = phase_knots(first, scale), tuple(phase.label for phase in first)
    width = period * scale
    if knots is None and not cut and show == "all":
        end = max((float(r.history.times[-1]) for r in results), default=1.0) * scale
        return TimeAxis(scale, width, end, drawn)
    end = width * (drawn + (CUT if cut and drawn > 1 else 0.0))
    return TimeAxis(scale, width, end, drawn, cut, knots, names)


def phase_knots(phases: Sequence[Phase], scale: float) -> Array:
    """Return (n + 1, 2): time in the cycle (s) at which each phase starts and ends, and its shown place.

    The whole cycle keeps its shown length; a short phase gets more of it, a long one less. Within a phase time runs
    straight.
    """
    lengths = np.array([phase.duration for phase in phases])
    total = float(lengths.sum())
    shown = EVEN_SHARE * total / len(lengths) + (1.0 - EVEN_SHARE) * lengths
    starts = np.concatenate([[0.0], np.cumsum(lengths)])
    return np.column_stack([starts, np.concatenate([[0.0], np.cumsum(shown)]) * scale])


def comparison_axis(comparison: Comparison) -> TimeAxis:
    """Return the time axis that all solved setups of a comparison share."""
    return axis_of(comparison.results)


def last_cycle(result: SetupResult) -> Array:
    """Return the steps of a run's last cycle, its start included."""
    times = result.history.times - result.history.times[0]
    period = cycle_time(result.setup)
    return np.flatnonzero(times >= (cycles_lived(result) - 1) * period - 1e-9 * period)


def time_in_cycle(result: SetupResult, steps: Array) -> Array:
    """Return the time (s) of steps of the last cycle from its start."""
    start = (cycles_lived(result) - 1) * cycle_time(result.setup)
    return np.maximum(result.history.times[steps] - result.history.times[0] - start, 0.0)


def clock_text(time: float) -> str:
    """Return a time (s) short enough for a tick: in minutes, or in hours from one hour on; 0 without a unit."""
    if 0.0 < time < 3600.0:
        return f"{number_text(time / 60.0, 3)} min"
    return f"{number_text(time / 3600.0, 3)} h" if time else "0"


def even_times(end: float) -> list[float]:
    """Return even times (s) from 0 to an end at which an axis is marked, at most MOST_TICKS steps, whole minutes or hours."""
    minutes = (1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720)
    step = next(
        (60.0 * m for m in minutes if end <= 60.0 * m * MOST_TICKS),
        86400.0 * max(1.0, -(-end // (86400.0 * MOST_TICKS))),
    )
    return [k * step for k in range(int(end / step + 1e-9) + 1)]


def _apart(ticks: list[tuple[float, str]], end: float) -> list[tuple[float, str]]:
    """Leave out ticks whose text would lie on that of the one before; end: the axis's last place."""
    kept: list[tuple[float, str]] = []
    for place, text in ticks:
        if not kept or place - kept[-1][0] >= end * (TICK_GAP + LETTER * 0.5 * (len(text) + len(kept[-1][1]))):
            kept.append((place, text))
    return kept
