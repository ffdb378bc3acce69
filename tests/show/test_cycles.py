"""The figure of the clamp left after many cycles: plain numbers on its axis, each setup's own colour, rings for jumps."""

from dataclasses import replace

import pytest

from studwell.history.cycles import CycleMark, CycleResult
from studwell.show import theme
from studwell.show.cycles import cycle_sheets, plot_clamp_left
from studwell.study.cycles import CycleStudy

COUNTS = (1, 3, 10, 100, 1000, 10_000)


def result_of(clamp, counts=COUNTS):
    marks = tuple(CycleMark(n, clamp, clamp, 2 * clamp, 0.0, n > 100) for n in counts)
    return CycleResult(marks, 0.0, 30, "settles", (), counts[-1])


@pytest.fixture(scope="module")
def cycled(solved_heat):
    results = [replace(r, cycles=CycleStudy(result_of(9e3), None, None)) for r in solved_heat.results]
    results[0] = replace(results[0], cycles=CycleStudy(result_of(9e3), result_of(8e3), result_of(8.5e3)))
    return replace(solved_heat, results=tuple(results))


@pytest.fixture(scope="module")
def ax(cycled):
    with theme.drawing():
        return plot_clamp_left(cycled)


def test_the_numbers_of_cycles_are_plain_numbers_at_the_marks(ax):
    assert [tick.get_text().replace("\u202f", "") for tick in ax.get_xticklabels()] == [
        "10000", "1000", "100", "10", "3", "1",
    ]  # fmt: skip
    assert not ax.get_xticks(minor=True).size


def test_crowded_numbers_of_cycles_are_left_out(cycled):
    counts = (1, 1000, 1001, 1002)
    one = replace(cycled.results[0], cycles=CycleStudy(result_of(9e3, counts), None, None))
    with theme.drawing():
        crowded = plot_clamp_left(replace(cycled, results=(one,)))
    assert [round(tick) for tick in crowded.get_xticks()] == [1002, 1]


def test_a_setup_has_its_colour_of_the_other_figures_and_its_variants_share_it(ax, cycled):
    lines = {line.get_label().replace("\n", " "): line for line in ax.lines}
    for place, setup in enumerate(cycled.case.setups):
        own = [line for label, line in lines.items() if label.startswith(setup.name)]
        assert own and {line.get_color() for line in own} == {theme.SERIES[place]}
    first = cycled.results[0].name
    patterns = {str(line._unscaled_dash_pattern) for label, line in lines.items() if label.startswith(first)}
    assert len(patterns) == 3


def test_the_axis_spans_the_clamps_and_says_that_it_need_not_start_at_0(ax):
    low, high = ax.get_ylim()
    assert 7.0 < low < 8.0 and 9.0 < high < 10.0
    assert "need not start at 0" in ax.get_ylabel()


def test_marks_behind_jumps_are_ringed(ax):
    rings = [line for line in ax.lines if line.get_label() == "_jumped"]
    assert rings and all(line.get_xdata().tolist() == [1000, 10_000] for line in rings)


def test_setups_of_one_cycle_have_no_such_figure(solved_heat, cycled):
    assert cycle_sheets(solved_heat) == ()
    (sheet,) = cycle_sheets(cycled)
    assert "in cycle 10000" in sheet.told
