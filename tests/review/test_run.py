import math
import re
from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path

import pytest

from studwell.case import read_case
from studwell.case.records import Pocket
from studwell.case.review import Review as Given
from studwell.errors import BadCase, NotConverged, Unknown
from studwell.parts.fluid import stock_fluid
from studwell.parts.material import stock_material
from studwell.review.angle import AngleBand
from studwell.review.around import other_setups_sentence, pocket_sentence
from studwell.review.beside import FLOOR_YIELD
from studwell.review.codes import NEEDED, NO_CURE, SAME, SPARES, WORTH, Flips, code_of, word_of
from studwell.review.measurements import measurements
from studwell.review.mechanisms import COLD, MECHANISMS, STACK, STEADY, WEDGE
from studwell.review.reason import reason_sentence
from studwell.review.run import review
from studwell.review.seat_words import seat_sentence
from studwell.review.sentences import sentences_of
from studwell.review.sweep import BEARS, HALVINGS, POCKETS, rows_of_family, turns_of, with_floor, with_pocket, with_seat
from studwell.review.thresholds import colder
from studwell.review.told import Told
from studwell.review.trials import BOSS_MODES
from studwell.review.verdict import confidence_of, near_flips, verdict_of
from studwell.review.views import FLOOR_YIELDS, THREAD_YIELDS, View, _yielding, tip_pressure
from studwell.section.seat import AT_MOUTH, SEATS, first_seat
from studwell.show.review_content import margin_rows, measurement_rows
from studwell.strength.margins import tip_crushing

RULE = 0.22


def word(trials, setup, torque, wet=False):
    drive = trials.drive(setup, torque)
    back = trials.live(with_pocket(setup, POCKETS[0]) if wet else setup, drive, RULE)
    return word_of(trials.live(setup, drive, 0.0), back)


def test_a_thick_floor_takes_the_need_away(trials, bottomed):
    assert word(trials, with_floor(bottomed, 3.0), 10_000.0) == NEEDED
    assert word(trials, with_floor(bottomed, 14.0), 10_000.0) == WORTH


def test_a_light_drive_makes_no_difference(trials, bottomed):
    assert word(trials, bottomed, 4_000.0) == SAME
    assert word(trials, bottomed, 10_000.0) == WORTH


def test_a_full_pocket_takes_the_gain_away(trials, bottomed):
    torque = 9_400.0
    assert word(trials, bottomed, torque) == WORTH
    assert word(trials, bottomed, torque, wet=True) == SPARES


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
    assert subjects[:5] == ["harm", "seat", "reason", "enough", "hold"]
    assert {"cost", "yielding", "pocket", "seats", "flips", "other boss"} <= set(subjects)
    assert "own pocket" not in subjects and "other setups" not in subjects
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
    return replace(Told(**{each.name: getattr(found, each.name) for each in fields(Told)}), **changes)


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


def test_the_reason_is_told_of_what_turning_back_takes_off_the_largest_margin(reviewed):
    assert reviewed.driven.governing == "boss thread strip"
    reason = reviewed.verdict.sentence("reason")
    apart = reviewed.apart[reviewed.stated]
    assert "thread load" in reason.text and reason.numbers["wedge"] == apart.relieved["thread load"].share[WEDGE]
    assert apart.shares["thread load"].everything == max(one.shares["thread load"].everything for one in reviewed.apart)
    relieved = apart.lived["thread load"] - reviewed.back.thread
    assert reason.numbers["relieved"] == pytest.approx(relieved, rel=0.02)
    assert abs(reason.numbers["stack"]) < 0.5 * reason.numbers["driven_stack"]


def apart_of(reviewed, **relieved):
    """The stated mechanisms with other shares of what turning back relieves of the thread load, N."""
    apart = reviewed.apart[reviewed.stated]
    share = {**dict.fromkeys(MECHANISMS, 0.0), **{name: relieved.get(key, 0.0) for key, name in KEYS.items()}}
    total = sum(share.values())
    found = replace(apart.relieved["thread load"], share=share, nothing=0.0, everything=total)
    return (replace(apart, relieved={"thread load": found}),)


KEYS = {"wedge": WEDGE, "steady": STEADY, "cold": COLD, "stack": STACK}


