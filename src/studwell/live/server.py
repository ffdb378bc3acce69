"""The local server of the live page: one address on this machine, one engine, threads that solve, a clean end."""

from __future__ import annotations

import contextlib
import signal
import socket
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from threadpoolctl import threadpool_limits

from studwell.case import Case
from studwell.errors import StudwellError
from studwell.live.guard import Guard

ADDRESS = "127.0.0.1"
"""The only address that is ever bound: the page is for the user of this machine alone."""

FIRST_PORT = 8470
PORTS_TRIED = 30

RECONNECT_TIMEOUT = 2.0
"""s; a tab that is gone so long is forgotten. The address in the browser holds its state."""

INSTALL = "the live page needs nicegui: pip install 'studwell[page]'"


def free_socket(port: int | None) -> socket.socket:
    """Return a socket that listens on this machine alone.

    port : the port, which must be free; 0: any free one; None: the first free one from FIRST_PORT on
    raises StudwellError : the port, or every port tried, is taken
    """
    tried = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if port is None else (port,)
    for number in tried:
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((ADDRESS, number))
            found.listen(64)
        except (OSError, OverflowError):
            found.close()
            continue
        return found
    if port is not None:
        raise StudwellError(
            f"--port {port}: cannot be used: another program has it, or the system keeps it; "
            "without --port the next free one is taken",
            "port-taken",
        )
    raise StudwellError(
        f"ports {tried[0]} to {tried[-1]} are all taken; --port takes another, 0 takes any", "port-taken"
    )


def require_nicegui() -> None:
    """Raise StudwellError if the extra `page` is not installed."""
    try:
        import nicegui  # noqa: F401
    except ImportError:
        raise StudwellError(INSTALL, "extra-missing") from None


class LiveServer:
    """One case served until it is told to stop; `run` blocks.

    case   : the case;  source : the text of its file, None if it has none
    setup  : name of the setup that pages open with;  units : "metric" or "inch"
    listen : a listening socket of this machine;  refinement : mesh density, 1 = standard
    """

    def __init__(
        self, case: Case, source: str | None, *, setup: str, units: str, listen: socket.socket, refinement: float = 1.0
    ) -> None:
        import uvicorn
        from fastapi import FastAPI
        from nicegui import core, ui

        from studwell.live.engine import Engine
        from studwell.live.export import add_downloads
        from studwell.live.page import add_page, asset
        from studwell.live.page_tab import Bench
        from studwell.show.both_units import BothUnits, names_of

        self.listen = listen
        self.port = listen.getsockname()[1]
        self.setup = setup
        self.ending = threading.Event()
        self.solvers = ThreadPoolExecutor(2, thread_name_prefix="solve")
        self.condensers = ThreadPoolExecutor(1, thread_name_prefix="condense")
        names = BothUnits(names_of(case)).kept
        engine = Engine(case, refinement=refinement)
        self.bench = Bench(case, engine, self.solvers, self.condensers, self.is_ending, names)

        application = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
        _add_assets(application, asset)
        add_downloads(application, self.bench, source, refinement, units)
        add_page(self.bench, setup, units)
        core.app.config.socket_io_js_transports = ["websocket"]
        core.app.config.quasar_config["loadingBar"]["skipHijack"] = True
        ui.run_with(
            application,
            title=case.title,
            favicon=ICON,
            dark=None,
            language="en-US",
            binding_refresh_interval=None,
            reconnect_timeout=RECONNECT_TIMEOUT,
            message_history_length=0,
            gzip_middleware_factory=None,
            tailwind=False,
            show_welcome_message=False,
        )
        self.server = uvicorn.Server(
            uvicorn.Config(
                Guard(application, self.port),
                log_level="error",
                access_log=False,
                server_header=False,
                ws="wsproto",
                ws_max_size=64 * 1024,
                ws_per_message_deflate=False,
                proxy_headers=False,
                timeout_graceful_shutdown=1,
            )
        )

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://{ADDRESS}:{self.port}/"

    def warm(self, tell: Callable[[float, str], None] | None = None) -> None:
        """Condense the joint that pages open with, in a thread."""
        from studwell.live.page_tab import Stopped
        from studwell.live.state import start_state

        def told(share: float, words: str) -> None:
            if self.is_ending():
                raise Stopped
            if tell is not None:
                tell(share, words)

        def condense() -> None:
            with contextlib.suppress(Stopped, StudwellError):  # the page itself tells what is wrong
                self.bench.engine.prepare(start_state(self.bench.case, self.setup), told)

        self.condensers.submit(condense)

    def is_ending(self) -> bool:
        """Return whether the server was told to end: what takes long then stops."""
        return self.ending.is_set() or self.server.should_exit

    def run(self) -> None:
        """Serve until Ctrl-C, a closed terminal, a signal to end, or `stop`.

        raises KeyboardInterrupt, SystemExit : when everything is closed, as the signal wants it
        """
        heard: list[int] = []
        try:
            with threadpool_limits(limits=1), ended_by(heard, self.stop):
                self.server.run(sockets=[self.listen])
        finally:
            self.ending.set()
            self.solvers.shutdown(wait=False, cancel_futures=True)
            self.condensers.shutdown(wait=False, cancel_futures=True)
            self.bench.engine.close()
            self.listen.close()
        if heard:
            raise SystemExit(128 + heard[0])

    def stop(self) -> None:
        """End `run` from another thread."""
        self.ending.set()
        self.server.should_exit = True


@contextlib.contextmanager
def ended_by(heard: list[int], stop: Callable[[], None]) -> Iterator[None]:
    """Have the signals of a closed terminal and of an end end the server as Ctrl-C does; `heard` holds them."""

    def hear(number: int, _frame: object) -> None:
        heard.append(number)
        stop()

    kept = {}
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGHUP", "SIGTERM"):
            if hasattr(signal, name):
                kept[getattr(signal, name)] = signal.signal(getattr(signal, name), hear)
    try:
        yield
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)


ICON = (
    "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'><path fill='#b9c4cc' d='M1 6h14v9H1z'/>"
    "<path fill='#285f9e' d='M6 1h4v11H6z'/><path fill='#1d2730' d='M4 3h8v3H4z'/></svg>"
)
"""A stud with its nut in a boss."""


def _add_assets(application: Any, asset: Callable[[str], tuple[str, str]]) -> None:
    from starlette.requests import Request
    from starlette.responses import Response

    def serve(request: Request) -> Response:
        try:
            text, media = asset(request.path_params["name"])
        except KeyError:
            return Response("nothing is served here\n", 404, media_type="text/plain")
        return Response(text, media_type=media, headers={"cache-control": "no-cache"})

    application.add_route("/assets/{name}", serve, methods=["GET"])
