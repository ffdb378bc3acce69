"""Draws: marginals, correlations, cut-offs, and slices that do not depend on who draws them."""

import numpy as np
import pytest

from studwell.case.reading import case_from_text
from studwell.case.spread_keys import spread_keys
from studwell.errors import BadCase, StudwellError
from studwell.odds.spread import sampler, sobol

from .conftest import CASES

TEXT = (CASES / "hut-pump.toml").read_text()
OWN = TEXT[: TEXT.index("\n[spread]")] + "\n[setup.one]\n"


def _sampler(entries: str):
    case = case_from_text(OWN + "\n[spread]\n" + entries)
    return sampler(case.spread, case.setups[0], spread_keys(case))


def test_marginals_have_the_mean_and_deviation_that_the_case_states():
    made = _sampler(
        '"tightening.torque" = { distribution = "normal", mean = "15 N*m", sd = "0.8 N*m" }\n'
        '"tightening.thread_friction" = { distribution = "lognormal", sd = 0.03 }\n'
        '"seating.torque" = { distribution = "uniform", low = "8 N*m", high = "12 N*m" }\n'
        '"history.scale" = { distribution = "triangular", low = 0.8, mode = 1.1, high = 1.3 }\n'
        '"seating.thread_friction" = { distribution = "data", values = [0.1, 0.2, 0.1, 0.16] }\n'
    )
    drawn = made.draw(1, 0, 2**14)
    assert drawn.mean(axis=0) == pytest.approx([15000.0, 0.14, 10000.0, 3.2 / 3, 0.14], rel=1e-3)
    assert drawn.std(axis=0)[:3] == pytest.approx([800.0, 0.03, 4000 / np.sqrt(12)], rel=5e-3)
    assert set(np.unique(drawn[:, 4])) == {0.1, 0.16, 0.2}


def test_a_block_is_the_same_slice_whoever_draws_it():
    whole = sobol(5, 3, 0, 3000)
    assert np.array_equal(whole[1000:1700], sobol(5, 3, 1000, 700))
    assert not np.array_equal(whole[:10], sobol(5, 4, 0, 10))


def test_correlated_inputs_hang_together_as_stated_and_form_a_group():
    made = _sampler(
        '"tightening.torque" = { distribution = "normal", sd = "0.8 N*m" }\n'
        '"seating.torque" = { distribution = "normal", sd = "1 N*m" }\n'
        '"tightening.thread_friction" = { distribution = "normal", sd = 0.01 }\n'
        'correlations = [ { between = ["tightening.torque", "tightening.thread_friction"], value = -0.7 } ]\n'
    )
    matrix = np.corrcoef(made.draw(1, 0, 2**13).T)
    assert matrix[0, 2] == pytest.approx(-0.7, abs=0.01)
    assert abs(matrix[0, 1]) < 0.01
    assert made.groups == ((0, 2), (1,))


def test_draws_are_cut_off_where_a_value_cannot_be_and_the_user_is_told():
    made = _sampler('"tightening.thread_friction" = { distribution = "normal", sd = 0.04 }\n')
    assert made.draw(1, 0, 2**12).min() >= 0.0
    assert "cut off at 0" in made.notices[0]
    cut = _sampler('"tightening.torque" = { distribution = "normal", sd = "1 N*m", low = "16 N*m", high = "17 N*m" }\n')
    drawn = cut.draw(1, 0, 512)
    assert drawn.min() >= 16000.0 and drawn.max() <= 17000.0


def test_a_distribution_that_is_often_impossible_is_refused():
    with pytest.raises(StudwellError, match="which cannot be"):
        _sampler('"tightening.thread_friction" = { distribution = "normal", sd = 0.1 }\n')


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ('"tightening.torq" = { distribution = "normal", sd = "1 N*m" }', "did you mean tightening.torque"),
        ('"boss.floor_thickness" = { distribution = "uniform", low = "-1 mm", high = "8 mm" }', "negative"),
        ('"tightening.torque" = { distribution = "normal", sd = "1 J" }', r"\[spread\] tightening.torque sd"),
        ('"tightening.torque" = { distribution = "norml", sd = "1 N*m" }', "did you mean normal"),
        ('"tightening.torque" = { distribution = "normal" }', "missing: normal needs it"),
        ('"tightening.preload" = { distribution = "normal", sd = "1 kN" }', "no setup of the case has a value"),
        ('"seating.torque" = { distribution = "data", file = "none.csv" }', "No such file"),
        ('"seating.torque" = { distribution = "uniform", low = "9 N*m", high = "8 N*m" }', "not above low"),
        ('"washer.friction" = { distribution = "normal", sd = 0.01 }', "did you mean washer.edge_friction"),
        ('"washer.surface_friction" = { distribution = "normal", sd = 0.01 }', "no setup of the case has a value"),
    ],
)
def test_a_bad_entry_names_its_place_and_what_is_allowed(entry, told):
    with pytest.raises(BadCase, match=told):
        case_from_text(OWN + "\n[spread]\n" + entry + "\n")


def test_correlations_that_contradict_each_other_are_refused():
    three = "".join(
        f'"{name}" = {{ distribution = "normal", sd = 0.01 }}\n'
        for name in ("tightening.thread_friction", "tightening.bearing_friction", "seating.thread_friction")
    )
    pairs = [("tightening.thread_friction", "tightening.bearing_friction", 0.9),
             ("tightening.bearing_friction", "seating.thread_friction", 0.9),
             ("tightening.thread_friction", "seating.thread_friction", -0.9)]  # fmt: skip
    listed = ", ".join(f'{{ between = ["{a}", "{b}"], value = {v} }}' for a, b, v in pairs)
    with pytest.raises(BadCase, match="not positive definite"):
        case_from_text(OWN + "\n[spread]\n" + three + f"correlations = [{listed}]\n")


def test_data_come_from_a_file_with_one_value_a_line(tmp_path):
    (tmp_path / "torques.txt").write_text("15 N*m\n16 N*m\n\n17 N*m\n")
    text = OWN + '\n[spread]\n"tightening.torque" = { distribution = "data", file = "torques.txt" }\n'
    case = case_from_text(text, folder=tmp_path)
    assert case.spread.inputs[0][1].values == (15000.0, 16000.0, 17000.0)
