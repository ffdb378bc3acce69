"""The command line: parse, one API call, print."""

from __future__ import annotations

import functools
import math
import os
import sys
import warnings
from collections.abc import Callable
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
        "--fields", metavar="[five|all|none]", callback=_one_of("five", "all", "none"), help="VTU states a setup."
    ),
]
Revolve = Annotated[
    bool, typer.Option("--revolve", help="Also write the five moments revolved to 3-D, for any VTK viewer.")
]
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


@app.command()
@plainly
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write.")],
    thread: Annotated[str, typer.Option(help="Thread of the stud, such as M8, M10x1.25 or 5/16-18 UNC.")] = "M8",
    nut: Annotated[str, typer.Option(help="hex or domed.")] = "hex",
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
) -> None:
    """Write a commented starter case."""
    from studwell.case import starter_case
    from studwell.errors import CannotWrite
    from studwell.store.writing import check_file, write_text

    text = starter_case(thread, nut)
    check_file(file)
    if file.exists() and not force:
        raise CannotWrite(f"{file}: is already there; --force replaces it")
    write_text(file, text)
    typer.echo(f"wrote {file}: its dimensions are invented; measure your own, then: studwell compare {file}")


@app.command()
@plainly
def compare(
    case: CaseFile,
    out: Out = None,
    json: Json = None,
    require: Require = None,
    refinement: Refinement = 1.0,
    fields: Fields = "five",
    revolve: Revolve = False,
    units: Units = None,
    no_band: NoBand = False,
) -> None:
    """Compare every setup of a case through seating, tightening and heat: the main job."""
    from studwell import api

    limits = _limits(require)
    known = api.read_case(case)
    folder = _folder(case, out, json)
    with Bars() as bars:
        result = api.compare(known, refinement=refinement, band=not no_band, progress=bars.step)
    _finish(result, folder, json, limits, fields, revolve, units)


@app.command()
@plainly
def solve(
    case: CaseFile,
    setup: Annotated[str, typer.Option("--setup", metavar="NAME", help="Name of the setup.")],
    out: Out = None,
    json: Json = None,
    require: Require = None,
    refinement: Refinement = 1.0,
    fields: Fields = "five",
    revolve: Revolve = False,
    units: Units = None,
    no_band: NoBand = False,
) -> None:
    """Solve one setup with full fields, convergence and equilibrium record."""
    from studwell import api
    from studwell.show.table import evidence_tables

    limits = _limits(require)
    known = api.read_case(case)
    setup = _setup_name(known, case, setup)
    folder = _folder(case, out, json, setup)
    with Bars() as bars:
        result = api.solve(known, setup, refinement=refinement, band=not no_band, progress=bars.step)
    console = out_console()
    for item in result.record.results:
        for table in evidence_tables(item, units or known.units):
            console.print(table)
    _finish(result, folder, json, limits, fields, revolve, units)


def _folder(case: Path, out: Path | None, json: Path | None, setup: str = "") -> Path:
    """Return the folder for results, checked before anything is solved. Raises CannotWrite."""
    from studwell.store.summary import slug
    from studwell.store.writing import check_file, check_folder

    folder = out or Path("results") / (f"{slug(case.stem)}-{slug(setup)}" if setup else slug(case.stem))
    check_folder(folder)
    if json is not None:
        check_file(json)
    return folder


def _finish(
    result: Any, folder: Path, json: Path | None, limits: dict[str, float], fields: str, revolve: bool = False,
    units: str | None = None,
) -> None:  # fmt: skip
    from studwell.show.both_units import BothUnits, names_of
    from studwell.show.fitted import print_fitted

    case = result.record.case
    both = BothUnits(names_of(case), units or case.units)
    console = out_console()
    print_fitted(console, result.table(units))
    for item in result.findings:
        console.print(f"- {both.words(item.text)}", soft_wrap=True)
    try:
        result.write(folder, json_file=json, fields=fields, revolved=revolve, units=units)
    except KeyboardInterrupt:
        typer.echo(f"studwell: stopped while writing; nothing new is in {folder}", err=True)
        raise typer.Exit(130) from None
    console.print(f"\nresults in {folder}", soft_wrap=True)
    console.print(
        "Check against the maker's data; hot engines, fuel, swarf, fluid in a blind hole and torque tools hurt people.",
        soft_wrap=True,
    )
    broken = _broken(result, limits)
    for line in broken:
        typer.echo(f"studwell: {line}", err=True)
    if result.record.stopped:
        typer.echo("studwell: stopped; what was finished is kept", err=True)
        raise typer.Exit(130)
    if broken:
        raise typer.Exit(1)
    if result.failed:
        raise typer.Exit(3)


