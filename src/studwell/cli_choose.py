"""The command `studwell choose`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from studwell.cli import Bars, CaseFile, Json, Out, Refinement, app, out_console, plainly
from studwell.errors import NotConverged

CAUTION = (
    "Check against the maker's data; hot engines, fuel, swarf, fluid in a blind hole and torque tools hurt people."
)

Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", min=1, help="Processes on this machine [default: one a processor]"),
]
Scheduler = Annotated[
    str | None,
    typer.Option("--scheduler", metavar="ADDRESS", help="A dask.distributed scheduler, such as tcp://10.0.0.5:8786."),
]
Resume = Annotated[bool, typer.Option("--resume", help="Take up a search that was stopped.")]


@app.command()
@plainly
def choose(
    case: CaseFile,
    out: Out = None,
    json: Json = None,
    refinement: Refinement = 1.0,
    odds_samples: Annotated[
        int, typer.Option("--odds-samples", metavar="N", min=0, help="Samples of its odds where the case has [spread].")
    ] = 1000,
    workers: Workers = None,
    scheduler: Scheduler = None,
    resume: Resume = False,
) -> None:
    """Choose torque, turns and parts within [bounds]: the best compromises, one recommended with reasons."""
    from studwell import api
    from studwell.show.choice import choice_lines, choice_table
    from studwell.show.fitted import print_fitted
    from studwell.store.summary import slug
    from studwell.store.writing import check_folder

    known = api.read_case(case)
    folder = out or Path("results") / f"{slug(case.stem)}-choose"
    check_folder(folder)
    if json is not None:
        check_folder(json.absolute().parent)
    totals: list[int] = []

    def part_of(total: int) -> str:
        """The first of the runs is the search, the shorter ones after it try lengths between."""
        if total not in totals:
            totals.append(total)
        return "search" if total == totals[0] else "lengths between"

    try:
        with Bars("setup") as bars:
            choice = api.choose(
                known, refinement=refinement, ledger=folder / "search.rows", workers=workers, scheduler=scheduler,
                resume=resume, odds_samples=odds_samples,
                progress=lambda pace: bars.step(part_of(pace.total), pace.done, pace.total),
            )  # fmt: skip
    except NotConverged as problem:
        typer.echo(f"studwell: {problem}", err=True)
        raise typer.Exit(3) from None
    console = out_console()
    print_fitted(console, choice_table(choice.record), ("", "parts"))
    for line in choice_lines(choice.record):
        console.print(line, soft_wrap=True)
    try:
        choice.write(folder, json_file=json)
    except KeyboardInterrupt:
        typer.echo(f"studwell: stopped while writing; nothing new is in {folder}", err=True)
        raise typer.Exit(130) from None
    console.print(f"\nresults in {folder}", soft_wrap=True)
    console.print(CAUTION, soft_wrap=True)
    if choice.record.stopped:
        typer.echo("studwell: stopped; what was finished is kept, --resume goes on", err=True)
        raise typer.Exit(130)
