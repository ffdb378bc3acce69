"""A table that is too wide for the screen, in parts one under the other: nothing is cut off."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.measure import Measurement
from rich.table import Column, Table


def print_fitted(console: Console, table: Table, keys: Sequence[str] = ("rank", "setup")) -> None:
    """Print a table, in several parts where the console is narrower than it, and say so.

    keys : heads of the columns that each part begins with
    """
    parts = fitted(table, console, keys)
    for part in parts:
        console.print(part)
    if len(parts) > 1:
        console.print(table.caption or "")
        console.print(
            f"This screen is {console.width} characters wide: the table stands in {len(parts)} parts.", soft_wrap=True
        )


def fitted(table: Table, console: Console, keys: Sequence[str] = ("rank", "setup")) -> list[Table]:
    """Return a table as parts that fit a console, each with the key columns, without its caption; itself if it fits.

    Columns keep their order; words are not broken, so a column that is wider than the screen by itself is still cut.
    """
    if _fits(table, table.columns, console):
        return [table]
    lead = [column for column in table.columns if column.header in keys]
    rest = [column for column in table.columns if column not in lead]
    groups: list[list[Column]] = [[]]
    for column in rest:
        if groups[-1] and not _fits(table, [*lead, *groups[-1], column], console):
            groups.append([])
        groups[-1].append(column)
    parts = [_part(table, [*lead, *group]) for group in groups]
    for group, part in zip(groups, parts, strict=True):
        if not _fits(table, [*lead, *group], console):
            for column in part.columns:
                column.min_width = None
    parts[0].title = table.title
    return parts


def _fits(table: Table, columns: Sequence[Column], console: Console) -> bool:
    """True if these columns go on the console with every word whole."""
    part = _part(table, columns)
    words = Measurement.get(console, console.options.update(max_width=10_000), part).minimum
    if words > console.width:
        return False
    # drawn, since a column's own least width is not held back when others are narrowed
    drawn = "".join(segment.text for segment in console.render(part))
    return max(map(cell_len, drawn.splitlines())) <= console.width


def _part(table: Table, columns: Sequence[Column]) -> Table:
    """The same rows with these columns alone, without title and caption."""
    part = Table(title_justify=table.title_justify, caption_justify=table.caption_justify, show_lines=table.show_lines)
    for column in columns:
        part.add_column(
            column.header, justify=column.justify, overflow=column.overflow, min_width=column.min_width,
            max_width=column.max_width, no_wrap=column.no_wrap,
        )  # fmt: skip
    cells = [list(column.cells) for column in columns]
    for number, row in enumerate(table.rows):
        part.add_row(*(column[number] for column in cells), end_section=row.end_section, style=row.style)
    return part
