"""The command `studwell backoff`, run as a user does."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell.cli import app

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def short_case(tmp_path_factory):
    """The demo with its first setup alone, few steps, one torque and one other floor."""
    text = (CASES / "hut-pump.toml").read_text()
    text = text[: text.index("[setup.")].replace("steps = 100", "steps = 3")
    text += '[review]\nseating_torques = ["10 N*m"]\nfloors = ["3 mm"]\n'
    path = tmp_path_factory.mktemp("case") / "short.toml"
    path.write_text(text)
    return path


def test_it_prints_the_verdict_and_leaves_its_files(short_case, tmp_path):
    out = tmp_path / "out"
    result = CliRunner().invoke(app, ["backoff", str(short_case), "--out", str(out), "--refinement", "0.3"])
    assert result.exit_code == 0, result.output
    assert "Turning back is worth it" in result.output and "What would change our mind" in result.output
    record = json.loads((out / "summary.json").read_text())
    assert record["verdict"]["code"] == "worth it" and not record["stopped"]
    assert (out / "review.html").exists() and (out / "sweep.csv").exists() and (out / "run.json").exists()


def test_a_case_without_a_seating_torque_is_bad_input(short_case, tmp_path):
    text = short_case.read_text().replace('mode = "bottomed"\ntorque = "10 N*m"',
        'mode = "backed off"\nback_off = "0.22 turn"\ncounted_from = "first contact"')  # fmt: skip
    path = tmp_path / "loose.toml"
    path.write_text(text)
    result = CliRunner().invoke(app, ["backoff", str(path), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2 and "[seating] torque" in result.output and "Traceback" not in result.output
