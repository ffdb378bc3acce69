"""The rows of a long study on disk: appended block by block, checked on reading, taken up again after a stop.

A ledger is one line of JSON, then records: mark, block number, number of rows, checksum, rows as little-endian doubles.
The first line is written as a whole file (draft, sync, rename). A record is handed to the operating system when its
block is done, so that a killed process loses nothing that it had finished; the disk is asked to sync at most once a second
and at the end, so that a power cut costs about a second of work. A record that is torn or damaged ends the file: it and what
follows are cut off when the study is taken up, and done again.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import IO, Any

import numpy as np

from studwell.errors import BadCase, CannotWrite
from studwell.runs.plan import Plan, block_count, block_samples

try:  # record locks are not inherited by workers, so that they end with the process that writes
    import fcntl
except ImportError:  # pragma: no cover - systems without record locks
    fcntl = None  # type: ignore[assignment]

SCHEMA = 1
KIND = "studwell ledger"

MARK = b"STRW"
HEAD = struct.Struct("<4sIII")  # mark, block number, rows, checksum
SYNC_EVERY = 1.0
"""Seconds between syncs of the disk, at least."""

LONGEST_HEADER = 1 << 20


@dataclass(frozen=True)
class LedgerRows:
    """Rows of a ledger, read from the file when they are asked for, in sample order whatever the order of writing.

    offsets : (blocks,) place of each block's record in the file, -1 where it is not done
    """

    path: Path
    columns: tuple[str, ...]
    count: int
    block: int
    offsets: np.ndarray = field(repr=False)

    @property
    def missing(self) -> np.ndarray:
        """Numbers of the blocks that are not done."""
        return np.flatnonzero(self.offsets < 0)

    @property
    def done(self) -> int:
        """Samples that are done."""
        present = np.flatnonzero(self.offsets >= 0)
        return sum(len(block_samples(self.count, self.block, int(index))) for index in present)

    @property
    def complete(self) -> bool:
        """Whether every block is done."""
        return not len(self.missing)

    @property
    def shape(self) -> tuple[int, int]:
        """Samples done, columns."""
        return self.done, len(self.columns)

    def __len__(self) -> int:
        return self.done

    def chunks(self) -> Iterator[tuple[range, np.ndarray]]:
        """Yield (sample numbers, rows (samples, columns)) block by block in sample order; blocks not done are left out.

        raises BadCase : a record that no longer agrees with its checksum
        """
        with open(self.path, "rb") as file:
            for index in np.flatnonzero(self.offsets >= 0):
                samples = block_samples(self.count, self.block, int(index))
                rows = _record(file, int(self.offsets[index]), int(index), len(samples), len(self.columns))
                if rows is None:
                    raise BadCase(
                        self.path, f"block {index}", None, "a file that nobody else writes", slug="wrong-ledger",
                        problem="its record changed on the disk since it was read",
                    )  # fmt: skip
                yield samples, rows

    def column(self, name: str) -> np.ndarray:
        """Return one column (samples done,) in sample order. Raises KeyError."""
        if name not in self.columns:
            raise KeyError(f"no column {name!r}; columns: {', '.join(self.columns)}")
        at = self.columns.index(name)
        parts = [rows[:, at].copy() for _, rows in self.chunks()]
        return np.concatenate(parts) if parts else np.zeros(0)

    def array(self) -> np.ndarray:
        """Return all rows that are done (samples, columns), in memory."""
        rows = np.empty(self.shape)
        at = 0
        for samples, part in self.chunks():
            rows[at : at + len(samples)] = part
            at += len(samples)
        return rows

    def digest(self) -> str:
        """Return the sha256 of the rows in sample order: the same for the same study, whoever did it in whatever order."""
        sha = hashlib.sha256(json.dumps([self.count, list(self.columns)]).encode())
        for samples, rows in self.chunks():
            sha.update(struct.pack("<qq", samples.start, samples.stop))
            sha.update(rows.tobytes())
        return sha.hexdigest()


class Ledger:
    """A ledger that is being written: `add` appends a block. A context manager; one process writes a ledger at a time."""

    def __init__(self, file: IO[bytes], path: Path, plan: Plan, offsets: np.ndarray, dropped: int) -> None:
        self.path, self.plan, self.offsets = path, plan, offsets
        self.dropped = dropped
        """Bytes of a torn or damaged end that were cut off."""
        self._file = file
        self._synced = time.monotonic()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    @property
    def rows(self) -> LedgerRows:
        """The rows so far."""
        return LedgerRows(self.path, tuple(self.plan.columns), self.plan.count, self.plan.block, self.offsets.copy())

    def add(self, index: int, rows: np.ndarray) -> None:
        """Append the rows (samples of the block, columns) of a block; one that is done already is left as it is.

        raises ValueError : rows of another shape;  CannotWrite : the disk refuses
        """
        shape = (len(block_samples(self.plan.count, self.plan.block, index)), len(self.plan.columns))
        values = np.array(rows, dtype="<f8", order="C")
        if values.shape != shape:
            raise ValueError(f"block {index} has rows of shape {values.shape}; its plan says {shape}")
        if self.offsets[index] >= 0:
            return
        values[np.isnan(values)] = np.nan  # one bit pattern for what is unknown
        body = values.tobytes()
        place = self._file.seek(0, os.SEEK_END)
        try:
            self._file.write(HEAD.pack(MARK, index, shape[0], _checksum(index, shape[0], body)) + body)
            self._file.flush()
            if time.monotonic() - self._synced > SYNC_EVERY:
                os.fsync(self._file.fileno())
                self._synced = time.monotonic()
        except OSError as problem:
            raise CannotWrite(f"{self.path}: cannot add block {index}: {problem.strerror}") from None
        self.offsets[index] = place

    def close(self) -> None:
        """Sync the disk and close the file."""
        if not self._file.closed:
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()


def open_ledger(plan: Plan, path: Path, *, resume: bool = False) -> Ledger:
    """Open a plan's ledger for writing.

    resume  : take up the file if it is there; False: start anew (an unfinished one is kept beside it as NAME.old)
    raises BadCase : with resume, a file of another study or no ledger
    raises CannotWrite : another process writes it, or the disk refuses
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if not resume or not path.exists():
            if path.exists() and _unfinished(path):
                with open(path, "r+b") as other:
                    _lock(other, path)
                os.replace(path, path.with_name(path.name + ".old"))
            _start(plan, path)
        file = open(path, "r+b")  # noqa: SIM115 - the ledger closes it
    except OSError as problem:
        raise CannotWrite(f"{path}: cannot be written: {problem.strerror}") from None
    try:
        _lock(file, path)
        header, start = _header(file, path)
        _same_study(plan, header, path)
        offsets, end, size = _scan(file, start, header)
        if end < size:
            file.truncate(end)
    except BaseException:
        file.close()
        raise
    return Ledger(file, path, plan, offsets, size - end)


