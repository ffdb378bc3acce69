"""Figures: stress intensity over crack size between threshold and toughness, and life over the starting flaw."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator

from studwell.crack.curves import crack_curves
from studwell.crack.lines import crack_lines
from studwell.crack.records import KCurve
from studwell.show import theme
from studwell.show.crack import plot_k_curves, plot_k_directions
from studwell.show.sheet import Sheet
from studwell.strength.flaws import FlawView
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, label

DRAWN_SIZES = (0.2, 0.5, 1.0)
"""mm, depths of the cracks whose direction is drawn."""

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
    drawn = drawn[:MOST_DRAWN]
    figure = Figure(figsize=(9.2, 4.6 * ((len(drawn) + 1) // 2)), layout="constrained")
    told = []
    for number, (result, view) in enumerate(drawn, start=1):
        ax = figure.add_subplot((len(drawn) + 1) // 2, min(2, len(drawn)), number)
        plot_intensity(result, view, ax=ax)
        told.append(
            f"{result.name}, {view.history.place}: at most {float(view.largest.max()):.3g} MPa m^0.5 over sizes from "
            f"{view.history.sizes[0]:.2g} to {view.history.sizes[-1]:.2g} mm."
        )
    return (
        Sheet(
            "crack-intensity",
            "How hard a crack at the floor is pulled open",
            "Effective stress intensity of a ring crack over its depth, when assembled and in the state that pulls it most; "
            "lines of the toughness, at which it runs, and of the threshold, below which a range of it does not grow. Filled "
            "marks: open all along; hollow ones: its faces touch somewhere. mm and MPa m^0.5 in all cases.",
            " ".join(told),
            figure,
        ),
    )


def plot_intensity(result: SetupResult, view: FlawView, *, ax: Axes | None = None) -> Axes:
    """Draw one ring crack's stress intensity over its depth, assembled and at its largest; mm and MPa m^0.5.

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
    plot_k_curves(curve, states, bands=bands, ax=ax)
    ax.set_title(f"{result.name}: {view.history.place}", fontsize="small")
    return ax


def life_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figure of life against starting flaw; none where no life is known."""
    drawn = [(result, views) for result in comparison.results if (views := views_with_life(result))]
    if not drawn:
        return ()
    units = comparison.case.units
    figure = Figure(figsize=(9.2, 5.6), layout="constrained")
    ax = figure.add_subplot()
    told = []
    for number, (result, views) in enumerate(drawn):
        view = min(views, key=lambda each: float(each.life.left[0]))  # type: ignore[union-attr]
        plot_life(view, ax, units, f"{result.name}: {view.history.place}", number)
        assert view.life is not None and view.flaw is not None
        first, last = view.life.left[0], view.life.end
        told.append(
            f"{result.name}: from {as_text(view.flaw, 'length', units, 3)} {first:.3g} histories to "
            f"{as_text(last, 'length', units, 3)} at the {view.history.place}."
        )
    figure.legend(loc="outside lower center", ncols=2)
    return (
        Sheet(
            "crack-life",
            "How long a starting flaw lives",
            "Histories that a crack needs from a starting size to where it breaks, or to the last size at which its stress "
            "intensity is known; of each setup the crack that is through first. Power law between threshold and toughness; "
            "a crack shorter than the length below which it is short may grow faster than it says.",
            " ".join(told),
            figure,
        ),
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
    sizes = [size for size in DRAWN_SIZES if size < 0.9 * least]
    if len(lines) < 2 or not sizes:
        return ()
    chosen = [states[result.timeline.assembled], states[worst]]
    curves = crack_curves(result.built, chosen, lines=lines, sizes=sizes)
    figure = Figure(figsize=(9.2, 4.2), layout="constrained")
    for place, name in enumerate(("assembled", f"at the worst: {result.timeline.when(worst)}")):
        ax = figure.add_subplot(1, 2, place + 1)
        plot_k_directions(curves, place, sizes, ax=ax)
        ax.set_title(f"{result.name}: {name}", fontsize="small")
    listed = "; ".join(
        f"{each.line.angle:.0f} degrees {float(each.at(sizes[-1])[1]):.3g}" for each in sorted(curves, key=_angle)
    )
    return (
        Sheet(
            "crack-directions",
            "Which way a crack would leave the floor's corner",
            "Effective stress intensity of ring cracks of a few depths over the direction in which they leave the fillet, from "
            "straight down (the floor is punched out) to straight out (the wall tears). mm and MPa m^0.5 in all cases.",
            f"{result.name}, {sizes[-1]:g} mm deep, at the worst: {listed} MPa m^0.5.",
            figure,
        ),
    )


def _angle(curve: KCurve) -> float:
    return curve.line.angle


def plot_life(view: FlawView, ax: Axes, units: str, name: str, number: int = 0) -> None:
    """Draw one crack's life against its starting size on log axes; a crack whose life is not finite is not drawn."""
    life = view.life
    if life is None or not np.all(np.isfinite(life.left)):
        return
    whole = life.left > 0.0
    sizes = life.sizes[whole] / (25.4 if units == "inch" else 1.0)
    ax.loglog(
        sizes, life.left[whole], label=name, linestyle=("-", "--", "-.", ":")[number % 4], marker="", linewidth=1.8
    )
    for axis, (low, high) in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
        if high < 30.0 * low:  # hardly a decade: more of its numbers
            axis.set_major_locator(LogLocator(subs=(1.0, 1.5, 2.0, 3.0, 5.0, 7.0)))
        theme.plain_log_ticks(axis)
    ax.set_xlabel(f"starting flaw, {label('length', units)}")
    ax.set_ylabel("histories to break-through")


def views_with_life(result: SetupResult) -> list[FlawView]:
    """Return the cracks of a setup whose growth life is known and finite."""
    views = [view for view in result.verdict.cracks.flaws if view.life is not None]
    return [
        view
        for view in views
        if view.life is not None and np.all(np.isfinite(view.life.left)) and len(view.life.left) > 1
    ]
