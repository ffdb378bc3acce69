"""Whole files or none: written beside their place and moved into it."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any

from studwell.errors import CannotWrite


def write_text(path: Path, text: str) -> Path:
    """Write a text file whole or not at all; makes its folder. Raises CannotWrite."""
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> Path:
    """Write a file whole or not at all; makes its folder. Raises CannotWrite."""
    path = Path(path)
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except OSError as problem:
        raise CannotWrite(f"{path}: {problem.strerror or problem}") from problem
    finally:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)
    return path


def write_json(path: Path, record: Any) -> Path:
    """Write a record as JSON, keys in the order given, no NaN. Raises CannotWrite."""
    return write_text(path, json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
