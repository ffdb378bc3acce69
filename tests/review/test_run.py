import math
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from studwell.case import read_case
from studwell.case.review import Review as Given
from studwell.errors import BadCase, Unknown
from studwell.parts.material import stock_material
from studwell.review.codes import NEEDED, NO_CURE, SAME, WORTH, Flips, code_of
from studwell.review.measurements import measurements
from studwell.review.mechanisms import WEDGE
from studwell.review.run import review
from studwell.review.sentences import Told, sentences_of
from studwell.review.sweep import POCKETS, with_floor, with_pocket
from studwell.review.thresholds import colder
from studwell.review.trials import BOSS_MODES
from studwell.review.verdict import confidence_of, near_flips
from studwell.review.views import THREAD_YIELDS, View, _yielding, tip_pressure

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
    assert {row.family for row in reviewed.rows} == {"torque", "thread model", "seat", "floor", "pocket", "boss"}


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


def told_of(found, **changes):
    names = (
        "setup",
        "inputs",
        "drive",
        "driven",
        "back",
        "need",
        "apart",
        "stated",
        "teeth",
        "views",
        "other",
        "flips",
        "rows",
    )
    return replace(Told(units="metric", **{name: getattr(found, name) for name in names}), **changes)


def test_another_word_near_by_leaves_no_high_confidence():
    def view(code):
        return View("a view", 0.5, 0.5, "", code)

    assert confidence_of([view(WORTH)] * 4, WORTH, ("'needed' near",))[0] == "moderate"
    flips = Flips("seating torque", "N mm", 10_000.0, (), ((9_000.0, SAME, WORTH), (14_000.0, WORTH, NEEDED)), 100.0)
    assert near_flips((flips,), "metric") == (f"'{SAME}' from a seating torque of 9 N*m, -10 %",)
    assert near_flips((replace(flips, quantity="coldest temperature"),), "metric") == ()


def test_views_that_rest_on_one_mode_are_said_to_depend_on_each_other():
    views = [View(name, 0.9, 0.5, "boss thread strip", WORTH) for name in "abc"]
    assert "boss thread strip governs in 3" in confidence_of(views, WORTH)[1]


def test_the_reason_is_told_of_what_the_largest_margin_is_made_of(reviewed):
    assert reviewed.driven.governing == "boss thread strip"
    reason = reviewed.verdict.sentence("reason")
    shares = reviewed.apart[reviewed.stated].shares["thread load"]
    assert "thread load" in reason.text and reason.numbers["wedge"] == shares.share[WEDGE]
    assert shares.everything == max(one.shares["thread load"].everything for one in reviewed.apart)
    assert reason.numbers["stack"] > reason.numbers["wedge"] > 0.0 > reason.numbers["expansion"]
    assert "with or without the gap" in reason.text


def test_meshed_teeth_see_the_same_mechanisms_at_the_same_instant(reviewed):
    teeth, layer = reviewed.teeth, reviewed.apart[reviewed.stated]
    assert teeth.model == "grooves" and layer.model == "layer" and teeth.when == layer.when
    assert teeth.amplitudes == layer.amplitudes
    both = [one.shares["thread load"].share[WEDGE] for one in (layer, teeth)]
    assert both[0] != both[1] and both[1] == pytest.approx(both[0], rel=0.2)
    assert {"elastic, bonded thread", "elastic, grooves thread"} <= {view.name for view in reviewed.views}
    assert {row.thread_model for row in reviewed.rows if row.family == "thread model"} == {"bonded", "grooves"}


def test_a_thread_that_yields_lets_go_of_what_the_tip_adds(reviewed):
    view = next(each for each in reviewed.views if each.name == THREAD_YIELDS)
    assert reviewed.driven.tension_alone < reviewed.driven.margins["boss thread strip"]
    assert view.driven == max(reviewed.driven.tension_alone, reviewed.driven.margins["floor punch"])
    assert f"{reviewed.driven.tension_alone:.2f}" in reviewed.verdict.sentence("yielding").text


def test_another_seat_carries_less_to_the_floor(reviewed):
    rows = [row for row in reviewed.rows if row.family == "seat" and row.turns == 0.0]
    assert {row.seat for row in rows} == {"thread run-out in the hole", "thread run-out at the mouth"}
    assert all(dict(row.margins)["floor punch"] < reviewed.driven.margins["floor punch"] for row in rows)
    assert "said by the geometry" in reviewed.verdict.sentence("seats").text


def test_sentences_are_in_the_units_of_the_case(reviewed):
    sentences = sentences_of(told_of(reviewed, units="inch"), reviewed.verdict.code)
    text = " ".join(each.text for each in sentences)
    for unit in ("lbf*ft", "psi", " in ", "degF", "lbf"):
        assert unit in text, unit
    assert not re.search(r"\d (mm|N\*m|kN|MPa|degC)\b", text)


def test_a_stud_that_follows_the_nut_is_said_to_be_covered_by_no_back_off(reviewed):
    items = [replace(item, mm=None) if item.name == "stud following the nut" else item for item in reviewed.need.items]
    told = told_of(reviewed, need=replace(reviewed.need, items=tuple(items)))
    enough = next(each for each in sentences_of(told, reviewed.verdict.code) if each.subject == "enough")
    assert "no back-off covers" in enough.text
    assert "as long as the stud does not follow" in reviewed.verdict.sentence("enough").text


def test_a_cone_that_the_tip_sinks_into_is_unknown_with_its_reason_and_not_tried(trials, monkeypatch):
    case = read_case(Path(__file__).parents[2] / "cases" / "m10-anchor.toml")
    setup = trials.plain(case.setups[0])
    drive = trials.drive(setup, 20_000.0)
    driven, back = (trials.live(setup, drive, turns) for turns in (0.0, RULE))
    pressure, width, needed = tip_pressure(driven)
    assert width == pytest.approx(0.2 / math.cos(math.radians(31.0)), rel=1e-3) and needed > 3.0 * width
    assert pressure * width == pytest.approx(needed * 3.0 * setup.boss.material.ultimate_strength.at(12.0))
    count = trials.count
    with pytest.raises(Unknown, match="sinks in"):
        _yielding(trials, setup, drive, driven, back, "metric")
    assert trials.count == count


def test_a_flat_tip_bears_its_drive(reviewed):
    pressure, width, needed = tip_pressure(reviewed.driven)
    assert needed < width and pressure == pytest.approx(reviewed.drive.wedge / (math.pi * width**2), rel=0.01)


@pytest.mark.parametrize(
    ("code", "driven", "back", "limits"),
    [(NEEDED, 1.2, 0.7, "below"), (WORTH, 0.9, 0.7, "above"), (SAME, 0.75, 0.7, "above"), (NO_CURE, 1.3, 1.1, None)],
)
def test_the_refuting_wedge_is_the_one_at_which_the_word_changes(reviewed, code, driven, back, limits):
    pair = [
        replace(trial, margins={**dict.fromkeys(BOSS_MODES, 0.0), "boss thread strip": value})
        for trial, value in ((reviewed.driven, driven), (reviewed.back, back))
    ]
    balance = measurements(code, reviewed.inputs, reviewed.drive, *pair, reviewed.need)[0]
    if limits is None:
        assert balance.refuting is None
        return
    assert balance.refuted_by == limits
    for factor in (0.99, 1.01):
        scaled = back + (driven - back) * factor * balance.refuting / reviewed.drive.wedge
        assert (code_of(scaled, back) == code) == ((factor < 1.0) == (limits == "above"))


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
