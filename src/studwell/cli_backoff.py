"""The command `studwell backoff`."""

from __future__ import annotations

from pathlib import Path

import typer

from studwell.cli_shared import (
    CAUTION,
    Bars,
    CaseFile,
    Json,
    Out,
    Refinement,
    Units,
    app,
    out_console,
    plainly,
    writing,
)
from studwell.errors import BadCase, CannotWrite, StudwellError

SHARES = {"smallest back-off": 0.06, "mechanisms": 0.16, "views": 0.28, "thresholds": 0.3, "sweep": 0.2}
"""About how much of the time each part of a review takes, in the order solved: from there the time that is left."""


def overall(part: str, done: int, whole: int) -> int:
    """Return how far the whole review is, in hundredths, when `done` of `whole` steps of a part are solved."""
    names = list(SHARES)
    before = sum(SHARES[name] for name in names[: names.index(part)])
    return round(100 * (before + SHARES[part] * done / whole))


@app.command()
@plainly
def backoff(
    case: CaseFile, out: Out = None, json: Json = None, refinement: Refinement = 1.0, units: Units = None
) -> None:
    """Review the rule of turning a stud back from the bottom: what it is worth, why, and how far is far enough."""
    from studwell import api
    from studwell.show.both_units import BothUnits, names_of
    from studwell.store.summary import slug
    from studwell.store.writing import check_folder

    known = api.read_case(case)
    folder = out or Path("results") / f"{slug(case.stem)}-backoff"
    check_folder(folder)
    if json is not None:
        check_folder(json.absolute().parent)
    try:
        with Bars() as bars:
            result = api.backoff(
                known, refinement=refinement, progress=lambda *step: bars.step("review", overall(*step), 100)
            )
    except (BadCase, CannotWrite):
        raise
    except (StudwellError, ValueError) as problem:  # the first setup has no solution
        typer.echo(f"studwell: {known.setups[0].name}: {problem}", err=True)
        raise typer.Exit(3) from None
    console = out_console()
    both = BothUnits(names_of(known), units or known.units)
    for table in result.tables(units):
        console.print(table)
    for sentence in result.record.verdict.sentences:
        console.print(f"- {both.words(sentence.text)}", soft_wrap=True)
    why = both.words(result.record.verdict.why)
    console.print(f"- Confidence: {result.record.verdict.confidence} ({why}).", soft_wrap=True)
    for note in result.record.notes:
        typer.echo(f"studwell: {note}", err=True)
    with writing(folder):
        result.write(folder, json_file=json, units=units)
    unsolved = sum(1 for row in result.rows if row.lift is None)
    told = f"{result.record.histories} histories in {result.record.seconds:.0f} s"
    typer.echo(f"{told}{f', {unsolved} could not be solved (sweep.csv says why)' if unsolved else ''}", err=True)
    console.print(f"\nresults in {folder}", soft_wrap=True)
    console.print(CAUTION, soft_wrap=True)
    if result.record.stopped:
        typer.echo("studwell: stopped; what was finished is kept", err=True)
        raise typer.Exit(130)
