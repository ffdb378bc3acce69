"""The figures of solved heat, composed: temperatures over the last cycle, and temperature on the section."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from matplotlib.figure import Figure

from studwell.show.field_view import FieldView, field_views
from studwell.show.heat import (
    boss_levels,
    draw_temperature_bar,
    plot_boss_temperature,
    plot_differences,
    plot_temperature_field,
    plot_temperatures,
    said_of,
    shown_heat,
    temperature_levels,
)
from studwell.show.sheet import Sheet, drawn_in_both
from studwell.study.heat_numbers import extreme_differences, first_extreme, largest_difference, moment_at
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text


def heat_sheets(comparison: Comparison) -> tuple[Sheet, ...]:
    """Return the figures of the best-ranked setup whose heat was solved; none where all temperatures are given."""
    result = shown_heat(comparison)
    if result is None:
        return ()
    return temperature_sheet(comparison, result), temperature_field_sheet(comparison, result)


def compared(comparison: Comparison, result: SetupResult) -> tuple[SetupResult, ...]:
    """Return a setup of solved heat and the best-ranked one with the same phases whose stud is seated the other way."""
    mode = result.setup.seating.mode
    for other in comparison.results:
        same = other.heat is not None and other.setup.history.phases == result.setup.history.phases
        if same and other.setup.seating.mode != mode:
            return result, other
    return (result,)


def temperature_sheet(comparison: Comparison, result: SetupResult) -> Sheet:
    """Return temperatures over the last cycle, and below them how far stud and boss differ."""
    return drawn_in_both(partial(_temperatures, comparison, result), comparison.case.units)


def _temperatures(comparison: Comparison, result: SetupResult, units: str) -> Sheet:
    pair = compared(comparison, result)
    order = {setup.name: place for place, setup in enumerate(comparison.case.setups)}
    figure = Figure(figsize=(9.2, 7.0), layout="constrained")
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=[1.5, 1.0])
    plot_temperatures(result, ax=upper, units=units)
    plot_differences(pair, ax=lower, colours=[order[one.name] for one in pair])
    upper.label_outer()
    upper.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), handlelength=3.0)
    handles, labels = lower.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, handlelength=3.2)
    told = []
    for one in pair:
        assert one.heat is not None
        above, below = extreme_differences(one)
        told.append(
            f"{one.name}: the stud's tip is at most {_kelvin(above.value)} hotter than the boss "
            f"({above.moment.text(one.heat.cycles)}) and {_kelvin(-below.value)} colder "
            f"({below.moment.text(one.heat.cycles)})."
        )
    return Sheet(
        "temperatures",
        "Temperatures over the last cycle, and how far stud and boss differ",
        f"Upper part: {result.name}; means of each body, the stud's of its end faces. Lower part: how much hotter than the "
        "mean of the boss the stud is, at its tip and across the middle of its engaged thread. Each phase has its own time "
        "scale, so that a short warm-up can be seen beside a long night.",
        " ".join(told),
        figure,
    )


def temperature_field_sheet(comparison: Comparison, result: SetupResult) -> Sheet:
    """Return the temperature on the section when the clamp is largest and when it is coldest, and at the stud's end."""
    assert result.heat is not None
    timeline = result.timeline
    first = timeline.assembled
    hottest = first + first_extreme(timeline.forces.clamp[first:], "max")
    coldest = int(timeline.run[first_extreme(result.history.temperatures.mean(axis=1), "min")])
    apart = largest_difference(result)
    views = field_views(result, [hottest, coldest, int(timeline.run[apart.step])])
    return drawn_in_both(partial(_fields, result, views, apart.value), comparison.case.units)


def _fields(result: SetupResult, views: Sequence[FieldView], apart: float, units: str) -> Sheet:
    """Draw the views at the largest clamp, the coldest moment, and where the stud's tip is `apart` K from the boss."""
    assert result.heat is not None
    at_clamp, cold, differing = views
    levels, own = temperature_levels([at_clamp, cold], units), boss_levels(differing, units)
    figure = Figure(figsize=(10.4, 7.6), layout="constrained")
    grid = figure.add_gridspec(2, 2, width_ratios=[1, 1.3], height_ratios=[1, 0.03])
    said = [said_of(at_clamp, "largest clamp"), said_of(cold, "coldest")]
    plot_temperature_field([at_clamp, cold], ax=figure.add_subplot(grid[0, 0]), levels=levels, units=units, said=said)
    draw_temperature_bar(figure.add_subplot(grid[1, 0]), levels, units)
    word = "hotter" if apart > 0.0 else "colder"
    note = said_of(differing, f"stud's tip {_kelvin(abs(apart))} {word} than the mean of the boss", 60)
    plot_boss_temperature(differing, ax=figure.add_subplot(grid[0, 1]), levels=own, units=units, said=note)
    draw_temperature_bar(figure.add_subplot(grid[1, 1]), own, units)
    told = []
    for view, what in ((at_clamp, "Left, at the largest clamp"), (cold, "right, at the coldest moment")):
        low = min(float(f.temperature.min()) for f in view.fields)
        high = max(float(f.temperature.max()) for f in view.fields)
        told.append(
            f"{what} ({moment_at(result, view.index).text(result.heat.cycles)}): {as_text(low, 'temperature', units, 3)} to "
            f"{as_text(high, 'temperature', units, 3)}."
        )
    return Sheet(
        "temperature-field",
        "Where the heat is",
        f"{result.name}. Left drawing: the temperature on the deformed section when the clamp is largest and when all is "
        "coldest, on the same colours. Right drawing: boss and stud when the stud's tip differs most from the boss, on "
        "colours of its own. Gaskets and spring washers (hatched) are not meshed and store no heat.",
        " ".join(told),
        figure,
    )


def _kelvin(value: float) -> str:
    return as_text(value, "temperature_difference", digits=2)
