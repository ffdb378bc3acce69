"""The repair plan of a setup, and what threadlocker holds cold and hot."""

import re
from dataclasses import replace
from math import radians, tan

import pytest
from pytest import approx

from studwell.case.records import Threadlocker
from studwell.history.torques import lock_torque, torques_of
from studwell.parts.thread import parse_thread
from studwell.parts.threadlocker import bond_torque, stock_threadlocker
from studwell.study.findings import findings
from studwell.study.lock import lock_findings, lock_in_heat
from studwell.study.repair import pitches_text, repair_findings, repair_plan


def plan_of(result):
    return {line.key: line for line in repair_plan(result)}


def test_every_line_of_the_plan_has_its_words_and_every_unknown_its_reason(comparison, workshop):
    for result in (*comparison.results, *workshop.results):
        for line in repair_plan(result):
            assert line.words and line.note and line.unit in ("", "mm")


def test_the_plan_for_an_insert_gives_drill_depths_floor_and_insert(workshop):
    plan = plan_of(workshop["insert"])
    assert (plan["drill_mm"].value, plan["drill_inch"].value) == (8.3, "21/64 in")
    assert "8.334 mm: usable" in plan["drill_inch"].note
    assert (plan["drilled_depth_bottoming_mm"].value, plan["drilled_depth_plug_mm"].value) == (17.0, 23.5)
    assert "2.00 mm short" in plan["drilled_depth_bottoming_mm"].note
    # boss 21 mm high, 17 mm drilled, point 2.494 mm of 118 deg on the drill of 8.3 mm
    assert plan["floor_under_point_mm"].value == approx(21.0 - 17.0 - 2.4936, abs=1e-3)
    assert plan["floor_under_point_least_mm"].value == approx(plan["floor_under_point_mm"].value - 0.5)
    assert plan["floor_bottom_tapped_mm"].value == approx(4.0)
    assert plan["insert_mm"].value == 12.0


def told_mm(words, text):
    """The length, mm, that follows some words in a text."""
    return float(re.search(re.escape(words) + r" ([\d.]+) mm", text)[1])


def with_tap(result, tap, **boss):
    setup = result.setup
    setup = replace(setup, repair=replace(setup.repair, tap=tap), boss=replace(setup.boss, **boss))
    return replace(result, setup=setup, built=replace(result.built, setup=setup))


@pytest.mark.parametrize("name", ["insert", "domed"])
def test_a_tap_that_is_left_out_plans_the_same_hole_as_a_bottoming_one(workshop, name):
    none, bottoming = (with_tap(workshop[name], tap) for tap in (None, "bottoming"))
    for mine, other in zip(repair_plan(none), repair_plan(bottoming), strict=True):
        assert mine == other or mine.key == "tap"
    texts = [repair_findings(replace(workshop, results=(each,)))[0].text for each in (none, bottoming)]
    assert texts[0] == texts[1] and "for a bottoming tap" in texts[0]


@pytest.mark.parametrize("tap", [None, "bottoming", "plug"])
@pytest.mark.parametrize(("hole", "floor"), [(15.0, 6.0), (15.0, 14.0), (19.0, 6.0)])
@pytest.mark.parametrize("name", ["insert", "domed"])
def test_the_floor_of_plan_and_sentence_is_the_one_under_the_depth_that_they_tell(workshop, name, hole, floor, tap):
    result = with_tap(workshop[name], tap, hole_depth=hole, floor_thickness=floor)
    plan = plan_of(result)
    depth = plan["drill_to_mm"].value
    assert depth == max(hole, plan[f"drilled_depth_{tap or 'bottoming'}_mm"].value)
    left = hole + floor - depth - 0.5 * plan["drill_mm"].value / tan(radians(59.0))
    assert plan["floor_under_point_mm"].value == approx(left)
    assert plan["floor_under_point_least_mm"].value == approx(left - 0.5)
    text = repair_findings(replace(workshop, results=(result,)))[0].text
    assert f" {depth:.4g} mm deep" in text and ("too short" in text) == (depth > hole)
    words = "floor under a drill's point is" if left > 0.0 else "comes through by"
    assert told_mm(words, text) == approx(abs(left), rel=6e-3)


