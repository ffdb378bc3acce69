import asyncio
import socket
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell.case import read_case
from studwell.cli import app
from studwell.errors import NotConverged, StudwellError
from studwell.live.engine import Engine
from studwell.live.page_link import opened, split_link
from studwell.live.page_tab import MOST_PINS, Bench, Tab
from studwell.live.page_words import margin_words, reading_words, verdict_sentence
from studwell.live.server import ADDRESS, free_socket
from studwell.live.state import link_text, start_state
from studwell.units import as_text

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def cover():
    return read_case(CASES / "m6-cover.toml")


@pytest.fixture(scope="module")
def engine(cover):
    engine = Engine(cover, refinement=0.3)
    engine.prepare(start_state(cover, "bottomed"))
    yield engine
    engine.close()


class Slow:
    """An engine that answers when it is let, counts what it was asked, and condenses nothing."""

    def __init__(self, engine):
        self.engine, self.asked, self.go, self.ready = engine, [], threading.Event(), True
        self.prepared = []
        self.controls = engine.controls

    def is_ready(self, state):
        return self.ready

    def prepare(self, state, progress):
        progress(0.5, "half of it")
        assert self.go.wait(20)
        self.prepared.append(state)
        self.ready = True

    def read(self, state, moment, *, view):
        self.asked.append(state)
        assert self.go.wait(20)
        return self.engine.read(state.with_value("floor_thickness", None), moment, view=view)


def in_tabs(case, engine, count, play):
    """Run `play(tabs, sent)` on an event loop with tabs on one bench; sent[k] is what tab k sent."""
    with ThreadPoolExecutor(2) as solvers, ThreadPoolExecutor(1) as condensers:
        bench = Bench(case, engine, solvers, condensers)
        sent = [[] for _ in range(count)]

        async def run():
            tabs = [Tab(bench, each.append, start_state(case, "bottomed"), "metric") for each in sent]
            await play(tabs, sent)
            others = asyncio.all_tasks() - {asyncio.current_task()}
            for tab in tabs:
                tab.close()
            await asyncio.gather(*others, return_exceptions=True)
            assert asyncio.all_tasks() == {asyncio.current_task()}

        with ThreadPoolExecutor(1) as aside:  # tests of pages leave an event loop in the first thread
            aside.submit(asyncio.run, run()).result()
        return sent


async def until(condition):
    async with asyncio.timeout(20):
        while not condition():
            await asyncio.sleep(0.005)


def answers(sent):
    return [message for message in sent if message["kind"] == "answer"]


def test_of_many_moves_only_the_newest_is_solved_and_answered(cover, engine):
    slow = Slow(engine)

    async def play(tabs, sent):
        tab = tabs[0]
        tab.start()
        await until(lambda: len(slow.asked) == 1)
        for k in range(8):
            tab.move({"nut_torque": 4000.0 + 100.0 * k}, k + 1)
        slow.go.set()
        await until(lambda: answers(sent[0]) and answers(sent[0])[-1]["count"] == 8)

    sent = in_tabs(cover, slow, 1, play)[0]
    assert [state.value("nut_torque") for state in slow.asked] == [None, 4700.0]
    assert "nut_torque=4700" in answers(sent)[-1]["link"]


def test_two_tabs_keep_their_own_states_units_and_pins(cover, engine):
    async def play(tabs, sent):
        for tab in tabs:
            tab.start()
        tabs[0].move({"nut_torque": 6000.0}, 1)
        tabs[1].use_units("inch", 1)
        await until(lambda: all(answers(each) and answers(each)[-1]["count"] == 1 for each in sent))
        tabs[0].pin()

    first, second = in_tabs(cover, engine, 2, play)
    assert "nut_torque" in answers(first)[-1]["link"] and "nut_torque" not in answers(second)[-1]["link"]
    units = [answers(each)[-1]["plots"]["lines"]["clamp"]["unit"] for each in (first, second)]
    assert units == ["kN", "lbf"]
    assert [len(m["pins"]) for m in first if m["kind"] == "pins"] == [1]
    assert [len(m["pins"]) for m in second if m["kind"] == "pins"] == [0]  # told once, when units changed


def test_a_new_section_is_condensed_beside_and_a_state_that_is_ready_is_answered_meanwhile(cover, engine):
    slow = Slow(engine)

    async def play(tabs, sent):
        tab = tabs[0]
        slow.ready = False
        tab.move({"floor_thickness": 4.0}, 1)
        await until(lambda: any(m["kind"] == "progress" and m["share"] == 0.5 for m in sent[0]))
        slow.is_ready = lambda state: slow.ready or state.value("floor_thickness") is None
        tab.move({"floor_thickness": 3.0}, 2)  # as written: ready
        await until(lambda: len(slow.asked) == 1)
        assert not slow.prepared
        slow.go.set()
        await until(lambda: answers(sent[0]))
        tab.move({"floor_thickness": 4.0}, 3)
        await until(lambda: answers(sent[0])[-1]["count"] == 3)

    sent = in_tabs(cover, slow, 1, play)[0]
    assert "floor_thickness" not in answers(sent)[0]["link"]
    assert "floor_thickness=4" in answers(sent)[-1]["link"]