def read_ledger(path: Path) -> LedgerRows:
    """Return the rows of a ledger, finished or not, without changing it.

    raises BadCase : no ledger
    """
    try:
        with open(path, "rb") as file:
            header, start = _header(file, path)
            offsets, _, _ = _scan(file, start, header)
    except OSError as problem:
        raise BadCase(path, "", None, slug="file-not-readable", problem=str(problem.strerror)) from None
    return LedgerRows(path, tuple(header["columns"]), header["count"], header["block"], offsets)


def _described(plan: Plan) -> dict[str, Any]:
    return {
        "schema": SCHEMA, "kind": KIND, "hash": plan.hash, "count": plan.count, "block": plan.block,
        "columns": list(plan.columns),
    }  # fmt: skip


def _start(plan: Plan, path: Path) -> None:
    """Write a file that holds the first line alone, whole or not at all."""
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    with open(draft, "wb") as file:
        file.write(json.dumps(_described(plan)).encode() + b"\n")
        file.flush()
        os.fsync(file.fileno())
    os.replace(draft, path)
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _unfinished(path: Path) -> bool:
    try:
        rows = read_ledger(path)
    except BadCase:
        return False
    return not rows.complete and rows.done > 0


def _lock(file: IO[bytes], path: Path) -> None:
    if fcntl is None:
        return
    try:
        fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise CannotWrite(f"{path}: another process writes it; wait for it, or choose another --out") from None


def _header(file: IO[bytes], path: Path) -> tuple[dict[str, Any], int]:
    line = file.readline(LONGEST_HEADER)
    try:
        header = json.loads(line)
    except ValueError:
        header = None
    if not isinstance(header, dict) or header.get("kind") != KIND:
        raise BadCase(
            path, "first line", None, "a file that `studwell` wrote", slug="wrong-ledger", problem="no ledger of rows"
        )
    return header, len(line)


def _same_study(plan: Plan, header: dict[str, Any], path: Path) -> None:
    """Refuse a ledger of another study by the first entry that differs."""
    for key, expected in _described(plan).items():
        found = header.get(key)
        if found != expected:
            raise BadCase(
                path, key, _short(found), f"{_short(expected)}, or start anew without --resume", slug="wrong-ledger",
                problem="belongs to another case, another number of samples or other options",
            )  # fmt: skip


def _short(value: object) -> object:
    if isinstance(value, str) and len(value) > 16:
        return value[:16]
    return ", ".join(map(str, value)) if isinstance(value, list) else value


def _checksum(index: int, rows: int, body: bytes) -> int:
    return zlib.crc32(body, zlib.crc32(struct.pack("<II", index, rows)))


def _record(file: IO[bytes], place: int, index: int | None, rows: int | None, columns: int) -> np.ndarray | None:
    """Return the rows of the record at a place, None if it is torn, damaged or another block's."""
    file.seek(place)
    head = file.read(HEAD.size)
    if len(head) < HEAD.size:
        return None
    mark, number, count, checksum = HEAD.unpack(head)
    if mark != MARK or (index is not None and number != index) or (rows is not None and count != rows):
        return None
    body = file.read(8 * count * columns)
    if len(body) < 8 * count * columns or _checksum(number, count, body) != checksum:
        return None
    return np.frombuffer(body, dtype="<f8").reshape(count, columns)


def _scan(file: IO[bytes], start: int, header: dict[str, Any]) -> tuple[np.ndarray, int, int]:
    """Return (offsets of blocks, end of the last good record, size of the file)."""
    count, block, columns = header["count"], header["block"], len(header["columns"])
    blocks = block_count(count, block)
    offsets = np.full(blocks, -1, dtype=np.int64)
    size = file.seek(0, os.SEEK_END)
    place = start
    while place < size:
        file.seek(place)
        head = file.read(HEAD.size)
        if len(head) < HEAD.size:
            break
        index = HEAD.unpack(head)[1]
        if index >= blocks:
            break
        rows = len(block_samples(count, block, index))
        if _record(file, place, index, rows, columns) is None:
            break
        offsets[index] = place
        place += HEAD.size + 8 * rows * columns
    return offsets, place, size