@pytest.mark.parametrize(
    ("relieved", "code"),
    [
        ({"wedge": 3000.0, "cold": -30.0, "stack": 10.0}, "the wedge"),
        ({"wedge": 1000.0, "steady": 2000.0}, "expansion"),
        ({"wedge": 900.0, "steady": 800.0, "stack": 850.0}, "several"),
        ({"stack": 3000.0, "wedge": 10.0}, "the stack"),
        ({"wedge": 1000.0, "steady": -1000.0}, "nothing"),
    ],
)
def test_the_reason_is_named_from_what_turning_back_relieves_not_from_what_is_there_anyway(reviewed, relieved, code):
    told = told_of(reviewed, apart=apart_of(reviewed, **relieved), stated=0, teeth=None)
    assert reason_sentence(told, WORTH).code == code


def test_no_main_reason_is_named_where_turning_back_makes_no_difference(reviewed):
    told = told_of(reviewed, apart=apart_of(reviewed, wedge=3000.0), stated=0)
    assert "main reason" in reason_sentence(told, WORTH).text
    assert "main reason" not in reason_sentence(told, SAME).text


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
    sentences = sentences_of(told_of(reviewed, case=replace(reviewed.case, units="inch")), reviewed.verdict.code)
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
        replace(trial, margins={**dict.fromkeys(BOSS_MODES, 0.0), "boss thread strip": value}, beside={})
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


@pytest.mark.parametrize(("code", "crushed"), [(SPARES, 1.25), (SAME, 0.8)])
def test_the_refuting_wedge_of_a_crushed_tip_is_the_one_that_just_crushes_it(reviewed, code, crushed):
    margins = {**dict.fromkeys(BOSS_MODES, 0.0), "boss thread strip": 0.5}
    driven = replace(reviewed.driven, margins=margins, beside={"tip crushing": crushed})
    back = replace(reviewed.back, margins=margins, beside={"tip crushing": 0.0})
    assert word_of(driven, back) == code
    balance = measurements(code, reviewed.inputs, reviewed.drive, driven, back, reviewed.need)[0]
    assert balance.refuting == pytest.approx(reviewed.drive.wedge / crushed)


def test_what_is_crushed_or_yields_is_named_in_words_and_table_with_how_the_floor_changes(reviewed):
    crush, flow = (reviewed.driven.beside[mode] for mode in ("tip crushing", FLOOR_YIELD))
    assert reviewed.driven.failing == {"tip crushing", FLOOR_YIELD} and not reviewed.back.failing
    seat = reviewed.verdict.sentence("seat")
    assert seat.code == "relieved" and f"tip crushing {crush:.2f} driven, 0.00 turned back" in seat.text
    assert (
        f"{flow:.2f} driven" in seat.text and f"punch {reviewed.driven.margins['floor punch']:.2f} to 0.00" in seat.text
    )
    rows = {row[0]: row[1:] for row in margin_rows(reviewed).rows}
    assert float(rows["breaks nothing: tip crushing"][0]) == pytest.approx(crush, abs=0.005)
    assert not any("wall burst" in name or "insert" in name for name in rows)


def test_tip_crushing_and_yielding_are_those_of_the_comparison(reviewed):
    trial = reviewed.driven
    margin = tip_crushing(trial.built, trial.timeline, trial.history.temperatures)
    assert trial.beside["tip crushing"] == margin.value
    strength = float(trial.built.setup.boss.material.yield_strength.at(20.0))
    assert trial.beside[FLOOR_YIELD] == pytest.approx(trial.corner / strength, rel=0.02)


def test_a_margin_that_fails_in_one_way_alone_is_told_whatever_it_is_of(reviewed):
    back = reviewed.back
    setup = back.built.setup
    starved = replace(
        setup, limits=replace(setup.limits, minimum_clamp=0.5 * (back.clamp_min + reviewed.driven.clamp_min))
    )
    built = [replace(trial.built, setup=starved) for trial in (reviewed.driven, back)]
    told = told_of(reviewed, driven=replace(reviewed.driven, built=built[0]), back=replace(back, built=built[1]))
    assert "leak (damage)" in seat_sentence(told).text
    assert "leak" not in reviewed.verdict.sentence("seat").text


