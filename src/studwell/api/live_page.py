"""Open the live page of a case."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from studwell.api.opening import CaseOrPath, mesh_density, opened
from studwell.case import Case
from studwell.case.reading import file_text

if TYPE_CHECKING:
    from studwell.live.server import LiveServer


def page(
    case: CaseOrPath,
    *,
    setup: str | None = None,
    units: str | None = None,
    port: int | None = None,
    refinement: float = 1.0,
) -> LiveServer:
    """Return the server of a case's live page; its `url` says where, `run()` serves until Ctrl-C. One a process.

    case  : path of a case file, or a Case (whose file the page then cannot give back changed)
    setup : that pages open with, None: the first;  units : "metric" or "inch", None: the case's
    port  : on this machine, 0: any free one, None: the first free one from 8470 on;  refinement : mesh density, 0.3 to 4
    raises BadCase : the case cannot be used;  KeyError : no such setup;  StudwellError : the port is taken, no nicegui,
    refinement out of range
    """
    from studwell.live.server import LiveServer, free_socket, require_nicegui

    require_nicegui()
    density, known = mesh_density(refinement), opened(case)
    name = known.setups[0].name if setup is None else known.setup(setup).name
    source = None if isinstance(case, Case) else file_text(Path(case))
    return LiveServer(
        known, source, setup=name, units=units or known.units, listen=free_socket(port), refinement=density
    )
