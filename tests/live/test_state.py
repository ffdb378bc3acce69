"""States of a live page as links, setups and case files: round trips, and links that mean harm."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studwell.case import case_from_text, read_case, starter_case
from studwell.errors import BadCase
from studwell.live.controls import controls
from studwell.live.state import (
    LiveState,
    case_text_of,
    changed_name,
    link_text,
    overrides_of,
    setup_of,
    start_state,
    state_from_link,
)

FOLDER = Path(__file__).parents[2] / "cases"
FILES = sorted(path.name for path in FOLDER.glob("*.toml"))
TEXTS = {name: (FOLDER / name).read_text() for name in FILES}
READ = {name: read_case(FOLDER / name) for name in FILES}
KNOWN = {(file, s.name): controls(case, s.name) for file, case in READ.items() for s in case.setups}
DEMO = READ["hut-pump.toml"]


@st.composite
def states(draw):
    """A case file's name and a state of one of its setups: some controls anywhere in their range."""
    file, setup = draw(st.sampled_from(sorted(KNOWN)))
    state = start_state(READ[file], setup)
    for control in KNOWN[file, setup]:
        if not control.applies or not draw(st.booleans()):
            continue
        if control.kind == "choice":
            state = state.with_value(control.name, draw(st.sampled_from(control.options)))
        else:
            state = state.with_value(control.name, draw(st.floats(control.low, control.high)))
    return file, state


@settings(max_examples=40, deadline=None)
@given(states())
def test_a_link_brings_back_the_state_that_it_was_made_from(drawn):
    file, state = drawn
    text = link_text(state)
    assert state_from_link(text, READ[file]) == state == state_from_link("?" + text, READ[file])
    assert text.isascii() and " " not in text


@settings(max_examples=40, deadline=None)
@given(states())
def test_the_case_file_of_a_state_is_read_as_the_very_setup_that_is_solved(drawn):
    file, state = drawn
    case = READ[file]
    try:
        setup = setup_of(case, state)
    except BadCase:  # parts that do not go together: then neither does the file
        return
    text = case_text_of(TEXTS[file], case, state)
    assert text.startswith(TEXTS[file])
    again = case_from_text(text, file, FOLDER)
    assert again.setup(setup.name) == setup
    assert again.setups[: len(case.setups)] == case.setups


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("", "missing-key"),
        ("x" * 2001, "bad-value"),
        ("setup=" + "%41" * 900, "bad-value"),
        ("a&b", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=%ff", "bad-value"),
        ("nut_torque=12000", "missing-key"),
        ("setup=nobody", "unknown-name"),
        ("setup=", "unknown-name"),
        ("setup=bottomed%2C%20plain&setup=bottomed%2C%20plain", "duplicate-name"),
        ("setup=bottomed%2C%20plain&nut_torque=12000&nut_torque=13000", "duplicate-name"),
        ("setup=bottomed%2C%20plain&__class__=1", "unknown-key"),
        ("setup=bottomed%2C%20plain&Nut_Torque=12000", "unknown-key"),
        ("setup=bottomed%2C%20plain&%3Cscript%3E=1", "unknown-key"),
        ("setup=bottomed%2C%20plain&nut_torque=nan", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=inf", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=1e999", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=12_000", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=%D9%A1%D9%A2", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=12000%20N", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=", "bad-value"),
        ("setup=bottomed%2C%20plain&nut_torque=1", "out-of-range"),
        ("setup=bottomed%2C%20plain&nut_torque=-12000", "out-of-range"),
        ("setup=bottomed%2C%20plain&nut_torque=1e300", "out-of-range"),
        ("setup=bottomed%2C%20plain&seating=sideways", "bad-value"),
        ("setup=bottomed%2C%20plain&washers=..%2F..%2Fetc%2Fpasswd", "bad-value"),
        ("setup=bottomed%2C%20plain&hole_end=radiused", "bad-value"),
        ("&".join(["setup=bottomed%2C%20plain", *(f"k{i}=1" for i in range(40))]), "bad-value"),
    ],
)
def test_a_link_that_does_not_hold_a_state_is_refused_with_its_reason(text, slug):
    with pytest.raises(BadCase) as refused:
        state_from_link(text, DEMO)
    assert refused.value.slug == slug
    assert len(refused.value.line) < 900 and refused.value.line.isprintable()


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_text_is_a_state_or_refused_as_a_link(text):
    try:
        state = state_from_link(text, DEMO)
    except BadCase:
        return
    assert state.setup in {s.name for s in DEMO.setups}


def test_a_link_may_not_move_what_does_not_apply():
    cycle = READ["hut-pump-cycle.toml"]
    with pytest.raises(BadCase, match="solved"):
        state_from_link("setup=bottomed%2C%20plain&hot_boss=120", cycle)
    with pytest.raises(BadCase, match="solved"):
        setup_of(cycle, start_state(cycle, "bottomed, plain").with_value("hot_boss", 120.0))


def test_states_are_equal_however_they_were_reached():
    state = start_state(DEMO, "bottomed, plain")
    one = state.with_value("nut_torque", 12_000.0).with_value("back_off", 0.3)
    other = state.with_value("back_off", 0.1).with_value("back_off", 0.3).with_value("nut_torque", 12_000)
    assert one == other and hash(one) == hash(other) and one.value("nut_torque") == 12_000.0
    assert one.with_value("back_off", None).with_value("nut_torque", None) == state and state.value("back_off") is None


