"""One open tab: what its user chose, what is pinned beside it; solves the newest choice alone and drops the rest."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from studwell.case import Case
from studwell.errors import BadCase, StudwellError
from studwell.live.controls import Control
from studwell.live.page_link import MOST_PINS, SYSTEMS
from studwell.live.page_words import change_words, control_words, picture_words, reading_words, verdict_word
from studwell.live.picture import VIEWS, Picture, Scale
from studwell.live.reading import Reading
from studwell.live.state import LiveState, link_text, start_state
from studwell.show.both_units import in_system
from studwell.strength.moments import MOMENTS

if TYPE_CHECKING:
    from studwell.live.engine import Engine

Send = Callable[[dict[str, Any]], None]


@dataclass
class Bench:
    """What every tab of a server shares: the case, its engine, and threads to solve in. No state of any user.

    solvers   : threads for what takes milliseconds;  condensers: for what takes seconds
    names     : words of the case in which no quantity is converted
    closing   : asked while a joint is condensed; True stops it
    """

    case: Case
    engine: Engine
    solvers: Executor
    condensers: Executor
    closing: Callable[[], bool] = lambda: False
    names: re.Pattern[str] | None = None


class Stopped(Exception):
    """The server ends while a joint is being condensed."""


@dataclass
class Tab:
    """The state of one tab. Methods are called on the event loop; `send` hands a message to the browser.

    bench : what all tabs share;  state : what is chosen;  units : "metric" or "inch"
    usual_units : those of an address that says nothing of them
    problem : what was wrong with the link that opened the tab, '' if nothing
    held    : ends of the picture's colours, MPa, that stay whatever is moved; None: each picture's own
    waiting : states that the link pins and that are not solved yet
    """

    bench: Bench
    send: Send
    state: LiveState
    units: str
    usual_units: str = "metric"
    problem: str = ""
    moment: str = "worst"
    view: str = VIEWS[0]
    count: int = 0
    held: Scale | None = None
    pins: list[tuple[LiveState, Reading]] = field(default_factory=list)
    waiting: list[LiveState] = field(default_factory=list)
    closed: bool = False
    last: tuple[LiveState, Reading, Picture] | None = None
    _answered: int = -1
    _solving: asyncio.Task[None] | None = None
    _condensing: asyncio.Task[None] | None = None
    _pinning: asyncio.Task[None] | None = None

    def controls(self) -> tuple[Control, ...]:
        """Return the controls of the setup that the tab started from."""
        return self.bench.engine.controls(self.state.setup)

    def first_words(self) -> dict[str, Any]:
        """Return what the page is built from before anything is solved."""
        case = self.bench.case
        return {
            "title": case.title,
            "notes": case.notes,
            "setups": [setup.name for setup in case.setups],
            "usual_units": self.usual_units,
            "problem": self.problem,
            "most_pins": MOST_PINS,
            "pin_links": self._pin_links(),
            "moments": list(MOMENTS),
            "views": list(VIEWS),
            **self._chosen(),
        }

    def start(self) -> None:
        """Solve what the tab opens with, then what its link pins."""
        self._work()
        if self.waiting and self._pinning is None:
            self._pinning = asyncio.get_running_loop().create_task(self._pin_waiting(), name="live page: pins")

    def move(self, changes: Mapping[str, Any], count: int) -> None:
        """Take changes of controls by name; a change that is not allowed is told and the state stays as it was."""
        self._take(lambda: self._changed(changes), count)

    def choose_setup(self, name: str, count: int) -> None:
        """Start again from a setup of the case as written."""
        if name in {setup.name for setup in self.bench.case.setups}:
            self._take(lambda: start_state(self.bench.case, name), count)
            self.send({"kind": "controls", **self._chosen()})

    def look_at(self, count: int, *, moment: str | None = None, view: str | None = None) -> None:
        """Choose the moment or the part of the section that the picture shows."""
        if moment in MOMENTS:
            self.moment = moment
        if view in VIEWS:
            self.view = view
        self._take(lambda: self.state, count)

    def use_units(self, units: str, count: int) -> None:
        """Show everything in other units."""
        if units in SYSTEMS:
            self.units = units
            self.send({"kind": "controls", **self._chosen()})
            self._send_pins()
            self._take(lambda: self.state, count)

    def hold(self, on: bool, count: int) -> None:
        """Keep the ends of the picture's colours as they are now, so that moves compare, or let each picture choose."""
        self.held = (self.last[2].low, self.last[2].high) if on and self.last is not None else None
        self._take(lambda: self.state, count)

    def pin(self) -> None:
        """Keep what is shown beside what follows."""
        if self.last is None or self.last[0] != self.state or len(self.pins) + len(self.waiting) >= MOST_PINS:
            return
        self.pins.append(self.last[:2])
        self._send_pins()

    def unpin(self, place: int) -> None:
        """Take a pinned setup away."""
        if 0 <= place < len(self.pins):
            del self.pins[place]
            self._send_pins()

    def close(self) -> None:
        """Forget everything; what is being solved is dropped when it ends."""
        self.closed = True
        for task in (self._solving, self._condensing, self._pinning):
            if task is not None:
                task.cancel()
        self.pins.clear()
        self.waiting.clear()
        self.last = None
        self.send = _nobody

    def _changed(self, changes: Mapping[str, Any]) -> LiveState:
        state = self.state
        known = {control.name: control for control in self.controls()}
        for name, value in changes.items():
            if name not in known:
                raise BadCase("live page", str(name)[:60], None, ", ".join(known), "unknown-key", "no such control")
            control = known[name]
            value = float(value) if isinstance(value, int) and not isinstance(value, bool) else value
            wrong = control.problem(value) if isinstance(value, str | float) else "not a value of a control"
            if wrong or not control.applies:
                told = value if isinstance(value, float) else str(value)[:60]
                raise BadCase("live page", name, told, control.allowed, "out-of-range", wrong or control.note)
            state = state.with_value(name, None if value == control.start else value)
        return state

    def _take(self, change: Callable[[], LiveState], count: int) -> None:
        if self.closed:
            return
        self.count = max(self.count + 1, int(count))
        try:
            self.state = change()
        except StudwellError as problem:
            self._answered = self.count
            self.send({"kind": "problem", "count": self.count, "text": self._said(problem.line), **self._chosen()})
            return
        self._work()

    def _work(self) -> None:
        if self._solving is None or self._solving.done():
            self._solving = asyncio.get_running_loop().create_task(self._solve(), name="live page: solve")

    async def _solve(self) -> None:
        """Solve the newest state until there is no newer one; one whose joint is missing is condensed beside it."""
        bench, loop = self.bench, asyncio.get_running_loop()
        while not self.closed and self._answered != self.count:
            state, count = self.state, self.count
            try:
                if not bench.engine.is_ready(state):
                    self._answered = count
                    self._condense()
                    return
                found = await loop.run_in_executor(bench.solvers, self._read, state, self.moment, self.view, self.held)
            except StudwellError as problem:
                self._answered, self.last = count, None
                self.send(
                    {"kind": "unsolved", "count": count, "text": self._said(problem.line), "link": link_text(state)}
                )
                continue
            except Exception as problem:  # a fault of ours: said in the page, the server goes on
                self._answered, self.last = count, None
                text = f"an error that should not happen, {type(problem).__name__}: {problem}"
                self.send({"kind": "unsolved", "count": count, "text": text, "link": link_text(state)})
                continue
            self._answered, self.last = count, (state, *found)
            self._send_answer()

    def _read(self, state: LiveState, moment: str, view: str, held: Scale | None) -> tuple[Reading, Picture]:
        return self.bench.engine.read(state, moment, view=view, scale=held)

    async def _pin_waiting(self) -> None:
        """Solve the states that the link pins, one after the other; one without a solution is left out and told."""
        bench, loop = self.bench, asyncio.get_running_loop()

        def stop_at_end(share: float, words: str) -> None:
            if bench.closing():
                raise Stopped

        while self.waiting and not self.closed:
            state = self.waiting[0]
            try:
                if not bench.engine.is_ready(state):
                    await loop.run_in_executor(bench.condensers, bench.engine.prepare, state, stop_at_end)
                reading, _ = await loop.run_in_executor(bench.solvers, self._read, state, "worst", VIEWS[0], None)
            except Stopped:
                return
            except Exception as problem:
                text = problem.line if isinstance(problem, StudwellError) else f"{type(problem).__name__}: {problem}"
                told = f"A pinned state of this link has no solution ({self._said(text)}). It is left out."
                del self.waiting[0]
                self.send({"kind": "problem", "count": self.count, "text": told, "aside": True})
            else:
                del self.waiting[0]
                self.pins.append((state, reading))
            self._send_pins()

    def _send_answer(self) -> None:
        if self.last is None:
            return
        state, reading, picture = self.last
        self.send(
            {
                "kind": "answer",
                "count": self._answered,
                "held": self.held is not None,
                "link": link_text(state),
                "values": self._values(state),
                "changes": change_words(dict(state.values), self.bench.engine.controls(state.setup), self.units),
                "picture": picture_words(picture, self.units, self.bench.names),
                **reading_words(reading, self.units, self.bench.names),
            }
        )

    def _condense(self) -> None:
        self._tell(0.0, "waiting for a free processor")
        if self._condensing is None or self._condensing.done():
            self._condensing = asyncio.get_running_loop().create_task(
                self._condense_newest(), name="live page: condense"
            )

    async def _condense_newest(self) -> None:
        """Condense the joint of the newest state, until that one is there; moves that need none go on beside it."""
        bench, loop = self.bench, asyncio.get_running_loop()

        def told(share: float, words: str) -> None:
            if bench.closing():
                raise Stopped
            loop.call_soon_threadsafe(self._tell, share, words)

        while not self.closed and not bench.engine.is_ready(self.state):
            state = self.state
            try:
                await loop.run_in_executor(bench.condensers, bench.engine.prepare, state, told)
            except Stopped:
                return
            except StudwellError as problem:
                if state == self.state:
                    self.last = None
                    self.send(
                        {
                            "kind": "unsolved",
                            "count": self.count,
                            "text": self._said(problem.line),
                            "link": link_text(state),
                        }
                    )
                    return
            except Exception as problem:  # a fault of ours: said in the page, the server goes on
                text = f"an error that should not happen, {type(problem).__name__}: {problem}"
                self.last = None
                self.send({"kind": "unsolved", "count": self.count, "text": text, "link": link_text(state)})
                return
        if not self.closed:
            self._answered = -1
            self._work()

    def _tell(self, share: float, words: str) -> None:
        if not self.closed and not self.bench.engine.is_ready(self.state):
            told = {"share": round(float(share), 3), "text": words}
            self.send({"kind": "progress", "count": self.count, "link": link_text(self.state), **told})

    def _said(self, text: str) -> str:
        """What went wrong, in the units shown."""
        return in_system(text, self.units, self.bench.names)

    def _chosen(self) -> dict[str, Any]:
        shown = self.controls()
        return {
            "setup": self.state.setup,
            "units": self.units,
            "controls": control_words(shown, self.units),
            "values": self._values(self.state),
            "link": link_text(self.state),
        }

    def _values(self, state: LiveState) -> dict[str, float | str]:
        """Where every control of a state's setup stands."""
        moved, shown = dict(state.values), self.bench.engine.controls(state.setup)
        return {control.name: moved.get(control.name, control.start) for control in shown}

    def _send_pins(self) -> None:
        rows = []
        for state, reading in self.pins:
            words = reading_words(reading, self.units, self.bench.names)
            changed = change_words(dict(state.values), self.bench.engine.controls(state.setup), self.units)
            rows.append({"name": state.setup, "changes": changed, "verdict": verdict_word(reading), **words})
        self.send({"kind": "pins", "pins": rows, "links": self._pin_links()})

    def _pin_links(self) -> list[str]:
        return [link_text(state) for state in (*(state for state, _ in self.pins), *self.waiting)]


def _nobody(message: dict[str, Any]) -> None:
    """Send to a tab that is closed."""
