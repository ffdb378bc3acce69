"""A comparison's folder: summary, histories, figures, fields and report, each file whole or not at all."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from platform import platform

from studwell.case.fingerprint import inputs_sha256
from studwell.show.figures import sheets_of
from studwell.show.report import draw_figures, write_report
from studwell.store.fields import write_all_fields
from studwell.store.summary import history_csv, libraries, slug, summary
from studwell.store.writing import write_json, write_text
from studwell.study.findings import findings
from studwell.study.results import Comparison


def write_comparison(
    comparison: Comparison, directory: Path, *, json_file: Path | None = None, fields: str = "five"
) -> Path:
    """Write everything that a comparison leaves into a directory; returns the directory.

    json_file : another place for summary.json
    fields    : VTU states a setup: "five", "all" or "none"
    raises CannotWrite
    """
    record = summary(comparison)
    write_json(json_file or directory / "summary.json", record)
    if comparison.results:
        sheets = sheets_of(comparison)
        draw_figures(comparison, directory / "figures", sheets)
        write_report(
            directory / "report.html",
            comparison,
            findings(comparison),
            libraries(),
            inputs_sha256(comparison.case),
            sheets,
        )
        if fields != "none":
            write_all_fields(directory, comparison, "all" if fields == "all" else "moments")
    for result in comparison.results:
        write_text(directory / slug(result.name) / "history.csv", history_csv(result))
    write_json(
        directory / "run.json",
        {
            "case_file": comparison.case.file,
            "inputs_sha256": inputs_sha256(comparison.case),
            "finished": datetime.now(UTC).isoformat(timespec="seconds"),
            "seconds": round(comparison.seconds, 3),
            "seconds_by_setup": {r.name: round(r.seconds, 3) for r in comparison.results},
            "unknowns_by_setup": {r.name: r.built.unknowns for r in comparison.results},
            "refined_steps": {r.name: [list(cut) for cut in r.history.refinements] for r in comparison.results},
            "python": sys.version.split()[0],
            "platform": platform(),
            "versions": libraries(),
        },
    )
    return directory
