"""Ctrl-C before a command is at work: one line and status 130, whatever is loading at that moment."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

CASES = Path(__file__).parents[2] / "cases"

START = """
import os, signal, sys

signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job would ignore it


def press(*_):
    os.kill(os.getpid(), signal.SIGINT)
    for _ in range(1000):
        pass


class Finder:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            sys.meta_path.remove(self)
            press()


sys.meta_path.insert(0, Finder())
"""

RUN = "from studwell.__main__ import main\nmain()\n"


def stopped(folder, text, *arguments):
    (folder / "stopped.py").write_text(text)
    return subprocess.run(
        [sys.executable, "-m", "stopped", *map(str, arguments)],
        capture_output=True, text=True, cwd=folder, timeout=60, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip


@pytest.mark.parametrize(
    "module", ["typer", "studwell.cli", "studwell.cli_odds", "studwell.api", "studwell.api.comparison"]
)
def test_ctrl_c_while_modules_load_is_one_line_and_130(tmp_path, module):
    done = stopped(tmp_path, START.format(module=module) + RUN, "compare", CASES / "m6-cover.toml")
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "studwell: stopped\n")


@pytest.mark.parametrize("place", ["app", "main.get_command"])
def test_ctrl_c_while_a_command_line_is_read_is_one_line_and_130(tmp_path, place):
    where = "cli.app = lambda: eval('press()')" if place == "app" else "cli.typer.main.get_command = press"
    text = START.format(module="none at all") + f"from studwell import cli\n{where}\n" + RUN
    done = stopped(tmp_path, text, "stock")
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "studwell: stopped\n")


def test_a_command_that_is_not_stopped_ends_as_ever(tmp_path):
    done = stopped(tmp_path, START.format(module="none at all") + RUN, "stock", "nuts")
    assert done.returncode == 0 and "M8" in done.stdout and not done.stderr
    done = stopped(tmp_path, START.format(module="none at all") + RUN, "compare", "missing.toml")
    assert done.returncode == 2 and "file-not-readable" in done.stderr and "stopped" not in done.stderr