@pytest.mark.parametrize(
    "changes",
    [
        {"nut_torque": 1e9},
        {"nut_torque": float("nan")},
        {"nut_torque": "6000"},
        {"nut_torque": True},
        {"nut_torque": None},
        {"nut_torque": [6000.0]},
        {"hole_end": "bottomless"},
        {"__class__": 1.0},
        {"": 1.0},
    ],
)
def test_a_value_that_is_not_allowed_is_told_and_changes_nothing(cover, engine, changes):
    async def play(tabs, sent):
        tabs[0].move(changes, 1)
        await until(lambda: sent[0])
        assert tabs[0].state == start_state(cover, "bottomed")

    message = in_tabs(cover, engine, 1, play)[0][0]
    assert message["kind"] == "problem" and message["count"] == 1 and message["text"]
    assert message["values"]["nut_torque"] == 5000.0


def test_a_state_without_a_solution_is_told_and_the_tab_goes_on(cover, engine):
    slow = Slow(engine)
    slow.go.set()
    real = slow.read

    def read(state, moment, *, view):
        if state.value("nut_torque") == 9000.0:
            raise NotConverged("tried", "no solution at step 3")
        return real(state, moment, view=view)

    slow.read = read

    async def play(tabs, sent):
        tabs[0].move({"nut_torque": 9000.0}, 1)
        await until(lambda: any(m["kind"] == "unsolved" for m in sent[0]))
        tabs[0].pin()  # nothing that could be pinned
        tabs[0].move({"nut_torque": 6000.0}, 2)
        await until(lambda: answers(sent[0]))

    sent = in_tabs(cover, slow, 1, play)[0]
    assert sent[0]["text"] == "no solution at step 3"
    assert not [m for m in sent if m["kind"] == "pins"]


def test_pins_are_few_and_can_be_taken_away(cover, engine):
    async def play(tabs, sent):
        tabs[0].start()
        await until(lambda: answers(sent[0]))
        for _ in range(MOST_PINS + 2):
            tabs[0].pin()
        assert len(tabs[0].pins) == MOST_PINS
        for place in (7, -1, 0):
            tabs[0].unpin(place)
        assert len(tabs[0].pins) == MOST_PINS - 1

    in_tabs(cover, engine, 1, play)


def test_the_words_are_those_of_the_solution(cover, engine):
    reading, _ = engine.read(start_state(cover, "bottomed"))
    words = reading_words(reading, "inch")
    clamp = next(row for row in words["outcomes"] if row["key"] == "clamp_min")
    assert clamp["text"] == as_text(reading.outcomes["clamp_min"][0], "force", "inch")
    assert [row["mode"] for row in words["margins"]] == list(reading.margins)
    for row in words["margins"]:
        value = reading.margins[row["mode"]][0]
        assert (row["state"] == "unknown") == (value is None)
        if value is None:
            assert row["reason"] and row["share"] is None
    unknown = [mode for mode, row in reading.margins.items() if row[0] is None and row[1] == "damage"]
    assert unknown and all(mode in verdict_sentence(reading) for mode in unknown)


def test_a_margin_at_its_limit_fails_and_one_without_bound_says_so():
    assert margin_words(1.0) == ("fails", "1.00")
    assert margin_words(0.9994) == ("holds", "0.999")
    assert margin_words(float("inf")) == ("fails", "unbounded")
    assert margin_words(None) == ("unknown", "unknown")
    assert margin_words(-1e-9) == ("holds", "0.00")


def test_a_link_opens_the_state_that_it_was_made_of(cover):
    state = start_state(cover, "a quarter turn back").with_value("nut_torque", 6100.0)
    found, units, problem = opened(cover, f"{link_text(state)}&units=inch", "bottomed", "metric")
    assert (found, units, problem) == (state, "inch", "")
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
    state, units, problem = opened(cover, query, "bottomed", "metric")
    assert state == start_state(cover, "bottomed") and units == "metric"
    assert problem.startswith("This link cannot be opened here (") and "\n" not in problem


def test_a_socket_is_of_this_machine_alone_and_the_next_free_one_is_taken():
    with free_socket(0) as taken:
        assert taken.getsockname()[0] == ADDRESS == "127.0.0.1"
        port = taken.getsockname()[1]
        with pytest.raises(StudwellError, match=f"--port {port}") as caught:
            free_socket(port)
        assert caught.value.slug == "port-taken"
    with free_socket(None) as first, free_socket(None) as second:
        assert second.getsockname()[1] > first.getsockname()[1]
        with socket.create_connection(first.getsockname(), timeout=2):
            pass


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([str(CASES / "none.toml")], "no such file"),
        ([str(CASES / "m6-cover.toml"), "--setup", "bottomd"], "did you mean"),
        ([str(CASES / "m6-cover.toml"), "--units", "furlong"], "furlong"),
        ([str(CASES / "m6-cover.toml"), "--port", "70000"], "65535"),
        ([str(CASES / "m6-cover.toml"), "--host", "0.0.0.0"], "--host"),
    ],
)
def test_what_cannot_be_used_is_said_before_any_server_starts(arguments, said, monkeypatch):
    def started(*_, **__):
        raise AssertionError("a socket was opened")

    monkeypatch.setattr("studwell.live.server.free_socket", started)
    result = CliRunner().invoke(app, ["page", *arguments])
    assert result.exit_code == 2
    assert said in result.stderr and "Traceback" not in result.stderr


def test_a_taken_port_ends_with_status_two():
    with free_socket(0) as taken:
        port = str(taken.getsockname()[1])
        result = CliRunner().invoke(app, ["page", str(CASES / "m6-cover.toml"), "--no-open", "--port", port])
    assert result.exit_code == 2 and "another program has it" in result.stderr


def test_without_nicegui_the_message_says_what_to_install(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "nicegui", None)
    result = CliRunner().invoke(app, ["page", str(CASES / "m6-cover.toml"), "--no-open"])
    assert result.exit_code == 2 and "pip install 'studwell[page]'" in result.stderr
