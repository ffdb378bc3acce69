"""Numbers with a unit within words, converted at the page; names of the user's left alone; both spellings in the markup."""

from __future__ import annotations

import copy
import pickle
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from studwell.show.both_units import BothUnits, in_system, in_units, names_of
from studwell.show.heat_content import Rows
from studwell.units import INCH_MARK, as_text, in_both, in_unit, joined, read

TO_INCH = {
    "a wedge force of 3.79 kN on the floor": "a wedge force of 852 lbf on the floor",
    "of the load 4828 N is force-controlled": "of the load 1085 lbf is force-controlled",
    "driven with 10 N*m and left": "driven with 7.38 lbf*ft and left",
    "30 N m of torque": "22.1 lbf*ft of torque",
    "z 1.20 to 3.40 mm": "z 0.0472 to 0.134_in",
    "between -20 and 110 degC": "between -4 and 230 degF",
    "at -20.0 degC": "at -4.0 degF",
    "8 MPa on the 167 mm2 of fibre sheet": "1160 psi on the 0.259 in^2 of fibre sheet",
    "17.3 MPa*m^0.5, or 9 MPa m^0.5": "15.7 ksi*in^0.5, or 8.19 ksi*in^0.5",
    "+3.2 MPa of the +5 MPa": "+464 psi of the +725 psi",
    "10 mm x 20 mm x 8 mm (thickness)": "0.394_in x 0.787_in x 0.315_in (thickness)",
    "+-0.1 mm": "+-0.00394_in",
    "stretched 25.4 um for good": "stretched 0.001_in for good",
    "5 kN/mm": "28600 lbf/in",
    "12.5 um/(m*K)": "6.94 uin/(in*degF)",
    "seating torque 5e+03 to 2e+04 N mm": "seating torque 3.69 to 14.8 lbf*ft",
}
"""Factors: 1 lbf = 4.4482216152605 N, 1 in = 25.4 mm, degF = 1.8 degC + 32, all exact by definition.

"_in" stands for an inch with its mark."""

SAME_IN_BOTH = (
    "M8x1.25 in 5 pitches",
    "2 in parallel x 3 in series",
    "+-5 K, +-5 degC",
    "a turn of 0.22 turn, 79.2 deg",
    "40 W/(m^2*K)",
    "margin 0.58 at 3 of 7",
    "[material] mm",
    "-300 degC",
    "class 8.8 MPax",
    "3e-17 /s",
)


@pytest.mark.parametrize(("metric", "inch"), TO_INCH.items())
def test_metric_words_are_converted_to_inch_and_stay_in_metric(metric, inch):
    assert in_system(metric, "inch") == inch.replace("_in", f"{INCH_MARK}in")
    assert in_system(metric, "metric") == metric


@pytest.mark.parametrize("text", SAME_IN_BOTH)
def test_what_is_no_quantity_or_alike_in_both_stays(text):
    assert in_system(text, "inch") == in_system(text, "metric") == text


@pytest.mark.parametrize(
    ("inch", "metric"),
    [
        ("2700 lbf; 35000 psi; 230 degF; 8.85 lbf*ft", "12.01 kN; 241.32 MPa; 110 degC; 12 N*m"),
        ("2 to 3_in of it, 1/2 in a million", "50.8 to 76.2 mm of it, 1/2 in a million"),
        ("0.0109_in gap, 5_in; 2 in parallel, 1 in 1000", "0.277 mm gap, 127 mm; 2 in parallel, 1 in 1000"),
        (
            "from 0.72 to 0.63 in bottomed, insert; 0.5 in, 3 in.",
            "from 0.72 to 0.63 in bottomed, insert; 0.5 in, 3 in.",
        ),
        ("0.25 in^2 and 0.1 in^3", "161 mm^2 and 1640 mm^3"),
    ],
)
def test_inch_words_are_converted_to_metric_but_not_the_preposition(inch, metric):
    assert in_system(inch.replace("_in", f"{INCH_MARK}in"), "metric") == metric


NUMBERS = st.one_of(st.integers(0, 99999).map(str), st.floats(0.0, 1e4).map(lambda value: f"{value:.3g}"))
WORDS = st.text("abcdefghijklmnopqrstuvwxyz ,;.:()'-", max_size=30)


@given(WORDS, NUMBERS, NUMBERS, WORDS)
def test_a_number_before_the_preposition_is_never_a_length(before, low, number, after):
    for text in (f"{number} in {after}", f"{before} {number} in {after}", f"from {low} to {number} in {after}"):
        for system in ("metric", "inch"):
            assert in_system(text, system) == text


