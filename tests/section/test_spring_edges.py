"""Which part each edge of a group of springs stands on, and how much of its lever is left there."""

from dataclasses import replace
from pathlib import Path

import pytest
from pytest import approx

from studwell.case import read_case
from studwell.case.records import SpringWasher
from studwell.errors import Unknown
from studwell.section.layout import lay_out
from studwell.section.spring_edges import LEAST_LEVER, best_turned, least_lever, spring_edges, unheld

CASES = Path(__file__).parents[2] / "cases"
COARSE = 0.5
NUT = (18.0 - 8.75) / 9.6  # an M8 nut's countersink is 8.75 mm wide, the springs are 18 x 8.4 mm


@pytest.fixture(scope="module")
def sprung():
    """The demo with three conical springs on a plain washer of 20 mm."""
    return read_case(CASES / "hut-pump.toml").setup("backed off, three conical springs")


def stacked(setup, series, orientation="crown up", beneath=20.0, parallel=1):
    plain, spring = setup.washers
    assert isinstance(spring, SpringWasher)
    spring = replace(spring, series=series, orientation=orientation, parallel=parallel)
    return replace(setup, washers=(replace(plain, outer_diameter=beneath), spring))


@pytest.mark.parametrize(
    ("series", "orientation", "lower", "upper"),
    [
        (1, "crown up", "outer", "inner"),
        (1, "crown down", "inner", "outer"),
        (2, "crown up", "outer", "outer"),
        (2, "crown down", "inner", "inner"),
        (3, "crown up", "outer", "inner"),
        (3, "crown down", "inner", "outer"),
    ],
)
def test_packets_turned_about_decide_which_edge_faces_washer_and_nut(sprung, series, orientation, lower, upper):
    (group,) = spring_edges(stacked(sprung, series, orientation))
    assert (group.lower.part, group.lower.edge) == ("washer 1", lower)
    assert (group.upper.part, group.upper.edge) == ("nut", upper)
    assert group.lower.lever == 1.0  # 20 mm is wider than 18, and the bores are alike
    assert group.upper.lever == approx(NUT if upper == "inner" else (11.6 - 8.4) / 9.6)


def test_a_washer_narrower_than_the_spring_bears_on_its_own_rim(sprung):
    (group,) = spring_edges(stacked(sprung, 3, beneath=16.0))
    assert group.lower.held_diameter == 16.0 and group.lower.lever == approx(7.6 / 9.6)
    assert group.lever == group.lower.lever
    assert "18 mm" in group.text and "washer 1 is only 16 mm wide" in group.text and "1.26 times" in group.text


def test_a_single_spring_loses_lever_at_both_ends_and_a_group_in_each_packet_by_itself(sprung):
    assert least_lever(stacked(sprung, 1, beneath=17.0)) == approx((17.0 - 8.75) / 9.6)
    assert least_lever(stacked(sprung, 3, beneath=17.0)) == approx(min((17.0 - 8.4) / 9.6, NUT))
    assert least_lever(replace(sprung, washers=sprung.washers[:1])) == 1.0


def test_nested_springs_are_held_as_one_is(sprung):
    for series in (1, 2, 3):
        assert least_lever(stacked(sprung, series, parallel=2)) == least_lever(stacked(sprung, series))


def test_a_spring_on_the_stack_stands_on_its_last_layer(sprung):
    (group,) = spring_edges(replace(sprung, washers=sprung.washers[1:]))
    assert (group.lower.part, group.lower.part_diameter) == ("head", 22.0)


def test_an_even_number_is_turned_crown_down_and_an_odd_one_is_not(sprung):
    assert best_turned(stacked(sprung, 2)).springs[0].orientation == "crown down"
    assert best_turned(stacked(sprung, 3, "crown down")).springs[0].orientation == "crown up"
    assert least_lever(best_turned(stacked(sprung, 2, beneath=16.0))) == approx(NUT)


def test_a_group_whose_edge_is_not_held_is_unknown_and_says_what_would_hold_it(sprung):
    narrow = stacked(sprung, 3, beneath=16.0)
    assert least_lever(narrow) < LEAST_LEVER
    with pytest.raises(Unknown, match=r"DIN 6796 M8 gives is unknown.*a washer at least 18 mm wide under the spring"):
        lay_out(narrow, COARSE)
    with pytest.raises(Unknown, match=r'the nut is only 11.6 mm wide.*orientation = "crown down"'):
        lay_out(stacked(sprung, 2), COARSE)


def test_a_nuts_countersink_alone_leaves_a_setup_solved(sprung):
    assert LEAST_LEVER < least_lever(sprung) < 0.97 and unheld(sprung) == ""
    assert lay_out(sprung, COARSE).joinings[-1].kind == "spring"
    assert "countersink of 8.75 mm" in spring_edges(sprung)[0].text


def test_a_hard_washer_under_the_nut_holds_every_edge(sprung):
    held = replace(sprung, washers=(*sprung.washers, sprung.washers[0]))
    (group,) = spring_edges(held)
    assert group.upper.part == "washer 2" and group.lever == 1.0 and group.text == ""
