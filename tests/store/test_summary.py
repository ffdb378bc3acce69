"""Fields of summary.json on solved heat and settling: each null has its reason, each number its source in the result."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from studwell.store.summary import FIELDS, HEAT_FIELDS, failed_record, setup_record, summary
from studwell.study.heat_numbers import stud_above_boss
from studwell.study.results import FailedSetup


@pytest.fixture(scope="module")
def records(solved_heat):
    return {result.name: setup_record(result) for result in solved_heat.results}


def test_every_null_has_its_reason(records, comparison):
    for record in (*records.values(), *(setup_record(result) for result in comparison.results)):
        for key in (*FIELDS, *HEAT_FIELDS):
            assert record[key] is not None or record["unknown"][key], (record["name"], key)


def test_nothing_known_is_called_unknown(records, comparison):
    for record in (*records.values(), *(setup_record(result) for result in comparison.results)):
        for key in (*FIELDS, *HEAT_FIELDS):
            assert record[key] is None or key not in record["unknown"], (record["name"], key)


def test_given_temperatures_leave_the_fields_of_heat_null(comparison):
    record = setup_record(comparison.results[0])
    for key in ("heat_cycles", "heat_imbalance", "heat_reduction_error_K", "stud_boss_difference_max_K", "worst_phase"):
        assert record[key] is None and "temperatures are given" in record["unknown"][key]
    assert record["clamp_retightened_N"] is None
    assert record["clamp_by_cycle_N"] == [record["clamp_end_N"]]


def test_solved_heat_fills_them(records, solved_heat):
    for name, record in records.items():
        heat = solved_heat[name].heat
        assert record["heat_cycles"] == heat.cycles == len(record["clamp_by_cycle_N"])
        assert (
            0.0 <= record["heat_imbalance"] < 1e-6
        )  # of the reduced model, body by body; of all bodies together it is exact
        assert 0.0 <= record["heat_reduction_error_K"] < 0.5
        assert record["clamp_by_cycle_N"][-1] == record["clamp_end_N"]


def test_the_difference_is_the_largest_of_the_run_at_its_time(records, solved_heat):
    for name, record in records.items():
        above, times = stud_above_boss(solved_heat[name]), solved_heat[name].heat.times
        assert abs(record["stud_boss_difference_max_K"]) == pytest.approx(np.abs(above).max(), rel=1e-3)
        step = int(np.argmin(np.abs(times - record["times"]["stud_boss_difference_max_K"]["time_s"])))
        assert above[step] == pytest.approx(record["stud_boss_difference_max_K"], rel=1e-6)


def test_the_clamp_re_tightened_is_that_of_the_first_tightening(records):
    record = records["backed off, settled and re-tightened"]
    assert record["clamp_retightened_N"] == pytest.approx(record["clamp_assembled_N"], rel=1e-6)
    assert "clamp_retightened_N" not in record["unknown"]


def test_the_worst_phases_are_those_of_the_forces(records, solved_heat):
    record, result = records["bottomed, plain"], solved_heat["bottomed, plain"]
    worst = record["worst_phase"]
    assert worst["clamp_max"]["phase"] == "full load" and worst["clamp_min"]["phase"] == "cold start"
    assert worst["tip_force_max"] == {"phase": "seated", "cycle": None}
    assert result.verdict.governing is not None and worst["governing"]["phase"]
    off = records["backed off, plain"]
    assert off["worst_phase"]["tip_force_max"] is None
    assert off["unknown"]["worst_phase.tip_force_max"]


def test_a_setup_that_could_not_be_solved_has_the_fields_too(solved_heat):
    record = failed_record(FailedSetup(solved_heat.case.setups[0], "no seat is known", "unknown-outcome"))
    assert all(record[key] is None and record["unknown"][key] for key in (*FIELDS, *HEAT_FIELDS))


def test_the_summary_is_json_and_the_same_each_time(solved_heat):
    text = json.dumps(summary(solved_heat), allow_nan=False)
    assert text == json.dumps(summary(replace(solved_heat)), allow_nan=False)
