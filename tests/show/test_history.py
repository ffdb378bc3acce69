"""Lines of the history figure: their ends, their units, their names."""

from __future__ import annotations

import numpy as np
import pytest

from studwell.show.history import name_phases, plot_clamp, plot_thread_load, plot_tip_force

PLOTS = {"clamp": plot_clamp, "tip": plot_tip_force, "thread": plot_thread_load}
NEWTON_PER_POUND_FORCE = 4.4482216152605  # exact product of the pound and standard gravity


def setup_lines(ax):
    return {
        line.get_label().replace("\n", " "): line for line in ax.get_lines() if not line.get_label().startswith("_")
    }


@pytest.mark.parametrize("force", PLOTS)
def test_a_line_ends_at_the_last_state_of_its_history_in_kilonewton_and_minutes(comparison, force):
    lines = setup_lines(PLOTS[force](comparison))
    for result in comparison.results:
        x, y = lines[result.name].get_data()
        last = result.timeline.run[-1]
        assert x[-1] == pytest.approx(result.timeline.times[last] / 60.0)
        assert y[-1] == pytest.approx(getattr(result.timeline.forces, force)[last] / 1000.0, abs=1e-9)


@pytest.mark.parametrize("force", PLOTS)
def test_a_line_starts_at_the_seated_stud_before_the_run(comparison, force):
    lines = setup_lines(PLOTS[force](comparison))
    for result in comparison.results:
        x, y = lines[result.name].get_data()
        assert x[0] < 0.0
        assert y[0] == pytest.approx(getattr(result.timeline.forces, force)[0] / 1000.0, abs=1e-9)


def test_every_solved_setup_has_its_line_and_legend_entry_and_no_other(comparison):
    _, entries = plot_clamp(comparison).get_legend_handles_labels()
    assert sorted(e.replace("\n", " ") for e in entries) == sorted(r.name for r in comparison.results)


@pytest.mark.parametrize(
    ("force", "metric", "inches"), [("clamp", "clamp, kN", "clamp, lbf"), ("tip", "tip force, kN", "tip force, lbf")]
)
def test_axis_labels_carry_the_units_of_the_case(comparison, inch, force, metric, inches):
    assert PLOTS[force](comparison).get_ylabel() == metric
    assert PLOTS[force](inch).get_ylabel() == inches
    assert PLOTS[force](inch).get_xlabel() == "time, min"


def test_inch_units_change_the_numbers_too(inch):
    lines = setup_lines(plot_clamp(inch))
    result = inch["bottomed, plain"]
    expected = result.timeline.forces.clamp[result.timeline.run[-1]] / NEWTON_PER_POUND_FORCE
    assert lines[result.name].get_ydata()[-1] == pytest.approx(expected)


def test_the_points_of_the_history_are_named(comparison):
    ax = plot_clamp(comparison)
    name_phases(comparison, ax)
    names = {text.get_text().replace("\n", " ") for text in ax.texts}
    assert names >= {"seat, tighten", "assembled", "hot", "cold soak", "back to assembly temperature"}


def test_the_axes_are_those_given_and_their_figure_keeps_its_size(comparison):
    from matplotlib.figure import Figure

    figure = Figure(figsize=(3.0, 2.0))
    ax = figure.add_subplot()
    assert plot_clamp(comparison, ax=ax) is ax
    assert np.allclose(figure.get_size_inches(), (3.0, 2.0))
