"""The address of a live page: what a link holds, and what a page opens with."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import unquote

from studwell.case import Case
from studwell.errors import StudwellError
from studwell.live.state import LiveState, start_state, state_from_link

SYSTEMS = ("metric", "inch")

MOST_PINS = 3

LONGEST_PIN = 6000
"""Characters of a pinned state in an address, every letter of its own link written as up to three; longer ones are left out."""


@dataclass(frozen=True)
class Opened:
    """What a page opens with: state, units, states pinned beside it, and what was wrong with the address, '' if nothing."""

    state: LiveState
    units: str
    pins: tuple[LiveState, ...] = ()
    problem: str = ""


def split_link(query: str) -> tuple[str, str]:
    """Return the state's part of a page address's query and the units that it asks for ('' if none, or no known ones)."""
    parts = [part for part in query.split("&") if part]
    units = [part.removeprefix("units=") for part in parts if part.startswith("units=")]
    state = "&".join(part for part in parts if not part.startswith(("units=", "pin=")))
    return state, units[-1] if units and units[-1] in SYSTEMS else ""


def pins_of(case: Case, query: str) -> tuple[tuple[LiveState, ...], str]:
    """Return the pinned states that an address asks for, and what was wrong with those left out, '' if nothing."""
    asked = [part.removeprefix("pin=") for part in query.split("&") if part.startswith("pin=")]
    found: list[LiveState] = []
    problem = "" if len(asked) <= MOST_PINS else f"more than {MOST_PINS} pinned states"
    for text in asked[:MOST_PINS]:
        try:
            if len(text) > LONGEST_PIN:
                problem = f"{len(text)} characters are no pinned state of this page"
                continue
            found.append(state_from_link(unquote(text, errors="strict"), case))
        except StudwellError as refused:
            problem = refused.line
        except UnicodeError:
            problem = "not a link of this page"
    told = f"A pinned state of this link cannot be opened here ({problem}). It is left out." if problem else ""
    return tuple(found), told


def opened(case: Case, query: str, setup: str, units: str) -> Opened:
    """Return what a page opens with.

    query : of the address;  setup, units : what a page opens with if the address does not say
    """
    text, asked = split_link(query)
    units = asked or units
    pins, problem = pins_of(case, query)
    if not text:
        return Opened(start_state(case, setup), units, pins, problem)
    try:
        return Opened(state_from_link(text, case), units, pins, problem)
    except StudwellError as refused:
        told = f"This link cannot be opened here ({refused.line}). The page starts from the case as written."
        return Opened(start_state(case, setup), units, pins, told)
