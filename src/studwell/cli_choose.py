"""The command `studwell choose`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from studwell.cli_shared import CAUTION, Bars, CaseFile, Json, Out, Refinement, app, out_console, plainly, writing
from studwell.errors import NotConverged
from studwell.runs import Pace

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
    ledger: Path | None = None
    try:
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
        ledger = folder / "search.rows"
        with Bars("setting") as bars:

            def tell(part: str, pace: Pace) -> None:
                bars.unit = "sample" if part.startswith("odds") else "setting"
                bars.step(part, pace.done, pace.total)

            choice = api.choose(
                known, refinement=refinement, ledger=ledger, workers=workers, scheduler=scheduler, resume=resume,
                odds_samples=odds_samples, progress=tell,
            )  # fmt: skip
    except NotConverged as problem:
        typer.echo(f"studwell: {problem}", err=True)
        raise typer.Exit(3) from None
    except KeyboardInterrupt:
        begun = ledger is not None and ledger.exists()
        kept = f"what was finished is kept in {folder}, --resume goes on" if begun else "nothing was begun yet"
        typer.echo(f"studwell: stopped before there was a setup to recommend; {kept}", err=True)
        raise typer.Exit(130) from None
    console = out_console()
    print_fitted(console, choice_table(choice.record), ("", "parts"))
    for line in choice_lines(choice.record):
        console.print(line, soft_wrap=True)
    with writing(folder):
        choice.write(folder, json_file=json)
    console.print(f"\nresults in {folder}", soft_wrap=True)
    console.print(CAUTION, soft_wrap=True)
    if choice.record.stopped:
        typer.echo(f"studwell: stopped; what was finished is kept in {folder}, --resume goes on", err=True)
        raise typer.Exit(130)
