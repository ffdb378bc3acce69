"""The engine of the live page: its numbers are those of a full solution, its joints made once, its users kept apart."""

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from studwell.case import case_from_text
from studwell.errors import BadCase, BadMesh, Unknown
from studwell.live import condenser
from studwell.live.condenser import Condenser
from studwell.live.engine import Engine, Kept
from studwell.live.state import case_text_of, start_state
from studwell.study.compare import solve_setup

COARSE = 0.35


@pytest.fixture(scope="module")
def engine(hut_pump):
    made = Engine(hut_pump, refinement=COARSE, apart=False)
    yield made
    made.close()


@pytest.fixture
def state(hut_pump):
    return start_state(hut_pump, "bottomed, plain")


def condensed(orders):
    """Names of the bodies that were condensed."""
    return [given[0].name for order, *given in orders if order == "body"]


def same(reading, result):
    """Assert that a reading holds the numbers of a full solution, to the last bit."""
    for name, (value, unit, when, reason) in reading.outcomes.items():
        outcome = result.outcomes[name]
        assert (value, unit, when, reason) == (outcome.value, outcome.unit, outcome.when, outcome.reason), name
    margins = {mode: m for mode, m in result.verdict.margins.items() if m.applies}
    assert list(reading.margins) == list(margins)
    assert all(reading.margins[mode] == (m.value, m.kind, m.reason) for mode, m in margins.items())
    assert (reading.governing, reading.safe) == (result.verdict.governing, result.verdict.safe)
    count = len(reading.minutes)
    assert np.array_equal(reading.clamp, result.timeline.forces.clamp[:count])
    assert np.array_equal(reading.tip_force, result.timeline.forces.tip[:count])
    assert np.array_equal(reading.stud_tension, result.timeline.forces.tension[:count])


MOVES = [
    {},
    {"nut_torque": 19_000.0},
    {"seating_torque": 4_000.0, "hot_boss": 140.0},
    {"seating": "backed off", "back_off": 0.05, "cold": -45.0},
    {"washers": "3 x DIN 6796 M8", "hot_stack": 150.0},
    {"hole_end": "cone", "floor_thickness": 4.25},
]


@pytest.mark.parametrize("moves", MOVES, ids=str)
def test_a_reading_is_what_solving_the_setup_from_the_start_gives(engine, state, moves):
    for name, value in moves.items():
        state = state.with_value(name, value)
    reading, picture = engine.read(state)
    same(reading, solve_setup(engine.setup(state), refinement=COARSE, band=False))
    assert picture.png[:4] == b"\x89PNG" and picture.low < 0.0 < picture.high


def test_moves_one_after_the_other_leave_nothing_of_each_other(engine, state):
    first, _ = engine.read(state.with_value("hot_boss", 150.0).with_value("nut_torque", 9_000.0))
    engine.read(state.with_value("seating", "backed off"))
    again = engine.result_of(state.with_value("hot_boss", 150.0).with_value("nut_torque", 9_000.0))
    fresh = Engine(engine.case, refinement=COARSE, apart=False)
    same(first, fresh.result_of(first.state))
    same(first, again)
    fresh.close()


def test_the_exported_case_solves_to_the_numbers_on_the_page(engine, state, hut_pump):
    from pathlib import Path

    text = (Path(__file__).parents[2] / "cases" / "hut-pump.toml").read_text()
    text = text.replace("steps = 100", "steps = 9")
    state = state.with_value("nut_torque", 14_321.0).with_value("hot_stack", 171.0).with_value("seating", "backed off")
    case = case_from_text(case_text_of(text, hut_pump, state), "exported")
    same(engine.read(state)[0], solve_setup(case.setups[-1], refinement=COARSE, band=False))


def test_only_geometry_needs_a_joint_and_says_so(hut_pump, state):
    engine = Engine(hut_pump, refinement=COARSE, keep=2, apart=False)
    assert not engine.is_ready(state)
    told = []
    engine.prepare(state, lambda share, text: told.append((share, text)))
    shares = [share for share, _ in told]
    assert shares == sorted(shares) and shares[-1] == 1.0 and any("boss" in text for _, text in told)
    for name, value in (("nut_torque", 9_000.0), ("seating", "backed off"), ("back_off", 0.1), ("hot_boss", 90.0)):
        assert engine.is_ready(state.with_value(name, value))
    thin, thinner = (state.with_value("floor_thickness", value) for value in (4.0, 3.0))
    assert not engine.is_ready(thin) and not engine.is_ready(state.with_value("washers", "plain"))
    engine.prepare(thin)
    assert engine.is_ready(thin) and engine.is_ready(state.with_value("floor_thickness", 6.0))  # as written
    engine.prepare(thinner)
    assert engine.is_ready(thinner) and engine.is_ready(thin) and not engine.is_ready(state)  # two are kept
    engine.close()


