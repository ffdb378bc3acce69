"""Processes on this machine that evaluate blocks; one that dies is replaced and its block is done again."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
from collections.abc import Generator, Iterable
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any

import numpy as np
from threadpoolctl import threadpool_limits

from studwell.errors import StudwellError, WorkerLost
from studwell.runs.plan import Plan

MOST_DEATHS = 3
"""Workers that one block may cost before the study stops: it is the block then that ends them."""

LISTEN = 0.5
"""Seconds after which an idle worker looks whether the process that started it is still there."""


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextlib.contextmanager
def _unheard() -> Generator[None, None, None]:
    """Keep Ctrl-C back, in a process that is made meanwhile too: until it ignores it a traceback would be its answer."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@dataclass
class _Worker:
    process: BaseProcess
    pipe: Connection
    block: int | None = None


def evaluate_here(plan: Plan, blocks: Iterable[int]) -> Generator[tuple[int, np.ndarray], None, None]:
    """Yield (block, rows) evaluated in this process, one thread."""
    for block in blocks:
        with threadpool_limits(limits=1):
            rows = plan.evaluate(block)
        yield block, rows


def evaluate_in_workers(
    plan: Plan, blocks: Iterable[int], workers: int
) -> Generator[tuple[int, np.ndarray], None, None]:
    """Yield (block, rows) in the order in which worker processes finish them.

    blocks  : numbers, taken as workers become free, so that memory holds one block a worker
    workers : processes, 1 or more
    raises WorkerLost : a block whose worker died three times; whatever `evaluate` raises
    Closing the iterator ends the workers.
    """
    method = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
    context: Any = multiprocessing.get_context(method)
    left = iter(blocks)
    again: list[int] = []
    deaths: dict[int, int] = {}
    crew: list[_Worker] = []

    def hire() -> _Worker:
        ours, theirs = context.Pipe()
        inherited = [worker.pipe for worker in crew] + [ours] if method == "fork" else []
        process = context.Process(target=_work, args=(plan, theirs, inherited, os.getpid()), daemon=True)
        with _unheard():
            process.start()
        theirs.close()
        return _Worker(process, ours)

    def give(worker: _Worker) -> None:
        block = again.pop() if again else next(left, None)
        worker.block = block
        if block is not None:
            with contextlib.suppress(OSError):  # it died while it was idle: its end of the pipe tells in the next round
                worker.pipe.send(block)

    def replace(worker: _Worker) -> None:
        crew.remove(worker)
        worker.pipe.close()
        worker.process.join()
        block = worker.block
        if block is not None:
            deaths[block] = deaths.get(block, 0) + 1
            if deaths[block] >= MOST_DEATHS:
                raise WorkerLost(
                    f"block {block}: {MOST_DEATHS} workers died on it (the last with exit status "
                    f"{worker.process.exitcode}); finished blocks are kept. Is there memory enough for {workers} workers?"
                )
            again.append(block)
        crew.append(hire())
        give(crew[-1])

    try:
        for _ in range(workers):
            crew.append(hire())
            give(crew[-1])
        while any(worker.block is not None for worker in crew):
            ready = wait([worker.pipe for worker in crew if worker.block is not None])
            for worker in [each for each in crew if each.pipe in ready]:
                try:
                    answer: Any = worker.pipe.recv()
                except (EOFError, OSError):
                    replace(worker)
                    continue
                if isinstance(answer, BaseException):
                    raise answer
                block = worker.block
                assert block is not None
                give(worker)
                yield block, answer
    finally:
        for worker in crew:
            worker.process.kill()
        for worker in crew:
            worker.process.join()
            worker.pipe.close()


def sendable(problem: Exception) -> Exception:
    """Return an error that survives the way between processes: itself if it does, else one of its kind of message."""
    try:
        pickle.loads(pickle.dumps(problem))
    except Exception:
        if isinstance(problem, StudwellError):
            return StudwellError(problem.line, problem.slug)
        return RuntimeError(f"{type(problem).__name__}: {problem}")
    return problem


def _work(plan: Plan, pipe: Connection, inherited: list[Connection], parent: int) -> None:
    """Evaluate blocks until the pipe closes or the process that started this one is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process hears Ctrl-C and ends this one
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    for other in inherited:
        other.close()
    with threadpool_limits(limits=1):
        while True:
            try:
                while not pipe.poll(LISTEN):
                    if os.getppid() != parent:
                        return
                block = pipe.recv()
            except (EOFError, OSError):
                return
            try:
                answer: Any = plan.evaluate(block)
            except Exception as problem:
                answer = sendable(problem)
            try:
                pipe.send(answer)
            except OSError:
                return
