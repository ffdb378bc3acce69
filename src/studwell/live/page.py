"""The page itself: its elements in the browser, joined to one tab of the server for as long as it is open."""

from __future__ import annotations

import itertools
from importlib.resources import files
from typing import Any

from fastapi import Request
from nicegui import Client, ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments

from studwell.card.pdf import can_write_pdf
from studwell.live.page_link import opened
from studwell.live.page_tab import Bench, Tab
from studwell.show import theme
from studwell.show.page_content import CAUTIONS, FIRST_PLACE

CHANNELS = ("answer", "progress", "problem", "controls", "pins")
"""Ways from server to browser; on each only the newest message counts, so that a slow browser never lags behind."""

CHANNEL_OF = {"unsolved": "answer"}

ASSETS = {
    "page.css": "text/css",
    "page_build.js": "text/javascript",
    "page_current.js": "text/javascript",
    "page_dom.js": "text/javascript",
    "page_controls.js": "text/javascript",
    "page_results.js": "text/javascript",
    "plots.js": "text/javascript",
}
"""Files that the page loads beside what nicegui serves."""


class Panel(Element, component="page.js"):
    """Everything that the user sees; page.js builds it from `first` as plain DOM, so that no text is ever markup."""

    def __init__(self, first: dict[str, Any]) -> None:
        super().__init__()
        self._props["first"] = first


class Channel(Element, component="page_channel.js"):
    """A way to the browser that shows nothing itself and hands its newest message on."""

    def __init__(self) -> None:
        super().__init__()
        self._props["message"] = None

    def put(self, message: dict[str, Any]) -> None:
        """Send a message; one that has not been sent yet is dropped for it."""
        self._props["message"] = message
        self.update()


def asset(name: str) -> tuple[str, str]:
    """Return a file of the page and its media type. Raises KeyError for any other name."""
    media = ASSETS[name]
    text = files("studwell.live").joinpath(name).read_text(encoding="utf-8")
    return (page_colours() + text if name == "page.css" else text), media


def page_colours() -> str:
    """Return the CSS variables of both looks: the system's choice, unless the page is told one."""
    light, dark = theme.page_variables(theme.LIGHT), theme.page_variables(theme.DARK)
    return (
        f":root {{ {light} color-scheme: light; }}\n"
        f"@media (prefers-color-scheme: dark) {{ :root:not([data-look=light]) {{ {dark} color-scheme: dark; }} }}\n"
        f":root[data-look=dark] {{ {dark} color-scheme: dark; }}\n"
    )


def add_page(bench: Bench, setup: str, units: str) -> None:
    """Register the page at '/'. setup, units : what it opens with if its address does not say."""

    @ui.page("/", title=bench.case.title, language="en-US")
    def live_page(request: Request, client: Client) -> None:
        asked = opened(bench.case, request.url.query, setup, units)
        ui.add_head_html('<link rel="stylesheet" href="/assets/page.css">')
        channels = {name: Channel() for name in CHANNELS}
        order = itertools.count()

        def send(message: dict[str, Any]) -> None:
            if not client.is_deleted:
                channel = channels[CHANNEL_OF.get(message["kind"], message["kind"])]
                channel.put({**message, "order": next(order)})

        tab = Tab(bench, send, asked.state, asked.units, units, asked.problem, waiting=list(asked.pins))
        first = tab.first_words()
        first.update(
            pdf=can_write_pdf(),
            cautions=CAUTIONS,
            first_place=FIRST_PLACE,
            colours=list(theme.SERIES),
            looks=["as the system", "light", "dark"],
        )
        panel = Panel(first)
        for name in ("move", "setup", "moment", "view", "units", "hold", "pin", "unpin"):
            panel.on(name, lambda event, name=name: heard(tab, name, event))
        client.on_connect(tab.start)
        client.on_delete(tab.close)


def heard(tab: Tab, name: str, event: GenericEventArguments) -> None:
    """Pass an event of the browser on to its tab; one of the wrong shape is left unheard."""
    told = event.args if isinstance(event.args, dict) else {}
    count, value = told.get("count"), told.get("value")
    count = count if isinstance(count, int) and not isinstance(count, bool) and 0 <= count < 2**53 else 0
    if name == "move" and isinstance(value, dict) and len(value) <= 100:
        tab.move(value, count)
    elif name == "setup" and isinstance(value, str):
        tab.choose_setup(value, count)
    elif name == "moment" and isinstance(value, str):
        tab.look_at(count, moment=value)
    elif name == "view" and isinstance(value, str):
        tab.look_at(count, view=value)
    elif name == "units" and isinstance(value, str):
        tab.use_units(value, count)
    elif name == "hold" and isinstance(value, bool):
        tab.hold(value, count)
    elif name == "pin":
        tab.pin()
    elif name == "unpin" and isinstance(value, int):
        tab.unpin(value)