def test_bodies_that_a_change_leaves_alone_are_condensed_once(hut_pump, state, monkeypatch):
    engine = Engine(hut_pump, refinement=COARSE, apart=False)
    orders = []
    real = engine._condenser.run
    monkeypatch.setattr(engine._condenser, "run", lambda *order: orders.append(order) or real(*order))
    engine.prepare(state)
    assert condensed(orders) == ["boss", "stud", "barrel", "head", "washer 1", "nut"]
    engine.prepare(state.with_value("floor_thickness", 4.0))
    assert condensed(orders)[6:] == ["boss"]
    engine.prepare(state.with_value("washers", "2 x DIN 6796 M8"))  # on the same washer
    last = condensed(orders)[7:]
    assert last and "boss" not in last and "barrel" not in last
    engine.close()


def test_a_joint_that_two_threads_ask_for_is_condensed_once(hut_pump, state, monkeypatch):
    engine = Engine(hut_pump, refinement=COARSE, apart=False)
    orders, gate = [], threading.Barrier(4)
    real = engine._condenser.run
    monkeypatch.setattr(engine._condenser, "run", lambda *order: orders.append(order) or real(*order))

    def ask(torque):
        gate.wait()
        return engine.read(state.with_value("nut_torque", torque))[0]

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(ask, [9_000.0, 11_000.0, 13_000.0, 15_000.0]))
    assert len(condensed(orders)) == 6
    assert [reading.state.value("nut_torque") for reading in found] == [9_000.0, 11_000.0, 13_000.0, 15_000.0]
    engine.close()


def test_users_at_once_read_what_each_would_read_alone(engine, state):
    asked = [state.with_value("nut_torque", 8_000.0 + 700.0 * k) for k in range(6)]
    asked += [state.with_value("seating", "backed off").with_value("hot_boss", 80.0 + 10.0 * k) for k in range(6)]
    with ThreadPoolExecutor(6) as pool:
        together = list(pool.map(lambda one: engine.read(one, "hottest"), asked))
    for one, (reading, picture) in zip(asked, together, strict=True):
        same(reading, solve_setup(engine.setup(one), refinement=COARSE, band=False))
        assert picture == engine.picture(one, "hottest")


def test_a_geometry_without_a_mesh_is_remembered_by_its_error(hut_pump, state, monkeypatch):
    engine = Engine(hut_pump, refinement=COARSE, apart=False)
    tried = []

    def no_mesh(setup, refinement):
        tried.append(setup.boss.floor_thickness)
        raise ValueError("no mesh fits")

    monkeypatch.setattr(condenser, "lay_out", no_mesh)
    for torque in (9_000.0, 10_000.0):
        with pytest.raises(BadMesh, match="no mesh fits"):
            engine.read(state.with_value("nut_torque", torque))
    with pytest.raises(BadMesh):
        engine.prepare(state.with_value("floor_thickness", 4.0))
    assert tried == [6.0, 4.0] and not engine.is_ready(state)
    engine.close()


def test_a_seat_without_a_model_is_refused_only_where_the_stud_is_driven(make_setup, hut_pump):
    override = """
boss = { insert = { length = "1.5 d", set_down = "1 mm" }, thread_depth = "16 mm", hole_depth = "18 mm" }
seating = { mode = "backed off", back_off = "0.25 turn", counted_from = "first contact", seat = "thread run-out in the hole" }
"""
    setup = make_setup(override)
    setup = replace(setup, seating=replace(setup.seating, torque=None))
    case = replace(hut_pump, setups=(setup,))
    engine = Engine(case, refinement=COARSE, apart=False)
    state = start_state(case, setup.name)
    for _ in range(2):
        with pytest.raises(Unknown, match="not modelled"):
            engine.read(state.with_value("seating", "bottomed"))
    assert engine.read(state)[0].clamp.max() > 0.0
    engine.close()


def test_a_stud_that_breaks_is_an_error_of_that_state_alone(hut_pump, state):
    tight = replace(hut_pump.setups[0], tightening=replace(hut_pump.setups[0].tightening, torque=30_000.0))
    engine = Engine(replace(hut_pump, setups=(tight,)), refinement=COARSE, apart=False)
    for _ in range(2):
        with pytest.raises(Unknown, match="breaks"):
            engine.read(state.with_value("nut_torque", 60_000.0))
    with pytest.raises(BadCase, match="out of range"):
        engine.read(state.with_value("nut_torque", 1e6))
    assert engine.read(state)[0].clamp.max() > 0.0
    engine.close()