def test_nothing_moved_is_the_setup_as_written_and_the_file_as_it_was():
    state = start_state(DEMO, "backed off, plain").with_value("back_off", 0.22)
    assert setup_of(DEMO, state) is DEMO.setup("backed off, plain") and overrides_of(DEMO, state) == {}
    assert case_text_of(TEXTS["hut-pump.toml"], DEMO, state) == TEXTS["hut-pump.toml"]
    with pytest.raises(KeyError):
        start_state(DEMO, "nobody")


def test_what_is_moved_says_no_more_than_it_must():
    state = start_state(DEMO, "bottomed, plain")
    assert overrides_of(DEMO, state.with_value("nut_torque", 15_000.0)) == {"tightening": {"torque": "15 N*m"}}
    off = overrides_of(DEMO, state.with_value("seating", "backed off"))
    assert off == {"seating": {"mode": "backed off", "back_off": "0.22 turn", "counted_from": "first contact"}}
    # a stud turned back that is driven instead: its torque is that of the case's other setups
    driven = setup_of(READ["m6-cover.toml"], LiveState("a quarter turn back", (("seating", "bottomed"),)))
    assert (driven.seating.mode, driven.seating.torque, driven.seating.turns) == ("bottomed", 3000.0, 0.0)


def test_a_temperature_moves_its_nodes_together_and_only_its_own_point():
    written = DEMO.setup("bottomed, plain").history
    history = setup_of(DEMO, LiveState("bottomed, plain", (("hot_stud", 150.0),))).history
    for name in written.node_names:
        before, after = written.at(name), history.at(name)
        assert after[0] == before[0] and after[2:] == before[2:]
        assert after[1] == (before[1] - 20.0 if name in ("stud_tip", "stud_top", "nut") else before[1])
    cold = setup_of(DEMO, LiveState("bottomed, plain", (("cold", -40.0),))).history
    assert {cold.at(name)[2] for name in cold.node_names} == {-40.0}


def test_parts_that_do_not_go_together_are_refused_by_name():
    short = replace(DEMO.setup("bottomed, plain").stud, engaged_length=2.6)
    case = replace(DEMO, setups=(replace(DEMO.setup("bottomed, plain"), stud=short),))
    with pytest.raises(BadCase, match="two pitches"):
        setup_of(case, LiveState("bottomed, plain", (("seating", "backed off"), ("back_off", 0.22))))


def test_a_name_that_is_taken_is_not_taken_twice():
    named = replace(DEMO.setups[0], name="bottomed, plain, changed")
    case = replace(DEMO, setups=(*DEMO.setups, named))
    assert changed_name(DEMO, "bottomed, plain") == "bottomed, plain, changed"
    assert changed_name(case, "bottomed, plain") == "bottomed, plain, changed 2"


def test_a_stud_that_is_seated_otherwise_is_named_by_how_it_then_is():
    state = start_state(DEMO, "bottomed, plain").with_value("seating", "backed off")
    assert setup_of(DEMO, state).name == "bottomed, plain, changed: backed off"
    assert '[setup."bottomed, plain, changed: backed off"]' in case_text_of(TEXTS["hut-pump.toml"], DEMO, state)
    taken = replace(DEMO, setups=(*DEMO.setups, setup_of(DEMO, state)))
    assert setup_of(taken, state).name == "bottomed, plain, changed 2: backed off"
    assert setup_of(DEMO, state.with_value("seating", "bottomed")) is DEMO.setup("bottomed, plain")


NOISE = re.compile(r"\d\.\d{11,}")


def test_what_is_taken_away_is_in_the_units_of_the_case_and_free_of_the_noise_of_their_conversion():
    text = starter_case("5/16-18 UNC")
    case = case_from_text(text, "inch.toml")
    state = LiveState("bottomed").with_value("hot_stack", 90.0000000000001).with_value("floor_thickness", 0.19 * 25.4)
    state = state.with_value("nut_torque", 12.5 * 1355.8179483314)
    assert "hot_stack=90.0&" in link_text(state) + "&" and not NOISE.search(link_text(state))
    made = case_text_of(text, case, state)
    added = made[len(text) :]
    assert 'floor_thickness = "0.19 in"' in added and "height" not in added and 'torque = "12.5 lbf*ft"' in added
    assert 'time = "10 min"' in added and 'barrel = "194 degF"' in added and 'boss = "68 degF"' in added
    assert not NOISE.search(added) and not re.search(r' (mm|degC|s|N\*m)"', added)
    assert case_from_text(made, "inch.toml").setups[-1] == setup_of(case, state)


def test_a_case_that_states_its_bosss_height_is_given_the_one_that_agrees_with_a_floor_that_was_moved():
    text = re.sub(r'floor_thickness = "[^"]*"', 'height = "24 mm"', starter_case(), count=1)
    case = case_from_text(text, "high.toml")
    state = LiveState("bottomed").with_value("floor_thickness", case.setups[0].boss.floor_thickness - 1.0)
    made = case_text_of(text, case, state)
    assert 'height = "23 mm"' in made[len(text) :]
    assert case_from_text(made, "high.toml").setups[-1] == setup_of(case, state)


def test_a_value_moved_to_what_is_written_but_for_its_last_digits_is_not_a_change():
    hot = next(each for each in controls(DEMO, "bottomed, plain") if each.name == "hot_stud")
    state = LiveState("bottomed, plain").with_value("hot_stud", hot.start + 3e-13)
    assert setup_of(DEMO, state) is DEMO.setup("bottomed, plain")


def test_a_case_without_setups_gets_its_first_one():
    text = TEXTS["hut-pump.toml"]
    text = text[: text.index("[setup.")]
    case = case_from_text(text, "alone")
    state = start_state(case, case.setups[0].name).with_value("nut_torque", 14_000.0)
    assert case_from_text(case_text_of(text, case, state), "alone").setups == (setup_of(case, state),)
