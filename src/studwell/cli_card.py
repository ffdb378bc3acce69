"""The command `studwell card`: parse, one call, print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from studwell.cli_shared import Bars, CaseFile, Json, Refinement, app, out_console, plainly, setup_name
from studwell.errors import BadCase, CannotWrite, StudwellError


@app.command()
@plainly
def card(
    case: CaseFile,
    setup: Annotated[str, typer.Option("--setup", metavar="NAME", help="Name of the setup.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Folder for the card [default: results/<case>-<setup>-card]"),
    ] = None,
    paper: Annotated[
        str | None,
        typer.Option(
            "--paper", metavar="a4|letter", help="Sheet of the card [default: letter for a case in inches, else a4]"
        ),
    ] = None,
    json: Json = None,
    refinement: Refinement = 1.0,
) -> None:
    """Make a one-page job card of one setup for the bench, as HTML and PDF."""
    from studwell import api
    from studwell.card.paper import PAPERS, paper_for
    from studwell.card.pdf import MISSING, can_write_pdf
    from studwell.card.words import PRACTICE_NOTE
    from studwell.store.summary import slug
    from studwell.store.writing import check_file, check_folder

    known = api.read_case(case)
    paper_for(known.units, paper)  # before anything is solved
    name = setup_name(known, case, setup)
    folder = out or Path("results") / f"{slug(case.stem)}-{slug(name)}-card"
    check_folder(folder)
    if json is not None:
        check_file(json)
    try:
        with Bars() as bars:
            result = api.card(known, name, refinement=refinement, progress=bars.step, paper=paper)
    except (BadCase, CannotWrite):
        raise
    except (StudwellError, ValueError) as problem:
        said = problem.line if isinstance(problem, StudwellError) else str(problem)
        typer.echo(f"studwell: {name}: {said}\n  no card: a setup without a solution is not to be built", err=True)
        raise typer.Exit(3) from None
    console = out_console()
    head = result.record.headline
    console.print(f"{result.record.setup}: {head.banner}", soft_wrap=True)
    for sentence in head.sentences:
        console.print(f"- {sentence}", soft_wrap=True)
    for step in (*result.record.steps, result.record.expected):
        console.print(f"\n{step.title}", soft_wrap=True)
        for line in step.lines:
            note = f" – {line.note}" if line.note else ""
            stop = "NOT TO BE DONE: " if line.struck else ""
            console.print(f"  {line.label}: {stop}{line.text}{note}", soft_wrap=True)
    if result.record.left_out:
        console.print("\nNo room on the page", soft_wrap=True)
        for line in result.record.left_out:
            console.print(f"  {line.label}: {line.text}{f' – {line.note}' if line.note else ''}", soft_wrap=True)
    console.print(f"\n{PRACTICE_NOTE}", soft_wrap=True)
    try:
        result.write(folder, json_file=json)
    except KeyboardInterrupt:
        typer.echo(f"studwell: stopped while writing; nothing new is in {folder}", err=True)
        raise typer.Exit(130) from None
    files = "card.html and card.pdf" if can_write_pdf() else "card.html"
    console.print(f"\n{files} in {folder}, for {PAPERS[result.record.paper].words}", soft_wrap=True)
    if not can_write_pdf():
        typer.echo(f"studwell: {MISSING}", err=True)
    console.print(
        "Check against the maker's data; hot engines, fuel, swarf, fluid in a blind hole and torque tools hurt people.",
        soft_wrap=True,
    )
