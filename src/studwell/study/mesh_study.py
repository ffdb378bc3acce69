"""Outcomes over meshes: each setup on three densities, and what the last refinement still changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from studwell.case.records import Setup
from studwell.study.compare import solve_setup
from studwell.study.thread_band import BANDED

DENSITIES = (0.7, 1.0, 1.4)
"""Refinements of a study; 1 is the standard mesh."""


@dataclass(frozen=True)
class MeshStudyRow:
    """One outcome over the meshes.

    values : one for each density, in unit; change: last against the middle, relative; the middle is the standard mesh
    """

    outcome: str
    unit: str
    values: tuple[float | None, ...]
    change: float | None


@dataclass(frozen=True)
class MeshStudy:
    """All outcomes of one setup over meshes of rising density."""

    setup: str
    densities: tuple[float, ...]
    unknowns: tuple[int, ...]
    rows: tuple[MeshStudyRow, ...]


def mesh_study(
    setup: Setup,
    *,
    densities: tuple[float, ...] = DENSITIES,
    progress: Callable[[int], None] | None = None,
) -> MeshStudy:
    """Solve a setup on several meshes.

    densities : rising refinements; progress: called with the number of meshes done
    raises as solve_setup
    """
    results = []
    for done, density in enumerate(densities, start=1):
        results.append(solve_setup(setup, refinement=density, band=False))
        if progress is not None:
            progress(done)
    rows = []
    for name in BANDED:
        values = tuple(result.value(name) for result in results)
        before, last = values[-2], values[-1]
        change = None
        if before is not None and last is not None and abs(before) > 1e-6:
            change = last / before - 1.0
        rows.append(MeshStudyRow(name, results[-1].outcomes[name].unit, values, change))
    return MeshStudy(setup.name, tuple(densities), tuple(r.built.unknowns for r in results), tuple(rows))
