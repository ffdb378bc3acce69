"""The setups ranked: the largest known damage margin of each as a bar against the limit, what is unknown said beside it."""

from __future__ import annotations

from matplotlib.axes import Axes

from studwell.show import theme
from studwell.show.margin_map import margin_colour
from studwell.show.table import margin_text, verdict_word
from studwell.study.results import Comparison, SetupResult

FRAME = 2.0
"""Largest margin that the axis shows; longer bars are hatched and end there, with their number."""


def plot_ranking(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw each setup's largest known damage margin, best ranked on top, with its verdict, mode and unknown modes in words.

    A setup that could not be solved has no bar.
    """
    ax = theme.new_axes() if ax is None else ax
    known = [_value(result) for result in comparison.results]
    most = max([1.0, *(value for value in known if value is not None)])
    end = FRAME if most > FRAME else 1.08 * most
    for place, (result, value) in enumerate(zip(comparison.results, known, strict=True)):
        unknown = [
            mode for mode, margin in result.verdict.margins.items() if margin.unknown and margin.kind == "damage"
        ]
        words = verdict_word(result)
        if value is not None:
            beyond = "///" if value > end else None
            ax.barh(
                place, min(value, end), height=0.6, color=margin_colour(value), edgecolor=theme.CELL_INK, linewidth=0.8,
                hatch=beyond,
            )  # fmt: skip
            assert result.verdict.governing is not None
            words += f": {result.verdict.governing} {margin_text(result.verdict.margins[result.verdict.governing])}"
        if unknown:
            words += f"; {len(unknown)} mode{'s' if len(unknown) > 1 else ''} not known"
        _say(ax, place, words)
    for place in range(len(comparison.results), len(comparison.results) + len(comparison.failed)):
        _say(ax, place, "not solved")
    names = [result.name for result in comparison.results] + [failed.name for failed in comparison.failed]
    ax.set_yticks(range(len(names)), [theme.wrapped(name, 32, 3) for name in names])
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.set_xlim(0.0, end)
    ax.axvline(1.0, color=theme.LIGHT.bad, linewidth=1.4, linestyle=theme.DASHES[1])
    ax.annotate(
        "limit", (1.0, 1.0), (0, 2), xycoords=("data", "axes fraction"), textcoords="offset points", ha="center"
    )
    ax.set_xlabel("largest known damage margin: load over capacity")
    ax.tick_params(axis="y", length=0)
    return ax


def _value(result: SetupResult) -> float | None:
    mode = result.verdict.governing
    return None if mode is None else result.verdict.margins[mode].value


def _say(ax: Axes, place: int, text: str) -> None:
    """Write words at the right of a row, outside the axes, so that no bar lies under them."""
    ax.annotate(
        theme.wrapped(text, 40, 3),
        (1.0, place),
        (6, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        va="center",
        fontsize=8,
        annotation_clip=False,
    )