def test_the_angle_is_refuted_on_both_sides_by_the_doubt_of_the_model_itself(reviewed):
    angle = next(each for each in reviewed.measurements if each.name == "angle to torque")
    whole = 360.0 * reviewed.drive.turns
    assert 0.4 * whole < angle.predicted < 0.6 * whole
    assert angle.refuting_low < angle.predicted < angle.refuting < 3.0 * angle.predicted
    assert "not the word" in angle.note and f"{whole:.3g} deg" in angle.note
    row = next(row for row in measurement_rows(reviewed).rows if row[0] == "angle to torque")
    assert row[3].startswith("below ") and " or above " in row[3]


def test_a_doubt_larger_than_the_angle_leaves_no_lower_number():
    band = AngleBand(0.01, (("friction", 0.008, 0.01), ("reading", 0.003, 0.003)))
    assert band.low == 0.0 and band.high == pytest.approx(0.023)


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
    assert found.verdict.confidence == "low" and found.verdict.why.startswith("not judged: stopped")


def wet_case(case, contents="water"):
    pocket = Pocket(contents, 1.0, "first contact", "sealed", None, stock_fluid(contents))
    return replace(case, setups=(replace(case.setups[0], pocket=pocket),))


def stop_at(part):
    def progress(name, done, whole):
        if name == part:
            raise KeyboardInterrupt

    return progress


def test_a_wet_first_setup_is_said_to_be_judged_dry_and_is_solved_wet_as_well(small_case):
    found = review(wet_case(small_case), refinement=0.3, progress=stop_at("smallest back-off"))
    assert "judged dry (this setup has water" in found.verdict.sentence("harm").text
    own, wet = found.verdict.sentence("own pocket"), found.own_pocket
    assert wet.driven > found.driven.worst and own.numbers["driven"] == wet.driven
    burst = [trial.margins["wall burst"] for trial in found.own_pair]
    assert burst[0] > 0.1 and f"wall burst {burst[0]:.2f} driven" in own.text
    assert margin_rows(found).heads[3:] == ("driven hard, water", "turned back, water")
    assert any("wall burst" in row[0] for row in margin_rows(found).rows)
    assert own.code == wet.code == code_of(wet.driven, wet.turned_back) and "water" in own.text


def test_another_word_with_the_own_liquid_leaves_low_confidence(reviewed):
    views = [View(name, 0.9, 0.7, "", WORTH) for name in "abc"]
    liquid = Pocket("water", 1.0, "first contact", "sealed", None, stock_fluid("water"))
    told = told_of(reviewed, views=views, flips=(), rows=(), liquid=liquid)
    same, other = (View("own pocket", 1.2, 0.7, "", code, own=False) for code in (WORTH, NEEDED))
    assert verdict_of(replace(told, own_pocket=same)).code == WORTH
    assert verdict_of(replace(told, own_pocket=same)).confidence == "high"
    judged = verdict_of(replace(told, own_pocket=other))
    assert judged.confidence == "low" and "with the water that this setup has the word is 'needed'" in judged.why
    unsolved = View("own pocket", None, None, "", "unknown", note="no solution", own=False)
    assert verdict_of(replace(told, own_pocket=unsolved)).confidence == "low"


def test_the_flips_and_the_full_pocket_name_the_liquid_of_the_case(reviewed, trials, bottomed):
    liquid = Pocket("water", 1.0, "first contact", "sealed", None, stock_fluid("water"))
    assert with_pocket(bottomed, POCKETS[0], liquid).pocket.fluid == stock_fluid("water")
    assert with_pocket(bottomed, POCKETS[0]).pocket.contents == "oil"
    text = pocket_sentence(told_of(reviewed, liquid=liquid)).text
    assert text.startswith("Water") and pocket_sentence(told_of(reviewed)).text.startswith("Oil")


def test_other_setups_with_a_liquid_are_told(reviewed):
    dry, wet = (
        [replace(row, family="setup", history=name, pocket=pocket) for row in reviewed.rows if row.family == "boss"]
        for name, pocket in (("dry one", "empty"), ("wet one", "water"))
    )
    found = other_setups_sentence(told_of(reviewed, rows=(*dry, *wet)))
    assert "wet one (water): '" in found.text and "dry one" not in found.text
    assert other_setups_sentence(told_of(reviewed, rows=tuple(dry))) is None


