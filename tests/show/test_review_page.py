import re

import pytest

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
