"""Lines of the history figure: their ends, their units, their names."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from studwell.show import theme
from studwell.show.history import NAME_ROOM, name_phases, plot_clamp, plot_thread_load, plot_tip_force, write_above
from studwell.show.time_axis import MOST_TICKS, TimeAxis, even_times

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
    assert PLOTS[force](inch).get_xlabel() == "time"


def test_ticks_of_time_say_minutes_or_hours_and_stand_where_they_say(comparison):
    ax = plot_clamp(comparison)
    places, texts = ax.get_xticks(), [text.get_text() for text in ax.get_xticklabels()]
    assert texts[0] == "0" and all(text.endswith((" min", " h")) for text in texts[1:])
    for place, text in zip(places[1:], texts[1:], strict=True):
        number, unit = text.split(" ")
        assert place == pytest.approx(float(number) * {"min": 1.0, "h": 60.0}[unit])


def test_texts_of_ticks_of_many_phases_do_not_lie_on_each_other():
    from matplotlib.figure import Figure

    phases = np.array([[0.0, 0.0], [600.0, 0.9], [2400.0, 2.0], [3600.0, 2.9], [25800.0, 7.2]])  # s, shown
    axis = TimeAxis(1 / 3600.0, 7.2, 21.6, 3, knots=phases, phases=("a", "b", "c", "d"))
    with theme.drawing():
        figure = Figure(figsize=(9.2, 3.0), layout="constrained")
        ax = figure.add_subplot()
        ax.set_xlim(-2.6, 21.8)
        axis.dress(ax)
        figure.draw_without_rendering()
        boxes = [text.get_window_extent() for text in ax.get_xticklabels()]
        crowded = Figure(figsize=(9.2, 3.0), layout="constrained").add_subplot()
        axis.dress(crowded, tidy=False)
    assert 6 <= len(boxes) < len(crowded.get_xticks())
    assert all(one.x1 < other.x0 for one, other in itertools.pairwise(boxes))


@pytest.mark.parametrize("end", [30.0, 600.0, 5400.0, 18000.0, 7.2e4, 9e5, 8.7e6])
def test_even_times_are_few_and_reach_the_end_within_a_step(end):
    times = even_times(end)
    assert times[0] == 0.0 and 1 <= len(times) <= MOST_TICKS + 1
    assert len(times) == 1 or end - times[-1] < times[1]


def test_names_above_an_axes_keep_apart_and_in_order(comparison):
    ax = plot_clamp(comparison)
    write_above(ax, [("hot", 0.5), ("warm", 0.49), ("a name of two whole lines", 0.495), ("cold", 0.9)])
    placed = [(text.get_text(), text.xyann[0], text.xy[0]) for text in ax.texts]
    assert [name.replace("\n", " ") for name, _, _ in placed] == ["warm", "a name of two whole lines", "hot", "cold"]
    for (name, at, _), (_, after, _) in itertools.pairwise(placed):
        assert after - at >= NAME_ROOM * (1 + name.count("\n")) - 1e-9
    assert placed[-1][1] == placed[-1][2] == 0.9


def test_a_force_that_is_nothing_throughout_has_an_axis_of_plain_numbers(comparison):
    from dataclasses import replace

    ax = plot_tip_force(replace(comparison, results=(comparison["backed off, plain"],)))
    (line,) = setup_lines(ax).values()
    assert not np.any(np.nan_to_num(line.get_ydata())) and ax.get_ylim() == pytest.approx((-0.03, 1.08))


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