def _limits(require: list[str] | None) -> dict[str, float]:
    """Read --require MODE=X options."""
    from studwell.strength.verdict import mode_names

    limits = {}
    for text in require or []:
        mode, equals, number = text.rpartition("=")
        try:
            limit = float(number)
        except ValueError:
            limit = math.nan
        if not equals or not math.isfinite(limit) or limit < 0.0:
            raise typer.BadParameter(
                f"{text!r}: write MODE=X with a number X of 0 or more, such as leak=0.8", param_hint="--require"
            )
        if mode not in mode_names():
            raise typer.BadParameter(f"{mode!r} is no mode; modes: {'; '.join(mode_names())}", param_hint="--require")
        limits[mode] = limit
    return limits


def _broken(result: Any, limits: dict[str, float]) -> list[str]:
    """Lines for every required margin that a solved setup does not keep; a mode without its part keeps it."""
    lines = []
    for item in result.record.results:
        for mode, limit in limits.items():
            margin = item.verdict.margins[mode]
            if not margin.applies:
                continue
            if margin.value is None:
                lines.append(f"{item.name}: {mode} is unknown, required at most {limit:g}: {margin.reason}")
            elif margin.value > limit:
                shown = "unbounded" if math.isinf(margin.value) else f"{margin.value:.3g}"
                lines.append(f"{item.name}: {mode} is {shown}, required at most {limit:g}")
    return lines


@app.command()
@plainly
def mesh(
    case: CaseFile,
    setup: Annotated[
        str | None, typer.Option("--setup", metavar="NAME", help="Setup to draw [default: the first]")
    ] = None,
    study: Annotated[bool, typer.Option("--study", help="Also solve on three meshes and show what changes.")] = False,
    out: Out = None,
    refinement: Refinement = 1.0,
) -> None:
    """Draw and write the section's mesh with its quality; with --study, each outcome over three meshes."""
    from studwell import api
    from studwell.show.section_files import write_section
    from studwell.show.table import mesh_quality_table, mesh_study_table
    from studwell.store.summary import slug

    known = api.read_case(case)
    chosen = known.setup(_setup_name(known, case, setup)) if setup else known.setups[0]
    console = out_console()
    built = api.section(chosen, refinement=refinement)
    console.print(mesh_quality_table(built))
    folder = out or Path("results") / slug(case.stem) / "mesh"
    results = None
    if study:
        with Bars() as bars:
            results = api.mesh_study(chosen, progress=lambda done: bars.step("meshes", done, 3))
        console.print(mesh_study_table(results, known.units))
    write_section(built, folder, known, results)
    console.print(f"drawing and meshes in {folder}", soft_wrap=True)


def _setup_name(known: Any, case: Path, setup: str) -> str:
    """Return a setup's name if the case has it. Raises BadCase with the nearest one."""
    from studwell.case.overrides import did_you_mean
    from studwell.errors import BadCase

    names = [item.name for item in known.setups]
    if setup in names:
        return setup
    near, _ = did_you_mean(setup, names)
    listed = ", ".join(f'"{name}"' for name in names)
    raise BadCase(case.name, "--setup", setup, listed, slug="unknown-name", problem=f"no such setup{near}")


