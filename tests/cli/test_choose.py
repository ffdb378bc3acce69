import importlib.util
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell.cli import app
from studwell.errors import NotConverged

HERE = Path(__file__).parent
CASES = HERE.parents[1] / "cases"


@pytest.fixture
def asked(monkeypatch):
    """What the command asks of the API, which then has no solution to give."""
    calls = []

    def choose(case, **options):
        calls.append(options)
        raise NotConverged(None, "no setup within [bounds] has a solution")

    monkeypatch.setattr("studwell.api.choose", choose)
    return calls


def run(*arguments):
    return CliRunner().invoke(app, ["choose", *map(str, arguments)])


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ([], {"workers": None, "scheduler": None, "resume": False, "refinement": 1.0, "odds_samples": 1000}),
        (["--workers", "3", "--resume"], {"workers": 3, "resume": True}),
        (["--scheduler", "tcp://10.0.0.5:8786"], {"scheduler": "tcp://10.0.0.5:8786"}),
        (["--refinement", "0.5", "--odds-samples", "0"], {"refinement": 0.5, "odds_samples": 0}),
    ],
)
def test_each_option_reaches_the_call_that_it_names(asked, tmp_path, line, expected):
    done = run(CASES / "hut-pump.toml", "--out", tmp_path / "out", *line)
    assert done.exit_code == 3 and "no setup within [bounds]" in done.stderr
    assert {key: asked[0][key] for key in expected} == expected
    assert asked[0]["ledger"] == tmp_path / "out" / "search.rows"


def test_a_case_without_bounds_exits_2_and_says_what_is_missing(tmp_path):
    done = run(CASES / "hut-pump-cycle.toml", "--out", tmp_path / "out")
    assert done.exit_code == 2 and "hut-pump-cycle.toml: [bounds]: missing table" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_dead_scheduler_exits_2_with_its_address(tmp_path, monkeypatch):
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    monkeypatch.setattr("studwell.runs.cluster.PATIENCE", 0.5)
    done = run(CASES / "hut-pump.toml", "--out", tmp_path / "out", "--scheduler", "tcp://127.0.0.1:1")
    assert done.exit_code == 2 and "tcp://127.0.0.1:1: no scheduler answers" in done.stderr


