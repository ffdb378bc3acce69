"""What the commands share: the application, common options, plain errors, progress and printing."""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

from studwell.errors import StudwellError


def _one_of(*choices: str) -> Callable[[str | None], str | None]:
    def checked(text: str | None) -> str | None:
        if text is not None and text not in choices:
            raise typer.BadParameter(f"{text!r} is no choice; choices: {', '.join(choices)}")
        return text

    return checked


def _density(value: float) -> float:
    if not 0.3 <= value <= 4.0:  # so that a NaN is refused too
        raise typer.BadParameter(f"{value:g}: allowed: a number from 0.3 to 4")
    return value


app = typer.Typer(
    add_completion=True,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="What a stud in a blind aluminium hole does: seating, tightening, heat; clamp, thread, stud and boss, with evidence.",
    epilog="Exit status: 0 done; 1 an asked-for check or margin fails; 2 bad input or usage; 3 a setup could not be "
    "solved; 130 stopped by Ctrl-C. The maker's data, local codes and licensed practice come before anything printed here.",
)

CAUTION = (
    "Check against the maker's data; hot engines, fuel, swarf, fluid in a blind hole and torque tools hurt people."
)
"""The last line of every command that tells how a joint behaves."""

CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML). `studwell new FILE` writes one.")]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", help="Folder for results [default: results/<case>, solve: results/<case>-<setup>]"
    ),
]
Json = Annotated[Path | None, typer.Option("--json", metavar="FILE", help="Write summary.json here instead.")]
Require = Annotated[
    list[str] | None,
    typer.Option("--require", metavar="MODE=X", help="Exit 1 unless this margin is at most X in every setup."),
]
Fields = Annotated[
    str,
    typer.Option(
        "--fields",
        metavar="[moments|all|none]",
        callback=_one_of("moments", "all", "none"),
        help="VTU: named moments (docs/report.md), all, none.",
    ),
]
Revolve = Annotated[bool, typer.Option("--revolve", help="Also write the named moments (docs/report.md) in 3-D.")]
Units = Annotated[
    str | None,
    typer.Option(
        "--units", metavar="[metric|inch]", callback=_one_of("metric", "inch"), help="Of tables, figures, report."
    ),
]
NoBand = Annotated[
    bool,
    typer.Option("--no-band", help="Skip what stands beside a setup: other thread models and the band, many cycles."),
]
Refinement = Annotated[
    float,
    typer.Option("--refinement", callback=_density, help="Mesh density, 0.3 to 4; 2 halves the element size."),
]


def plainly(command: Callable[..., Any]) -> Callable[..., Any]:
    """Turn errors made on purpose into a few plain lines and exit status 2."""

    @functools.wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except StudwellError as problem:
            typer.echo(f"studwell: {problem}", err=True)
            raise typer.Exit(2) from None

    return wrapped


@contextmanager
def writing(folder: Path) -> Iterator[None]:
    """Let Ctrl-C while results are written end the command with a line that nothing new is in their folder."""
    try:
        yield
    except KeyboardInterrupt:
        typer.echo(f"studwell: stopped while writing; nothing new is in {folder}", err=True)
        raise typer.Exit(130) from None


def out_console() -> Console:
    """Standard output; no colour when it is not a terminal; wide enough for the tables when it is a file."""
    told = os.environ.get("COLUMNS", "")
    width = None if sys.stdout.isatty() else int(told) if told.isdigit() and int(told) >= 40 else 160
    return Console(width=width, highlight=False, markup=False)  # texts name tables in brackets


class Bars:
    """Progress bars on standard error when it is a terminal, one line a setup when it is not."""

    def __init__(self, unit: str = "step") -> None:
        self.unit = unit
        self.ended = ""
        self.console = Console(stderr=True, highlight=False, markup=False)
        self.bars = Progress(
            TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed}/{task.total}"), TimeElapsedColumn(),
            TextColumn("left"), TimeRemainingColumn(),
            console=self.console, transient=True, disable=not self.console.is_terminal,
        )  # fmt: skip
        self.tasks: dict[str, Any] = {}

    def __enter__(self) -> Bars:
        self.bars.start()
        return self

    def __exit__(self, *rest: object) -> None:
        self.bars.stop()

    def step(self, name: str, done: int, total: int) -> None:
        """Show that `done` of `total` steps of a setup are solved; a full bar says that the work goes on."""
        if self.ended:
            self.bars.update(self.tasks[self.ended], description=self.ended)
            self.ended = ""
        if name not in self.tasks:
            self.tasks[name] = self.bars.add_task(name, total=total)
        self.bars.update(self.tasks[name], completed=done)
        if done == total:
            self.bars.update(self.tasks[name], description=f"{name}: done, at work on what follows")
            self.ended = name
            if not self.console.is_terminal:
                self.console.print(f"solved {name}: {total} {self.unit}{'' if total == 1 else 's'}", soft_wrap=True)


def results_folder(case: Path, out: Path | None, json: Path | None, setup: str = "") -> Path:
    """Return the folder for results, checked before anything is solved. Raises CannotWrite."""
    from studwell.store.summary import slug
    from studwell.store.writing import check_file, check_folder

    folder = out or Path("results") / (f"{slug(case.stem)}-{slug(setup)}" if setup else slug(case.stem))
    check_folder(folder)
    if json is not None:
        check_file(json)
    return folder


def setup_name(known: Any, case: Path, setup: str) -> str:
    """Return a setup's name if the case has it. Raises BadCase with the nearest one."""
    from studwell.case.overrides import did_you_mean
    from studwell.errors import BadCase

    names = [item.name for item in known.setups]
    if setup in names:
        return setup
    near, _ = did_you_mean(setup, names)
    listed = ", ".join(f'"{name}"' for name in names)
    raise BadCase(case.name, "--setup", setup, listed, slug="unknown-name", problem=f"no such setup{near}")
