"""A wire insert in the case: what it is given, what does not fit."""

import pytest

from studwell.case import case_from_text, inputs_sha256, starter_case
from studwell.data import assumption
from studwell.errors import BadCase

HOLE = 'boss = { hole_depth = "17 mm", thread_depth = "14.5 mm", insert = { length = "1.5 d", set_down = "1 mm" } }\n'
STUD = 'stud = { engaged_length = "13 mm" }\n'


def setup_with(override):
    return case_from_text(starter_case() + '\n[setup."own"]\n' + override, "own case").setups[-1]


def refused(override):
    with pytest.raises(BadCase) as caught:
        setup_with(override)
    return caught.value


def test_an_insert_is_three_quarters_of_a_pitch_shorter_in_its_hole_and_of_stock_wire():
    setup = setup_with(HOLE + STUD)
    insert = setup.boss.insert
    assert insert.length - insert.assembled == pytest.approx(assumption("insert_shortening_pitches") * 1.25)
    assert insert.material.name == "stainless insert wire" and insert.hole_friction is None
    assert setup.boss.insert_ends == pytest.approx((16.0 - insert.assembled, 16.0))


def test_only_what_stands_in_the_insert_counts_as_engaged():
    setup = setup_with(HOLE + STUD)
    first = setup.stud.tip_length
    assert first < setup.boss.insert_ends[0]
    assert setup.engaged_thread == pytest.approx(first + 13.0 - setup.boss.insert_ends[0])
    lifted = setup_with(
        HOLE + STUD + 'seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "first contact" }'
    )
    assert lifted.tip_gap == pytest.approx(0.25)
    # the lowest threads stand below the insert: lifting them takes nothing from what it holds
    assert lifted.engaged_thread == pytest.approx(setup.engaged_thread)


def test_wire_and_friction_of_the_hole_may_be_named():
    given = 'length = "1.5 d", set_down = "1 mm", material = "stainless a2-70", hole_friction = 0.2'
    setup = setup_with(HOLE.replace('length = "1.5 d", set_down = "1 mm"', given) + STUD)
    assert setup.boss.insert.material.name == "stainless a2-70" and setup.boss.insert.hole_friction == 0.2


@pytest.mark.parametrize(
    ("override", "key", "words"),
    [
        (HOLE.replace("14.5 mm", "12 mm"), "length", "longer than the thread is deep"),
        (HOLE.replace("1.5 d", "3 mm"), "length", "fewer than two pitches"),
        (HOLE.replace("1 mm", "0.3 mm"), "set_down", "first coil stands in the chamfer"),
        (HOLE + 'stud = { engaged_length = "4 mm" }\n', "engaged_length", "stand in it"),
        (HOLE.replace("hole_depth", 'outer_diameter = "10 mm", hole_depth'), "outer_diameter", "no wall is left"),
    ],
    ids=["longer than its thread", "a coil or two", "in the chamfer", "stud misses it", "no wall"],
)
def test_an_insert_that_does_not_fit_is_refused_by_file_key_value_and_what_is_allowed(override, key, words):
    error = refused(override if "engaged" in override else override + STUD)
    assert words in error.problem
    assert error.key.split(".")[-1] == key or key in error.line
    assert error.allowed and "own case" in error.line


def test_a_wire_that_is_not_in_stock_is_refused_with_the_nearest_name():
    error = refused(HOLE.replace('"1 mm" }', '"1 mm", material = "stainless insert wir" }') + STUD)
    assert error.line.startswith('own case: [setup."own"]') or "boss" in error.line
    assert "did you mean stainless insert wire?" in error.problem


def test_a_layer_may_not_be_called_as_the_insert_is():
    text = starter_case().replace('name = "barrel"', 'name = "insert"')
    assert case_from_text(text, "plain").setups
    with pytest.raises(BadCase, match="cannot be called as the insert is"):
        case_from_text(text + '\n[setup."own"]\n' + HOLE + STUD, "own case")


def test_cases_that_differ_in_the_insert_alone_have_different_fingerprints():
    def sha(text):
        return inputs_sha256(case_from_text(starter_case() + '\n[setup."own"]\n' + text))

    base = sha(HOLE + STUD)
    assert base != sha(HOLE.replace("1 mm", "1.2 mm") + STUD)
    assert base != sha(HOLE.replace('"1 mm" }', '"1 mm", hole_friction = 0.15 }') + STUD)
