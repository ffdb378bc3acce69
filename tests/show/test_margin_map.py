"""Texts and looks of the cells of the margin map."""

from __future__ import annotations

from dataclasses import replace

import pytest
from matplotlib.colors import same_color
from matplotlib.patches import Rectangle

from studwell.show import theme
from studwell.show.margin_map import cell_text, margin_colour, modes_of, plot_margins
from studwell.strength.margins import Margin, absent_margin, unknown_margin


@pytest.fixture(scope="module")
def drawn(comparison):
    ax = plot_margins(comparison)
    cells = {(round(t.get_position()[1]), round(t.get_position()[0])): t.get_text() for t in ax.texts}
    return ax, cells


def test_every_cell_says_its_margin(comparison, drawn):
    _, cells = drawn
    for row, result in enumerate(comparison.results):
        for column, (mode, _) in enumerate(modes_of(comparison)):
            assert cells[row, column] == cell_text(result.verdict.margins[mode])


def test_rows_are_the_setups_in_rank_and_the_unsolved_last(comparison, drawn):
    ax, cells = drawn
    names = [text.get_text().replace("\n", " ") for text in ax.get_yticklabels()]
    assert names == [r.name for r in comparison.results] + [f.name for f in comparison.failed]
    assert any("not solved" in text for (row, _), text in cells.items() if row == len(comparison.results))


def test_the_map_shows_a_number_an_unbounded_an_unknown_and_an_absent_part(drawn):
    texts = set(drawn[1].values())
    assert {"∞", "?", "none"} <= texts
    assert any(text.replace(".", "").isdigit() for text in texts)


def test_unknown_cells_are_hatched_and_only_they_and_unsolved_rows(comparison, drawn):
    ax, cells = drawn
    hatched = {
        (round(p.get_y() + 0.5), round(p.get_x() + 0.5))
        for p in ax.patches
        if isinstance(p, Rectangle) and p.get_hatch()
    }
    unknown = {place for place, text in cells.items() if text == "?"}
    assert hatched == unknown | {(len(comparison.results), 0)}


def test_damage_modes_stand_left_of_function_modes(comparison):
    kinds = [kind for _, kind in modes_of(comparison)]
    assert kinds == sorted(kinds) and set(kinds) == {"damage", "function"}


@pytest.mark.parametrize(
    ("margin", "text"),
    [
        (Margin("leak", "damage", 0.3456), "0.35"),
        (Margin("leak", "damage", 1.0), "1.00"),
        (Margin("leak", "damage", float("inf")), "∞"),
        (Margin("leak", "damage", -1e-13), "0.00"),
        (unknown_margin("leak", "damage", "not modelled"), "?"),
        (absent_margin("leak", "damage", "no gasket"), "none"),
        (None, "none"),
    ],
)
def test_a_cell_says(margin, text):
    assert cell_text(margin) == text


@pytest.mark.parametrize("value", [1.0, 1.5, float("inf")])
def test_the_limit_itself_and_all_above_have_the_colour_of_failing(value):
    assert margin_colour(value) == theme.MARGIN_ABOVE


def test_a_margin_just_below_the_limit_does_not_look_like_failing():
    assert margin_colour(0.9999) == theme.MARGIN_BELOW[-1]


def test_equal_texts_have_equal_colours():
    assert margin_colour(0.8951) == margin_colour(0.9049)


def test_the_governing_margin_has_a_heavy_frame(comparison, drawn):
    ax, _ = drawn
    frames = [p for p in ax.patches if p.get_linewidth() == 1.8 and same_color(p.get_edgecolor(), theme.CELL_INK)]
    assert len(frames) == sum(r.verdict.governing is not None for r in comparison.results)


def test_a_comparison_without_a_solved_setup_can_be_drawn(comparison):
    ax = plot_margins(replace(comparison, results=()))
    assert len(ax.get_yticklabels()) == len(comparison.failed)
