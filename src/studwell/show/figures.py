"""The figures of a comparison, composed: which drawings share a sheet, how large, with title, caption, plain words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from matplotlib.figure import Figure

from studwell.joint.build import BuiltJoint
from studwell.show import theme
from studwell.show.both_units import in_units
from studwell.show.crack_life import direction_sheets, intensity_sheets, life_sheets
from studwell.show.cycles import cycle_sheets
from studwell.show.field_view import FieldView
from studwell.show.heat_sheets import heat_sheets
from studwell.show.history import name_phases, plot_clamp, plot_thread_load, plot_tip_force
from studwell.show.margin_map import cell_text, draw_margin_bar, plot_margins
from studwell.show.mesh_drawing import plot_floor_mesh, plot_mesh, quality_line
from studwell.show.page_content import quantity_text
from studwell.show.pocket import pocket_sheets
from studwell.show.sheet import Sheet, drawn_in_both
from studwell.show.stress import (
    draw_stress_bar,
    plot_floor_stress,
    plot_stress,
    side_by_side,
    stress_levels,
    stress_view,
)
from studwell.show.threads import thread_sheets
from studwell.show.time_axis import comparison_axis
from studwell.strength.recovery import SpaceCache
from studwell.study.results import Comparison


def sheets_of(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return all figures of a comparison in the order of the report; none if no setup was solved."""
    makers: tuple[Callable[[Comparison], Sheet], ...] = (margin_sheet, stress_sheet, history_sheet)
    if not comparison.results:
        return ()
    best = comparison.results[0]
    with theme.drawing():
        return (
            *(make(comparison) for make in makers),
            *thread_sheets(comparison),
            *heat_sheets(comparison),
            *pocket_sheets(comparison),
            *cycle_sheets(comparison),
            *intensity_sheets(comparison),
            *direction_sheets(comparison),
            *life_sheets(comparison),
            mesh_sheet(best.built, comparison.case.units),
        )


def margin_sheet(comparison: Comparison) -> Sheet:
    """Return the map of all margins."""
    rows = len(comparison.results) + len(comparison.failed)
    figure = Figure(figsize=(10.4, 2.3 + 0.48 * rows), layout="constrained")
    grid = figure.add_gridspec(2, 1, height_ratios=[rows, 0.22])
    plot_margins(comparison, ax=figure.add_subplot(grid[0]))
    draw_margin_bar(figure.add_subplot(grid[1]))
    told = []
    for result in comparison.results:
        cells = ", ".join(f"{mode} {cell_text(margin)}" for mode, margin in result.verdict.margins.items())
        told.append(f"{result.name}: {cells}.")
    told += [f"{failed.name}: not solved." for failed in comparison.failed]
    return Sheet(
        "margins",
        "How near each setup comes to each limit",
        "Load over capacity: 1.0 is the limit, below is good. Left of the heavy line are the modes that do damage, right of "
        "it those that only spoil a function. A heavy frame marks the known damage mode that governs a setup; a hatched "
        "cell is a mode that this model cannot judge, which is never a pass; 'none' is a part that the setup does not have.",
        " ".join(told),
        figure,
    )


def stress_sheet(comparison: Comparison) -> Sheet:
    """Return the stress of a bottomed setup beside a backed-off one, whole and at the hole's floor."""
    cache: SpaceCache = {}
    views = [stress_view(result, cache=cache) for result in side_by_side(comparison.results)]
    return drawn_in_both(partial(_stress, views), comparison.case.units)


