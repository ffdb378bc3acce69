"""The command `studwell mesh`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from studwell.cli_shared import Bars, CaseFile, Out, Refinement, app, out_console, plainly, setup_name


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
    chosen = known.setup(setup_name(known, case, setup)) if setup else known.setups[0]
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
