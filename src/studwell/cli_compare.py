"""The commands `studwell compare` and `studwell solve`."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any

import typer

from studwell.cli_shared import (
    CAUTION,
    Bars,
    CaseFile,
    Fields,
    Json,
    NoBand,
    Out,
    Refinement,
    Require,
    Revolve,
    Units,
    app,
    out_console,
    plainly,
    results_folder,
    setup_name,
    writing,
)


@app.command()
@plainly
def compare(
    case: CaseFile,
    out: Out = None,
    json: Json = None,
    require: Require = None,
    refinement: Refinement = 1.0,
    fields: Fields = "moments",
    revolve: Revolve = False,
    units: Units = None,
    no_band: NoBand = False,
) -> None:
    """Compare every setup of a case through seating, tightening and heat: the main job."""
    from studwell import api

    limits = _limits(require)
    known = api.read_case(case)
    folder = results_folder(case, out, json)
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
    fields: Fields = "moments",
    revolve: Revolve = False,
    units: Units = None,
    no_band: NoBand = False,
) -> None:
    """Solve one setup with full fields, convergence and equilibrium record."""
    from studwell import api
    from studwell.show.table import evidence_tables

    limits = _limits(require)
    known = api.read_case(case)
    setup = setup_name(known, case, setup)
    folder = results_folder(case, out, json, setup)
    with Bars() as bars:
        result = api.solve(known, setup, refinement=refinement, band=not no_band, progress=bars.step)
    console = out_console()
    for item in result.record.results:
        for table in evidence_tables(item, units or known.units):
            console.print(table)
    _finish(result, folder, json, limits, fields, revolve, units)


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
    for item in result.told(units):
        console.print(f"- {both.words(item.text)}", soft_wrap=True)
    with writing(folder):
        result.write(folder, json_file=json, fields=fields, revolved=revolve, units=units)
    console.print(f"\nresults in {folder}", soft_wrap=True)
    console.print(CAUTION, soft_wrap=True)
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
