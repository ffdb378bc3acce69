"""Run the examples of a guide as a reader would, and put what they print under them.

    python tools/guides.py docs/guide-builder.md        # run, and write the new outputs and numbers into the file
    python tools/guides.py --check docs/guide-*.md      # run, change nothing, say what differs; exit status 1 if anything does

An example in a guide is one or two fenced blocks between two comments, which a reader does not see:

    <!-- run: keep="^- bottomed" table="Margin" -->
    ```sh
    studwell compare cases/m6-cover.toml --refinement 0.5
    ```
    ```text
    (what it printed: the kept lines, "..." for those left out)
    ```
    <!-- end -->

The second block may be left out; so may the first, for more of what the example before it printed. What comes on either
stream is taken together, as a terminal shows it. Options, in any number and order:

    keep="..."      a pattern of lines to keep; without any, all are
    table="..."     a pattern of a row, or of the line before, of a table that is kept whole
    rows            a kept row of a table is kept with the lines that it goes on over
    columns=N       width of the terminal
    slow            not among the quick tests
    exit=N          the exit status that is due

All examples of a guide run in one folder that holds a copy of `cases/`, in their order. A number in the text may be tied
to what a run left: 0.42<!--= results/my-anchor : on the cone : margins : boss crack (once)--> looks up a summary.json,
with `: k` at its end in thousands.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import textwrap
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
COLUMNS, WIDTH = 160, 112
EXAMPLE = re.compile(
    r"<!-- run:?(?P<options>[^\n]*?) -->\n(?:```sh\n(?P<commands>.*?)```\n)?(?:```text\n(?P<output>.*?)```\n)?<!-- end -->",
    re.S,
)
TIED = re.compile(r"(?P<number>-?\d[\d.]*)<!--= (?P<path>.*?) ?-->")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")
BOX = "┏┓┗┛┡┩└┘├┤┬┴┼╇╈┳┻━─│┃┠┨╞╡┌┐╀ "


@dataclass(frozen=True)
class Example:
    """One example of a guide: commands as a reader types them, the output that stands under them."""

    commands: str
    output: str | None
    keep: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()
    columns: int = COLUMNS
    slow: bool = False
    rows: bool = False
    status: int = 0


@dataclass(frozen=True)
class Tied:
    """A number of the text and where a run left it."""

    number: str
    folder: str
    keys: tuple[str, ...]


@dataclass
class Report:
    """What running a guide showed. outputs: by example (None: not run); numbers: as TIED finds them, None: not there."""

    outputs: list[str | None] = field(default_factory=list)
    numbers: list[float | None] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


def examples_of(text: str) -> list[Example]:
    """Return the examples of a guide's text, in order."""
    found = []
    for match in EXAMPLE.finditer(text):
        options = match["options"]
        words = re.sub(r'"[^"]*"', "", options).split()
        named = dict(re.findall(r"\b(columns|exit)=(\d+)", options))
        found.append(
            Example(
                match["commands"] or "",
                match["output"],
                tuple(re.findall(r'keep="([^"]*)"', options)),
                tuple(re.findall(r'table="([^"]*)"', options)),
                int(named.get("columns", COLUMNS)),
                "slow" in words,
                "rows" in words,
                int(named.get("exit", 0)),
            )
        )
    return found


def ties_of(text: str) -> list[Tied]:
    """Return the numbers of a guide's text that are tied to a run's summary, in order."""
    ties = []
    for match in TIED.finditer(text):
        folder, *keys = match["path"].split(" : ")
        ties.append(Tied(match["number"], folder.strip(), tuple(k.strip() for k in keys)))
    return ties


def kept(printed: str, example: Example) -> str:
    """Return what of a command's output stands in the guide: kept lines, long ones wrapped, "..." for those left out."""
    lines = [line.rstrip() for line in printed.splitlines()]
    wanted = [not (example.keep or example.tables)] * len(lines)
    for at, line in enumerate(lines):
        goes_on = example.rows and bool(re.match(r"│ +│", line)) and at > 0 and wanted[at - 1]
        wanted[at] |= goes_on or any(re.search(pattern, line) for pattern in example.keep)
    for pattern in example.tables:
        for first in (at for at, line in enumerate(lines) if re.search(pattern, line)):
            start = end = first
            while start > 0 and lines[start - 1][:1] in BOX and lines[start][:1] not in "┏┌":
                start -= 1
            while end + 1 < len(lines) and lines[end + 1][:1] and lines[end + 1][:1] in BOX.strip():
                end += 1
            wanted[start : end + 1] = [True] * (end + 1 - start)
    out: list[str] = []
    for line, is_wanted in zip(lines, wanted, strict=True):
        if not is_wanted:
            if out[-1:] != ["..."]:
                out.append("...")
        elif len(line) > WIDTH and line[:1] not in BOX.strip():
            out += textwrap.wrap(line, WIDTH, subsequent_indent="  ", break_on_hyphens=False, break_long_words=False)
        else:
            out.append(line)
    return "\n".join(out).strip("\n") + "\n"


