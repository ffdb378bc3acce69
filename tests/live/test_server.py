import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell.case import read_case
from studwell.cli import app
from studwell.errors import NotConverged, StudwellError, Unknown
from studwell.live.engine import Engine
from studwell.live.page_link import MOST_PINS
from studwell.live.page_tab import Bench, Tab
from studwell.live.page_words import control_words, margin_state, reading_words, verdict_sentence
from studwell.live.server import ADDRESS, ended_by, free_socket
from studwell.live.state import start_state
from studwell.units import InBoth, as_text

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

    def read(self, state, moment, *, view, scale=None):
        self.asked.append(state)
        assert self.go.wait(20)
        return self.engine.read(state.with_value("floor_thickness", None), moment, view=view, scale=scale)


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

    def read(state, moment, *, view, scale=None):
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


def test_why_a_state_has_no_solution_is_told_in_the_units_shown(cover, engine):
    broken = Slow(engine)
    broken.go.set()

    def read(state, moment, *, view, scale=None):
        raise Unknown("the stud breaks on tightening, at 34.3 N*m of the 9000 N*m that is asked for: the 800 MPa")

    broken.read = read

    async def play(tabs, sent):
        tabs[0].use_units("inch", 1)
        await until(lambda: any(m["kind"] == "unsolved" for m in sent[0]))

    (said,) = [m["text"] for m in in_tabs(cover, broken, 1, play)[0] if m["kind"] == "unsolved"]
    assert "25.3 lbf*ft of the 6638 lbf*ft" in said and "psi" in said and "MPa" not in said


def test_what_stands_beside_the_verdict_and_the_notes_are_written_from_the_values_in_either_system(cover, engine):
    reading, picture = engine.read(start_state(cover, "bottomed"))
    words = InBoth(
        "The oil shut in under its tip reaches 157 MPa (hot).", "The oil shut in under its tip reaches 22800 psi (hot)."
    )
    reading = replace(reading, beside=(words,))
    assert "reaches 157 MPa (hot)." in verdict_sentence(reading, "metric")
    assert "reaches 22800 psi (hot)." in reading_words(reading, "inch")["sentence"]
    assert (
        reading.notes and all(isinstance(note, InBoth) for note in reading.notes) and isinstance(picture.told, InBoth)
    )
    clamp = next(note for note in reading.notes if "wedge" in note or "kN" in note)
    assert "kN" in clamp and "lbf" in clamp.inch


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


def test_a_function_that_fails_stands_in_the_verdict_whether_damage_is_known_or_not(cover, engine):
    reading, _ = engine.read(start_state(cover, "bottomed"))
    modes = [mode for mode, row in reading.margins.items() if row[1] == "function"]
    known = {mode: (0.5, *row[1:]) for mode, row in reading.margins.items()}
    for safe in (True, None):
        reading = replace(reading, safe=safe, margins={**known, modes[0]: (1.4, "function", "")})
        words = reading_words(reading, "metric")
        assert words["misses"] == f"not as meant: {modes[0]} (1.40)"
        assert f"Does not work as meant: {modes[0]} (1.40)." in words["sentence"]
    reading = replace(reading, margins={**known, modes[0]: (None, "function", "no data")})
    assert reading_words(reading, "metric")["misses"] == ""
    assert verdict_sentence(reading).endswith(f"Not known whether it works as meant: {modes[0]}.")
    damage = next(mode for mode, row in known.items() if row[1] == "damage" and mode != reading.governing)
    reading = replace(reading, margins={**known, damage: (None, "damage", "no data")})
    assert reading_words(reading, "metric")["nearest"] == f"{reading.governing} 0.50; 1 not known"


def test_an_answer_says_where_its_own_state_has_every_control(cover, engine):
    async def play(tabs, sent):
        tabs[0].move({"nut_torque": 6000.0}, 1)
        await until(lambda: answers(sent[0]) and answers(sent[0])[-1]["count"] == 1)
        tabs[0].choose_setup("bottomed", 2)
        await until(lambda: answers(sent[0])[-1]["count"] == 2)

    found = answers(in_tabs(cover, engine, 1, play)[0])
    assert [each["values"]["nut_torque"] for each in found] == [6000.0, 5000.0]
    assert set(found[0]["values"]) == {control.name for control in engine.controls("bottomed")}


