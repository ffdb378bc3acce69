"""The card's drawings: to scale, nothing written over anything else, hands and crowns as the setup says."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from math import atan2, degrees

import pytest
from pytest import approx

from studwell.card.build import card_of
from studwell.card.drawing import Area, Drawing, Line, Words, outside, overlapping, svg, text_width
from studwell.card.order import crosswise
from studwell.card.pictures import clock, order, pile, pile_words
from studwell.card.section_drawing import LEAST_GAP, SCALES, dimensions, scale_text, section_drawing
from studwell.card.section_parts import spring_outlines
from studwell.card.write import card_record
from studwell.study.fitted import fitted


def test_no_words_of_a_drawing_lie_on_others_or_beyond_its_edge(cards, key):
    card = cards[key].card
    for drawing in (card.section, *card.pictures):
        assert len(drawing.words) > 0
        assert overlapping(drawing) == [] and outside(drawing) == [], drawing.name


def test_the_check_of_overlaps_sees_one():
    shapes = (Words("hole 15 mm", 10.0, 10.0), Words("thread 13 mm", 15.0, 11.0), Words("apart", 60.0, 40.0))
    drawing = Drawing("trial", "", "", "", 65.0, 50.0, shapes)
    assert overlapping(drawing) == [("hole 15 mm", "thread 13 mm")]
    assert outside(drawing) == ["apart"]


def test_a_letter_that_the_type_lacks_is_given_room():
    assert text_width("日", 10.0) == approx(10.0 * 25.4 / 72) == text_width("日本", 10.0) / 2


def test_widths_are_those_of_the_type():
    # advance widths of DejaVu Sans over 2048 units: digit 1303, m 1995, bold digit 1425
    assert text_width("0", 10.0) == approx(10.0 * 1303 / 2048 * 25.4 / 72, rel=1e-4)
    assert text_width("mm", 10.0) == approx(10.0 * 2 * 1995 / 2048 * 25.4 / 72, rel=1e-4)
    assert text_width("0", 10.0, bold=True) == approx(10.0 * 1425 / 2048 * 25.4 / 72, rel=1e-4)


def test_every_dimension_line_is_as_long_as_its_scale_says(cards, key):
    made = cards[key]
    section, result = made.card.section, made.result
    scale = next(s for s in SCALES if f"scale {scale_text(s)} (" in section.note)
    lengths = [
        abs(shape.points[0][1] - shape.points[1][1])
        for shape in section.shapes
        if isinstance(shape, Line) and len(shape.points) == 2 and shape.points[0][0] == shape.points[1][0]
    ]
    checked = 0
    for each in dimensions(result.built, fitted(result)):
        assert each.high - each.low == approx(each.value, abs=1e-6), each.words
        if scale * each.value > 3.6:
            assert any(length == approx(scale * each.value, abs=0.01) for length in lengths), each.words
            checked += 1
    assert checked >= 4


def test_the_dimensions_are_the_setups_own(cards):
    made = cards["hut-pump", "repaired hole, backed off, three conical springs"]
    found = {each.words: each.value for each in dimensions(made.result.built, fitted(made.result))}
    setup = made.result.setup
    assert found["full hole"] == 17.0 and found["full thread"] == 14.5 and found["floor left"] == 4.0
    assert found["set down"] == 1.0 and found["insert"] == approx(12.0 - 0.75 * 1.25)
    assert found["engaged"] == approx(setup.engaged_thread)
    assert found["gap at the tip"] == approx(0.22 * 1.25)
    assert found["stack"] == approx(60.5) and found["washers, free"] == approx(2.0 + 3 * 2.5)
    assert found["beyond the nut"] == approx(setup.protrusion - setup.nut.height)


def test_the_gap_is_drawn_wider_and_said_to_be_only_where_it_must(cards):
    made = cards["hut-pump", "backed off, plain"]
    assert "drawn wider than its 0.275 mm" in made.card.section.note
    wide = section_drawing(made.result.built, "metric", replace(fitted(made.result), gap=2.0))
    assert LEAST_GAP < 2.0 and "drawn wider" not in wide.note
    bottomed = cards["hut-pump", "bottomed, plain"].card.section
    assert "gap" not in bottomed.note and "gap" not in bottomed.told


@pytest.mark.parametrize("turns", [0.01, 0.22, 0.25, 0.6, 0.99, 1.22, 3.5])
def test_the_hand_of_the_clock_is_turned_back_from_twelve_by_the_back_off(cards, turns):
    setup = cards["hut-pump", "backed off, plain"].result.setup
    drawing = clock(replace(setup, seating=replace(setup.seating, turns=turns)))
    (hand,) = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.weight == 0.9]
    (x, y), (end_x, end_y) = hand.points
    anticlockwise = degrees(atan2(x - end_x, y - end_y)) % 360.0
    assert anticlockwise == approx(360.0 * turns % 360.0, abs=1e-6)
    assert overlapping(drawing) == [] and outside(drawing) == []
    (said,) = [words.text for words in drawing.words if words.text.endswith(("back", "anticlockwise"))]
    whole, rest = divmod(turns, 1.0)
    assert said.startswith(f"{whole:.0f} turn") is (turns > 1.0)
    assert f"{360.0 * rest:.0f}°" in said or turns == 0.01


def test_a_stud_left_on_the_bottom_has_its_hand_at_twelve(cards):
    drawing = clock(cards["hut-pump", "bottomed, plain"].result.setup)
    (hand,) = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.weight == 0.9]
    assert hand.points[0][0] == hand.points[1][0] and hand.points[1][1] < hand.points[0][1]
    assert "not turned back" in [words.text for words in drawing.words]


def crowns(drawing):
    """For the right half of every spring washer from below: True if its inner edge stands higher."""
    found = []
    for shape in drawing.shapes:
        if isinstance(shape, Area) and shape.weight == 0.3 and len(shape.points) == 4:
            (inner_x, inner_y), (outer_x, outer_y) = shape.points[:2]
            if outer_x > inner_x:
                found.append(inner_y < outer_y)
    return found


@pytest.mark.parametrize("first", ["crown up", "crown down"])
def test_crowns_turn_about_from_packet_to_packet_and_nested_ones_alike(cards, first):
    setup = cards["hut-pump", "backed off, three conical springs"].result.setup
    spring = replace(setup.springs[0], orientation=first, parallel=2)
    setup = replace(setup, washers=(setup.washers[0], spring))
    up = first == "crown up"
    assert crowns(pile(setup, "metric")) == [up, up, not up, not up, up, up]
    assert f"lowest crown {'up' if up else 'down'}" in "; ".join(pile_words(setup, "metric"))


def test_a_tall_pile_is_cut_in_the_picture_and_whole_in_words(cards):
    setup = cards["hut-pump", "backed off, three conical springs"].result.setup
    setup = replace(setup, washers=(setup.washers[0], replace(setup.springs[0], series=40)))
    drawing = pile(setup, "metric")
    assert "Not all springs are drawn" in drawing.note and "40 x" in drawing.told
    points = [point for shape in drawing.shapes if isinstance(shape, Area) for point in shape.points]
    assert min(y for _, y in points) > 0.0 and max(y for _, y in points) < drawing.height


@pytest.mark.parametrize("count", [2, 3, 4, 7, 8, 16, 40])
def test_studs_carry_their_turn_at_their_place_on_the_ring(cards, count):
    setup = replace(cards["hut-pump", "bottomed, plain"].result.setup, n_studs=count)
    drawing = order(setup)
    assert overlapping(drawing) == [] and outside(drawing) == []
    numbers = {words.text: words for words in drawing.words if words.text.isdigit()}
    assert len(numbers) == (count if count <= 16 else 0)
    if count == 4:
        assert numbers["1"].y < numbers["3"].y < numbers["2"].y
        assert numbers["3"].x > numbers["1"].x > numbers["4"].x


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 7, 8, 12, 16])
def test_the_order_in_words_is_that_of_the_numbers_in_the_picture_and_of_the_record(cards, count):
    made = cards["hut-pump", "bottomed, plain"]
    card = card_of(made.case, replace(made.result, setup=replace(made.result.setup, n_studs=count)), 0.4)
    line, picture, nuts = card.line("studs"), card.pictures[2], card_record(card)["tightening_order"]
    read = [int(number) for number in re.findall(r"\d+", line.text)]
    assert line.text.endswith("in the picture") and read == sorted(read) and read[0] == 1 and read[-1] == count
    centre = 0.5 * picture.width
    places = {}
    for words in picture.words:
        if words.text.isdigit():
            high = words.y - 14.5 - 0.13 * words.size
            places[int(words.text)] = degrees(atan2(words.x - centre, -high)) % 360.0
    assert sorted(places) == list(range(1, count + 1)) == [nut["number"] for nut in nuts]
    for nut in nuts:
        off = (places[nut["number"]] - nut["clockwise_from_top_deg"] + 180.0) % 360.0 - 180.0
        assert abs(off) < 1e-3
    for number, other in re.findall(r"(\d+)(?: stands)? opposite (\d+)", line.note):
        assert abs(places[int(number)] - places[int(other)]) == approx(180.0)
    assert ("opposite" in line.note) is (count % 2 == 0)
    told = [int(number) for number in re.findall(r"\d+", picture.told)]
    assert told == sorted(places, key=lambda number: round(places[number], 3) % 360.0)


def test_a_ring_too_full_to_be_numbered_counts_places_and_says_so(cards):
    made = cards["hut-pump", "bottomed, plain"]
    card = card_of(made.case, replace(made.result, setup=replace(made.result.setup, n_studs=24)), 0.4)
    line, record = card.line("studs"), card_record(card)
    assert "in the picture" not in line.text and "places counted clockwise from the top one" in line.note
    read = [int(number) - 1 for number in re.findall(r"\d+", line.text)]
    assert read == list(crosswise(24))[: len(read)]
    assert [nut["clockwise_from_top_deg"] for nut in record["tightening_order"]] == [15.0 * p for p in crosswise(24)]
    assert card_record(cards["m10-anchor", "on the cone"].card)["tightening_order"] is None


@pytest.mark.parametrize("orientation", ["crown up", "crown down"])
@pytest.mark.parametrize("series", [2, 3])
def test_the_ends_of_springs_that_touch_are_named(cards, orientation, series):
    setup = cards["hut-pump", "backed off, three conical springs"].result.setup
    spring = replace(setup.springs[0], series=series, orientation=orientation)
    words = pile_words(replace(setup, washers=(spring,)), "metric")[0]
    radius, _ = max(spring_outlines(spring, 0.0)[0], key=lambda point: point[1])  # the highest point of the lowest one
    first = "small ends" if radius < 0.25 * (spring.inner_diameter + spring.outer_diameter) else "rims"
    assert f"{first} touching" in words and ("then" in words) is (series == 3)


@pytest.mark.parametrize("page", [True, False])
def test_drawings_are_sound_svg_with_words_for_those_who_do_not_see_them(cards, page):
    card = cards["hut-pump", "repaired hole, backed off, three conical springs"].card
    ids = []
    for drawing in (card.section, *card.pictures):
        tree = ET.fromstring(svg(drawing, page=page))
        names = {child.tag.rpartition("}")[2]: child.text for child in tree}
        assert names["title"] and len(names["desc"]) > 20
        ids += [child.attrib["id"] for child in tree.iter() if "id" in child.attrib]
    assert len(ids) == len(set(ids))
    assert ("var(--ink" in svg(card.section, page=page)) is page
