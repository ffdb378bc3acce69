"""Cracks drawn: stress intensity over crack size, over the direction from the fillet, and the mesh round a tip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from studwell.crack.records import KCurve
from studwell.mesh.ring_crack import CrackedMesh
from studwell.show import theme
from studwell.units import as_text, in_unit, label

OUTLINE = [0, 4, 1, 5, 2, 6, 3, 7, 0]


def plot_k_curves(
    curve: KCurve,
    states: Mapping[str, int],
    *,
    bands: Mapping[str, tuple[float, float]] | None = None,
    ax: Axes | None = None,
    units: str = "metric",
) -> Axes:
    """Draw the effective stress intensity of one crack over its size, one line a state.

    states : name -> place in the curve's states, such as {"assembled": 11, "hot": 19}
    bands  : name -> (low, high) MPa m^0.5, such as a toughness or a threshold with its scatter
    units  : "metric" or "inch", of the axes
    Filled marks: faces open all along; hollow ones: they touch somewhere.
    """
    ax = ax if ax is not None else theme.new_axes()
    sizes = np.asarray(in_unit(curve.sizes, "length", units))
    effective = np.asarray(in_unit(curve.effective, "toughness", units))
    for number, (name, ends) in enumerate((bands or {}).items()):
        low, high = (float(in_unit(end, "toughness", units)) for end in ends)
        colour = theme.SERIES[-1 - number]
        if high > low:
            ax.axhspan(low, high, color=colour, alpha=0.25, linewidth=0)
        else:
            ax.axhline(low, color=colour, linewidth=1.1, linestyle=theme.DASHES[3], label="_limit")
        ax.annotate(
            name,
            (0.99, high),
            xycoords=("axes fraction", "data"),
            xytext=(0, 2),
            textcoords="offset points",
            ha="right",
            va="bottom",
            fontsize="small",
        )
    for number, (name, state) in enumerate(states.items()):
        style = theme.series_style(number)
        ax.plot(sizes, effective[state], label=name, **{**style, "marker": ""})
        for shut, face in ((False, style["color"]), (True, "none")):
            some = curve.closed[state] == shut
            ax.plot(
                sizes[some],
                effective[state][some],
                linestyle="",
                marker=theme.MARKERS[number % len(theme.MARKERS)],
                markersize=4.5,
                markeredgecolor=style["color"],
                markerfacecolor=face,
            )
    ax.set_xscale("log")
    theme.plain_log_ticks(ax.xaxis)
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel(f"crack depth, {label('length', units)}")
    ax.set_ylabel(f"stress intensity, {label('toughness', units)}")
    ax.set_title(f"{curve.line.place}, {abs(curve.line.angle):.0f} degrees from straight down")
    ax.legend()
    return ax


def plot_k_directions(
    curves: Sequence[KCurve],
    state: int,
    sizes: Sequence[float],
    *,
    ax: Axes | None = None,
    units: str = "metric",
) -> Axes:
    """Draw the effective stress intensity of cracks of a few sizes (mm) over the direction in which they leave a fillet.

    units : "metric" or "inch", of the axes
    raises ValueError : a size that a curve does not reach
    """
    ax = ax if ax is not None else theme.new_axes()
    ordered = sorted(curves, key=lambda curve: curve.line.angle)
    angles = [curve.line.angle for curve in ordered]
    for number, size in enumerate(sizes):
        values = [float(in_unit(float(curve.at(size)[state]), "toughness", units)) for curve in ordered]
        ax.plot(angles, values, label=as_text(size, "length", units, 3), **theme.series_style(number))
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("direction, degrees from straight down to straight out")
    ax.set_ylabel(f"stress intensity, {label('toughness', units)}")
    ax.legend(title="crack depth")
    return ax


def plot_crack_mesh(crack: CrackedMesh, *, reach: float | None = None, ax: Axes | None = None) -> Axes:
    """Draw the elements round a crack's tip, and its faces. reach: mm from the tip; None: twice the crack's length."""
    ax = ax if ax is not None else theme.new_axes()
    far = 2.0 * crack.length if reach is None else reach
    mesh = crack.mesh
    near = np.linalg.norm(mesh.nodes[mesh.elements[:, 8]] - crack.tip, axis=1) < 1.5 * far
    lines = mesh.nodes[mesh.elements[near][:, OUTLINE]]
    ax.add_collection(LineCollection(list(lines), colors=theme.LIGHT.weak, linewidths=0.5))
    ax.plot(*np.stack([crack.mouth, crack.tip], axis=1), color=theme.SERIES[6], linewidth=1.8)
    ax.set_aspect("equal")
    ax.set_xlim(crack.tip[0] - far, crack.tip[0] + far)
    ax.set_ylim(crack.tip[1] - far, crack.tip[1] + far)
    ax.set_xlabel("r, mm")
    ax.set_ylabel("z, mm")
    return ax
