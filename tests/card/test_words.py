"""Words of the card: the clock's reading, torques in both systems, users' names made harmless."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.card.words import (
    LONGEST_WORD,
    both,
    clock_words,
    degrees_text,
    hand_words,
    hour_hand,
    plain,
    torque_text,
    turns_text,
)
from studwell.units import torque


@pytest.mark.parametrize(
    ("turns", "words"),
    [
        (0.22, "twenty past nine"),
        (0.25, "nine o'clock"),
        (0.125, "half past ten"),
        (0.5, "six o'clock"),
        (1.25, "nine o'clock"),
        (0.02, "a quarter to twelve"),
        (0.97, "twenty past twelve"),
        (0.075, "five past eleven"),
        (1.0, "twelve o'clock"),
    ],
)
def test_the_clock_reads_as_an_hour_hand_turned_back_from_twelve(turns, words):
    assert clock_words(turns) == words


@pytest.mark.parametrize(
    ("turns", "words", "hand"),
    [
        (0.22, "0.22 turn = 79°", "like the hour hand at about twenty past nine"),
        (1.0, "1 whole turn", "at 12 again"),
        (6.0, "6 whole turns", "at 12 again"),
        (1.25, "1.25 turns = 1 whole turn and 90°", "like the hour hand at about nine o'clock after 1 whole turn"),
        (1.9999999, "2 whole turns", "at 12 again"),
    ],
)
def test_whole_turns_are_counted_and_the_rest_is_an_hour_hand(turns, words, hand):
    assert turns_text(turns) == words
    assert hand_words(turns) == f"a mark at 12 ends {hand}"


@given(turns=st.floats(0.0, 50.0))
def test_the_hand_stands_as_far_before_twelve_as_the_stud_is_turned_back(turns):
    hour = hour_hand(turns)
    assert 0.0 <= hour <= 12.0
    left = (hour / 12.0 + turns) % 1.0
    assert min(left, 1.0 - left) < 1e-9


@given(turns=st.floats(0.0, 3.0))
def test_the_words_are_within_two_and_a_half_minutes_of_the_hand(turns):
    minutes = {"five": 5, "ten": 10, "a quarter": 15, "twenty": 20, "twenty-five": 25, "half": 30}
    hours = ["twelve", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven"]
    words = clock_words(turns)
    if words.endswith("o'clock"):
        read = 60 * hours.index(words.split()[0])
    else:
        share, way, hour = words.rpartition(" past ") if " past " in words else words.rpartition(" to ")
        read = 60 * hours.index(hour) + (minutes[share] if way == " past " else -minutes[share])
    off = abs(read - 60.0 * hour_hand(turns)) % 720.0
    assert min(off, 720.0 - off) <= 2.5 + 1e-9


def test_a_small_torque_is_told_in_lbf_in_as_well_and_a_large_one_is_not():
    assert torque_text(torque("12 lbf*ft"), "metric") == "16.3 N m (12 lbf ft = 144 lbf in)"
    assert torque_text(torque("11 lbf*ft"), "inch") == "11 lbf ft = 132 lbf in (14.9 N m)"
    assert torque_text(torque("80 N*m"), "metric") == "80 N m (59 lbf ft)"


@given(value=st.floats(100.0, 1e6))
def test_both_torques_say_the_same(value):
    metric, _, inch = torque_text(value, "metric", 6).removesuffix(")").partition(" (")
    assert torque(metric) == approx(value, rel=1e-4)
    assert torque(inch.partition(" = ")[0]) == approx(value, rel=1e-4)
    if " = " in inch:
        assert torque(inch.partition(" = ")[2]) == approx(value, rel=1e-4)


def test_quantities_stand_in_the_cases_units_first():
    assert both(15.0, "length", "metric") == "15 mm (0.591 in)"
    assert both(15.875, "length", "inch") == "0.625 in (15.9 mm)"
    assert both(-15.0, "temperature", "metric") == "-15 °C (5 °F)"
    assert degrees_text(0.22) == "79°" and degrees_text(0.01) == "3.6°"


@given(text=st.text(max_size=300), most=st.integers(5, 120))
def test_a_users_text_comes_out_on_one_line_without_characters_that_steer_a_page(text, most):
    shown = plain(text, most)
    for letter in shown:
        assert unicodedata.category(letter)[0] != "C" or letter == "\N{ZERO WIDTH SPACE}", ascii(letter)
    assert len(shown.replace("\N{ZERO WIDTH SPACE}", "")) <= most
    for word in shown.replace("\N{ZERO WIDTH SPACE}", " ").split():
        assert len(word) <= LONGEST_WORD


def test_direction_marks_are_taken_out_and_markup_is_left_as_it_is():
    assert plain("a\u202eb\x00c\u2066d") == "abcd"
    assert plain("<b>#eval(1)</b> $x$ *y*") == "<b>#eval(1)</b> $x$ *y*"