def test_the_first_sentence_gives_the_range_over_views_and_says_where_yielding_raises_it(reviewed):
    known = [view.driven for view in reviewed.views if view.own and view.driven is not None]
    harm = reviewed.verdict.sentence("harm")
    assert f"{min(known):.2f} to {max(known):.2f} by view" in harm.text
    yields = View(FLOOR_YIELDS, reviewed.driven.worst + 0.18, 0.2, "floor split", WORTH)
    told = told_of(reviewed, views=(reviewed.views[0], yields))
    text = sentences_of(told, WORTH)[0].text
    assert f"Yielding of the floor raises the driven stud's to {yields.driven:.2f}" in text
    lower = replace(yields, driven=reviewed.driven.worst - 0.2)
    assert "raises" not in sentences_of(replace(told, views=(reviewed.views[0], lower)), WORTH)[0].text


def test_another_seat_with_another_word_counts_against_confidence():
    views = [View(name, 0.9, 0.7, "", WORTH) for name in "abc"]
    judged = confidence_of(views, WORTH, (), ("thread run-out in the hole: makes no difference",))
    assert judged[0] == "moderate" and "another seat gives another word" in judged[1]


def test_the_seat_says_by_how_much_it_wins_where_the_geometry_decides(reviewed, bottomed):
    seat = first_seat(bottomed)
    assert seat.next_name in SEATS and seat.next_name != seat.name and seat.ahead > 0.0
    assert first_seat(with_seat(bottomed, seat.next_name)).ahead is None
    shallower = replace(
        bottomed, boss=replace(bottomed.boss, thread_depth=bottomed.boss.thread_depth - 0.5 * seat.ahead)
    )
    assert first_seat(shallower).ahead == pytest.approx(0.5 * seat.ahead, abs=1e-9)
    assert seat.next_name in reviewed.verdict.sentence("seats").text


def test_the_seat_that_carried_the_drive_is_named_for_the_thread_that_it_no_longer_loads(reviewed):
    assert "the floor no longer loads the thread" in reviewed.verdict.sentence("cost").text
    built = replace(reviewed.driven.built, seat=replace(reviewed.driven.built.seat, name=AT_MOUTH))
    told = told_of(reviewed, driven=replace(reviewed.driven, built=built))
    cost = next(each for each in sentences_of(told, WORTH) if each.subject == "cost")
    assert "thread run-out at the mouth no longer loads" in cost.text and "floor" not in cost.text


def test_no_line_of_the_sweep_crosses_the_end_of_contact(reviewed):
    rows = [row for row in reviewed.rows if row.family == "torque"]
    last = max(row.turns for row in rows if row.tip_run > BEARS)
    free = min(row.turns for row in rows if row.turns > last)
    assert free - last <= reviewed.drive.turns / 3 / 2**HALVINGS + 1e-12


def test_what_heat_needs_is_a_turn_of_the_sweep(drive):
    assert drive.turns + 0.02 / drive.pitch in turns_of(drive, RULE, heat=0.02)


def test_a_history_without_a_solution_says_what_was_tried(trials, bottomed, monkeypatch):
    def fails(setup, drive, turns, steps=24):
        raise NotConverged("seat, at 0 s", "too many iterations")

    monkeypatch.setattr(trials, "live", fails)
    row = rows_of_family(trials, ("torque", "a", bottomed, "empty", ((10_000.0, (1.0,)),)), RULE)[0]
    assert "stud and boss" in row.reason and "1 turn back" in row.reason and "of 12 mm of thread engaged" in row.reason


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (Given(seating_torques=(9e6,)), "twists the stud off"),
        (Given(floors=(1000.0,)), "no floor any more"),
        (Given(chip=5.0), "chips"),
        (Given(feel=3.0), "feel"),
        (Given(rule=9.0), r"\[review\] rule = .*9 turn.*its default"),
        (Given(rule=20.0, rule_most=20.0), "no thread engaged"),
    ],
)
def test_what_no_stud_can_have_is_refused_by_its_own_key(small_case, given, said):
    setup = replace(small_case.setups[0], review=given)
    with pytest.raises(BadCase, match=said):
        review(replace(small_case, setups=(setup,)))