def test_pitches_are_counted_in_english():
    assert [pitches_text(count) for count in (1.0, 0.5, 2.51, 0.999)] == [
        "1 pitch",
        "0.5 pitches",
        "2.5 pitches",
        "1 pitch",
    ]


def test_an_inch_drill_is_judged_by_the_largest_bore_of_the_tolerance_class(workshop):
    # letter H is 6.756 mm, the largest minor diameter of M8 6H 6.912 mm; 11/64 in is 4.366 mm, M5 6H 4.334 mm
    assert plan_of(workshop["domed"])["drill_inch"].note == "6.756 mm: usable, the bore may be up to 6.912 mm"
    result = workshop["domed"]
    setup = replace(result.setup, stud=replace(result.setup.stud, thread=parse_thread("M5")))
    assert "4.366 mm: too large" in plan_of(replace(result, setup=setup))["drill_inch"].note


def test_without_repair_what_needs_tolerances_is_unknown_and_the_rest_known(comparison):
    result = comparison["backed off, plain"]
    bare = replace(result, setup=replace(result.setup, repair=None))
    bare = replace(bare, built=replace(bare.built, setup=bare.setup))
    plan = plan_of(bare)
    for key in (
        "floor_least_mm",
        "floor_under_point_least_mm",
        "protruding_pitches_least",
        "nut_thread_spare_least_mm",
    ):
        assert plan[key].value is None and "[repair]" in plan[key].note
    assert plan["engaged_lost_mm"].value == approx(0.275)
    assert plan["protruding_pitches"].value == approx((result.setup.protrusion - 6.8) / 1.25)


def test_room_in_a_dome_shrinks_by_both_tolerances(workshop):
    plan = plan_of(workshop["domed"])
    assert plan["dome_room_mm"].value - plan["dome_room_least_mm"].value == approx(0.7)
    assert "protruding_pitches" not in plan


def test_each_hole_has_one_short_line_among_the_findings(workshop, comparison):
    told = [f.text for f in findings(workshop) if f.kind == "repair"]
    assert len(told) == 2 and any("17 mm deep for a bottoming tap" in text for text in told)
    assert len(repair_findings(comparison)) <= len(comparison.results)


def test_cured_threadlocker_holds_by_its_bond_at_assembly_temperature(workshop):
    result = workshop["insert"]
    strength = stock_threadlocker("medium").shear_strength.at(20.0)
    bond = float(bond_torque(result.setup.stud.thread, result.setup.engaged_thread, strength, 0.8))
    assert torques_of(result.setup, result.built.layout).lock_torque == approx(bond)
    without = replace(result.setup, seating=replace(result.setup.seating, threadlocker=None))
    assert torques_of(without, result.built.layout).lock_torque == 0.0


def test_heat_takes_a_share_of_the_bond(workshop):
    heat = lock_in_heat(workshop["insert"])
    curve = stock_threadlocker("medium").shear_strength
    assert heat.temperature == approx(110.0) and heat.covered
    assert heat.share == approx(float(curve.at(110.0)) / float(curve.at(20.0)))
    assert heat.hottest == approx(lock_torque(workshop["insert"].setup, 110.0))
    text = next(f.text for f in lock_findings(workshop))
    assert "medium-strength" in text and "250 degC (common practice, no source)" in text


def test_a_liquid_bonds_nothing_and_says_so(workshop):
    result = workshop["insert"]
    wet = Threadlocker(stock_threadlocker("high"), False, 0.0)
    setup = replace(result.setup, seating=replace(result.setup.seating, threadlocker=wet))
    assert lock_torque(setup, 20.0) == 0.0
    changed = replace(result, setup=setup)
    assert "not cured" in lock_in_heat(changed)
    assert "not cured" in lock_findings(replace(workshop, results=(changed,)))[0].text


@pytest.mark.parametrize("name", ["domed"])
def test_no_threadlocker_no_finding(workshop, name):
    assert lock_in_heat(workshop[name]) == "no threadlocker in this setup"
    assert not lock_findings(replace(workshop, results=(workshop[name],)))
