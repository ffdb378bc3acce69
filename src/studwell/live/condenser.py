"""A second process that meshes and condenses bodies and solves heat: the page's own process goes on answering meanwhile.

Condensing holds Python's interpreter for seconds; in a thread it would hold up every reading of every user. Orders and
answers are pickles on the second process's standard streams, which nobody else can reach.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from typing import Any, BinaryIO

from threadpoolctl import threadpool_limits

from studwell.case.records import Setup
from studwell.errors import BadMesh, StudwellError, Unknown
from studwell.fem.space import Space
from studwell.joint.bodies import SectionBody, section_bodies
from studwell.joint.body import BodyResponse
from studwell.joint.condense import BodySpec, condense
from studwell.live.picture import NodalStress, nodal_stress_map, pixel_map
from studwell.section.layout import lay_out
from studwell.study.compare import heated

HELLO = "ready"
SECONDS_TO_END = 3.0
SECONDS_TO_NOTICE = 0.5
GENTLE = 5
"""How far the second process gives way where processors are scarce: readings go first."""


def condensed_body(spec: BodySpec) -> tuple[BodyResponse, NodalStress]:
    """Return a body condensed, and what makes its stress picture. raises BadMesh: a face that the mesh does not have."""
    return condense(spec), nodal_stress_map(spec, Space(spec.mesh))


def section(setup: Setup, refinement: float) -> tuple[SectionBody, ...]:
    """Return a setup's bodies, laid out and meshed. raises Unknown, BadMesh, ValueError: dimensions that fit no mesh."""
    return section_bodies(setup, lay_out(setup, refinement), setup.history.node_names)


ORDERS: Mapping[str, Callable[..., Any]] = {
    "section": section,
    "heat": heated,
    "body": condensed_body,
    "pixels": pixel_map,
}


class Condenser:
    """Takes orders one after the other; safe to use from several threads.

    Until the second process is up, without a second processor, or once that process is lost, orders are done here, in the
    thread that asks: slower for the others, the numbers the same.
    """

    def __init__(self, apart: bool = True) -> None:
        """apart: False never starts a second process."""
        self._lock = threading.Lock()
        self._up = threading.Event()
        self._process: subprocess.Popen[bytes] | None = None
        if not apart or (os.cpu_count() or 1) < 2:
            return
        command = [sys.executable, "-m", "studwell.live.condenser"]
        with contextlib.suppress(OSError):  # none can be started: orders are done here
            self._process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
            )
            threading.Thread(target=self._wait_for_it, daemon=True).start()

    @property
    def apart(self) -> bool:
        """True while the second process takes the orders."""
        return self._up.is_set()

    def wait(self, seconds: float) -> bool:
        """Wait until the second process is up, at most so long; returns whether it is."""
        return self._up.wait(seconds) if self._process is not None else False

    def run(self, order: str, *given: Any) -> Any:
        """Return what one of ORDERS returns. raises StudwellError: what it raised; a ValueError as BadMesh."""
        with self._lock:
            process = self._process
            if process is not None and self._up.is_set():
                assert process.stdin is not None and process.stdout is not None
                try:
                    _send(process.stdin, (order, given))
                    kind, answer = _receive(process.stdout)
                except (OSError, EOFError, pickle.UnpicklingError):
                    self._up.clear()
                except BaseException:  # interrupted: what comes next from there would answer this order
                    self._up.clear()
                    process.terminate()
                    raise
                else:
                    return _told(kind, answer)
        return _told(*_done(order, given))

    def close(self) -> None:
        """End the second process; it ends by itself if this one is lost."""
        process, self._process = self._process, None
        self._up.clear()
        if process is None:
            return
        assert process.stdin is not None and process.stdout is not None
        with contextlib.suppress(OSError):
            process.stdin.close()
        try:
            process.wait(SECONDS_TO_END)
        except subprocess.TimeoutExpired:
            process.terminate()
            process.wait()
        process.stdout.close()

    def _wait_for_it(self) -> None:
        process = self._process
        if process is None or process.stdout is None:
            return
        with contextlib.suppress(OSError, EOFError, ValueError, pickle.UnpicklingError):
            if _receive(process.stdout) == HELLO:
                self._up.set()


def _done(order: str, given: tuple[Any, ...]) -> tuple[str, Any]:
    try:
        return "done", ORDERS[order](*given)
    except StudwellError as problem:
        return "error", (problem.line, problem.slug)
    except ValueError as problem:  # dimensions that pass the case's checks and still fit no mesh
        return "error", (str(problem), BadMesh.slug)


def _told(kind: str, answer: Any) -> Any:
    if kind == "error":
        line, slug = answer
        raise Unknown(line) if slug == Unknown.slug else ({BadMesh.slug: BadMesh}.get(slug, StudwellError))(line, slug)
    return answer


def _send(stream: BinaryIO | Any, message: Any) -> None:
    pickle.dump(message, stream, protocol=pickle.HIGHEST_PROTOCOL)
    stream.flush()


def _receive(stream: BinaryIO | Any) -> Any:
    return pickle.load(stream)


def end_with_parent() -> None:
    """End this process soon after the one that started it, however that one ended and whatever is being done here."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(SECONDS_TO_NOTICE)
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def main() -> None:
    """Do orders from standard input until it ends; anything printed goes to standard error."""
    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process hears interrupts and ends this one
    if hasattr(os, "nice"):
        os.nice(GENTLE)
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    orders = sys.stdin.buffer
    with threadpool_limits(limits=1), contextlib.suppress(EOFError, OSError):  # the first process has ended
        _send(answers, HELLO)
        while True:
            order, given = _receive(orders)
            _send(answers, _done(order, given))


if __name__ == "__main__":
    main()