def _stress(views: Sequence[FieldView], units: str) -> Sheet:
    levels = stress_levels(views, units)
    figure = Figure(figsize=(10.4, 7.6), layout="constrained")
    grid = figure.add_gridspec(2, 2, width_ratios=[1, 1.5], height_ratios=[1, 0.03])
    plot_stress(views, ax=figure.add_subplot(grid[:, 0]), levels=levels, units=units)
    plot_floor_stress(views, ax=figure.add_subplot(grid[0, 1]), levels=levels, units=units)
    draw_stress_bar(figure.add_subplot(grid[1, 1]), levels, units)
    told = []
    for view, side in zip(views, ("left", "right"), strict=False):
        floor = view.result.outcomes["floor_stress_max"]
        value = quantity_text(floor.value, "MPa", units, 3) if floor.value is not None else f"unknown ({floor.reason})"
        told.append(
            f"{side.capitalize()}, {view.result.name}, {view.when}: first principal stress averaged under the floor's "
            f"fillet {value}."
        )
    return Sheet(
        "section-stress",
        "What the stud does to the hole's floor",
        "First principal stress, each setup at the moment when its floor is stressed most, on the deformed section. "
        "Movements by strain and heat are drawn enlarged by the factor in each title; the back-off itself and a spring's "
        "travel are drawn as they are. The thread is a smooth layer here: stress at thread roots is not in the picture, "
        "and colour at sharp re-entrant corners and contact edges grows with a finer mesh. The fillet is meshed; its "
        "average is the number in the tables.",
        " ".join(told),
        figure,
    )


def history_sheet(comparison: Comparison) -> Sheet:
    """Return clamp, tip force and thread load of every setup over the history."""
    return drawn_in_both(lambda units: _history(in_units(comparison, units)), comparison.case.units)


def _history(comparison: Comparison) -> Sheet:
    units = comparison.case.units
    rows = (len(comparison.results) + 1) // 2
    figure = Figure(figsize=(9.2, 7.4 + 0.2 * rows), layout="constrained")
    panels = figure.subplots(3, 1, sharex=True)
    for plot, ax in zip((plot_clamp, plot_tip_force, plot_thread_load), panels, strict=True):
        plot(comparison, ax=ax)
        ax.label_outer()
    name_phases(comparison, panels[0])
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, handlelength=3.2)
    axis = comparison_axis(comparison)
    left_out = " Each phase has its own time scale." if axis.phases else ""
    left_out += " Of all cycles the first and the last are drawn." if axis.cut else ""
    told = []
    for result in comparison.results:
        low, high = result.value("clamp_min"), result.value("clamp_max")
        tip, thread = result.value("tip_force_max"), result.value("thread_load_max")
        told.append(
            f"{result.name}: clamp {quantity_text(low, 'N', units, 3)} to {quantity_text(high, 'N', units, 3)}, tip force "
            f"at most {quantity_text(tip, 'N', units, 3)}, thread load at most {quantity_text(thread, 'N', units, 3)}."
        )
    return Sheet(
        "history",
        "Clamp, tip force and thread load through the cycle",
        "Thread load is stud tension plus tip force: a bottomed stud loads its thread from both ends. The shaded strip holds "
        "seating and tightening, which have no time scale. Lines that lie on each other differ by pattern and marker."
        f"{left_out}",
        " ".join(told),
        figure,
    )


def mesh_sheet(built: BuiltJoint, units: str = "metric") -> Sheet:
    """Return one setup's section: parts named and dimensioned, element edges, the floor enlarged."""
    return drawn_in_both(partial(_mesh, built), units)


def _mesh(built: BuiltJoint, units: str) -> Sheet:
    figure = Figure(figsize=(11.0, 8.2))
    plot_mesh(built, ax=figure.add_axes((0.07, 0.07, 0.42, 0.87), anchor="W"), units=units)
    plot_floor_mesh(built, ax=figure.add_axes((0.7, 0.07, 0.28, 0.87)), units=units)
    shape = built.layout.boss
    told = (
        f"Section of {built.setup.name}: hole {quantity_text(shape.hole_depth, 'mm', units)} deep, floor "
        f"{quantity_text(shape.floor_thickness, 'mm', units)}. {quality_line(built)}."
    )
    return Sheet(
        "section-mesh",
        "The section as it is meshed",
        f"Parts and dimensions on the left of the axis, element edges on the right; threads are smooth at their pitch "
        f"diameter, gaskets and spring washers (hatched) are laws between bodies, not meshes. {quality_line(built)}.",
        told,
        figure,
    )