def test_the_search_of_another_case_is_not_taken_up(tmp_path):
    spec = importlib.util.spec_from_file_location("toy_plan", HERE.parent / "runs" / "toy_plan.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules.setdefault("toy_plan", module)
    spec.loader.exec_module(module)
    from studwell.runs import execute

    execute(module.Toy(), tmp_path / "out" / "search.rows", workers=1)
    done = run(CASES / "hut-pump.toml", "--out", tmp_path / "out", "--resume")
    assert done.exit_code == 2
    assert "search.rows: hash" in done.stderr and "another case" in done.stderr and "--resume" in done.stderr


def test_a_choice_prints_its_table_and_leaves_its_files(tmp_path, monkeypatch):
    for name, few in (("SPREAD", 2), ("DOWNHILL", 2), ("ROWS", 8)):
        monkeypatch.setattr(f"studwell.choose.search.{name}", few)
    text = (CASES / "hut-pump.toml").read_text().replace("steps = 100", "steps = 6")
    ends = [text.index(f"\n[{name}") for name in ("spread", "bounds", "setup.") if f"\n[{name}" in text]
    case = tmp_path / "small.toml"
    case.write_text(text[: min(ends) + 1] + '[bounds]\ntorque = ["8 N*m", "16 N*m"]\n')
    done = run(case, "--out", tmp_path / "out", "--refinement", 0.4, "--workers", 1)
    assert done.exit_code == 0, done.stderr
    assert "[setup.recommended]" in done.stdout and "torque" in done.stdout
    summary = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert summary["recommended"]["torque"].endswith("N*m")
    assert (tmp_path / "out" / "recommended.toml").read_text() == summary["recommended"]["case_text"]
    before = (tmp_path / "out" / "summary.json").read_bytes()
    again = run(case, "--out", tmp_path / "out", "--refinement", 0.4, "--workers", 2, "--resume")
    assert again.exit_code == 0 and (tmp_path / "out" / "summary.json").read_bytes() == before


@pytest.mark.parametrize(
    ("begun", "words"), [(True, "what was finished is kept in"), (False, "nothing was begun yet")], ids=["begun", "new"]
)
def test_a_stop_before_there_is_a_setup_tells_what_is_kept(tmp_path, monkeypatch, begun, words):
    def choose(case, *, ledger, **options):
        if begun:
            ledger.parent.mkdir(parents=True)
            ledger.write_bytes(b"rows")
        raise KeyboardInterrupt

    monkeypatch.setattr("studwell.api.choose", choose)
    done = run(CASES / "hut-pump.toml", "--out", tmp_path / "out")
    assert done.exit_code == 130 and words in done.stderr
    assert ("--resume goes on" in done.stderr) == begun and (str(tmp_path / "out") in done.stderr) == begun


@pytest.mark.slow
def test_a_search_killed_at_any_moment_resumes_to_the_same_summary(tmp_path):
    text = (CASES / "hut-pump.toml").read_text().replace("steps = 100", "steps = 6")
    ends = [text.index(f"\n[{name}") for name in ("spread", "bounds", "setup.") if f"\n[{name}" in text]
    case = tmp_path / "small.toml"
    case.write_text(
        text[: min(ends) + 1]
        + '[bounds]\ntorque = ["8 N*m", "16 N*m"]\nnut = ["hex", "domed"]\nprotrusion = ["1 mm", "4 mm"]\n'
    )

    def start(out, *more):
        command = [sys.executable, "-m", "studwell", "choose", str(case), "--out", str(tmp_path / out), *more]
        command += ["--refinement", "0.4", "--workers", "2"]
        return subprocess.Popen(command, start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)

    whole = start("whole")
    begun = time.monotonic()
    assert whole.wait(timeout=600) == 0, whole.stderr.read()
    seconds = time.monotonic() - begun
    chance = random.Random(20)
    for _ in range(6):
        run = start("killed", "--resume")
        time.sleep(chance.uniform(0.2, 0.9) * seconds)
        if run.poll() is None:
            os.killpg(run.pid, signal.SIGKILL)
        run.wait()
    last = start("killed", "--resume")
    assert last.wait(timeout=600) == 0, last.stderr.read()
    names = {path.name for path in (tmp_path / "whole").rglob("*") if path.is_file()}
    assert {"search-protrusion-1.rows", "search-protrusion-2.rows"} <= names
    for name in ("summary.json", "compromises.csv", "recommended.toml"):
        assert (tmp_path / "killed" / name).read_bytes() == (tmp_path / "whole" / name).read_bytes()


@pytest.mark.slow
def test_ctrl_c_keeps_what_is_finished_and_resume_goes_on(tmp_path):
    text = (CASES / "m6-cover.toml").read_text()
    case = tmp_path / "small.toml"
    bounds = (
        '\n[bounds]\ntorque = ["4 N*m", "9 N*m"]\nback_off = ["0.05 turn", "0.5 turn"]\n'
        'washer = [{ kind = "plain" }, { kind = "spring", size = "DIN 6796 M6", series = [1, 2] }]\n'
    )
    case.write_text(text + bounds)
    command = [sys.executable, "-m", "studwell", "choose", str(case), "--out", str(tmp_path / "out"), "--workers", "1"]
    run = subprocess.Popen(
        command, start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # a background shell ignores it
    )  # fmt: skip
    ledger, sizes = tmp_path / "out" / "search.rows", 0
    begun = time.monotonic()
    while time.monotonic() - begun < 300 and sizes < 3000:  # until a candidate's rows are on disk
        time.sleep(0.05)
        sizes = ledger.stat().st_size if ledger.exists() else 0
    os.kill(run.pid, signal.SIGINT)
    out, err = run.communicate(timeout=300)
    assert run.returncode == 130 and "Traceback" not in err and "--resume goes on" in err
    assert "[setup.recommended]" in out and (tmp_path / "out" / "summary.json").exists()
    again = subprocess.run([*command, "--resume"], capture_output=True, text=True, timeout=600)
    assert again.returncode == 0, again.stderr
    assert json.loads((tmp_path / "out" / "summary.json").read_text())["searched"]["complete"] is True
