"""The address of a live page: what a link holds, and what a page opens with."""

from __future__ import annotations

from studwell.case import Case
from studwell.errors import StudwellError
from studwell.live.state import LiveState, start_state, state_from_link

SYSTEMS = ("metric", "inch")


def split_link(query: str) -> tuple[str, str]:
    """Return the state's part of a page address's query and the units that it asks for ('' if none, or no known ones)."""
    parts = [part for part in query.split("&") if part]
    units = [part.removeprefix("units=") for part in parts if part.startswith("units=")]
    state = "&".join(part for part in parts if not part.startswith("units="))
    return state, units[-1] if units and units[-1] in SYSTEMS else ""


def opened(case: Case, query: str, setup: str, units: str) -> tuple[LiveState, str, str]:
    """Return the state that an address asks for, its units, and what was wrong with it ('' if nothing).

    query : of the address;  setup, units : what a page opens with if the address does not say
    """
    text, asked = split_link(query)
    units = asked or units
    if not text:
        return start_state(case, setup), units, ""
    try:
        return state_from_link(text, case), units, ""
    except StudwellError as problem:
        told = f"This link cannot be opened here ({problem.line}). The page starts from the case as written."
        return start_state(case, setup), units, told
