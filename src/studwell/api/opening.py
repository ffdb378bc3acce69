"""What the calls take: a case or the path of its file, and a mesh density, checked before anything is solved."""

from __future__ import annotations

import os
from numbers import Real
from pathlib import Path

from studwell.case import Case, read_case
from studwell.errors import StudwellError, shown

CaseOrPath = Case | str | os.PathLike[str]

COARSEST, FINEST = 0.3, 4.0
"""Mesh densities that sections are laid out for; the command line allows the same."""


def opened(case: CaseOrPath) -> Case:
    """Return the case, read from its file if a path is given. Raises BadCase; StudwellError: neither case nor path."""
    if isinstance(case, Case):
        return case
    if not isinstance(case, str | os.PathLike):
        raise StudwellError(
            f"case is {shown(case)}, a {type(case).__name__}; allowed: a Case, or the path of a case file",
            slug="wrong-kind",
        )
    return read_case(Path(case))


def mesh_density(refinement: float) -> float:
    """Return a mesh density if it is a number from COARSEST to FINEST. Raises StudwellError."""
    allowed = f"a number from {COARSEST:g} to {FINEST:g}, 1 = standard"
    if isinstance(refinement, bool) or not isinstance(refinement, Real):
        raise StudwellError(f"refinement = {shown(refinement)}: not a number; allowed: {allowed}", slug="out-of-range")
    if not COARSEST <= refinement <= FINEST:  # so that a NaN is refused too
        raise StudwellError(
            f"refinement = {float(refinement):g}: out of range; allowed: {allowed}", slug="out-of-range"
        )
    return float(refinement)
