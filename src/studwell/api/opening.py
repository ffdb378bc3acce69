"""Take a case, or the path of its file."""

from __future__ import annotations

import os
from pathlib import Path

from studwell.case import Case, read_case

CaseOrPath = Case | str | os.PathLike[str]


def opened(case: CaseOrPath) -> Case:
    """Return the case, read from its file if a path is given. Raises BadCase."""
    return case if isinstance(case, Case) else read_case(Path(case))
