"""Drawings of solved heat: where their lines end, what they are called, in which units, and what is left out."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from studwell.show.field_view import field_view
from studwell.show.figures import sheets_of
from studwell.show.heat import (
    boss_levels,
    named_temperatures,
    plot_boss_temperature,
    plot_differences,
    plot_temperature_field,
    plot_temperatures,
    round_levels,
    shown_heat,
    temperature_levels,
)
from studwell.show.heat_sheets import compared, heat_sheets
from studwell.show.history import name_phases, plot_clamp
from studwell.show.time_axis import axis_of, clock_text, phase_knots
from studwell.study.compare import compare
from studwell.study.heat_numbers import stud_above_boss


def lines_by_name(ax):
    return {line.get_label().replace("\n", " "): line for line in ax.get_lines() if line.get_label()[0] != "_"}


@pytest.fixture(scope="module")
def bottomed(solved_heat):
    return solved_heat["bottomed, plain"]


@pytest.fixture(scope="module")
def many_cycles(hut_pump_cycle):
    """Short phases, so that five cycles in a row all differ."""

    def short(setup):
        phases = tuple(replace(p, duration=p.duration / 40, ramp=p.ramp / 40) for p in setup.history.phases)
        ends = tuple(itertools.accumulate(phase.duration for phase in phases))
        return replace(
            setup, history=replace(setup.history, phases=phases, times=ends, cycles=5, until_periodic=None, steps=16)
        )

    setups = tuple(short(setup) for setup in hut_pump_cycle.setups[:2])
    return compare(replace(hut_pump_cycle, setups=setups), refinement=0.4, band=False)


def test_temperature_lines_end_at_the_last_solved_temperature_of_each_body(bottomed):
    lines = lines_by_name(plot_temperatures(bottomed))
    assert set(lines) == {"boss", "stud tip", "barrel", "head", "stud top", "nut"}
    for name, values in named_temperatures(bottomed):
        assert lines[name].get_ydata()[-1] == pytest.approx(values[-1])


def test_drawn_temperatures_are_those_of_the_history_file(bottomed):
    drawn = dict(named_temperatures(bottomed))
    nodes = bottomed.history.node_names
    for name, node in (("boss", "boss"), ("stud tip", "stud_tip"), ("stud top", "stud_top"), ("barrel", "barrel")):
        assert np.allclose(drawn[name], bottomed.history.temperatures[:, nodes.index(node)])


def test_temperatures_follow_the_units_of_the_case_and_differences_stay_in_kelvin(bottomed):
    assert plot_temperatures(bottomed).get_ylabel() == "temperature, degC"
    inch = plot_temperatures(bottomed, units="inch")
    assert inch.get_ylabel() == "temperature, degF"
    assert lines_by_name(inch)["boss"].get_ydata()[-1] == pytest.approx(
        1.8 * bottomed.heat.fields["boss"][-1].mean() + 32.0
    )
    assert plot_differences([bottomed]).get_ylabel().endswith(", K")


def test_phases_are_named_above_the_temperatures(bottomed):
    texts = {text.get_text().replace("\n", " ") for text in plot_temperatures(bottomed).texts}
    assert texts >= {"warm-up", "full load", "shut-down soak", "cold start"}


def test_differences_are_drawn_of_tip_and_thread_of_each_setup(solved_heat):
    pair = compared(solved_heat, solved_heat["backed off, plain"])
    assert [one.setup.seating.mode for one in pair] == ["backed off", "bottomed"]
    lines = lines_by_name(plot_differences(pair))
    assert len(lines) == 4
    drawn = lines["bottomed, plain: stud's tip"].get_ydata()
    above = stud_above_boss(solved_heat["bottomed, plain"])
    assert drawn[-1] == pytest.approx(above[-1]) and drawn.min() == pytest.approx(above.min(), rel=1e-3)


def test_the_colours_hold_every_temperature_of_the_section(bottomed):
    view = field_view(bottomed, int(bottomed.timeline.run[5]))
    for units in ("metric", "inch"):
        levels = temperature_levels([view], units)
        values = np.concatenate([f.temperature[0] for f in view.fields])
        values = values if units == "metric" else 1.8 * values + 32.0
        assert levels[0] <= values.min() and levels[-1] >= values.max()
        assert np.allclose(np.diff(levels), levels[1] - levels[0])


@pytest.mark.parametrize(("low", "high"), [(-15.0, -15.0), (-15.0, 175.4), (20.0, 20.4), (5.0, 1234.0)])
def test_bounds_of_colours_are_round_and_hold_the_range(low, high):
    levels = round_levels(low, high, 14)
    assert levels[0] <= low + 1e-9 and levels[-1] >= high - 1e-9 and 3 <= len(levels) <= 16
    step = levels[1] - levels[0]
    assert round(step / 10.0 ** np.floor(np.log10(step)), 6) in (1.0, 2.0, 2.5, 5.0, 10.0)


def test_the_temperature_field_names_every_part_and_says_its_moments(bottomed):
    views = [field_view(bottomed, int(bottomed.timeline.run[step])) for step in (3, 9)]
    ax = plot_temperature_field(views, scale=5.0, said=["largest clamp", "coldest"])
    texts = [text.get_text().replace("\n", " ") for text in ax.texts]
    assert {"boss", "stud", "nut", "barrel", "head", "base gasket", "largest clamp", "coldest"} <= set(texts)
    assert ax.get_title(loc="left") == "Temperature, movement x 5"


def test_the_boss_is_drawn_on_colours_of_its_own(bottomed):
    view = field_view(bottomed, int(bottomed.timeline.run[3]))
    boss = next(f for f in view.fields if f.name == "boss").temperature[0]
    levels = boss_levels(view, "metric")
    assert levels[0] <= boss.min() and levels[-1] >= boss.max()
    assert levels[-1] - levels[0] < np.ptp(temperature_levels([view], "metric"))
    assert plot_boss_temperature(view).get_xlabel().endswith(", mm")


def test_given_temperatures_have_no_heat_figures(comparison):
    assert shown_heat(comparison) is None
    assert heat_sheets(comparison) == ()


def test_solved_heat_adds_two_figures_with_words(solved_heat):
    sheets = {sheet.name: sheet for sheet in sheets_of(solved_heat)}
    assert set(sheets) >= {"temperatures", "temperature-field", "history", "section-stress"}
    best = shown_heat(solved_heat)
    assert best.name in sheets["temperatures"].caption and best.name in sheets["temperatures"].told
    assert " K hotter" in sheets["temperatures"].told and "largest clamp" in sheets["temperature-field"].told


def test_a_phase_keeps_at_least_its_even_share_of_the_width(bottomed):
    phases = bottomed.setup.history.phases
    knots = phase_knots(phases, 1.0)
    total = sum(phase.duration for phase in phases)
    assert knots[-1] == pytest.approx([total, total])
    assert np.all(np.diff(knots[:, 1]) >= 0.5 * total / len(phases))
    assert np.all(np.diff(knots[:, 0]) == [phase.duration for phase in phases])


def test_every_step_stands_on_the_axis_once_and_in_order_while_cycles_are_few(solved_heat):
    axis = axis_of(solved_heat.results)
    for result in solved_heat.results:
        places, steps = axis.places(result)
        assert list(steps) == list(range(len(result.history.times)))
        assert np.all(np.diff(places) > 0.0) and places[-1] <= axis.end * (1 + 1e-12)


def test_of_more_than_three_cycles_the_first_and_the_last_are_drawn(many_cycles):
    axis = axis_of(many_cycles.results)
    assert axis.cut and axis.cycles == 2
    for result in many_cycles.results:
        assert result.heat.cycles == 5
        places, steps = axis.places(result)
        drawn = steps[~np.isnan(places)]
        assert set(result.heat.cycle[drawn[1:]]) <= {0, 3, 4}  # the last cycle starts where the one before ends
        assert np.count_nonzero(result.heat.cycle[drawn] == 3) == 1
        assert np.nanmax(places) == pytest.approx(axis.end)
    line = lines_by_name(plot_clamp(many_cycles))[many_cycles.results[0].name]
    last = many_cycles.results[0].history.run_forces.clamp[-1] / 1000.0
    assert line.get_ydata()[-1] == pytest.approx(last)
    assert np.isnan(line.get_xdata()).sum() == 1


def test_the_drawn_cycles_are_named(many_cycles, solved_heat):
    ax = plot_clamp(many_cycles)
    name_phases(many_cycles, ax)
    texts = [text.get_text().replace("\n", " ") for text in ax.texts]
    assert texts.count("warm-up") == 2 and {"cycle 1", "cycle 5", "seat, tighten"} <= set(texts)
    assert ax.get_xlabel() == "time in the cycle, each phase at its own scale"


@pytest.mark.parametrize(
    ("time", "text"), [(0.0, "0"), (600.0, "10 min"), (3600.0, "1 h"), (5400.0, "1.5 h"), (90.0, "1.5 min")]
)
def test_ticks_are_minutes_below_an_hour_and_hours_from_there(time, text):
    assert clock_text(time) == text


def test_a_drawing_of_solved_heat_names_its_moment_by_phase_and_cycle(bottomed):
    step, label = bottomed.heat.phase_ends[1]
    assert label == "full load, cycle 1"
    assert field_view(bottomed, int(bottomed.timeline.run[step])).when == "end of full load of cycle 1"
