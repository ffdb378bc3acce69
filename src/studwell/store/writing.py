"""Whole files or none: written beside their place and moved into it."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
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


def check_file(path: Path) -> None:
    """Raise CannotWrite unless one file can be written at a path; a folder above it is not made."""
    path = Path(path)
    if path.is_dir():
        raise CannotWrite(f"{path}: is a folder, not a file")
    folder = path.absolute().parent
    if not folder.exists():
        raise CannotWrite(f"{path}: there is no folder {folder}; make it first")
    check_folder(folder)


def check_folder(folder: Path) -> None:
    """Raise CannotWrite unless results can be written into a folder; nothing is left behind by the trial."""
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise CannotWrite(f"{folder}: is a file, not a folder")
    nearest = folder
    while not nearest.exists():
        nearest = nearest.parent
    if not nearest.is_dir():
        raise CannotWrite(f"{folder}: {nearest} is a file, not a folder")
    try:
        with tempfile.TemporaryDirectory(dir=nearest, prefix=".studwell-"):
            pass
    except OSError as problem:
        what = "nothing can be written into it" if nearest == folder else f"this folder cannot be made in {nearest}"
        # where a file system takes no new folders its own word is that there is none
        why = "" if isinstance(problem, FileNotFoundError) else f" ({problem.strerror or problem})"
        raise CannotWrite(f"{folder}: {what}{why}") from problem


@contextmanager
def staged(folder: Path) -> Iterator[Path]:
    """Give a folder beside `folder` to fill; its files move into `folder` when all are written, or none does.

    Files of the same name are replaced, others in `folder` are left. raises CannotWrite
    """
    folder = Path(folder)
    check_folder(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        trial = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}."))
    except OSError as problem:
        raise CannotWrite(f"{folder}: {problem.strerror or problem}") from problem
    try:
        yield trial
        for path in sorted(trial.rglob("*")):
            if path.is_file():
                place = folder / path.relative_to(trial)
                place.parent.mkdir(parents=True, exist_ok=True)
                os.replace(path, place)
    except OSError as problem:
        raise CannotWrite(f"{folder}: {problem.strerror or problem}") from problem
    finally:
        shutil.rmtree(trial, ignore_errors=True)


def write_json(path: Path, record: Any) -> Path:
    """Write a record as JSON, keys in the order given, no NaN. Raises CannotWrite."""
    return write_text(path, json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
