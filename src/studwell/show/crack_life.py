"""Figures: stress intensity over crack size between threshold and toughness, and how a flaw grows over histories."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation

from studwell.crack.curves import crack_curves
from studwell.crack.lines import crack_lines
from studwell.crack.records import KCurve
from studwell.show import theme
from studwell.show.crack import plot_k_curves, plot_k_directions
from studwell.show.sheet import Sheet, drawn_in_both
from studwell.strength.flaws import FlawView
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, in_unit, label

DRAWN_SIZES = (0.2, 0.5, 1.0)
"""mm, depths of the cracks whose direction is drawn, beside that of the case's flaw."""

MOST_DRAWN = 4
"""Setups whose crack is drawn, best ranked first."""


def intensity_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of stress intensity over crack size; none where no ring crack was solved."""
    drawn = []
    for result in comparison.results:
        views = [
            view
            for view in result.verdict.cracks.flaws
            if view.history.curve is not None and view.history.body == "boss"
        ]
        if views:
            drawn.append((result, max(views, key=lambda view: float(view.largest.max()))))
    if not drawn:
        return ()
    return (drawn_in_both(lambda units: _intensities(drawn[:MOST_DRAWN], units), comparison.case.units),)


def _intensities(drawn: Sequence[tuple[SetupResult, FlawView]], units: str) -> Sheet:
    figure = Figure(figsize=(9.2, 4.6 * ((len(drawn) + 1) // 2)), layout="constrained")
    told = []
    for number, (result, view) in enumerate(drawn, start=1):
        ax = figure.add_subplot((len(drawn) + 1) // 2, min(2, len(drawn)), number)
        plot_intensity(result, view, ax=ax, units=units)
        told.append(
            f"{result.name}, {view.history.place}: at most "
            f"{as_text(float(view.largest.max()), 'toughness', units, 3)} over sizes from "
            f"{as_text(view.history.sizes[0], 'length', units, 2)} to {as_text(view.history.sizes[-1], 'length', units, 2)}."
        )
    return Sheet(
        "crack-intensity",
        "How hard a crack at the floor is pulled open",
        "Effective stress intensity of a ring crack over its depth: when assembled and in the state that pulls it most, to be "
        "held against the toughness, at which it runs; and its range over the history, to be held against the threshold, "
        "below which that does not grow. Upright lines: the case's flaw, and the depth at which the metal below it shears "
        "off. Filled marks: open all along; hollow ones: its faces touch somewhere.",
        " ".join(told),
        figure,
    )


HEADROOM = 1.25
"""Height of the axes over the largest of what is drawn, for the names of the depths."""


def plot_intensity(result: SetupResult, view: FlawView, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Draw one ring crack's stress intensity over its depth, assembled and at its largest, and its range over the history.

    units : "metric" or "inch"; a residual stress of the case is in all of them
    raises ValueError : a crack without a curve
    """
    ax = theme.new_axes() if ax is None else ax
    curve, material = view.history.curve, result.setup.boss.material
    if curve is None:
        raise ValueError(f"{view.history.place}: no curve over the crack's size")
    states = {"assembled": result.timeline.assembled}
    states["largest"] = int(np.argmax(curve.effective.max(axis=1)))
    limits = {"toughness": material.fracture_toughness, "threshold of the range": material.threshold}
    bands = {name: (value, value) for name, value in limits.items() if value is not None}
    pulled = replace(curve, opening=view.history.intensity, sliding=np.zeros_like(curve.sliding))
    plot_k_curves(pulled, states, bands=bands, ax=ax, units=units)
    sizes, ranges = (
        np.asarray(in_unit(rows, kind, units))
        for rows, kind in ((view.history.sizes, "length"), (view.ranges, "toughness"))
    )
    told = "" if view.ratio is None else f", stress ratio {view.ratio:.2g} at the flaw"
    ax.plot(sizes, ranges, label=f"range of a history{told}", **theme.series_style(len(states)))
    depths = {"flaw": view.flaw, "shears off": view.gives_way}
    # headroom above all curves and limits, so that the names of the depths meet none of them; the key stands below the axes
    ax.set_ylim(
        0.0, HEADROOM * max(ax.dataLim.y1, *(float(in_unit(high, "toughness", units)) for _, high in bands.values()))
    )
    for row, (name, size) in enumerate(depths.items()):
        if size is not None and view.history.sizes[0] <= size <= view.history.sizes[-1]:
            place = float(in_unit(size, "length", units))
            ax.axvline(place, color=theme.LIGHT.weak, linewidth=0.9, linestyle=theme.DASHES[2], label="_depth")
            ax.annotate(
                name,
                (place, 0.99 - 0.06 * row),
                xycoords=("data", "axes fraction"),
                xytext=(-3, 0),
                textcoords="offset points",
                ha="right",
                va="top",
                fontsize="small",
            )
    ax.legend(fontsize="small", loc="upper center", bbox_to_anchor=(0.5, -0.15))
    ax.set_title(f"{result.name}: {view.history.place}", fontsize="small")
    return ax


