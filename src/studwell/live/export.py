"""What can be taken away from the live page: the case file, the report and the job card of the state in the address."""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from typing import Any

from studwell.card.build import card_of
from studwell.card.page import card_page
from studwell.card.pdf import MISSING, can_write_pdf, card_pdf
from studwell.card.record import Card
from studwell.case import Case
from studwell.errors import StudwellError
from studwell.live.condenser import end_with_parent
from studwell.live.page_link import split_link
from studwell.live.page_tab import Bench
from studwell.live.state import LiveState, case_text_of, setup_of, state_from_link
from studwell.store.summary import slug
from studwell.study.compare import solve_setup
from studwell.study.results import Comparison

MEDIA = {"toml": "application/toml", "html": "text/html", "pdf": "application/pdf"}
LONGEST = 1800.0
"""s; a report that takes longer is given up."""


@dataclass(frozen=True)
class Taken:
    """A file to take away: its name, media type and bytes."""

    name: str
    media: str
    content: bytes


def case_file(case: Case, source: str | None, state: LiveState) -> Taken:
    """Return the case file with the state as one more setup.

    source : text of the case file as it was read, None if there was no file
    raises StudwellError : no file
    """
    if source is None:
        raise StudwellError(
            "this page was opened from Python without a case file, so that there is none to change", "cannot-write"
        )
    return Taken(f"{_stem(case)}-page.toml", MEDIA["toml"], case_text_of(source, case, state).encode())


def alone(case: Case, state: LiveState, units: str) -> Case:
    """Return a case that holds the state's setup alone, in these units."""
    return replace(case, units=units, setups=(setup_of(case, state),))


def report_file(case: Case, refinement: float) -> Taken:
    """Solve a case and return its report, the one that `studwell compare` writes."""
    from studwell.case.fingerprint import inputs_sha256
    from studwell.show.report import report_text
    from studwell.store.summary import libraries
    from studwell.study.findings import findings_in_both

    comparison = solved(case, refinement)
    text = report_text(comparison, findings_in_both(comparison), libraries(), inputs_sha256(case))
    return Taken(f"{_stem(case)}-report.html", MEDIA["html"], text.encode())


def card_page_file(case: Case, refinement: float) -> Taken:
    """Solve a case and return the job card of its only setup, the one that `studwell card` writes, as one HTML page."""
    return Taken(f"{_stem(case)}-card.html", MEDIA["html"], card_page(_card(case, refinement)).encode())


def card_pdf_file(case: Case, refinement: float) -> Taken:
    """Return the same card as PDF. Raises StudwellError: the library for it is not installed."""
    if not can_write_pdf():
        raise StudwellError(MISSING, "extra-missing")
    return Taken(f"{_stem(case)}-card.pdf", MEDIA["pdf"], card_pdf(_card(case, refinement)))


def _card(case: Case, refinement: float) -> Card:
    return card_of(case, solve_setup(case.setups[0], refinement=refinement, band=False), refinement)


def solved(case: Case, refinement: float) -> Comparison:
    """Solve a case's only setup as `studwell solve` does, with its thread-model band. Raises StudwellError."""
    start = time.perf_counter()
    result = solve_setup(case.setups[0], refinement=refinement)
    return Comparison(case, (result,), (), refinement, time.perf_counter() - start)


MADE: dict[str, Callable[[Case, float], Taken]] = {
    "report.html": report_file,
    "card.html": card_page_file,
    "card.pdf": card_pdf_file,
}
"""What is solved for, in a process of its own: moves of the page stay quick meanwhile."""


async def made_apart(name: str, case: Case, refinement: float, closing: Callable[[], bool]) -> Taken:
    """Return a file of MADE, made in a process of its own that ends with the server.

    raises StudwellError : the setup has no solution, or the process was lost
    """
    context = multiprocessing.get_context("spawn")  # threads run here: a fork could copy a lock that is held
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_make, args=(theirs, name, case, refinement), daemon=True)
    process.start()
    theirs.close()
    start = time.monotonic()
    try:
        while not ours.poll():
            if closing() or time.monotonic() - start > LONGEST:
                raise StudwellError("stopped before it was finished", "worker-lost")
            if not process.is_alive() and not ours.poll():
                raise StudwellError("the process that made it was lost", "worker-lost")
            await asyncio.sleep(0.1)
        found = await asyncio.to_thread(ours.recv)
    except EOFError:
        raise StudwellError("the process that made it was lost", "worker-lost") from None
    finally:
        ours.close()
        process.terminate()
        await asyncio.to_thread(process.join)
    if isinstance(found, Taken):
        return found
    raise StudwellError(*found)


def _make(answer: Connection, name: str, case: Case, refinement: float) -> None:
    from threadpoolctl import threadpool_limits

    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server hears it and ends this process
    found: Taken | tuple[str, str]
    try:
        with threadpool_limits(limits=1):
            found = MADE[name](case, refinement)
    except StudwellError as problem:
        found = problem.line, problem.slug
    except Exception as problem:
        found = f"an error that should not happen, {type(problem).__name__}: {problem}", "not-converged"
    with contextlib.suppress(OSError):  # the server has ended and nobody reads it
        answer.send(found)


def add_downloads(application: Any, bench: Bench, source: str | None, refinement: float, units: str) -> None:
    """Add /export/case.toml, report.html, card.html and card.pdf; the query is that of the page's address."""
    from starlette.requests import Request
    from starlette.responses import Response

    turn = asyncio.Semaphore(1)

    def answered(taken: Taken) -> Response:
        headers = {"content-disposition": f'attachment; filename="{taken.name}"', "cache-control": "no-store"}
        return Response(taken.content, media_type=taken.media, headers=headers)

    async def export(request: Request) -> Response:
        name = request.path_params["name"]
        text, asked = split_link(request.url.query)
        try:
            if name == "case.toml":
                return answered(case_file(bench.case, source, state_from_link(text, bench.case)))
            if name not in MADE:
                return Response("nothing is served here\n", 404, media_type="text/plain")
            case = alone(bench.case, state_from_link(text, bench.case), asked or units)
            async with turn:
                return answered(await made_apart(name, case, refinement, bench.closing))
        except StudwellError as problem:
            return Response(f"{problem.line}\n", 422, media_type="text/plain")

    application.add_route("/export/{name}", export, methods=["GET"])


def _stem(case: Case) -> str:
    """Return the case file's name without its folder and ending, in letters that every system takes."""
    return slug(case.file.replace("\\", "/").rpartition("/")[2].removesuffix(".toml")) or "case"
