"""Bodies condensed ahead of need in a second process, while the first one lives through histories."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import MutableMapping
from concurrent.futures import Future, ProcessPoolExecutor
from types import TracebackType

from threadpoolctl import threadpool_limits

from studwell.case.records import Setup
from studwell.errors import StudwellError
from studwell.joint.bodies import section_bodies
from studwell.joint.body import BodyResponse
from studwell.joint.build import body_key
from studwell.joint.condense import condense
from studwell.section.layout import lay_out

_known: set[str] = set()
"""Keys of the bodies that this worker process has condensed already; empty in the first process."""


class Ahead:
    """Condenses the bodies of setups in order in a second process; `into` hands over what is ready for one of them.

    Without a second core it does nothing, and every body is condensed where it is needed. The numbers are the same.
    """

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None
        self._orders: dict[str, Future[dict[str, BodyResponse]]] = {}

    def __enter__(self) -> Ahead:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def order(self, setup: Setup, refinement: float) -> None:
        """Ask for the bodies of a setup, without their whole fields; temperatures given at points only."""
        if (os.cpu_count() or 1) < 2 or setup.history.phases:
            return
        if self._pool is None:
            method = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
            self._pool = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context(method))
        self._orders[setup.name] = self._pool.submit(_condensed, setup, refinement)

    def into(self, cache: MutableMapping[str, BodyResponse], setup: Setup) -> None:
        """Put the bodies ordered for a setup into a cache, waiting for them if need be."""
        order = self._orders.pop(setup.name, None)
        if order is not None:
            cache.update(order.result())


def _condensed(setup: Setup, refinement: float) -> dict[str, BodyResponse]:
    """New bodies of a setup by their key; none where they cannot be had, which shows again where they are needed."""
    found = {}
    try:
        with threadpool_limits(limits=1):
            for body in section_bodies(setup, lay_out(setup, refinement), setup.history.node_names):
                key = body_key(body.spec, False)
                if key not in _known:
                    found[key] = condense(body.spec, fields=False)
                    _known.add(key)
    except (StudwellError, ValueError):
        return {}
    return found
