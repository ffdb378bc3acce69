from dataclasses import replace
from itertools import pairwise

import pytest

from studwell.case.review import Review as Given
from studwell.errors import BadCase
from studwell.parts.material import stock_material
from studwell.review.codes import NEEDED, SAME, WORTH, code_of
from studwell.review.run import review
from studwell.review.sweep import POCKETS, with_floor, with_pocket
from studwell.review.thresholds import colder
from studwell.review.verdict import confidence_of
from studwell.review.views import View

RULE = 0.22


def word(trials, setup, torque, wet=False):
    drive = trials.drive(setup, torque)
    back = trials.live(with_pocket(setup, POCKETS[0]) if wet else setup, drive, RULE)
    return code_of(trials.live(setup, drive, 0.0).worst, back.worst)


def test_a_thick_floor_takes_the_need_away(trials, bottomed):
    assert word(trials, with_floor(bottomed, 3.0), 10_000.0) == NEEDED
    assert word(trials, with_floor(bottomed, 14.0), 10_000.0) == WORTH


def test_a_light_drive_makes_no_difference(trials, bottomed):
    assert word(trials, bottomed, 4_000.0) == SAME
    assert word(trials, bottomed, 10_000.0) == WORTH


def test_a_full_pocket_takes_the_gain_away(trials, bottomed):
    torque = 9_400.0
    assert word(trials, bottomed, torque) == WORTH
    assert word(trials, bottomed, torque, wet=True) == SAME


def test_an_iron_boss_stands_a_floor_that_aluminium_does_not(trials, bottomed):
    thin = with_floor(bottomed, 3.8)
    iron = replace(thin, boss=replace(thin.boss, material=stock_material("en-gjl-250")))
    assert word(trials, thin, 10_000.0) == NEEDED
    assert word(trials, iron, 10_000.0) == WORTH


def test_a_cold_climate_breaks_a_floor_that_a_mild_one_leaves_whole(trials, bottomed):
    floor = with_floor(bottomed, 4.15)
    assert word(trials, floor, 10_000.0) == WORTH
    assert word(trials, colder(floor, -15.0, -70.0), 10_000.0) == NEEDED


def test_every_sentence_holds_numbers_and_the_rule_by_which_it_was_chosen(reviewed):
    subjects = [each.subject for each in reviewed.verdict.sentences]
    assert subjects[:4] == ["harm", "reason", "enough", "hold"]
    assert {"cost", "yielding", "pocket", "flips", "other boss"} <= set(subjects)
    assert all(each.numbers and each.rule and each.text.endswith(".") for each in reviewed.verdict.sentences)
    assert reviewed.verdict.sentence("reason").code == "the wedge"
    harm = reviewed.verdict.sentence("harm")
    assert f"{reviewed.driven.worst:.2f}" in harm.text and f"{reviewed.back.worst:.2f}" in harm.text
    assert harm.code == code_of(reviewed.driven.worst, reviewed.back.worst)


def test_the_sweep_falls_from_the_wedge_to_a_free_tip_and_then_only_costs_thread(reviewed):
    rows = [row for row in reviewed.rows if row.family == "torque"]
    wedges = [row.wedge for row in rows]
    assert wedges == sorted(wedges, reverse=True) and wedges[0] > 8000.0 and wedges[-1] == pytest.approx(0.0, abs=1e-6)
    free = [row for row in rows if row.lift > 0.0]
    assert all(b.engaged < a.engaged for a, b in pairwise(free))
    assert {row.family for row in reviewed.rows} == {"torque", "thread model", "floor", "pocket", "boss"}


def test_confidence_counts_the_views_that_agree():
    def view(code, own=True):
        return View("a view", 0.5, 0.5, "", code, own=own)

    assert confidence_of([view(WORTH)] * 3, WORTH)[0] == "high"
    assert confidence_of([view(WORTH)] * 3 + [view("unknown")], WORTH)[0] == "moderate"
    assert confidence_of([view(WORTH), view(WORTH), view(SAME)], WORTH)[0] == "moderate"
    assert confidence_of([view(WORTH), view(SAME), view(SAME)], WORTH)[0] == "low"
    assert confidence_of([view(WORTH)] * 3 + [view(SAME, own=False)], WORTH)[0] == "high"
    assert confidence_of([view("unknown")], "unknown")[0] == "unknown"


def test_measurements_have_a_number_that_would_refute_the_verdict(reviewed):
    found = {each.name: each for each in reviewed.measurements}
    balance = found["torque balance"]
    assert balance.predicted == reviewed.drive.wedge and 0.0 < balance.refuting < balance.predicted
    assert found["drive to fracture"].predicted > found["drive to fracture"].refuting == reviewed.drive.torque
    assert found["hot elongation"].predicted <= found["hot elongation"].refuting


def test_a_case_without_a_seating_torque_is_refused(small_case):
    setup = small_case.setups[0]
    loose = replace(setup, seating=replace(setup.seating, torque=None, mode="backed off", turns=0.2))
    with pytest.raises(BadCase, match=r"\[seating\] torque"):
        review(replace(small_case, setups=(loose,)))


def test_a_rule_outside_its_own_range_is_refused(small_case):
    setup = replace(small_case.setups[0], review=Given(rule=0.3))
    with pytest.raises(BadCase, match="rule_most"):
        review(replace(small_case, setups=(setup,)))


def test_what_was_solved_before_a_stop_is_kept(small_case):
    def stop(part, done, whole):
        if part == "mechanisms":
            raise KeyboardInterrupt

    found = review(small_case, refinement=0.3, progress=stop)
    assert found.stopped and found.need is not None and len(found.apart) == 1 and not found.rows
    assert found.verdict.sentence("enough") is not None and found.verdict.sentence("flips") is None
