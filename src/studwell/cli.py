"""The command line: the commands in the order of its help, and how a run of one ends."""

from __future__ import annotations

import os
import warnings

import typer

# isort: off
# each registers its commands on `app`, in the order of its help
from studwell import cli_new, cli_compare, cli_mesh, cli_checks  # noqa: F401
from studwell import cli_backoff, cli_card, cli_choose, cli_odds, cli_page  # noqa: F401

# isort: on
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
)

__all__ = [
    "CAUTION",
    "Bars",
    "CaseFile",
    "Fields",
    "Json",
    "NoBand",
    "Out",
    "Refinement",
    "Require",
    "Revolve",
    "Units",
    "app",
    "main",
    "out_console",
    "plainly",
]


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