def life_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of life against starting flaw; none where no life is known."""
    drawn = [(result, views) for result in comparison.results if (views := views_with_life(result))]
    if not drawn:
        return ()
    return (drawn_in_both(lambda units: _lives(drawn, units), comparison.case.units),)


def _lives(drawn: Sequence[tuple[SetupResult, list[FlawView]]], units: str) -> Sheet:
    figure = Figure(figsize=(9.2, 5.6), layout="constrained")
    ax = figure.add_subplot()
    told = []
    for number, (result, views) in enumerate(drawn):
        view = min(views, key=lambda each: float(each.life.left[0]))  # type: ignore[union-attr]
        plot_life(view, ax, units, f"{result.name}: {view.history.place}", number)
        assert view.life is not None and view.flaw is not None
        first, last = view.life.left[0], view.life.end
        bound = "at most " if view.life_problem else ""
        how = "where it breaks" if view.life.breaks else "followed to there"
        told.append(
            f"{result.name}: from {as_text(view.flaw, 'length', units, 3)} {bound}{first:.3g} histories to "
            f"{as_text(last, 'length', units, 3)}, {how}, at the {view.history.place}."
        )
    figure.legend(loc="outside lower center", ncols=2)
    return Sheet(
        "crack-life",
        "How long a starting flaw lives",
        "Depth of a crack that starts as the case's flaw, over the histories that it has borne: of each setup the one that is "
        "at its end first. Broken line: at most so many histories, as the data were not measured on the safe side. A cross: it "
        "breaks there. An open ring: it was followed to there, and goes on. Power law between "
        "threshold and toughness; a crack shorter than the length below which it is short may grow faster than it says.",
        " ".join(told),
        figure,
    )


def direction_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of stress intensity over the direction in which a crack leaves the fillet, of the setup whose crack
    is pulled open most; none where no ring crack was solved.
    """
    found = [
        (float(view.largest.max()), result, view)
        for result in comparison.results
        for view in result.verdict.cracks.flaws
        if view.history.curve is not None and view.history.body == "boss"
    ]
    if not found:
        return ()
    _, result, view = max(found, key=lambda each: each[0])
    curve, states = view.history.curve, result.timeline.states
    assert curve is not None
    worst = int(np.argmax(curve.effective.max(axis=1)))
    lines = [line for line in crack_lines(result.built) if line.body == "boss"]
    least = min(line.wall for line in lines)
    sizes = drawn_sizes(view.flaw, least)
    if len(lines) < 2 or not sizes:
        return ()
    chosen = [states[result.timeline.assembled], states[worst]]
    curves = crack_curves(result.built, chosen, lines=lines, sizes=sizes)
    worst_at = f"at the worst: {result.timeline.when(worst)}"
    return (
        drawn_in_both(lambda units: _directions(result.name, worst_at, curves, sizes, units), comparison.case.units),
    )