def run_example(example: Example, folder: Path) -> tuple[str, str]:
    """Run an example's commands in a folder; return what they printed and a complaint, "" if all went as it should."""
    environment = {**os.environ, "COLUMNS": str(example.columns), "NO_COLOR": "1", "OPENBLAS_NUM_THREADS": "1"}
    environment["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{environment.get('PATH', '')}"
    done = subprocess.run(
        ["bash", "-e", "-c", example.commands],
        cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False,
    )  # fmt: skip
    complaint = ""
    if done.returncode != example.status:
        complaint = f"exit status {done.returncode}, not {example.status}: {example.commands.strip()}\n{done.stdout}"
    return done.stdout, complaint


def looked_up(tied: Tied, folder: Path) -> float | None:
    """Return the number that a run left in the folder, None if that run was not made. Raises KeyError: no such key."""
    path = folder / tied.folder / "summary.json"
    if not path.is_file():
        return None
    record: Any = json.loads(path.read_text())
    keys, scale = tied.keys, 1.0
    if keys[-1] == "k":
        keys, scale = keys[:-1], 1e-3
    names = [each["name"] for each in record.get("setups", ())]
    if keys[0] in names:
        record, keys = record["setups"][names.index(keys[0])], keys[1:]
    for key in keys:
        record = record[int(key)] if isinstance(record, list) else record[key]
    return float(record) * scale


def figures_differ(printed: str, value: float, units: float = 0.5001) -> bool:
    """Whether a printed number is not a value to its last figure, by more than so many units of that figure."""
    mantissa, _, power = printed.partition("e")
    decimals = len(mantissa.partition(".")[2])
    step = 10.0 ** ((int(power) if power else 0) - decimals)
    if "." not in mantissa and not power:  # 180 MPa may be printed for 183 MPa: trailing zeros are no figures
        step *= 10.0 ** (len(mantissa) - len(mantissa.rstrip("0"))) if mantissa.strip("-0") else 1.0
    return abs(float(printed) - value) > units * step


def differences(stands: str, found: str) -> list[str]:
    """Return where two outputs differ: words must be the same, numbers to one unit of their last figure."""
    clean = [re.sub(rf"[{BOX}\s]+", " ", text) for text in (stands, found)]
    words = [NUMBER.sub("#", text).split() for text in clean]
    if words[0] != words[1]:
        at = next((i for i, pair in enumerate(zip(*words, strict=False)) if pair[0] != pair[1]), min(map(len, words)))
        return [
            f"words differ: {' '.join(words[0][at : at + 12])!r} stands, {' '.join(words[1][at : at + 12])!r} found"
        ]
    pairs = zip(*(NUMBER.findall(text) for text in clean), strict=True)
    return [f"{old} stands, {new} found" for old, new in pairs if figures_differ(old, float(new), 1.0001)]


def run_guide(text: str, *, slow: bool = True) -> Report:
    """Run a guide's examples in a new folder with a copy of the cases, and compare. slow: those marked slow too."""
    report = Report()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        shutil.copytree(ROOT / "cases", folder / "cases")
        printed, complaint, first = "", "", ""
        for example in examples_of(text):
            if example.slow and not slow:
                report.outputs.append(None)
                continue
            if example.commands:
                first = example.commands.strip().splitlines()[-1]
                printed, complaint = run_example(example, folder)
                if complaint:
                    report.complaints.append(complaint)
            report.outputs.append(None if complaint else kept(printed, example))
            if example.output is not None and not complaint:
                found = report.outputs[-1] or ""
                report.complaints += [f"{first}: {each}" for each in differences(example.output, found)]
        for tied in ties_of(text):
            try:
                value = looked_up(tied, folder)
            except (KeyError, IndexError, TypeError) as problem:
                value = None
                report.complaints.append(f"{tied.folder}: {' : '.join(tied.keys)}: not there ({problem})")
            report.numbers.append(value)
            if value is not None and figures_differ(tied.number, value, 0.55):
                report.complaints.append(f"{tied.number} stands, {value:.6g} found: {' : '.join(tied.keys)}")
    return report


def _figures(tied: Tied, value: float | None) -> str:
    """The value with as many decimals as stand there; for a large number without any, with three figures."""
    if value is None:
        return tied.number
    decimals = len(tied.number.partition(".")[2])
    return f"{value:.{decimals}f}" if decimals or abs(value) < 1000 else f"{float(f'{value:.3g}'):.0f}"


def rewritten(text: str, report: Report) -> str:
    """Return a guide's text with what its examples printed and with the numbers that its runs left."""
    outputs, numbers = iter(report.outputs), iter(report.numbers)

    def output(match: re.Match[str]) -> str:
        new = next(outputs)
        if new is None or match["output"] is None:
            return match[0]
        start, end = (i - match.start() for i in match.span("output"))
        return match[0][:start] + new + match[0][end:]

    def number(match: re.Match[str]) -> str:
        tied, value = ties_of(match[0])[0], next(numbers)
        return _figures(tied, value) + match[0][len(match["number"]) :]

    return TIED.sub(number, EXAMPLE.sub(output, text))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("guides", nargs="+", type=Path)
    parser.add_argument("--check", action="store_true", help="change nothing; exit status 1 if anything differs")
    told = parser.parse_args()
    wrong = 0
    for path in told.guides:
        text = path.read_text()
        report = run_guide(text)
        for complaint in report.complaints:
            print(f"{path}: {complaint}")
        wrong += len(report.complaints)
        if not told.check:
            path.write_text(rewritten(text, report))
    return 1 if told.check and wrong else 0


if __name__ == "__main__":
    sys.exit(main())