def test_solved_heat_belongs_to_the_joint_and_to_how_the_stud_is_seated(hut_pump_cycle):
    engine = Engine(hut_pump_cycle, refinement=COARSE, apart=False)
    state = start_state(hut_pump_cycle, "bottomed, plain")
    engine._ready.put(engine._key(state), None)
    assert engine.is_ready(state.with_value("nut_torque", 12_000.0).with_value("seating_torque", 8_000.0))
    assert engine.is_ready(state.with_value("seating", "bottomed"))
    assert not engine.is_ready(state.with_value("seating", "backed off"))
    engine.close()


@pytest.mark.slow
def test_solved_heat_is_taken_over_by_what_leaves_it_alone(hut_pump_cycle):
    engine = Engine(hut_pump_cycle, refinement=COARSE, apart=False)
    state = start_state(hut_pump_cycle, "bottomed, plain")
    engine.prepare(state)
    moved = state.with_value("nut_torque", 12_000.0)
    assert engine.is_ready(moved)
    reading, picture = engine.read(moved, "hottest")
    same(reading, solve_setup(engine.setup(moved), refinement=COARSE, band=False))
    off = state.with_value("seating", "backed off")  # its tip no longer conducts: other heat
    assert not engine.is_ready(off)
    same(engine.read(off)[0], solve_setup(engine.setup(off), refinement=COARSE, band=False))
    assert len(reading.labels) > 2 and picture.moment == "hottest"
    engine.close()


def test_a_liquid_and_its_pressure_are_read_as_solved(make_setup, hut_pump):
    override = """
pocket = { contents = "oil", fill = 1.0, fill_at = "as fitted", seal = "sealed" }
seating = { mode = "backed off", back_off = "0.25 turn", counted_from = "first contact" }
"""
    case = replace(hut_pump, setups=(make_setup(override),))
    engine = Engine(case, refinement=COARSE, apart=False)
    state = start_state(case, case.setups[0].name).with_value("back_off", 0.3)
    reading, _ = engine.read(state)
    same(reading, solve_setup(engine.setup(state), refinement=COARSE, band=False))
    assert reading.outcomes["pocket_pressure_max"][0] > 1.0
    engine.close()


def test_a_picture_has_its_moment_its_view_and_a_scale_that_may_be_held(engine, state):
    plain, hole = engine.picture(state, "coldest"), engine.picture(state, "coldest", view="hole", pixels=(400, 300))
    assert plain.moment == "coldest" and "cold soak" in plain.when and "cold soak" in plain.told
    assert hole.extent[3] < plain.extent[3] and plain.outlines
    held = engine.picture(state.with_value("nut_torque", 9_000.0), "coldest", scale=(-200.0, 400.0))
    assert (held.low, held.high) == (-200.0, 400.0)
    assert held.png != engine.picture(state, "coldest", scale=(-200.0, 400.0)).png
    for wrong in ({"moment": "noon"}, {"view": "top"}, {"pixels": (9999, 9999)}, {"scale": (10.0, 20.0)}):
        with pytest.raises(ValueError, match="allowed"):
            engine.picture(state, **wrong)


def test_lines_over_time_start_before_the_run_and_end_with_it(engine, state):
    reading, _ = engine.read(state)
    assert (np.diff(reading.minutes) > 0.0).all() and reading.minutes[0] < 0.0 and reading.minutes[-1] == 120.0
    labels = dict(reading.labels)
    assert labels["hot"] == 10.0 and labels["seated"] == reading.minutes[0] and labels["assembled"] == 0.0
    assert reading.clamp[0] == 0.0 and reading.tip_force[0] > 1_000.0 and reading.residual < 1e-8
    assert len(reading.tip_gap) == len(reading.minutes) and not np.any(reading.tip_gap < 0.0)


def test_a_store_drops_what_was_used_least_recently():
    kept = Kept(10.0, len)
    for name in ("one", "two", "three"):
        kept.put(name, name)
    assert kept.get("one") is None and kept.get("two") == "two"  # 3 + 3 + 5 is more than 10
    kept.put("four", "four")
    assert "three" not in kept and "two" in kept and len(kept) == 2
    kept.put("long", "x" * 50)
    assert len(kept) == 1 and kept.get("long") == "x" * 50


def test_the_second_process_gives_the_same_numbers_and_may_be_lost(engine, state):
    apart = Condenser()
    spec = engine.result_of(state).built.bodies[4].spec
    here = Condenser(apart=False)
    try:
        if not apart.wait(60.0):
            pytest.skip("one processor: no second process")
        there, stress = apart.run("body", spec)
        response, own = here.run("body", spec)
        assert np.array_equal(there.compliance, response.compliance)
        assert np.array_equal(stress.displacement.data, own.displacement.data)
        with pytest.raises(BadMesh, match="no boundary"):
            apart.run("body", replace(spec, grip="nowhere"))
        assert apart.apart
        apart._process.kill()
        again, _ = apart.run("body", spec)
        assert not apart.apart and np.array_equal(again.compliance, response.compliance)
    finally:
        apart.close()
        here.close()
