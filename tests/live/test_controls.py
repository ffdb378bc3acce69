"""Controls of a live page: their ranges, choices and reasons, over every case file."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.case import read_case
from studwell.live.controls import AS_WRITTEN, controls, fits, text_of, washer_choices, washers_of, with_end
from studwell.parts.spring import stock_spring_names
from studwell.section.spring_edges import LEAST_LEVER, least_lever

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))


@pytest.fixture(scope="module")
def cases():
    return [read_case(path) for path in CASES]


def test_every_control_of_every_setup_starts_where_the_setup_is_written_and_within_its_own_range(cases):
    for case in cases:
        for setup in case.setups:
            found = controls(case, setup.name)
            assert len({each.name for each in found}) == len(found)
            for each in found:
                assert each.problem(each.start) == "", (case.file, setup.name, each)
                assert each.kind == "choice" or (each.low < each.high and each.step > 0.0)
                assert each.applies or each.note
    demo = next(case for case in cases if case.file == "hut-pump.toml")
    start = {each.name: each.start for each in controls(demo, "backed off, plain")}
    assert start["seating"] == "backed off" and start["back_off"] == 0.22 and start["floor_thickness"] == 6.0
    assert (start["hot_boss"], start["hot_stack"], start["hot_stud"], start["cold"]) == (110.0, 180.0, 170.0, -15.0)


def test_the_turns_end_where_two_pitches_of_thread_are_left(cases):
    demo = next(case for case in cases if case.file == "hut-pump.toml")
    setup = demo.setup("backed off, plain")
    short = replace(setup, stud=replace(setup.stud, engaged_length=3.6))  # 1.1 mm above two pitches of 1.25 mm
    most = {c.name: c for c in controls(replace(demo, setups=(short,)), short.name)}["back_off"].high
    assert most == pytest.approx(0.86)
    for turns, allowed in ((most, True), (0.9, False)):
        assert fits(replace(short, seating=replace(short.seating, turns=turns))) is allowed


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1.0, 40_000.0, "10 N*m", True])
def test_a_slider_refuses_what_is_no_number_or_outside(hut_pump, value):
    torque = {c.name: c for c in controls(hut_pump, "bottomed, plain")}["nut_torque"]
    assert torque.problem(12_000.0) == "" and torque.problem(torque.high) == ""
    assert torque.problem(value)


def test_a_choice_refuses_what_is_not_offered(hut_pump):
    washers = {c.name: c for c in controls(hut_pump, "bottomed, plain")}["washers"]
    assert washers.problem("3 x DIN 6796 M8") == ""
    assert washers.problem("4 x DIN 6796 M8") and washers.problem(3.0)


def test_washers_are_offered_from_stock_only_where_they_go_with_the_stud(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    fitting, left_out = washer_choices(setup)
    assert left_out == 0 and "DIN 6796 M8" in fitting and not any("M10" in name or "12.2" in name for name in fitting)
    short = replace(setup, stud=replace(setup.stud, length=setup.stud.length - 8.0))
    fewer, lost = washer_choices(short)
    assert lost > 0 and set(fewer) < set(fitting) and "3 x DIN 6796 M8" not in fewer
    assert washers_of(setup, AS_WRITTEN) == setup.washers
    spring = washers_of(setup, "2 x DIN 6796 M8, nested")[-1]
    assert (spring.parallel, spring.series, spring.name) == (
        2,
        1,
        "DIN 6796 M8",
    ) and spring.name in stock_spring_names()


def test_springs_that_are_offered_lie_so_that_washer_and_nut_hold_their_edges(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    for choice in washer_choices(setup)[0]:
        assert least_lever(replace(setup, washers=washers_of(setup, choice))) >= LEAST_LEVER, choice
    plain, spring = washers_of(setup, "3 x DIN 6796 M8")
    assert plain.outer_diameter == 24.0 and spring.orientation == "crown up"  # the case's own is 16 mm, the spring 18
    plain, spring = washers_of(setup, "2 x DIN 6796 M8")
    assert plain is setup.washers[0] and spring.orientation == "crown down"
    assert washers_of(hut_pump.setup("backed off, three conical springs"), "3 x DIN 6796 M8")[0].outer_diameter == 20.0


def test_the_hole_may_end_in_a_drill_cone_or_a_radius_with_the_same_floor_under_it(hut_pump):
    boss = hut_pump.setup("bottomed, plain").boss
    cone, radiused = with_end(boss, "cone"), with_end(boss, "radiused")
    assert cone.cone_angle == 118.0 and cone.height == pytest.approx(boss.height + cone.cone_depth)
    assert radiused.cone_angle is None and radiused.corner_radius == pytest.approx(0.25 * boss.drill_diameter, abs=0.01)
    assert with_end(radiused, "flat").corner_radius < 0.1 * radiused.drill_diameter
    assert with_end(boss, "flat") is boss


def test_temperatures_do_not_apply_where_heat_is_solved_or_nothing_is_colder(hut_pump, hut_pump_cycle):
    solved = [c for c in controls(hut_pump_cycle, "bottomed, plain") if c.group == "Heat"]
    assert len(solved) == 4 and not any(c.applies for c in solved) and all("solved" in c.note for c in solved)
    assert not any(c.known for c in solved)  # no "0 degC" where there is no such number
    setup = hut_pump.setup("bottomed, plain")
    warm = tuple(tuple(max(20.0, t) for t in row) for row in setup.history.temperatures)
    case = replace(hut_pump, setups=(replace(setup, history=replace(setup.history, temperatures=warm)),))
    found = {c.name: c for c in controls(case, setup.name)}
    assert not found["cold"].applies and "colder" in found["cold"].note and found["hot_boss"].applies
    assert found["cold"].known and found["hot_boss"].known


def test_an_own_mesh_of_the_boss_takes_the_hole_off_the_page(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    case = replace(hut_pump, setups=(replace(setup, boss=replace(setup.boss, own_mesh=object())),))
    hole = [c for c in controls(case, setup.name) if c.group == "Hole"]
    assert len(hole) == 2 and not any(c.applies for c in hole) and all("own" in c.note for c in hole)


def test_values_are_written_in_the_units_of_the_case():
    assert text_of(16269.815379976808, "N*m", "inch") == "12 lbf*ft"
    assert text_of(10_000.0, "N*m", "metric") == "10 N*m"
    assert text_of(110.0, "degC", "inch") == "230 degF"
    assert text_of(18_000.0, "kN", "metric") == "18 kN"
