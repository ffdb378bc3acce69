"""What each pitch of the engaged threads carries, as bars: boss, insert and nut, assembled and at the worst moment."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from studwell.show import theme
from studwell.show.sheet import Sheet
from studwell.show.stress import side_by_side
from studwell.strength.strip import ThreadStrip, thread_strips
from studwell.study.results import Comparison, SetupResult

COUNTED = {"nut thread": "pitch, from the nut's face up"}
"""Where pitches count from; in the boss from the mouth down."""


def strips_of(result: SetupResult) -> tuple[ThreadStrip, ...]:
    """Return a solved setup's engaged threads."""
    return thread_strips(result.built, result.timeline, result.history.temperatures)


def thread_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the bars of a bottomed setup beside a backed-off one; none if no thread's interface tells its loads."""
    results = side_by_side(comparison.results)
    known = [[strip for strip in strips_of(result) if strip.pitches is not None] for result in results]
    rows = max((len(strips) for strips in known), default=0)
    if not rows:
        return ()
    figure = Figure(figsize=(9.6, 0.9 + 2.5 * rows), layout="constrained")
    panels = figure.subplots(rows, len(results), squeeze=False)
    for column, (result, strips) in enumerate(zip(results, known, strict=True)):
        for row, ax in enumerate(panels[:, column]):
            if row >= len(strips):
                ax.set_axis_off()
                continue
            plot_pitch_shares(result, strips[row], ax=ax)
    known_by_name = {
        label: handle for ax in panels.flat for handle, label in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    figure.legend(known_by_name.values(), known_by_name.keys(), loc="outside lower center", ncols=4)
    told = " ".join(_told(result, strips) for result, strips in zip(results, known, strict=True))
    return (
        Sheet(
            "thread-shares",
            "Load share of each thread pitch",
            "Share of the thread's load that each pitch carries, summed from the forces of its interface. A bottomed stud "
            "loads its boss thread from both ends. The last bar may be less than a pitch. The line marks equal shares by "
            "length, as a ductile thread has them when it strips; the bars are elastic. Diamonds: whole threads with their "
            "teeth meshed, beside the bars of the setup's own model.",
            told,
            figure,
        ),
    )


def plot_pitch_shares(result: SetupResult, strip: ThreadStrip, *, ax: Axes | None = None) -> Axes:
    """Draw one thread's shares pitch by pitch, assembled beside the worst moment. Raises ValueError: they are not known."""
    if strip.pitches is None:
        raise ValueError(f"{result.name}: what each pitch of the {strip.name} carries is not known")
    ax = theme.new_axes() if ax is None else ax
    pitches, shares = strip.pitches, 100.0 * strip.pitches.shares
    places = np.arange(1, len(pitches.lengths) + 1)
    kinds: Sequence[tuple[int, str, str | None]] = (
        (strip.assembled, "assembled", None),
        (strip.worst, "at the worst moment", "///"),
    )
    for side, (state, label, hatch) in enumerate(kinds):
        ax.bar(
            places + (0.2 if side else -0.2),
            shares[state],
            width=0.38,
            color=theme.SERIES[side],
            hatch=hatch,
            edgecolor=theme.CELL_INK_ABOVE,
            linewidth=0.4,
            label=label,
        )
    teeth = result.band_shares.get(strip.name)
    if teeth is not None and result.setup.stud.thread_model != "grooves":
        at = np.arange(1, len(teeth) + 1)
        ax.plot(
            at, 100.0 * teeth, "D", mfc="none", mec=theme.LIGHT.ink, ms=5, ls="none", label="assembled, meshed teeth"
        )
    even = 100.0 * pitches.lengths / pitches.lengths.sum()
    edges = np.append(places - 0.5, places[-1] + 0.5)
    ax.stairs(even, edges, baseline=None, color=theme.LIGHT.ink, lw=1.0, label="equal shares by length")
    ax.set_xticks(places)
    ax.set_xlabel(COUNTED.get(strip.name, "pitch, from the mouth down"))
    ax.set_ylabel("share of its load, %")
    ax.set_title(
        theme.wrapped(f"{result.name}: {strip.words}; worst {result.timeline.when(strip.worst)}", 58, 2), fontsize=8.5
    )
    return ax


def _told(result: SetupResult, strips: Sequence[ThreadStrip]) -> str:
    parts = []
    for strip in strips:
        assert strip.pitches is not None
        shares = 100.0 * strip.pitches.shares
        listed = ", ".join(f"{value:.0f}" for value in shares[strip.assembled])
        worst = ", ".join(f"{value:.0f}" for value in shares[strip.worst])
        parts.append(f"{strip.words}, assembled {listed} %, at the worst moment {worst} %")
    return f"{result.name}: {'; '.join(parts)}."
