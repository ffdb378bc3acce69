"""The command `studwell page`."""

from __future__ import annotations

import threading
import webbrowser
from typing import Annotated

import typer

from studwell.cli_shared import CaseFile, Refinement, app, plainly

SYSTEMS = ("metric", "inch")


def _system(text: str | None) -> str | None:
    if text is not None and text not in SYSTEMS:
        raise typer.BadParameter(f"{text!r} is no choice; choices: {', '.join(SYSTEMS)}")
    return text


@app.command()
@plainly
def page(
    case: CaseFile,
    port: Annotated[
        int | None,
        typer.Option(
            "--port", metavar="N", min=0, max=65535, help="Port, 0: any free one [default: the first free from 8470]"
        ),
    ] = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Only print the address; open no browser.")] = False,
    setup: Annotated[
        str | None, typer.Option("--setup", metavar="NAME", help="Setup to start from [default: the first]")
    ] = None,
    units: Annotated[
        str | None,
        typer.Option("--units", metavar="[metric|inch]", callback=_system, help="Units shown [default: the case's]"),
    ] = None,
    refinement: Refinement = 1.0,
) -> None:
    """Serve the live page of a case to this machine's browser until Ctrl-C: move, look, pin beside, take away."""
    from studwell import api
    from studwell.cli_shared import setup_name

    known = api.read_case(case)
    chosen = None if setup is None else setup_name(known, case, setup)
    server = api.page(case, setup=chosen, units=units, port=port, refinement=refinement)
    typer.echo(server.url)
    typer.echo(
        "The page answers to this machine alone; Ctrl-C ends it. Check against the maker's data; hot engines, fuel, swarf,\n"
        "fluid in a blind hole and torque tools hurt people.",
        err=True,
    )
    server.warm(lambda share, words: None)
    if not no_open:
        threading.Thread(target=webbrowser.open, args=(server.url,), daemon=True).start()
    server.run()
