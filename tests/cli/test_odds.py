"""`studwell odds` on the command line."""

import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell.cli import app
from studwell.cli_odds import TELL_EVERY, Paces
from studwell.runs import Pace

CASE = str(Path(__file__).parents[2] / "cases" / "hut-pump.toml")
QUICK = ["--setup", "bottomed, plain", "--refinement", "0.4", "--workers", "1", "--check", "0", "--no-sensitivity"]


def run(*arguments: str):
    return CliRunner().invoke(app, ["odds", CASE, *arguments])


def test_a_run_resumes_to_the_same_bytes_and_another_study_is_refused(tmp_path):
    first = run("--samples", "60", "--seed", "5", *QUICK, "--out", str(tmp_path))
    assert first.exit_code == 0, first.output
    assert "any damage mode" in first.output and "seed 5" in first.output and "damage mode fails in" in first.output
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
        ("--samples", str(2**30 + 1)),
        ("--samples", "10", "--want", "leek=0.1", *QUICK),
        ("--samples", "10", "--setup", "bottomd, plain"),
    ):
        found = run(*arguments, "--out", str(tmp_path))
        assert found.exit_code == 2, found.output
        assert "Traceback" not in found.output


@pytest.mark.parametrize(
    ("torque", "told"),
    [
        ('{ distribution = "normal", sd = "20 N*m" }', ('sd = "20 N*m"', "would be below 0 N*m", "at most 5.2 N*m")),
        (
            '{ distribution = "triangular", low = "20 N*m", high = "30 N*m" }',
            ('mode = "16.27 N*m"', "from 20 N*m to 30 N*m"),
        ),
    ],
)
def test_a_spread_that_cannot_be_drawn_is_bad_input_before_anything_is_solved(tmp_path, torque, told):
    text = Path(CASE).read_text()
    path = tmp_path / "odd.toml"
    path.write_text(re.sub(r'(?m)^"tightening.torque" = .*$', f'"tightening.torque" = {torque}', text))
    done = CliRunner().invoke(app, ["odds", str(path), "--samples", "10", "--out", str(tmp_path / "out")])
    assert done.exit_code == 2 and not done.stdout
    assert done.stderr.startswith("studwell: odd.toml: [spread] tightening.torque ")
    assert all(words in done.stderr for words in told) and "; allowed: " in done.stderr
    assert not (tmp_path / "out").exists()


def test_what_is_done_counts_samples_and_rates_are_plain_numbers(capsys):
    with Paces() as bars:
        bars.pace("a", Pace(1, 2, 3213.4, 1.0))
        bars.told["a"] = -TELL_EVERY
        bars.pace("a", Pace(1, 2, 3213.4, 1.0))
        bars.pace("a", Pace(2, 2, 3213.4, 0.0))
        bars.pace("b, checks", Pace(1, 1, 1.0, 0.0))
        bars.pace("b, rare failures", Pace(3, 3, 1.0, 0.0))
    lines = capsys.readouterr().err.splitlines()
    assert lines == [
        "a, 3200 a second, 1 s left: 1 of 2", "solved a: 2 samples", "solved b, checks: 1 sample",
        "solved b, rare failures: 3 modes",
    ]  # fmt: skip


def test_a_long_stage_is_named_while_nothing_else_is_said(monkeypatch, capsys):
    monkeypatch.setattr("studwell.cli_odds.QUIET", 0.05)
    with Paces() as bars:
        bars.pace("a, sections", Pace(0, 1, 0.0, None))
        time.sleep(0.3)
        bars.pace("a", Pace(5, 5, 1.0, 0.0))
        time.sleep(0.3)
    told = capsys.readouterr().err
    assert "at work on a, sections, 0 s so far" in told and "at work on what follows a, 0 s so far" in told


TWICE = """
import os, signal, time
from studwell.cli_odds import CtrlC

signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job would ignore it
with CtrlC():
    try:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5.0)
    except KeyboardInterrupt:
        print("keeps what is finished", flush=True)
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5.0)
    print("goes on")
"""


def test_a_second_ctrl_c_ends_at_once_with_one_line_and_130():
    done = subprocess.run([sys.executable, "-c", TWICE], capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout) == (130, "keeps what is finished\n")
    assert done.stderr == "studwell: stopped\n"


def test_ctrl_c_while_results_are_written_lets_the_draft_be_taken_away_and_hears_no_other():
    text = TWICE.replace("with CtrlC():", "with CtrlC() as ctrl_c:\n    ctrl_c.writing = True").replace("5.0", "0.1")
    done = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (0, "keeps what is finished\ngoes on\n", "")


def _command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "studwell", "odds", CASE, *arguments]


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> bytes:
    folder = tmp_path_factory.mktemp("whole")
    done = subprocess.run(_command(*KILLED, "--workers", "1", "--out", str(folder)), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return (folder / "summary.json").read_bytes()


KILLED = ("--samples", "4000", "--seed", "7", "--setup", "backed off, plain", "--refinement", "0.4", "--check", "50")


@pytest.mark.slow
@pytest.mark.parametrize("workers", ["1", "2"])
@pytest.mark.parametrize(("stage", "how"), [("", signal.SIGKILL), ("-checks", signal.SIGKILL), ("", signal.SIGINT)])
def test_a_killed_run_resumes_to_the_same_bytes_whatever_the_workers(tmp_path, whole, workers, stage, how):
    arguments = (*KILLED, "--workers", workers, "--out", str(tmp_path))
    rows = tmp_path / "rows" / f"backed-off-plain{stage}.rows"
    process = subprocess.Popen(_command(*arguments), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    least = 4000 if stage == "-checks" else 100_000  # more than the first line: some block is done
    deadline = time.monotonic() + 400.0
    while (
        process.poll() is None and time.monotonic() < deadline and not (rows.exists() and rows.stat().st_size > least)
    ):
        time.sleep(0.005)
    assert process.poll() is None, "it ended before it could be killed"
    process.send_signal(how)
    _, told = process.communicate(timeout=300)
    if how == signal.SIGINT:
        assert process.returncode == 130 and "--resume goes on" in told and "Traceback" not in told
    else:
        assert not (tmp_path / "summary.json").exists()
    done = subprocess.run(_command(*arguments, "--resume"), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "summary.json").read_bytes() == whole
