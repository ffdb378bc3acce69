"""The command `studwell backoff`: what it prints, leaves and returns, the review itself solved once for all tests."""

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell.cli import app
from studwell.errors import Unknown

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture
def run(monkeypatch, small_review, tmp_path):
    """Function: what the review gives -> result of the command; its files are in `tmp_path / "out"`."""

    def function(found=small_review, case=CASES / "hut-pump.toml"):
        def solved(case, *, refinement, progress):
            if isinstance(found, Exception):
                raise found
            progress("sweep", 1, 1)
            return found

        if found is not None:
            monkeypatch.setattr("studwell.api.review.study_backoff", solved)
        return CliRunner().invoke(app, ["backoff", str(case), "--out", str(tmp_path / "out")])

    return function


def test_it_prints_the_verdict_and_leaves_its_files(run, tmp_path):
    result = run()
    assert result.exit_code == 0, result.output
    assert "Turning back is worth it" in result.output and "What would change our mind" in result.output
    names = {path.name for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert names == {"summary.json", "sweep.csv", "report.html", "run.json", "review.png", "review.svg"}


def test_a_stopped_review_keeps_what_is_finished(run, small_review, tmp_path):
    result = run(replace(small_review, stopped=True, rows=(), flips=(), notes=("stopped before all of it was solved",)))
    assert result.exit_code == 130 and (tmp_path / "out" / "summary.json").exists()


def test_a_first_setup_without_solution_ends_with_3_and_its_reason(run):
    result = run(Unknown("the stud breaks on tightening"))
    assert result.exit_code == 3 and "the stud breaks on tightening" in result.output


def test_a_case_without_a_seating_torque_is_bad_input(run, tmp_path):
    text = (CASES / "hut-pump.toml").read_text()
    text = text[: text.index("[setup.")].replace(
        'mode = "bottomed"\ntorque = "10 N*m"',
        'mode = "backed off"\nback_off = "0.22 turn"\ncounted_from = "first contact"',
    )
    path = tmp_path / "loose.toml"
    path.write_text(text)
    result = run(None, path)
    assert result.exit_code == 2 and "[seating] torque" in result.output and "Traceback" not in result.output


@pytest.mark.slow
def test_the_demo_is_reviewed_from_end_to_end(run):
    result = run(None)
    assert result.exit_code == 0 and "Turning back is worth it" in result.output
