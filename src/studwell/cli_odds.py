"""The command `studwell odds`."""

from __future__ import annotations

import math
import os
import signal
import sys
import threading
import time
from pathlib import Path
from types import FrameType, TracebackType
from typing import Annotated

import typer

from studwell.cli_choose import Scheduler, Workers
from studwell.cli_shared import (
    CAUTION,
    Bars,
    CaseFile,
    Json,
    Out,
    Refinement,
    Units,
    app,
    out_console,
    plainly,
    setup_name,
    writing,
)
from studwell.runs import Pace
from studwell.units import number_text

TELL_EVERY = 5.0
"""Seconds between two lines about one stage where there is no terminal for a bar."""

QUIET = 10.0
"""Seconds without a line after which the stage at work is named where there is no terminal."""

OTHER_UNITS = {"rare failures": "mode", "sections": "", "sections between": ""}
"""What a stage counts, by the end of its name, where that is not samples."""


class Paces(Bars):
    """Progress of stages with their rate and the time left: in the bar, or a line now and then where there is none."""

    def __init__(self) -> None:
        super().__init__("sample")
        self.told: dict[str, float] = {}
        self.stage, self.began, self.spoken = "", 0.0, time.monotonic()
        self.over = threading.Event()

    def __enter__(self) -> Paces:
        super().__enter__()
        if not self.console.is_terminal:
            threading.Thread(target=self._watch, daemon=True).start()
        return self

    def __exit__(self, *rest: object) -> None:
        self.over.set()
        super().__exit__(*rest)

    def _watch(self) -> None:
        """Name the stage at work whenever nothing was said for a while."""
        while not self.over.wait(0.2 * QUIET):
            now = time.monotonic()
            if self.stage and now - self.spoken >= QUIET:
                self._say(f"at work on {self.stage}, {now - self.began:.0f} s so far")

    def _say(self, words: str) -> None:
        self.spoken = time.monotonic()
        self.console.print(words, soft_wrap=True)

    def pace(self, name: str, pace: Pace) -> None:
        """Show how far a stage is; 0 done: it begins."""
        now = time.monotonic()
        if name != self.stage:
            self.stage, self.began = name, now
        self.unit = OTHER_UNITS.get(name.rpartition(", ")[2], "sample")
        self.step(name, pace.done, pace.total)
        if pace.done >= pace.total:
            self.stage, self.began, self.spoken = f"what follows {name}", now, now
            return
        words = name if not pace.done else f"{name}, {number_text(pace.rate, 2)} a second"
        left = ""
        if pace.left:
            left = f", {pace.left:.0f} s left" if pace.left < 100.0 else f", {pace.left / 60.0:.0f} min left"
        self.bars.update(self.tasks[name], description=words + left)
        if not self.console.is_terminal and now - self.told.setdefault(name, now) >= TELL_EVERY and left:
            self.told[name] = now
            self._say(f"{words}{left}: {pace.done} of {pace.total}")


KEPT = "studwell: stopped; what was finished is kept, --resume goes on"


class CtrlC:
    """How a long command answers Ctrl-C: the first stops it and keeps what is finished, a second ends it at once.

    While results are written either lets the draft be taken away, and later ones are not heard. Nothing is changed where
    Ctrl-C is not heard at all, as in a background job, or outside of the main thread.
    """

    def __init__(self) -> None:
        self.heard, self.writing = 0, False
        self.words = "studwell: stopped"

    def __enter__(self) -> CtrlC:
        own = threading.current_thread() is threading.main_thread()
        self.mine = own and signal.getsignal(signal.SIGINT) is signal.default_int_handler
        if self.mine:
            signal.signal(signal.SIGINT, self._answer)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self.mine:  # once it was heard the process ends, and one more would only end it with a traceback
            signal.signal(signal.SIGINT, signal.SIG_IGN if self.heard else signal.default_int_handler)
        if isinstance(error, KeyboardInterrupt):
            typer.echo(self.words, err=True)
            raise typer.Exit(130) from None

    def _answer(self, number: int, frame: FrameType | None) -> None:
        self.heard += 1
        if self.writing:
            signal.signal(signal.SIGINT, signal.SIG_IGN)
        elif self.heard > 1:
            # an exception here would fall into what answers the first; the ledgers lose nothing by a sudden end
            shown = b"\x1b[?25h\n" if sys.stderr.isatty() else b""  # the bars hide the cursor
            os.write(2, shown + self.words.encode() + b"\n")
            os._exit(130)
        raise KeyboardInterrupt


