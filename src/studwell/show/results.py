"""A comparison's folder: summary, histories, figures, animation, fields and report, each file whole or not at all."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from platform import platform

from studwell.case.fingerprint import inputs_sha256
from studwell.show.animation import write_animation
from studwell.show.both_units import in_units
from studwell.show.figures import sheets_of
from studwell.show.heat import shown_heat
from studwell.show.report import draw_figures, write_report
from studwell.store.fields import write_all_fields
from studwell.store.revolved import write_all_revolved
from studwell.store.summary import folder_names, history_csv, libraries, summary
from studwell.store.writing import staged, write_bytes, write_json, write_text
from studwell.study.findings import findings_in_both
from studwell.study.results import Comparison

FILM = "figures/cycle.gif"
"""Where the animation of the last cycle of the best-ranked setup with solved heat lies."""


def write_comparison(
    comparison: Comparison,
    directory: Path,
    *,
    json_file: Path | None = None,
    fields: str = "moments",
    revolved: bool = False,
    units: str | None = None,
) -> Path:
    """Write everything that a comparison leaves into a directory; returns the directory.

    json_file : another place for summary.json
    fields    : VTU states a setup: "moments", "all" or "none"
    revolved  : also the named moments on the section revolved to 3-D
    units     : "metric" or "inch" of figures and, at first, the report; None: the case's
    raises CannotWrite
    """
    directory = Path(directory)
    with staged(directory) as folder:
        _fill(comparison, folder, fields, revolved, units or comparison.case.units)
        if json_file is not None:
            write_bytes(json_file, (folder / "summary.json").read_bytes())
            (folder / "summary.json").unlink()
    return directory


def _fill(comparison: Comparison, directory: Path, fields: str, revolved: bool, units: str) -> None:
    write_json(directory / "summary.json", summary(comparison))
    with _beside(comparison, directory, fields, revolved):
        _draw(in_units(comparison, units), directory, inputs_sha256(comparison.case))
    _records(comparison, directory)


def _write_fields(directory: Path, comparison: Comparison, fields: str, revolved: bool) -> None:
    if fields != "none":
        write_all_fields(directory, comparison, "all" if fields == "all" else "moments")
    if revolved:
        write_all_revolved(directory, comparison)


@contextmanager
def _beside(comparison: Comparison, directory: Path, fields: str, revolved: bool) -> Iterator[None]:
    """Write the VTU fields in a second process meanwhile, where there is a second core and processes can be copied."""
    wanted = (directory, comparison, fields, revolved)
    if not comparison.results or (fields == "none" and not revolved):
        yield
        return
    if (os.cpu_count() or 1) < 2 or "fork" not in multiprocessing.get_all_start_methods():
        _write_fields(*wanted)
        yield
        return
    child = multiprocessing.get_context("fork").Process(target=_write_fields, args=wanted)
    child.start()
    try:
        yield
    except BaseException:
        child.terminate()
        raise
    finally:
        child.join()
    if child.exitcode != 0:
        _write_fields(*wanted)  # once more here, to say why it cannot


def _draw(comparison: Comparison, directory: Path, fingerprint: str) -> None:
    if comparison.results:
        sheets = sheets_of(comparison)
        draw_figures(comparison, directory / "figures", sheets)
        film = shown_heat(comparison)
        if film is not None:
            write_animation(film, directory / FILM, comparison.case.units)
        write_report(
            directory / "report.html",
            comparison,
            findings_in_both(comparison),
            libraries(),
            fingerprint,
            sheets,
            None if film is None else (film.name, FILM),
        )


def _records(comparison: Comparison, directory: Path) -> None:
    folders = folder_names([result.name for result in comparison.results])
    for result in comparison.results:
        write_text(directory / folders[result.name] / "history.csv", history_csv(result))
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
