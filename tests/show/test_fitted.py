"""A table on a narrow screen: in parts that each begin with the key columns, and nothing is cut off."""

import io

import pytest
from rich.console import Console
from rich.table import Table

from studwell.show.fitted import fitted, print_fitted
from studwell.show.table import comparison_table


def printed(table: Table, width: int) -> str:
    console = Console(width=width, file=io.StringIO(), highlight=False, markup=False)
    print_fitted(console, table)
    return console.file.getvalue()  # type: ignore[attr-defined]


@pytest.mark.parametrize("width", [60, 80, 100, 112, 130])
def test_every_cell_of_a_comparison_is_on_a_narrow_screen_whole(comparison, width):
    table = comparison_table(comparison)
    text = printed(table, width)
    lines = text.splitlines()
    assert "\u2026" not in text
    framed = [line for line in lines if line and line[0] in "\u250f\u2503\u2521\u2502\u2514"]
    assert all(line[-1] in "\u2513\u2503\u2529\u2502\u2518" for line in framed), "cut off at the right"
    for column in table.columns:
        for cell in column.cells:
            assert all(word in text for word in str(cell).split()), cell
    parts = text.count("\u250f")
    assert (f"stands in {parts} parts" in text) == (parts > 1) and parts > 1
    assert text.count(str(table.title)) == 1 and text.count("Margin: load over capacity") == 1


def test_a_table_that_fits_is_left_alone(comparison):
    table = comparison_table(comparison)
    console = Console(width=180, file=io.StringIO())
    assert fitted(table, console) == [table]
    assert "parts" not in printed(table, 180)


def test_each_part_begins_with_the_key_columns_and_no_column_is_there_twice(comparison):
    table = comparison_table(comparison)
    parts = fitted(table, Console(width=80, file=io.StringIO()))
    heads = [[column.header for column in part.columns] for part in parts]
    assert all(each[:2] == ["rank", "setup"] for each in heads)
    assert [head for each in heads for head in each[2:]] == [column.header for column in table.columns[2:]]
    assert all(part.row_count == table.row_count for part in parts)
