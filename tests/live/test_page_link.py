from pathlib import Path
from urllib.parse import quote

import pytest

from studwell.case import read_case
from studwell.live.page_link import MOST_PINS, Opened, opened, split_link
from studwell.live.state import link_text, start_state

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def cover():
    return read_case(CASES / "m6-cover.toml")


def test_a_link_opens_the_state_that_it_was_made_of(cover):
    state = start_state(cover, "a quarter turn back").with_value("nut_torque", 6100.0)
    pin = quote(link_text(state.with_value("nut_torque", 7000.0)), safe="")
    found = opened(cover, f"{link_text(state)}&units=inch&pin={pin}", "bottomed", "metric")
    assert found == Opened(state, "inch", (state.with_value("nut_torque", 7000.0),))
    assert split_link("units=furlong&setup=a") == ("setup=a", "")


@pytest.mark.parametrize(
    "query",
    [
        "setup=nope",
        "setup=bottomed&nut_torque=nan",
        "setup=bottomed&nut_torque=1e12",
        "x" * 5000,
        "%ff",
        "setup=<script>",
    ],
)
def test_a_hostile_link_gives_a_plain_message_and_the_start_state(cover, query):
    found = opened(cover, query, "bottomed", "metric")
    assert found == Opened(start_state(cover, "bottomed"), "metric", (), found.problem)
    assert found.problem.startswith("This link cannot be opened here (") and "\n" not in found.problem
    beside = opened(cover, f"setup=bottomed&pin={quote(query, safe='')}", "bottomed", "metric")
    assert beside.pins == () and beside.problem.startswith("A pinned state of this link cannot be opened here (")


def test_a_link_that_pins_too_much_opens_with_what_there_is_room_for(cover):
    pin = "&pin=" + quote(link_text(start_state(cover, "bottomed")), safe="")
    found = opened(cover, "setup=bottomed" + 50 * pin, "bottomed", "metric")
    assert len(found.pins) == MOST_PINS and "more than 3" in found.problem
    for hostile in ("%ff", "setup%3D" + "x" * 100_000, ""):
        assert opened(cover, f"setup=bottomed&pin={hostile}", "bottomed", "metric").pins == ()