def test_a_slider_shows_the_decimals_of_its_step(engine):
    controls = engine.controls("bottomed")
    places = {row["name"]: row["places"] for row in control_words(controls, "metric")}
    assert (places["floor_thickness"], places["nut_torque"], places["back_off"], places["cold"]) == (2, 1, 2, 0)
    assert {row["name"]: row["places"] for row in control_words(controls, "inch")}["cold"] == 1  # 1 K is 1.8 degF


def test_a_margin_at_its_limit_fails_and_one_without_bound_says_so():
    assert margin_state(1.0) == ("fails", "1.00")
    assert margin_state(0.9994) == ("holds", "0.999")
    assert margin_state(float("inf")) == ("fails", "unbounded")
    assert margin_state(None) == ("unknown", "unknown")
    assert margin_state(-1e-9) == ("holds", "0.00")


def test_pins_of_a_link_are_solved_after_the_state_and_stand_in_the_address(cover, engine):
    async def play(tabs, sent):
        tab = tabs[0]
        tab.waiting = [tab.state.with_value("nut_torque", value) for value in (6000.0, 7000.0)]
        tab.start()
        await until(lambda: len(tab.pins) == 2)
        tab.pin()
        tab.unpin(0)

    told = [m for m in in_tabs(cover, engine, 1, play)[0] if m["kind"] == "pins"]
    assert [len(m["pins"]) for m in told] == [1, 2, 3, 2]
    assert all(len(m["links"]) == 2 for m in told[:2])  # what is still to be solved stays in the address
    assert ["7000.0" in link for link in told[-1]["links"]] == [True, False]


def test_colours_that_are_held_stay_whatever_is_moved(cover, engine):
    async def play(tabs, sent):
        tab = tabs[0]
        tab.hold(True, 1)  # nothing is shown yet that could be held
        await until(lambda: answers(sent[0]))
        tab.hold(True, 2)
        tab.move({"nut_torque": 9000.0}, 3)
        await until(lambda: answers(sent[0])[-1]["count"] == 3)
        tab.hold(False, 4)
        await until(lambda: answers(sent[0])[-1]["count"] == 4)

    first, *_, held, own = answers(in_tabs(cover, engine, 1, play)[0])
    assert [each["held"] for each in (first, held, own)] == [False, True, False]
    ends = [(each["picture"]["low"], each["picture"]["high"]) for each in (first, held, own)]
    assert ends[0] == ends[1] != ends[2]


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


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="only POSIX systems have terminals that hang up")
def test_a_closed_terminal_ends_the_server_and_leaves_the_handlers_as_they_were():
    before, heard, stopped = signal.getsignal(signal.SIGHUP), [], threading.Event()
    with ended_by(heard, stopped.set):
        os.kill(os.getpid(), signal.SIGHUP)
        assert stopped.wait(5)
    assert heard == [signal.SIGHUP] and signal.getsignal(signal.SIGHUP) == before


@pytest.mark.skipif(os.name != "posix", reason="elsewhere a process does not learn that its parent is gone")
def test_the_second_process_ends_with_the_first_even_in_the_middle_of_an_order():
    busy = "from studwell.live.condenser import end_with_parent; end_with_parent(); print('up', flush=True); "
    busy += "exec('while True: pass')"
    first = f"import subprocess, sys, time; print(subprocess.Popen([sys.executable, '-c', {busy!r}]).pid, flush=True); "
    process = subprocess.Popen([sys.executable, "-c", first + "time.sleep(60)"], stdout=subprocess.PIPE, text=True)
    number = int(process.stdout.readline())
    assert process.stdout.readline() == "up\n"
    process.kill()
    process.wait(10)
    end = time.monotonic() + 10.0
    try:
        while time.monotonic() < end:
            os.kill(number, 0)
            time.sleep(0.1)
        os.kill(number, signal.SIGKILL)
        raise AssertionError("it goes on without the first process")
    except ProcessLookupError:
        pass
    finally:
        process.stdout.close()


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
