"""The checks' results as a table on screen and as one page."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table

from studwell.show.page import page_text
from studwell.verify.run import CheckResult


def result_word(result: CheckResult) -> str:
    """Return 'agrees', 'DIFFERS', or 'differs (from memory)' where the expected figures are only remembered."""
    if result.passed:
        return "agrees"
    return "DIFFERS" if result.fails_the_run else "differs (from memory, no gate)"


def figure(value: float) -> str:
    """Return a figure with six significant digits."""
    return f"{value:.6g}"


def verification_table(results: Sequence[CheckResult]) -> Table:
    """Return all rows of all checks: what, expected, obtained, tolerance, source and how well it is known."""
    table = Table(title="Checks against published figures and closed forms", title_justify="left")
    for head in ("check", "quantity", "expected", "obtained", "allowed", "result", "known", "source"):
        table.add_column(head, overflow="fold", justify="right" if head in ("expected", "obtained") else "left")
    for result in results:
        first = True
        if result.error is not None:
            table.add_row(result.check.title, "stopped", "", "", "", "DIFFERS", result.check.status, result.error)
        for row in result.rows:
            unit = f" {row.unit}" if row.unit not in ("", "1") else ""
            table.add_row(
                result.check.title if first else "",
                row.quantity,
                figure(row.expected),
                figure(row.obtained),
                f"±{row.tolerance:.2g}{unit}",
                "agrees" if row.agrees else result_word(result),
                result.check.status if first else "",
                result.check.source if first else "",
            )
            first = False
    return table


def verification_page(results: Sequence[CheckResult], versions: dict[str, str]) -> str:
    """Return one self-contained HTML page with all checks by subject; no network, no dates."""
    subjects: dict[str, list[CheckResult]] = {}
    for result in results:
        subjects.setdefault(result.check.subject, []).append(result)
    parts = [(f"subject-{place}", subject) for place, subject in enumerate(subjects, start=1)]
    return page_text(
        "verification.html",
        parts=parts,
        subjects=subjects,
        results=results,
        versions=versions,
        word=result_word,
        figure=figure,
    )
