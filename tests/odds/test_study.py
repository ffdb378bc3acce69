"""The odds of a case as a whole: rows that resume, checks, levers, sizes, files."""

import json
import pickle
from dataclasses import replace

import numpy as np
import pytest

from studwell.case.spread_keys import spread_keys
from studwell.case.spread_record import Distribution, Spread
from studwell.errors import StudwellError
from studwell.odds.levers import cheapest
from studwell.odds.limits import COLUMNS
from studwell.odds.model import SetupModel
from studwell.odds.plan import SamplePlan
from studwell.odds.study import odds

from .conftest import COARSE, alone

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def found(demo, tmp_path_factory):
    folder = tmp_path_factory.mktemp("rows")
    case = alone(demo, "bottomed, plain")
    return odds(case, 400, lambda name: folder / f"{name}.rows", seed=2, workers=1, check=12, refinement=COARSE,
                want=(("stud yield", 0.001),))  # fmt: skip


def test_each_mode_has_a_probability_with_its_interval_or_a_reason(found):
    (item,) = found.setups
    assert item.tally.samples == 400
    for probability in item.probabilities.values():
        assert 0.0 <= probability.low <= probability.value <= probability.high <= 1.0
    assert "no spring washer" in item.reasons["washer flat"]


def test_any_damage_is_never_less_likely_than_one_of_its_modes(found):
    (item,) = found.setups
    for mode in set(item.damage) & set(item.probabilities):
        one = item.probabilities[mode]
        assert one.value <= item.any_damage.value and one.low <= item.any_damage.low


def test_the_rows_hold_what_was_counted(found):
    (item,) = found.setups
    column = item.rows.column("stud yield")
    assert int(np.count_nonzero(column >= 1.0)) == item.tally.failed["stud yield"]


def test_the_checked_samples_agree_with_every_step_of_the_history(found):
    checks = found.setups[0].checks
    assert checks.samples == 12
    assert checks.difference["clamp_min"] < 0.01
    assert checks.difference["preload"] < 1e-8


def test_the_two_ways_of_solving_agree_in_the_checked_samples(found):
    checks = found.setups[0].checks
    assert 0 < checks.alone < checks.samples
    assert checks.apart < 1e-7


def test_the_other_model_of_the_threads_moves_the_thread_that_it_models(found):
    band = found.setups[0].band
    assert (band.own, band.other) == ("layer", "bonded") or (band.own, band.other) == ("layer", "grooves")
    for mode, (own, other) in band.values.items():
        assert own == found.setups[0].probabilities[mode].value
        assert 0.0 <= other <= 1.0
    assert band.fits["boss thread strip"].scatter < 0.05


def test_torque_and_friction_rule_the_preload(found):
    item = found.setups[0]
    at = item.quantities.index("stud proof")
    shares = dict(zip(item.groups, item.indices.first[:, at], strict=True))
    friction = ("tightening.thread_friction", "tightening.bearing_friction")
    assert shares[friction] + shares[("tightening.torque",)] > 0.5
    assert shares[("seating.torque",)] < 0.05


def test_less_torque_brings_a_yielding_stud_under_the_wanted_probability(found, plain):
    (wanted,) = found.setups[0].wanted
    (change,) = [each for each in wanted.changes if each.key == "tightening.torque"]
    assert change.after < change.before
    assert change.probability.value <= 0.001 < wanted.now.value
    already = cheapest(plain, "leak", 0.5, 1, ())
    assert already.now.value == 0.0


def test_a_plan_is_the_same_after_a_trip_to_another_process(demo):
    plan = SamplePlan(alone(demo, "bottomed, plain"), 20, 3, COARSE, 10)
    other = pickle.loads(pickle.dumps(plan))
    assert np.array_equal(plan.evaluate(1), other.evaluate(1), equal_nan=True)
    assert plan.hash == other.hash


def test_another_spread_seed_or_mesh_is_another_study(demo):
    case = alone(demo, "bottomed, plain")
    spread = Spread(case.spread.inputs[1:])
    hashes = {
        SamplePlan(case, 20, 3, 1.0, 10).hash,
        SamplePlan(case, 20, 4, 1.0, 10).hash,
        SamplePlan(case, 20, 3, 0.5, 10).hash,
        SamplePlan(replace(case, spread=spread), 20, 3, 1.0, 10).hash,
    }
    assert len(hashes) == 4


def test_a_floor_that_is_spread_is_interpolated_with_a_stated_small_error(demo):
    spread = Spread(
        (
            ("boss.floor_thickness", Distribution("normal", sd=0.4)),
            ("tightening.torque", Distribution("normal", sd=800.0)),
        )
    )
    model = SetupModel(demo.setup("bottomed, plain"), spread, spread_keys(demo), COARSE)
    errors = model.errors(1)
    assert [each.where.split()[0] for each in errors] == [
        "boss.floor_thickness",
        "boss.floor_thickness",
        "6",
        "the",
        "the",
    ]
    assert all(each.largest[1] < 0.01 for each in errors)
    low, high = (model.rows(np.array([[size, 16000.0]]))[0][0] for size in (5.0, 7.0))
    assert low[COLUMNS.index("floor punch")] > high[COLUMNS.index("floor punch")]


def test_a_size_without_a_section_is_refused_with_its_place(demo):
    spread = Spread((("boss.floor_thickness", Distribution("uniform", low=0.01, high=6.0)),))
    with pytest.raises(StudwellError, match=r"has no section at boss\.floor_thickness"):
        SetupModel(demo.setup("bottomed, plain"), spread, spread_keys(demo), COARSE)


def test_nothing_spread_and_no_samples_are_refused(demo, tmp_path):
    with pytest.raises(StudwellError, match="nothing is spread"):
        odds(replace(demo, spread=None), 10, lambda name: tmp_path / name)
    with pytest.raises(StudwellError, match="at least 1"):
        odds(demo, 0, lambda name: tmp_path / name)


def test_files_are_written_and_carry_no_times(found, tmp_path):
    from studwell.show.odds import odds_lines, odds_table, write_odds

    write_odds(found, tmp_path)
    record = json.loads((tmp_path / "summary.json").read_text())
    assert record["seed"] == 2 and record["setups"][0]["samples"] == 400
    assert "seconds" not in json.dumps(record)
    rows = (tmp_path / "samples-bottomed-plain.csv").read_text().splitlines()
    assert len(rows) == 401 and rows[0].startswith("sample,tightening.torque_Nmm,")
    assert ",preload_N," in rows[0] and ",tip_gap_min_mm," in rows[0] and "preload_N" in record["setups"][0]["outcomes"]
    assert (tmp_path / "figures" / "odds-bottomed-plain.svg").exists()
    assert odds_table(found).row_count > 2
    assert any("narrow" in line for line in odds_lines(found))
