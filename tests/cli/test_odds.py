"""`studwell odds` on the command line."""

import json
from pathlib import Path

from typer.testing import CliRunner

from studwell.cli import app

CASE = str(Path(__file__).parents[2] / "cases" / "hut-pump.toml")
QUICK = ["--setup", "bottomed, plain", "--refinement", "0.4", "--workers", "1", "--check", "0", "--no-sensitivity"]


def run(*arguments: str):
    return CliRunner().invoke(app, ["odds", CASE, *arguments])


def test_a_run_resumes_to_the_same_bytes_and_another_study_is_refused(tmp_path):
    first = run("--samples", "60", "--seed", "5", *QUICK, "--out", str(tmp_path))
    assert first.exit_code == 0, first.output
    assert "any damage mode" in first.output and "seed 5" in first.output
    before = (tmp_path / "summary.json").read_bytes()
    assert json.loads(before)["seed"] == 5
    again = run("--samples", "60", "--seed", "5", *QUICK, "--out", str(tmp_path), "--resume")
    assert again.exit_code == 0
    assert (tmp_path / "summary.json").read_bytes() == before
    other = run("--samples", "60", "--seed", "6", *QUICK, "--out", str(tmp_path), "--resume")
    assert other.exit_code == 2
    assert "wrong-ledger" in other.output


def test_bad_use_is_two_with_a_plain_line(tmp_path):
    for arguments in (
        ("--samples", "0"),
        ("--samples", "10", "--want", "leek=0.1", *QUICK),
        ("--samples", "10", "--setup", "bottomd, plain"),
    ):
        found = run(*arguments, "--out", str(tmp_path))
        assert found.exit_code == 2, found.output
        assert "Traceback" not in found.output
