import re
from dataclasses import replace

import pytest

from studwell.review.mechanisms import MECHANISMS
from studwell.show.both_units import in_units
from studwell.show.review_content import review_tables, screen_tables
from studwell.show.review_page import review_page, write_review
from studwell.show.review_sheet import review_sheet


def test_the_page_needs_no_other_file_and_says_every_sentence(small_review):
    page = review_page(small_review, review_sheet(small_review))
    assert (
        not re.search(r"(src|href)=\"(?!#|data:)|url\((?!#)|@import|<link", page)
        and "prefers-color-scheme: dark" in page
    )
    for sentence in small_review.verdict.sentences:
        assert sentence.text.split(":")[0].replace("'", "&#39;") in page
    assert f"Confidence: {small_review.verdict.confidence}" in page


def test_the_page_in_inch_units_says_the_mechanisms_and_the_budget_in_inches(small_review):
    metric, inch = (review_tables(in_units(small_review, units)) for units in ("metric", "inch"))
    heads = [next(t for t in tables if t.heads[0] == "Mechanism") for tables in (metric, inch)]
    assert any("kN" in head for head in heads[0].heads) and any("lbf" in head for head in heads[1].heads)
    place = next(i for i, head in enumerate(heads[0].heads) if head.startswith("thread load, kN"))
    for one, other in zip(heads[0].rows[:6], heads[1].rows[:6], strict=True):
        assert float(other[place]) == pytest.approx(float(one[place]) / 0.0044482216152605, rel=0.01, abs=0.5)
    budgets = [next(t for t in tables if t.heads[0] == "Item") for tables in (metric, inch)]
    assert [table.heads[1] for table in budgets] == ["mm", "in"]
    assert float(budgets[1].rows[-1][1]) == pytest.approx(float(budgets[0].rows[-1][1]) / 25.4, abs=1e-5)


def test_tables_hold_as_many_cells_as_heads(small_review):
    for table in review_tables(small_review):
        assert table.rows and all(len(row) == len(table.heads) for row in table.rows)
    assert len(screen_tables(small_review)) == len(review_tables(small_review))


def test_budget_table_tells_millimetres_turns_and_degrees_of_the_same_length(small_review):
    table = next(table for table in review_tables(small_review) if table.heads[1] == "mm")
    for row in table.rows:
        mm, turns, degrees = map(float, row[1:4])
        assert abs(mm - 1.25 * turns) < 2e-4 and abs(degrees - 360.0 * turns) < 0.03


def test_all_files_of_a_review_are_written(small_review, tmp_path):
    write_review(small_review, tmp_path / "out", json_file=tmp_path / "elsewhere.json")
    found = {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file()}
    assert found == {"elsewhere.json", "out/sweep.csv", "out/report.html", "out/run.json",
                     "out/figures/review.png", "out/figures/review.svg"}  # fmt: skip


def test_no_title_or_label_of_the_figure_runs_into_the_next_panel(small_review):
    figure = review_sheet(small_review).figure
    figure.canvas.draw()
    axes = figure.axes
    for left, right in zip(axes[::2], axes[1::2], strict=True):
        title = left.title.get_window_extent()
        labels = [
            label.get_window_extent() for label in (*right.get_yticklabels(), right.yaxis.label) if label.get_text()
        ]
        assert title.x1 < right.title.get_window_extent().x0
        assert not any(title.overlaps(box) for box in labels)


def test_a_tip_that_never_bears_is_said_and_the_seat_force_is_drawn(small_review):
    def panel(review):
        ax = review_sheet(review).figure.axes[0]
        return ax.get_title(), max(ax.lines[0].get_ydata())

    assert "Tip force" in panel(small_review)[0]
    rows = tuple(replace(row, tip_run=0.0, seat="thread run-out in the hole") for row in small_review.rows)
    title, largest = panel(replace(small_review, rows=rows))
    assert "never bears" in title and largest == pytest.approx(small_review.drive.wedge / 1000.0, rel=1e-6)


def test_the_first_tenth_of_a_turn_is_drawn_wide(small_review):
    ax = review_sheet(small_review).figure.axes[1]
    place = ax.transData.transform([(0.0, 0.0), (0.1, 0.0), (1.0, 0.0)])[:, 0]
    assert place[1] - place[0] > 0.5 * (place[2] - place[0])


def test_interactions_are_one_table_without_empty_cells(small_review):
    tables = review_tables(small_review)
    found = [table for table in tables if "Interactions" in table.caption]
    assert len(found) == 1 and all(cell not in ("", "0") for row in found[0].rows for cell in row)
    mechanisms = next(table for table in tables if table.heads[0] == "Mechanism")
    assert len(mechanisms.rows) == len(MECHANISMS) + 2


def test_what_turning_back_relieves_is_a_table_that_adds_up(small_review):
    table = next(table for table in review_tables(small_review) if "relieves" in table.caption)
    place = next(k for k, head in enumerate(table.heads) if head.startswith("thread load"))
    values = [float(row[place]) for row in table.rows]
    assert sum(values[:-1]) == pytest.approx(values[-1], abs=0.02)


def test_differences_of_temperature_are_in_steps_of_the_page_s_unit(small_review):
    metric, inch = (review_tables(in_units(small_review, units)) for units in ("metric", "inch"))
    captions = [
        next(t.caption for t in tables if t.caption.startswith("Mechanisms apart")) for tables in (metric, inch)
    ]
    kelvin, fahrenheit = (
        float(re.search(rf"stack ([+-][\d.]+) {unit}", caption)[1])
        for unit, caption in zip(("K", "degF"), captions, strict=True)
    )
    assert fahrenheit == pytest.approx(1.8 * kelvin, abs=0.5) and " K" not in captions[1]
    notes = [
        next(r for t in tables if t.heads[0] == "Item" for r in t.rows if "temperature" in r[0])[4]
        for tables in (metric, inch)
    ]
    assert notes[0].startswith("10 K") and notes[1].startswith("18 degF")
