import importlib.util
from pathlib import Path

import pytest

from studwell.choose.candidates import UNHELD, Axis, candidates

spec = importlib.util.spec_from_file_location("choose_conftest", Path(__file__).parent / "conftest.py")
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)


def test_a_grid_holds_both_ends_and_steps_between():
    axis = Axis.over((8000.0, 20000.0), "torque", "N*m", 100.0)
    assert axis.count == 120 and axis.value(0) == 8000.0 and axis.value(120) == 20000.0
    assert axis.text(1) == "8.1 N*m"
    assert Axis.over((0.1, 0.1), "turn", "turn", 0.01).count == 0
    assert Axis.over((0.1, 0.103), "turn", "turn", 0.01).count == 1


def test_both_ways_of_seating_are_tried_where_both_are_open():
    case = made.open_case('[bounds]\nseating_torque = ["2 N*m", "4 N*m"]\nback_off = ["0.1 turn", "0.2 turn"]\n')
    found, refused = candidates(case.bounds, "metric")
    assert [candidate.combination.mode for candidate in found] == ["bottomed", "backed off"] and not refused
    driven = found[0].setup((0, found[0].axes[1].count))
    assert driven.seating.mode == "bottomed" and driven.seating.torque == pytest.approx(4000.0)
    turned = found[1].setup((0, 0))
    assert turned.seating.turns == pytest.approx(0.1) and turned.seating.counted_from == "first contact"


def test_parts_that_do_not_go_together_are_told_with_their_reason(case):
    found, refused = candidates(case.bounds, "metric")
    assert len(found) == 2
    assert list(refused) == ["backed off, 9 DIN 6796 M8 (9 in series)"]
    assert "the nut needs" in next(iter(refused.values()))


def test_a_protrusion_sets_the_length_of_the_stud_whatever_stands_under_the_nut():
    case = made.open_case(
        '[bounds]\nprotrusion = ["1 mm", "3 mm"]\n'
        'washer = [{ kind = "plain" }, { kind = "spring", size = "DIN 6796 M8", series = 2 }]\n'
    )
    found, _ = candidates(case.bounds, "metric")
    setups = [candidate.setup((0, 0)) for candidate in found]
    beyond = [setup.protrusion - setup.tip_gap - setup.nut.height for setup in setups]
    assert beyond == pytest.approx([1, 2, 3, 1, 2, 3], abs=0.05)
    assert setups[3].stud.length > setups[0].stud.length + 4.0
    assert "stud 1 mm beyond the nut's hexagon" in found[0].combination.text


@pytest.mark.parametrize(("system", "step"), [("metric", 0.1), ("inch", 0.127)])
def test_the_length_that_follows_is_one_that_can_be_cut_and_pasted(system, step):
    case = made.open_case('[bounds]\nprotrusion = ["1.234 mm", "2.9876 mm"]\n')
    found, _ = candidates(case.bounds, system)
    for candidate in found:
        text = candidate.overrides((0, 0))["stud"]["length"]
        assert len(text.split()[0].partition(".")[2]) <= (1 if system == "metric" else 3), text
        length = candidate.setup((0, 0)).stud.length
        assert length / step == pytest.approx(round(length / step), abs=1e-6)
        assert candidate.beyond_nut(0) == pytest.approx(candidate.combination.protrusion, abs=0.51 * step)


def test_an_even_number_of_springs_lies_crown_down_and_an_odd_one_needs_a_wide_washer():
    springs = '{ kind = "spring", size = "DIN 6796 M8", series = [2, 3] }'
    wide = '{ kind = "spring", size = "DIN 6796 M8", series = 3, on = "M8 wide" }'
    found, refused = candidates(made.open_case(f"[bounds]\nwasher = [{springs}, {wide}]\n").bounds, "metric")
    assert [candidate.setup((0, 0)).springs[0].orientation for candidate in found] == ["crown down", "crown up"]
    assert found[1].setup((0, 0)).washers[0].outer_diameter == 24.0
    assert list(refused) == ["3 DIN 6796 M8 (3 in series)"]
    assert refused["3 DIN 6796 M8 (3 in series)"].startswith(UNHELD) and "washer 1 is only 16 mm" in str(refused)


def test_how_far_a_stud_stands_beyond_its_nut_rises_with_the_turns():
    case = made.open_case('[bounds]\nback_off = ["0.1 turn", "0.5 turn"]\n')
    (candidate,), _ = candidates(case.bounds, "metric")
    count = candidate.axes[1].count
    for place in (0, count // 2, count):
        setup = candidate.setup((0, place))
        assert candidate.beyond_nut(place) == pytest.approx(setup.protrusion - setup.nut.height, abs=1e-9)


def test_an_insert_of_the_list_replaces_that_of_the_case():
    case = made.open_case(
        '[boss.insert]\nlength = "1.5 d"\nset_down = "1 mm"\n[setup.only]\nboss = { hole_depth = "17 mm", thread_depth = '
        '"14.5 mm", floor_thickness = "4 mm" }\nstud = { engaged_length = "13.8 mm" }\n'
        'washer = [{ kind = "plain", size = "M8" }]\n[bounds]\ninsert_length = ["1.25 d", "1.5 d"]\n'
    )
    found, refused = candidates(case.bounds, "metric")
    lengths = [candidate.setup((0, 0)).boss.insert.ends(17.0) for candidate in found]
    assert len(found) == 2, refused
    assert (lengths[1][1] - lengths[1][0]) - (lengths[0][1] - lengths[0][0]) == pytest.approx(2.0)


def test_torques_in_inch_cases_are_multiples_of_a_tenth_of_a_foot_pound():
    case = made.open_case('[bounds]\ntorque = ["8 lbf*ft", "9 lbf*ft"]\n')
    found, _ = candidates(case.bounds, "inch")
    assert found[0].axes[0].count == 10
    assert found[0].axes[0].text(3) == "8.3 lbf*ft"
    assert found[0].setup((3, 0)).tightening.torque == pytest.approx(8.3 * 1355.818, rel=1e-5)