@app.command()
@plainly
def odds(
    case: CaseFile,
    samples: Annotated[int, typer.Option("--samples", metavar="N", min=1, help="Samples of each setup.")],
    seed: Annotated[int, typer.Option("--seed", metavar="K", min=0, help="Of all draws.")] = 1,
    resume: Annotated[bool, typer.Option("--resume", help="Take up samples that were stopped.")] = False,
    workers: Workers = None,
    scheduler: Scheduler = None,
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="This setup alone.")] = None,
    check: Annotated[
        int, typer.Option("--check", metavar="N", min=0, help="Samples solved again with every step; 0: none.")
    ] = 200,
    want: Annotated[
        list[str] | None,
        typer.Option("--want", metavar="MODE=P", help="Look for the smallest change that brings a mode to P."),
    ] = None,
    no_sensitivity: Annotated[bool, typer.Option("--no-sensitivity", help="Do not look for what rules.")] = False,
    out: Out = None,
    json: Json = None,
    refinement: Refinement = 1.0,
    units: Units = None,
) -> None:
    """Sample what [spread] says: the probability of each failure mode, and what rules it."""
    with CtrlC() as ctrl_c:
        from studwell import api
        from studwell.show.both_units import BothUnits, names_of
        from studwell.show.fitted import print_fitted
        from studwell.show.odds import odds_lines, odds_table
        from studwell.show.odds_words import odds_verdict
        from studwell.store.summary import slug
        from studwell.store.writing import check_folder

        wanted = _wanted(want)
        known = api.read_case(case)
        chosen = None if setup is None else setup_name(known, case, setup)
        folder = out or Path("results") / f"{slug(case.stem)}-odds"
        check_folder(folder)
        if json is not None:
            check_folder(json.absolute().parent)
        ctrl_c.words = KEPT
        with Paces() as bars:
            result = api.odds(
                known, samples, seed=seed, resume=resume, workers=workers, scheduler=scheduler, setup=chosen, check=check,
                want=wanted, sensitivity=not no_sensitivity, refinement=refinement, folder=folder / "rows",
                progress=bars.pace,
            )  # fmt: skip
        console = out_console()
        both = BothUnits(names_of(known), units or known.units)
        print_fitted(console, odds_table(result.record), ("setup", "mode"))
        for words in odds_verdict(result.record):
            console.print(both.words(words), soft_wrap=True)
        for line in odds_lines(result.record):
            console.print(f"- {both.words(line)}", soft_wrap=True)
        ctrl_c.writing = True
        with writing(folder), Paces() as bars:
            bars.pace("samples, figures and report", Pace(0, 1, 0.0, None))
            result.write(folder, json_file=json, units=units)
        console.print(f"\nresults in {folder}", soft_wrap=True)
        console.print(CAUTION, soft_wrap=True)
        if result.record.stopped:
            typer.echo(KEPT, err=True)
            raise typer.Exit(130)
        if result.record.failed:
            raise typer.Exit(3)


def _wanted(want: list[str] | None) -> tuple[tuple[str, float], ...]:
    from studwell.odds.limits import MODES

    found = []
    for text in want or []:
        mode, equals, number = text.rpartition("=")
        try:
            share = float(number)
        except ValueError:
            share = math.nan
        if not equals or not 0.0 <= share < 1.0:
            raise typer.BadParameter(
                f"{text!r}: write MODE=P with a probability P from 0 to below 1, such as leak=0.001",
                param_hint="--want",
            )
        if mode not in MODES:
            raise typer.BadParameter(f"{mode!r} is no mode; modes: {'; '.join(MODES)}", param_hint="--want")
        found.append((mode, share))
    return tuple(found)
