"""The command `studwell new`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from studwell.cli_shared import app, plainly


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
