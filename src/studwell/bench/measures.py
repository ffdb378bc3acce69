"""What is measured: name, value, unit and target; each measured in this run, none remembered."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from studwell.errors import StudwellError


@dataclass(frozen=True)
class Measure:
    """One measured figure; target is what was aimed at ('at most' or 'at least'), None if only reported."""

    name: str
    value: float
    unit: str
    target: float | None = None
    at_most: bool = True

    @property
    def met(self) -> bool | None:
        """Whether the target is met; None without one."""
        if self.target is None:
            return None
        return self.value <= self.target if self.at_most else self.value >= self.target


def cold_compare(case: Path) -> list[Measure]:
    """Measure `studwell compare` of a case in a process of its own: wall time and largest memory.

    raises StudwellError : the command failed
    """
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "studwell", "compare", str(case), "--out", folder]
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        assert process.stderr is not None
        complaint = process.stderr.read().decode()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        seconds = time.perf_counter() - start
    if process.returncode not in (0, 3):
        raise StudwellError(f"compare failed with exit status {process.returncode}: {complaint.strip()[-300:]}")
    return [
        Measure("compare of the demo, cold, wall time", seconds, "s", 15.0),
        Measure("compare of the demo, largest memory", _megabytes(usage), "MB", 1000.0),
    ]


def _megabytes(usage: resource.struct_rusage) -> float:
    return usage.ru_maxrss / 1024.0 if sys.platform != "darwin" else usage.ru_maxrss / 1024.0**2
