import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from studwell.cli import app

CASES = Path(__file__).parents[2] / "cases"


def studwell(*arguments, cwd=None, env=None):
    return subprocess.run(
        [sys.executable, "-m", "studwell", *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", **(env or {})},
        timeout=120,
    )


@pytest.fixture(scope="module")
def small_case(tmp_path_factory):
    """Four setups of the demo with few steps, as a file."""
    text = (CASES / "hut-pump.toml").read_text().replace("steps = 100", "steps = 9")
    tables = re.split(r"(?m)^(?=\[)", text)
    left_out = ("one disc spring", "repaired hole")
    text = "".join(table for table in tables if not any(name in table.split("]")[0] for name in left_out))
    path = tmp_path_factory.mktemp("cases") / "small.toml"
    path.write_text(text)
    return path


@pytest.fixture(scope="module")
def compared(small_case, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    return studwell("compare", small_case, "--out", out, "--refinement", 0.4, "--no-band"), out


def test_compare_prints_the_table_and_findings_on_stdout_and_progress_on_stderr(compared):
    done, _ = compared
    assert done.returncode == 0, done.stderr
    for name in ("bottomed, plain", "backed off, three conical springs"):
        assert name in done.stdout
    assert "governs at" in done.stdout
    assert "solved bottomed, plain" in done.stderr
    assert "\x1b[" not in done.stdout + done.stderr


def test_compare_leaves_summary_run_and_histories(compared):
    _, out = compared
    summary = json.loads((out / "summary.json").read_text())
    assert summary["schema"] == 1
    assert len(summary["setups"]) == 4
    assert (out / "run.json").is_file()
    assert (out / "bottomed-plain" / "history.csv").read_text().count("\n") > 20
    assert not [path for path in out.rglob(".*") if path.is_file()]


def test_summary_holds_every_key_that_the_contract_names(compared):
    _, out = compared
    keys = [
        "name", "seating", "backoff_turns", "nut", "washer", "preload_N", "clamp_assembled_N", "clamp_max_N",
        "clamp_min_N", "clamp_end_N", "stud_tension_max_N", "tip_force_assembled_N", "tip_force_max_N",
        "tip_gap_min_mm", "thread_load_max_N", "floor_stress_max_MPa", "thread_stress_max_MPa",
        "washer_flat_share_max", "equilibrium_residual", "times", "seat", "margins", "model_band", "unknown",
        "governing", "safe",
    ]  # fmt: skip
    for setup in json.loads((out / "summary.json").read_text())["setups"]:
        assert not set(keys) - set(setup)
        for key, value in setup.items():
            if value is None and key not in ("governing", "safe", "rank"):
                assert setup["unknown"][key], key
        for mode, value in setup["margins"].items():
            assert value is None or value == "unbounded" or isinstance(value, float)
            if value is None:
                assert setup["unknown"][mode]


@pytest.mark.slow
def test_same_inputs_give_the_same_bytes(small_case, compared, tmp_path):
    _, first = compared
    again = studwell(
        "compare",
        small_case,
        "--out",
        tmp_path,
        "--refinement",
        0.4,
        "--no-band",
        "--fields",
        "none",
        env={"COLUMNS": "100"},
    )
    assert "This screen is 100 characters wide: the table stands in 2 parts." in again.stdout
    assert again.returncode == 0
    assert (tmp_path / "summary.json").read_bytes() == (first / "summary.json").read_bytes()


def test_a_required_margin_that_is_kept_exits_0_and_one_that_is_not_exits_1(small_case, tmp_path):
    base = (
        "solve",
        small_case,
        "--setup",
        "backed off, plain",
        "--out",
        tmp_path,
        "--refinement",
        0.4,
        "--fields",
        "none",
        "--no-band",
    )
    assert studwell(*base, "--require", "leak=1").returncode == 0
    broken = studwell(*base, "--require", "leak=0.01", "--require", "stud fatigue=1")
    assert broken.returncode == 1
    assert "leak is 0.3" in broken.stderr
    assert "unknown" in broken.stderr


@pytest.mark.slow
def test_a_required_margin_that_is_unbounded_exits_1(small_case, tmp_path):
    done = studwell(
        "solve", small_case, "--setup", "backed off, domed nut", "--out", tmp_path, "--refinement", 0.4,
        "--fields", "none", "--no-band", "--require", "leak=100",
    )  # fmt: skip
    assert done.returncode == 1
    assert "unbounded" in done.stderr


def test_a_setup_that_cannot_be_solved_exits_3_and_the_others_are_reported(small_case, tmp_path):
    text = small_case.read_text() + '\n[setup.binds]\nseating = { seat = "insert tang" }\n'
    path = tmp_path / "binds.toml"
    path.write_text(text)
    done = studwell("compare", path, "--out", tmp_path / "out", "--refinement", 0.4, "--no-band", "--fields", "none")
    assert done.returncode == 3
    assert "not solved" in done.stdout and "no insert" in " ".join(done.stdout.split())
    records = {s["name"]: s for s in json.loads((tmp_path / "out" / "summary.json").read_text())["setups"]}
    assert records["binds"]["preload_N"] is None
    assert records["binds"]["unknown"]["setup"]
    assert records["bottomed, plain"]["preload_N"] > 0


BAD = {
    "no file": (["compare", "no-such.toml"], "no-such.toml"),
    "a directory": (["compare", "."], "directory"),
    "an unknown command": (["comprae"], "comprae"),
    "an unknown option": (["compare", "x.toml", "--colour"], "--colour"),
    "no such setup": (["solve", "{case}", "--setup", "botomed, plain"], "bottomed, plain"),
    "a mode that is none": (["compare", "{case}", "--require", "leek=1"], "leek"),
    "a limit that is no number": (["compare", "{case}", "--require", "leak=low"], "leak=low"),
    "a stock that is none": (["stock", "screws"], "screws"),
    "a thread that is none": (["new", "{tmp}/x.toml", "--thread", "M7.3"], "M7.3"),
    "a refinement out of range": (["compare", "{case}", "--refinement", "9"], "--refinement"),
    "fields that are none": (["compare", "{case}", "--fields", "some"], "some"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_usage_gives_a_few_plain_lines_and_exit_2(name, small_case, tmp_path):
    arguments, named = BAD[name]
    done = studwell(*[a.format(case=small_case, tmp=tmp_path) for a in arguments], cwd=tmp_path)
    assert done.returncode == 2, done.stdout + done.stderr
    assert named in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) <= 6
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_new_writes_a_case_that_compare_reads_and_never_replaces_one_unasked(tmp_path):
    path = tmp_path / "mine.toml"
    assert studwell("new", path, "--thread", "M6", "--nut", "domed").returncode == 0
    before = path.read_text()
    assert "invented" in before.lower()
    refused = studwell("new", path)
    assert refused.returncode == 2
    assert path.read_text() == before
    done = studwell("compare", path, "--out", tmp_path / "out", "--refinement", 0.4, "--no-band", "--fields", "none")
    assert done.returncode in (0, 3), done.stderr


def test_a_result_folder_that_is_a_file_is_refused_plainly(small_case, tmp_path):
    (tmp_path / "taken").write_text("mine")
    done = studwell(
        "compare", small_case, "--out", tmp_path / "taken", "--refinement", 0.4, "--no-band", "--fields", "none"
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert (tmp_path / "taken").read_text() == "mine"


def test_ctrl_c_keeps_what_is_finished(tmp_path):
    text = (CASES / "hut-pump.toml").read_text().replace("steps = 100", "steps = 400")
    (tmp_path / "long.toml").write_text(text)
    out = tmp_path / "out"
    command = [
        sys.executable,
        "-m",
        "studwell",
        "compare",
        "long.toml",
        "--out",
        out,
        "--refinement",
        "0.4",
        "--no-band",
    ]
    process = subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=tmp_path,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # a background shell ignores it
    )  # fmt: skip
    lived = 0
    for line in process.stderr:  # the second one lived through: the first is judged too
        lived += line.startswith("solved")
        if lived == 2:
            break
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=60)
    assert process.returncode == 130
    setups = json.loads((out / "summary.json").read_text())["setups"]
    solved = [s["name"] for s in setups if s["preload_N"] is not None]
    assert 1 <= len(solved) < len(setups) == 7


def test_help_lists_only_commands_that_work():
    text = studwell("--help").stdout
    commands = (
        "new",
        "compare",
        "solve",
        "mesh",
        "stock",
        "verify",
        "bench",
        "choose",
        "backoff",
        "odds",
        "card",
        "page",
    )
    for command in commands:
        assert f" {command} " in text
    assert " pattern " not in text


def test_stock_lists_every_kind_with_status_and_source():
    text = studwell("stock").stdout
    for word in ("a356-t6 sand", "DIN 6796 M8", "fibre sheet 0.5", "from memory", "confirmed"):
        assert word in text


@pytest.mark.parametrize("density", ["nan", "inf", "0.2", "4.1"])
def test_a_mesh_density_that_is_none_is_refused_with_what_is_allowed(small_case, density):
    done = CliRunner().invoke(app, ["compare", str(small_case), "--refinement", density])
    assert done.exit_code == 2
    assert f"{density}: allowed: a number from 0.3 to 4" in done.output


def test_an_unknown_choice_of_fields_is_refused_in_plain_words(small_case):
    done = studwell("compare", small_case, "--fields", "six")
    assert done.returncode == 2
    assert "'six' is no choice; choices: moments, all, none" in done.stderr
    assert "alue error" not in done.stderr


def test_a_single_file_is_refused_where_its_folder_is_not_there(small_case, tmp_path):
    missing = tmp_path / "none" / "x"
    for arguments in (["new", missing], ["compare", small_case, "--json", missing, "--out", tmp_path / "made"]):
        done = studwell(*arguments)
        assert done.returncode == 2
        assert f"{missing}: there is no folder {missing.parent}" in done.stderr and "cannot-write" in done.stderr
        assert "solved" not in done.stderr
    assert not missing.parent.exists()


def test_verify_refuses_a_file_for_its_folder_before_it_checks_anything(tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("")
    done = studwell("verify", "--out", taken)
    assert done.returncode == 2 and not done.stdout
    assert f"{taken}: is a file, not a folder" in done.stderr


def test_verify_names_the_checks_that_differ_without_counting(tmp_path, monkeypatch):
    passed, remembered = (
        SimpleNamespace(
            check=SimpleNamespace(slug=slug, subject="s", title=slug, source="x", status="from memory", gate=False,
                                   tolerance="x"),
            rows=(), passed=good, error=None, fails_the_run=False,
        )
        for slug, good in (("that-agrees", True), ("that-differs", False))
    )  # fmt: skip
    monkeypatch.setattr("studwell.verify.run.run_checks", lambda *_: [passed, remembered])
    done = CliRunner().invoke(app, ["verify", "--out", str(tmp_path)])
    assert done.exit_code == 0, done.output
    last = done.output.strip().splitlines()[-1]
    assert "only remembered" in last and "that-differs" in last and "that-agrees" not in last
