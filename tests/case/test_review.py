from dataclasses import replace

import pytest

from studwell.case import case_from_text, starter_case
from studwell.case.fingerprint import inputs_sha256
from studwell.errors import BadCase
from studwell.review.inputs import FROM_DATA, review_inputs


def with_review(lines):
    return case_from_text(starter_case("M8", "hex") + f"\n[review]\n{lines}\n", "own.toml")


def test_the_table_replaces_the_figures_of_the_data_and_says_so():
    case = with_review(
        'rule = "80 deg"\nchip = "0.2 mm"\ntemperature_scatter = "4 K"\nseating_torques = ["5 N*m", "9 N*m"]'
    )
    given = case.setups[0].review
    assert given.rule == pytest.approx(80 / 360) and given.seating_torques == (5000.0, 9000.0)
    inputs = review_inputs(case.setups[0])
    assert inputs["chip"].value == 0.2 and inputs["chip"].status == "given"
    assert inputs["feel"].status == "from memory" and "common practice, no source" in inputs["feel"].source


def test_without_a_table_every_input_has_a_source_and_the_fingerprint_is_as_before():
    case = case_from_text(starter_case("M8", "hex"), "own.toml")
    inputs = review_inputs(case.setups[0])
    assert set(inputs) == set(FROM_DATA) and all(one.source and one.unit for one in inputs.values())
    assert inputs["rule"].value == 0.22
    other = with_review('rule = "0.2 turn"')
    bare = replace(other, setups=tuple(replace(setup, review=None) for setup in other.setups))
    assert inputs_sha256(bare) == inputs_sha256(case) != inputs_sha256(other)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('rule = "0.22"', "rule"),
        ("rule = 0.22", "rule"),
        ('temperature_scatter = "10 degC"', "temperature_scatter"),
        ("expansion_scatter = 1.5", "expansion_scatter"),
        ('turns = "0.2 turn"', "turns"),
        ('floors = ["0 mm"]', "floors"),
    ],
)
def test_bad_values_are_refused_by_name(line, said):
    with pytest.raises(BadCase, match=said):
        with_review(line)
