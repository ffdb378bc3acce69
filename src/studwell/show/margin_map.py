"""All margins of all setups as a map: one row a setup, one column a mode, the limit marked."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.patches import Rectangle

from studwell.show import theme
from studwell.show.room import LINE, CellText, set_roomy_ticks, width_in_points
from studwell.show.table import margin_text
from studwell.strength.margins import Margin
from studwell.study.results import Comparison

NO_PART = "none"
UNKNOWN_SIGN = "?"
UNBOUNDED_SIGN = "∞"
NOT_SOLVED = "not solved"
SLANT = 50.0
"""degrees, of the names of the columns."""
LAYOUT_TAKES = 1.6
"""How many times wider an axes may be when it is drawn on than after a layout has made room for what stands round it."""


def modes_of(comparison: Comparison) -> list[tuple[str, str]]:
    """Return (mode, kind) of every mode that some setup has: damage first, then function; known ones before unknown."""
    found: dict[str, Margin] = {}
    for result in comparison.results:
        for mode, margin in result.verdict.margins.items():
            if margin.applies and (mode not in found or found[mode].value is None):
                found[mode] = margin
    ordered = sorted(found.values(), key=lambda m: (m.kind != "damage", m.value is None and m.applies))
    return [(m.mode, m.kind) for m in ordered]


def cell_text(margin: Margin | None) -> str:
    """Return what a cell says: the margin, '∞' if it has no bound, '?' if it is unknown, 'none' for a part not there."""
    if margin is None or not margin.applies:
        return NO_PART
    if margin.value is None:
        return UNKNOWN_SIGN
    if math.isinf(margin.value):
        return UNBOUNDED_SIGN
    if margin.value is not None and 0.0 < abs(margin.value) < 0.005:
        return "0.00"
    return margin_text(margin).replace("-0.00", "0.00")


def plot_margins(comparison: Comparison, *, ax: Axes | None = None) -> Axes:
    """Draw the margins of all setups, load over capacity: numbers in cells, strong colour from the limit 1.0 up.

    Unknown cells are hatched and have a question mark; the governing one of each setup has a heavy frame.
    """
    ax = theme.new_axes() if ax is None else ax
    modes = modes_of(comparison)
    rows = [result.name for result in comparison.results] + [failed.name for failed in comparison.failed]
    for row, result in enumerate(comparison.results):
        for column, (mode, _) in enumerate(modes):
            margin = result.verdict.margins.get(mode)
            _cell(ax, row, column, margin, governing=mode == result.verdict.governing)
    for row in range(len(comparison.results), len(rows)):
        _box(ax, row, 0, max(len(modes), 1), theme.CELL_UNKNOWN, hatch="///")
        _say(ax, row, 0.5 * (max(len(modes), 1) - 1), f"{NOT_SOLVED}: its reason is in the report", theme.CELL_INK)
    damage = sum(kind == "damage" for _, kind in modes)
    if 0 < damage < len(modes):
        ax.axvline(damage - 0.5, color=theme.LIGHT.ink, lw=1.6)
    for start, end, name in ((0, damage, "damage"), (damage, len(modes), "function")):
        if end > start:
            ax.text(start - 0.45, len(rows) - 0.35, name, va="top", ha="left", fontsize=8, style="italic")
    ax.set_xlim(-0.5, max(len(modes), 1) - 0.5)
    ax.set_ylim(len(rows) - 0.5, -0.5)
    _name_columns(ax, [mode for mode, _ in modes])
    ax.set_yticks(range(len(rows)), [theme.wrapped(name, 32, 3) for name in rows], fontsize=7.5)
    ax.tick_params(length=0)
    for spine in ax.spines.values():
        spine.set_visible(False)
    return ax


def _name_columns(ax: Axes, modes: list[str]) -> None:
    """Write the modes above the columns: slanting, upright and smaller in narrow ones, with gaps where lines would meet."""
    column = width_in_points(ax) / max(len(modes), 1)
    upright = column < LAYOUT_TAKES * theme.TICK_SIZE * LINE / math.sin(math.radians(SLANT))
    angle, size = (90.0, theme.TICK_SIZE - 1.5) if upright else (SLANT, theme.TICK_SIZE)
    ax.tick_params(axis="x", labelsize=size)
    names = [mode if upright else theme.wrapped(mode, 24) for mode in modes]
    set_roomy_ticks(ax, range(len(modes)), names, lambda of, _: 1.1 * of / math.sin(math.radians(angle)))
    ax.xaxis.tick_top()
    for tick in ax.xaxis.get_major_ticks(len(modes)):  # all, also those that an axes as narrow as now leaves out
        tick.label2.set(
            rotation=angle,
            ha="center" if upright else "left",
            va="bottom",
            rotation_mode="default" if upright else "anchor",
        )


def _cell(ax: Axes, row: int, column: int, margin: Margin | None, governing: bool) -> None:
    text = cell_text(margin)
    if margin is None or not margin.applies:
        _box(ax, row, column, 1, theme.CELL_BLANK)
        _say(ax, row, column, text, theme.LIGHT.weak, size=7.0)
        return
    if margin.value is None:
        _box(ax, row, column, 1, theme.CELL_UNKNOWN, hatch="////")
        _say(ax, row, column, text, theme.CELL_INK, size=8.5, boxed=True)
        return
    above = margin.value >= theme.MARGIN_STEPS[-1]
    _box(ax, row, column, 1, margin_colour(margin.value))
    if governing:
        ax.add_patch(Rectangle((column - 0.44, row - 0.42), 0.88, 0.84, fill=False, ec=theme.CELL_INK, lw=1.8))
    size = 11.0 if math.isinf(margin.value) else 8.5
    _say(ax, row, column, text, theme.CELL_INK_ABOVE if above else theme.CELL_INK, size=size, bold=above or governing)


def margin_colour(value: float) -> str:
    """Return the fill of a known margin."""
    if value >= theme.MARGIN_STEPS[-1]:
        return theme.MARGIN_ABOVE
    shown = round(value, 2)  # as the cell prints it, so that equal texts have equal colours
    inside = [place for place, step in enumerate(theme.MARGIN_STEPS[:-1]) if shown >= step]
    return theme.MARGIN_BELOW[inside[-1] if inside else 0]


def _box(ax: Axes, row: int, column: int, width: int, colour: str, hatch: str | None = None) -> None:
    ax.add_patch(
        Rectangle(
            (column - 0.5, row - 0.5),
            width,
            1.0,
            facecolor=colour,
            edgecolor=theme.CELL_HATCH if hatch else theme.CELL_INK_ABOVE,
            hatch=hatch,
            linewidth=0.0 if hatch else 1.2,
        )
    )
    ax.add_patch(Rectangle((column - 0.5, row - 0.5), width, 1.0, fill=False, ec=theme.CELL_INK_ABOVE, lw=1.2))


def _say(
    ax: Axes,
    row: float,
    column: float,
    text: str,
    colour: str,
    size: float = 8.0,
    bold: bool = False,
    boxed: bool = False,
) -> None:
    box = {"boxstyle": "round,pad=0.15", "fc": theme.CELL_UNKNOWN, "ec": "none"} if boxed else None
    weight = "bold" if bold else "normal"
    wide = 1.0 if column == round(column) and not text.startswith(NOT_SOLVED) else 2.0 * column + 1.0
    said = CellText(
        column, row, text, cell=(wide, 1.0), ha="center", va="center", color=colour, fontsize=size, fontweight=weight, bbox=box
    )  # fmt: skip
    ax.add_artist(said)
    said.set_clip_path(None)


def draw_margin_bar(bar: Axes) -> None:
    """Draw the colour bar of the margins into an axes of its own, lying, with the limit marked."""
    steps = [*theme.MARGIN_STEPS, 1.3]
    colours = ListedColormap([*theme.MARGIN_BELOW, theme.MARGIN_ABOVE])
    figure = bar.figure
    assert figure is not None
    drawn = figure.colorbar(
        ScalarMappable(norm=BoundaryNorm(steps, colours.N), cmap=colours),
        cax=bar,
        orientation="horizontal",
        spacing="proportional",
    )
    drawn.set_ticks([*theme.MARGIN_STEPS], labels=["0", "0.25", "0.5", "0.75", "0.9", "1.0\nlimit"])
    drawn.ax.axvline(1.0, color=theme.LIGHT.ink, lw=2.0)
    drawn.set_label("margin: load over capacity (heavy frame: governs the setup; hatched, ?: unknown; ∞: unbounded)")