def drawn_sizes(flaw: float | None, wall: float) -> list[float]:
    """Return the depths, mm, rising, whose direction is drawn in a wall, mm: DRAWN_SIZES, and the flaw's own."""
    sizes = [size for size in DRAWN_SIZES if size < 0.9 * wall]
    if flaw is not None and flaw < wall and all(abs(flaw - size) > 0.03 * size for size in sizes):
        sizes.append(flaw)
    return sorted(sizes)


def _directions(name: str, worst: str, curves: Sequence[KCurve], sizes: Sequence[float], units: str) -> Sheet:
    """Draw the curves of two states: assembled, and that of which `worst` tells the moment."""
    figure = Figure(figsize=(9.2, 4.2), layout="constrained")
    for place, moment in enumerate(("assembled", worst)):
        ax = figure.add_subplot(1, 2, place + 1)
        plot_k_directions(curves, place, sizes, ax=ax, units=units)
        ax.set_title(f"{name}: {moment}", fontsize="small")
    listed = "; ".join(
        f"{each.line.angle:.0f} degrees {as_text(float(each.at(sizes[-1])[1]), 'toughness', units, 3)}"
        for each in sorted(curves, key=_angle)
    )
    return Sheet(
        "crack-directions",
        "Which way a crack would leave the floor's corner",
        "Effective stress intensity of ring cracks of a few depths over the direction in which they leave the fillet, from "
        "straight down (the floor is punched out) to straight out (the wall tears); one of them is the case's flaw. A "
        "deep crack may turn another way than a shallow one: compare at its own depth.",
        f"{name}, {as_text(sizes[-1], 'length', units, 3)} deep, at the worst: {listed}.",
        figure,
    )


def _angle(curve: KCurve) -> float:
    return curve.line.angle


def plot_life(view: FlawView, ax: Axes, units: str, name: str, number: int = 0) -> None:
    """Draw one crack's depth over the histories that it has borne; a crack whose life is not finite is not drawn.

    A life that is an upper bound is a broken line, "at most" in the legend. Its end is a cross where it breaks, and an open
    ring where it was not followed further.
    """
    life = view.life
    if life is None or not np.all(np.isfinite(life.left)):
        return
    borne, sizes = life.left[0] - life.left, np.asarray(in_unit(life.sizes, "length", units))
    style = theme.series_style(number)
    bound, dashes = (", at most", theme.DASHES[1]) if view.life_problem else ("", theme.DASHES[0])
    near = sum(_beside(text.xy, (borne[-1], sizes[-1])) for text in ax.texts if isinstance(text, Annotation))
    ax.plot(borne, sizes, label=f"{name}{bound}", **{**style, "marker": "", "linewidth": 1.8, "linestyle": dashes})
    (end,) = ax.plot(
        borne[-1:], sizes[-1:], linestyle="", label="_end", color=style["color"], marker="x", markersize=8.0
    )
    if not life.breaks:
        end.set(marker="o", markersize=7.0, markerfacecolor="none")
    ax.annotate(
        "breaks" if life.breaks else "followed to here",
        (float(borne[-1]), float(sizes[-1])),
        xytext=(-6, 5 + 12 * near),  # above its end: a crack that grows faster and faster comes from below
        textcoords="offset points",
        ha="right",
        va="bottom",
        fontsize="small",
    )
    ax.margins(y=0.15)
    ax.set_xlim(left=0.0)
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("histories borne")
    ax.set_ylabel(f"crack depth, {label('length', units)}")


def _beside(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """True if two ends lie so near that their words would run into one another."""
    return all(abs(a - b) < 0.15 * max(a, b) for a, b in zip(one, other, strict=True))


def views_with_life(result: SetupResult) -> list[FlawView]:
    """Return the cracks of a setup whose growth life is known and finite."""
    views = [view for view in result.verdict.cracks.flaws if view.life is not None]
    return [
        view
        for view in views
        if view.life is not None and np.all(np.isfinite(view.life.left)) and len(view.life.left) > 1
    ]
