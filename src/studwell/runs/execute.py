"""Carry out a plan: hand its blocks out, write what comes back into its ledger, tell the pace, stop cleanly."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from studwell.runs.cluster import evaluate_on_cluster
from studwell.runs.ledger import LedgerRows, open_ledger
from studwell.runs.plan import Plan, block_samples
from studwell.runs.workers import evaluate_here, evaluate_in_workers, processors


@dataclass(frozen=True)
class Pace:
    """How far a run is: samples done (with those taken up) and in all, samples a second of this run, seconds left."""

    done: int
    total: int
    rate: float
    left: float | None


@dataclass(frozen=True)
class Run:
    """What a run left: its rows on disk, whether it was stopped, what it took up and cut off, seconds of this run."""

    rows: LedgerRows
    stopped: bool
    taken_up: int
    dropped_bytes: int
    seconds: float

    @property
    def complete(self) -> bool:
        """Whether every sample is done."""
        return self.rows.complete


def execute(
    plan: Plan,
    path: Path | str,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    resume: bool = False,
    progress: Callable[[Pace], None] | None = None,
) -> Run:
    """Evaluate every block of a plan that its ledger does not hold yet.

    path      : the ledger's file
    workers   : processes on this machine; None: one a processor; 1: this process itself
    scheduler : address of a dask.distributed scheduler, whose workers do it instead
    resume    : take up a ledger that is there; False starts anew
    progress  : called after each block
    returns   : Run; its rows are the same numbers, bit for bit, whatever the workers, their order and stops (on machines
                with the same processor and libraries). Ctrl-C returns what is finished, with `stopped` set.
    raises BadCase, CannotWrite : the ledger (see open_ledger);  NoScheduler, WorkerLost;  ValueError : no workers
    Memory: a block a worker, whatever the count.
    """
    if workers is not None and workers < 1:
        raise ValueError(f"{workers} workers; 1 or more are needed")
    start = time.monotonic()
    stopped = False
    with open_ledger(plan, Path(path), resume=resume) as ledger:
        rows = ledger.rows
        taken = done = rows.done
        todo = [int(index) for index in rows.missing]
        coming = _coming(plan, todo, workers, scheduler)
        try:
            for index, values in coming:
                ledger.add(index, values)
                done += len(block_samples(plan.count, plan.block, index))
                if progress is not None:
                    rate = (done - taken) / max(time.monotonic() - start, 1e-9)
                    progress(Pace(done, plan.count, rate, (plan.count - done) / rate if rate > 0.0 else None))
        except KeyboardInterrupt:
            stopped = True
        finally:
            coming.close()
        return Run(ledger.rows, stopped, taken, ledger.dropped, time.monotonic() - start)


def _coming(
    plan: Plan, todo: list[int], workers: int | None, scheduler: str | None
) -> Generator[tuple[int, np.ndarray], None, None]:
    """Yield blocks as they are finished."""
    if scheduler is not None:
        yield from evaluate_on_cluster(plan, todo, scheduler) if todo else ()
        return
    count = min(processors() if workers is None else workers, len(todo))
    yield from evaluate_here(plan, todo) if count <= 1 else evaluate_in_workers(plan, todo, count)