@app.command()
@plainly
def stock(kind: Annotated[str | None, typer.Argument(metavar="[KIND]", help="What to list.")] = None) -> None:
    """List materials, threads, nuts, washers, springs and gaskets with their sources."""
    from studwell.show.stock import stock_kinds, stock_table

    console = out_console()
    if kind is not None and kind not in stock_kinds():
        raise typer.BadParameter(f"{kind!r}; kinds: {', '.join(stock_kinds())}", param_hint="KIND")
    for name in [kind] if kind else stock_kinds():
        console.print(stock_table(name))


@app.command()
@plainly
def verify(
    quick: Annotated[bool, typer.Option("--quick", help="Leave out the slow checks.")] = False,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for verification.html.")] = Path("reports"),
) -> None:
    """Run every published and closed-form check; exit 1 if one fails."""
    from studwell.show.verification import verification_page, verification_table
    from studwell.store.summary import libraries
    from studwell.store.writing import check_folder, write_json, write_text
    from studwell.verify.run import run_checks

    check_folder(out)
    console = out_console()
    with Bars() as bars:
        results = run_checks(quick, lambda _, done, total: bars.step("checks", done, total))
    console.print(verification_table(results))
    failed = [result for result in results if result.fails_the_run]
    path = write_text(out / "verification.html", verification_page(results, libraries()))
    rows = [
        {"check": r.check.slug, "subject": r.check.subject, "status": r.check.status, "gate": r.check.gate,
         "passed": r.passed, "error": r.error,
         "rows": [[row.quantity, row.expected, row.obtained, row.tolerance, row.unit] for row in r.rows]}
        for r in results
    ]  # fmt: skip
    write_json(out / "summary.json", {"schema": 1, "versions": libraries(), "quick": quick, "checks": rows})
    agree = sum(result.passed for result in results)
    console.print(f"{agree} of {len(results)} checks agree; {len(failed)} that count fail; page in {path}")
    if outside := [result.check.slug for result in results if not result.passed and not result.check.gate]:
        console.print(f"differ from figures that are only remembered, and do not count: {', '.join(outside)}")
    if failed:
        for result in failed:
            typer.echo(f"studwell: {result.check.slug} fails: {result.error or 'a figure differs'}", err=True)
        raise typer.Exit(1)


@app.command()
@plainly
def bench(
    case: Annotated[Path, typer.Argument(metavar="[CASE]", help="Case to measure.")] = Path("cases/hut-pump.toml"),
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for bench.json.")] = Path("results/bench"),
    json: Json = None,
) -> None:
    """Measure this machine's times, memory and ratios beside their targets."""
    from studwell.bench.run import bench_record, run_bench
    from studwell.show.table import bench_table
    from studwell.store.writing import check_file, check_folder, write_json

    if json is not None:
        check_file(json)
    else:
        check_folder(out)

    console = out_console()
    with Bars() as bars:
        measures = run_bench(case, lambda done, total: bars.step("measures", done, total))
    console.print(bench_table(measures))
    path = write_json(json or out / "bench.json", bench_record(measures))
    console.print(f"record in {path}", soft_wrap=True)


def _by_ctrl_c(ended: SystemExit) -> bool:
    """Whether typer ended a command for Ctrl-C without a word; one that answers Ctrl-C itself has said what is kept."""
    exit_asked = ended.__context__
    return exit_asked is not None and isinstance(exit_asked.__cause__, KeyboardInterrupt)


def main() -> None:
    """Run the command line."""
    warnings.filterwarnings("ignore", category=UserWarning, module="matplotlib")
    try:
        app()
    except KeyboardInterrupt:
        typer.echo("studwell: stopped", err=True)
        raise SystemExit(130) from None
    except SystemExit as ended:
        if _by_ctrl_c(ended):
            typer.echo("studwell: stopped", err=True)
        raise
    except Exception as problem:
        if os.environ.get("STUDWELL_DEBUG"):
            raise
        typer.echo(
            f"studwell: an error that should not happen, {type(problem).__name__}: {problem}\n"
            "  please report it with the case file; STUDWELL_DEBUG=1 shows where it arose",
            err=True,
        )
        raise SystemExit(3) from None


from studwell import cli_backoff, cli_card, cli_choose, cli_odds, cli_page  # noqa: E402, F401 - they register their commands on `app`
