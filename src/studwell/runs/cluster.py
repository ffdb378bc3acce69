"""The same blocks on the workers of a dask.distributed scheduler (extra `cluster`)."""

from __future__ import annotations

import gc
import importlib
import pickle
import time
from collections.abc import Generator, Iterable
from itertools import islice
from typing import Any

import numpy as np
from threadpoolctl import threadpool_limits

from studwell.errors import NoScheduler, WorkerLost
from studwell.runs.plan import Plan
from studwell.runs.workers import sendable

PATIENCE = 10.0
"""Seconds to wait for a scheduler, and for its first worker."""

MOST_TRIES = 3
"""Times that a block is handed out again after the cluster gave it up."""

MUST_AGREE = ("studwell", "numpy", "scipy")
"""Packages of which workers need the version that this process has, so that the numbers are the same."""


def evaluate_on_cluster(
    plan: Plan, blocks: Iterable[int], scheduler: str
) -> Generator[tuple[int, np.ndarray], None, None]:
    """Yield (block, rows) in the order in which the cluster's workers finish them.

    scheduler : address such as "tcp://10.0.0.5:8786"
    raises NoScheduler : nothing answers there, it has no workers, its workers have other versions, or the extra is missing
    raises WorkerLost : a block that the cluster gave up three times; whatever `evaluate` raises
    A worker that dies costs the blocks that it had in hand, and the cluster does those again.
    """
    distributed = _distributed()
    left = iter(blocks)
    with _client(distributed, scheduler) as client:
        threads = sum(client.nthreads().values())
        # a task, not scattered data: the scheduler can make it again when the worker that holds it dies
        held = client.submit(_open, pickle.dumps(plan), key=f"plan-{plan.hash}-{time.time_ns()}")
        tries: dict[int, int] = {}
        waiting: dict[Any, int] = {}

        def submit(block: int) -> Any:
            future = client.submit(_evaluate, held, block, pure=False, retries=0)
            waiting[future.key] = block
            return future

        done = distributed.as_completed([submit(block) for block in islice(left, 2 * threads)], loop=client.loop)
        for future in done:
            block = waiting.pop(future.key)
            problem = future.exception() if future.status == "error" else None
            if future.status == "finished":
                try:
                    rows = future.result()
                except (distributed.client.FutureCancelledError, OSError) as gone:
                    problem = gone
                else:
                    for following in islice(left, 1):
                        done.add(submit(following))
                    yield block, rows
                    continue
            if client.status != "running" or future.status == "cancelled":
                raise NoScheduler(
                    f"{scheduler}: the scheduler went away; finished blocks are kept, --resume takes them up"
                )
            if problem is not None and not isinstance(
                problem, distributed.KilledWorker | distributed.client.FutureCancelledError | OSError
            ):
                raise problem
            tries[block] = tries.get(block, 0) + 1
            if tries[block] >= MOST_TRIES:
                raise WorkerLost(f"block {block}: its workers died again and again; finished blocks are kept")
            done.add(submit(block))


def _distributed() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError:
        raise NoScheduler("a scheduler needs the extra `cluster`: pip install 'studwell[cluster]'") from None


def _client(distributed: Any, scheduler: str) -> Any:
    """Return a client of a scheduler that answers and has workers with the same versions. Raises NoScheduler."""
    client, reason = _connected(distributed, scheduler)
    if client is None:
        gc.collect()  # the client that failed ends here, not in the middle of the next one's start, which would wait for it
        raise NoScheduler(f"{scheduler}: no scheduler answers within {PATIENCE:g} s ({reason})")
    try:
        try:
            client.wait_for_workers(1, timeout=PATIENCE)
        except TimeoutError:
            raise NoScheduler(f"{scheduler}: the scheduler has no workers after {PATIENCE:g} s") from None
        own = _versions()
        for worker, versions in client.run(_versions).items():
            if versions != own:
                raise NoScheduler(
                    f"{worker}: has {_listed(versions)}; this process has {_listed(own)}: the numbers may differ"
                )
    except BaseException:
        client.close()
        raise
    return client


def _connected(distributed: Any, scheduler: str) -> tuple[Any, str]:
    """Return a client of a scheduler and "", or None and why there is none.

    A client that is collected as garbage closes under the lock that a client holds while it starts, and both would wait for
    ever: nothing is collected meanwhile.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        return distributed.Client(scheduler, timeout=PATIENCE, set_as_default=False), ""
    except Exception as problem:  # addresses fail in as many ways as there are transports
        return None, str(problem).splitlines()[0] if str(problem) else type(problem).__name__
    finally:
        if collects:
            gc.enable()


def _versions() -> dict[str, str]:
    from importlib.metadata import PackageNotFoundError, version

    found = {}
    for name in MUST_AGREE:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "none"
    return found


def _listed(versions: dict[str, str]) -> str:
    return ", ".join(f"{name} {version}" for name, version in versions.items())


def _open(pickled: bytes) -> Plan:
    plan: Plan = pickle.loads(pickled)
    return plan


def _evaluate(plan: Plan, block: int) -> np.ndarray:
    try:
        with threadpool_limits(limits=1):
            return np.asarray(plan.evaluate(block))
    except Exception as problem:
        raise sendable(problem) from None
