"""How a floor fails over its thickness, and what the hole's end does to a driven stud: each in one call."""

from __future__ import annotations

from collections.abc import Sequence

from threadpoolctl import threadpool_limits

from studwell import units
from studwell.api.opening import CaseOrPath, mesh_density, opened
from studwell.case.records import Setup
from studwell.errors import StudwellError, Unknown, UnknownName
from studwell.study.floor_sweep import FloorSweep
from studwell.study.floor_sweep import floor_sweep as study_floors
from studwell.study.hole_ends import HoleEnd
from studwell.study.hole_ends import hole_ends as study_ends

Length = float | str
"""mm, or a text with its unit, such as "3/16 in"."""


def _setup(case: CaseOrPath, name: str | None) -> Setup:
    known = opened(case)
    if name is None:
        return known.setups[0]
    found = next((setup for setup in known.setups if setup.name == name), None)
    if found is None:
        raise UnknownName("setup", name, [setup.name for setup in known.setups])
    return found


def _length(value: Length) -> float:
    return units.length(value) if isinstance(value, str) else float(value)


def floor_sweep(
    case: CaseOrPath, thicknesses: Sequence[Length], *, setup: str | None = None, refinement: float = 1.0
) -> FloorSweep:
    """Solve a setup with floors of several thicknesses: tip force, punch, split and corner stress, which way fails first.

    thicknesses : rising, mm or texts with units;  setup: by name, None: the first of the case
    raises BadCase, UnknownName;  StudwellError: a floor has no solution, refinement out of range;
    ValueError: thicknesses that do not rise
    """
    density, chosen = mesh_density(refinement), _setup(case, setup)
    with threadpool_limits(limits=1):
        return study_floors(chosen, [_length(each) for each in thicknesses], refinement=density)


def hole_ends(
    case: CaseOrPath,
    *,
    cone_angle: float,
    end_radius: Length,
    frictions: Sequence[float] = (0.0,),
    setup: str | None = None,
    refinement: float = 1.0,
) -> tuple[HoleEnd, ...]:
    """Drive a bottomed setup's stud onto a flat, a conical and a radiused end of the same hole.

    cone_angle : degrees, the drill's full point angle;  end_radius: mm or a text;  frictions: of tip on seat, each solved
    raises BadCase, UnknownName;  StudwellError: an end has no solution, the stud does not go on it, or refinement out of range
    """
    density, chosen, radius = mesh_density(refinement), _setup(case, setup), _length(end_radius)
    with threadpool_limits(limits=1):
        try:
            return study_ends(
                chosen, cone_angle=cone_angle, end_radius=radius, frictions=tuple(frictions), refinement=density
            )
        except ValueError as problem:
            if isinstance(problem, StudwellError):
                raise
            raise Unknown(
                f"{chosen.name}: the stud does not go on one of these ends: {problem}; a smaller end_radius leaves it lower"
            ) from problem