@given(st.floats(1e-3, 1e4), WORDS)
def test_an_inch_that_was_written_for_a_length_is_one_whatever_follows(value, after):
    text = as_text(value, "length", "inch")
    shown = in_system(f"a gap of {text} {after}", "metric")
    assert shown.startswith("a gap of ") and f" mm {after}"[:4] in shown and "in" not in shown[: shown.index(" mm")]


def test_a_text_that_was_written_in_both_systems_is_not_converted():
    said = in_both(lambda system: f"it grew {as_text(0.00335512, 'length', system)}")
    assert said == "it grew 0.003355 mm"
    assert in_system(said, "metric") == "it grew 0.003355 mm"
    assert in_system(said, "inch") == f"it grew 0.0001321{INCH_MARK}in"
    assert BothUnits().pair(said, said) == BothUnits().text(said)
    assert in_system(joined("; ", (said, "8 mm")), "inch") == f"it grew 0.0001321{INCH_MARK}in; 0.315{INCH_MARK}in"
    assert pickle.loads(pickle.dumps(said)).inch == said.inch and copy.deepcopy(said).inch == said.inch


@pytest.mark.parametrize(
    ("text", "said"),
    [("hot (30.0 min)", "hot (30 min)"), ("frosty night (180.0 min)", "frosty night (3 h)"), ("100 min", "1 h 40 min"),
     ("1 h 40 min", "1 h 40 min"), ("2 minutes", "2 minutes"), ("59.9 min", "59.9 min")],
)  # fmt: skip
def test_times_are_minutes_below_an_hour_and_hours_from_there(text, said):
    assert in_system(text, "metric") == in_system(text, "inch") == said


@given(st.sampled_from(["force", "length", "torque", "pressure"]), st.floats(1e-3, 1e6))
def test_a_converted_number_is_that_of_the_value_to_its_three_digits(kind, value):
    text = in_system(f"it is {as_text(value, kind)}.", "inch")
    shown = read(text.removeprefix("it is ").removesuffix("."), kind)
    assert shown == pytest.approx(value, rel=6e-3)


def test_names_of_the_user_are_never_converted():
    both = BothUnits(("driven, 12 N*m", "8 mm plate"))
    said = str(both.text("driven, 12 N*m: 12 N*m on the 8 mm plate of 8 mm"))
    assert (
        '<span class="inch">driven, 12 N*m: 8.85 lbf*ft on the 8 mm plate of 0.315\N{NO-BREAK SPACE}in</span>' in said
    )


def test_names_come_from_the_whole_case(comparison):
    names = names_of(comparison.case)
    assert comparison.case.title in names and "hot" in names and "base gasket" in names
    assert {result.name for result in comparison.results} <= set(names)


def test_both_spellings_are_in_the_markup_and_nothing_else_is():
    said = BothUnits().text("<b> & 1 kN")
    assert said == Markup(
        '<span class="metric">&lt;b&gt; &amp; 1 kN</span><span class="inch">&lt;b&gt; &amp; 225 lbf</span>'
    )
    assert BothUnits().text("<b>") == Markup("&lt;b&gt;")


def test_records_made_in_either_system_are_paired_text_by_text():
    def made(units):
        return Rows(f"Loads, {units}", ("What",), (("tip", as_text(1234.5, "force", units)), ("same", "0.5")))

    rows = BothUnits().made(made)
    assert rows.rows[0][1] == Markup('<span class="metric">1.234 kN</span><span class="inch">277.5 lbf</span>')
    assert rows.rows[1] == ("same", "0.5") and rows.heads == ("What",)


def test_records_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match="lengths"):
        BothUnits().pair(("a", "b"), ("a",))


def test_a_source_that_is_markup_stands_as_it_was_written():
    assert BothUnits().pair(Markup("a table in mm, 8 mm"), Markup("a table in mm, 8 mm")) == "a table in mm, 8 mm"


def test_a_result_shown_in_other_units_is_the_same_result(comparison):
    shown = in_units(comparison, "inch")
    assert shown.case.units == "inch" and shown.results is comparison.results
    assert replace(shown.case, units="metric") == comparison.case


def test_a_number_in_words_agrees_with_the_unit_table_for_temperatures():
    for value in (-40, -15, 0, 20, 110, 232):
        assert in_system(f"{value} degC", "inch") == f"{in_unit(float(value), 'temperature', 'inch'):.0f} degF"
