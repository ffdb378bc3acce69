"""Tidy rows of results: one a setup, state, history, mode or sample; units in the names; the same in a file."""

import csv
import math
import sys
import types
from dataclasses import replace

import pytest
from pytest import approx

from studwell import api
from studwell.errors import CannotWrite, UnknownName
from studwell.store.records import write_records
from studwell.study.results import FailedSetup

UNITS = ("_N", "_mm", "_MPa", "_share", "_max", "_driven", "_low", "_high")


def read(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_a_comparison_gives_one_row_a_setup_best_first_with_units_in_the_names(result):
    rows = result.records()
    assert [row["setup"] for row in rows] == [view.name for view in result.setups]
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))
    assert len({tuple(row) for row in rows}) == 1
    first, view = rows[0], result.setups[0]
    assert first["clamp_min_N"] == view.record.value("clamp_min") == approx(view.clamp_min.to("N").magnitude)
    assert first["tip_gap_min_mm"] == approx(view.tip_gap_min.to("mm").magnitude)
    assert first["clamp_min_N_low"] <= first["clamp_min_N"] <= first["clamp_min_N_high"]
    assert first["governing_margin"] == view.margins[view.governing]


def test_an_unbounded_margin_is_infinite_an_unknown_one_none_and_named(result):
    unbounded = {(v.name, m) for v in result.setups for m, value in v.margins.items() if value == math.inf}
    assert unbounded, "the demo should have a setup with a margin without bound"
    for row in result.records():
        view = result[row["setup"]]
        unknown = [mode for mode, margin in view.record.verdict.margins.items() if margin.unknown]
        assert row["unknown_margins"] == "; ".join(unknown)
        assert row["margin_stud_yield"] == view.margins["stud yield"]
        assert (row["margin_false_seat"] == math.inf) == ((view.name, "false seat") in unbounded)


def test_a_setup_that_could_not_be_solved_is_a_row_with_its_reason(result):
    lost = FailedSetup(result.record.results[0].setup, "the nut does not reach the stack", "not-converged")
    some = replace(result.record, results=result.record.results[1:], failed=(lost,))
    row = api.ComparisonResult(some).records()[-1]
    assert row["setup"] == lost.name and row["not_solved_because"] == lost.reason and row["clamp_min_N"] is None
    alone = api.ComparisonResult(replace(some, results=())).records()
    assert [row["setup"] for row in alone] == [lost.name]


def test_a_setup_gives_its_history_state_by_state(result, tmp_path):
    view = result["bottomed, plain"]
    rows = view.records()
    assert len(rows) == len(view.record.timeline.states)
    assert max(row["clamp_N"] for row in rows) == approx(view.clamp_max.to("N").magnitude, rel=1e-6)
    assert rows[0]["phase"] == "seated" and rows[-1]["time_s"] == approx(view.record.timeline.times[-1])
    assert [row["phase"] for row in read(view.write_records(tmp_path / "h.csv"))] == [row["phase"] for row in rows]


def test_a_review_gives_one_row_a_history_of_the_sweep(backoff, tmp_path):
    rows = backoff.records()
    assert len(rows) == len(backoff.rows)
    assert rows[0]["floor_mm"] == backoff.rows[0].floor and rows[0]["seating_torque_Nmm"] == 10_000.0
    assert len(read(backoff.write_records(tmp_path / "sweep.csv"))) == len(rows)


def test_odds_give_rows_of_probabilities_sensitivities_and_samples(odds, tmp_path):
    item = odds["bottomed, plain"]
    rows = {row["mode"]: row for row in odds.records()}
    assert rows["stud yield"]["probability"] == item.probabilities["stud yield"].value
    assert rows["any damage mode"]["low"] == item.any_damage.low
    unknown = [mode for mode in item.reasons if mode not in item.probabilities]
    assert unknown and all(rows[mode]["probability"] is None and rows[mode]["reason"] for mode in unknown)
    shares = odds.records("sensitivities")
    assert len(shares) == len(item.quantities) * len(item.groups)
    place, group = item.quantities.index("leak"), 1
    one = next(r for r in shares if r["quantity"] == "leak" and r["inputs"] == " with ".join(item.groups[group]))
    assert one["total"] == item.indices.total[group, place]
    samples = odds.records("samples")
    assert [row["sample"] for row in samples] == list(range(32))
    assert {"tightening.torque_Nmm", "clamp_min_N", "tip_gap_min_mm", "margin_leak"} <= set(samples[0])
    failing = sum(row["margin_stud_yield"] >= 1.0 for row in samples)
    assert failing == item.probabilities["stud yield"].failed
    assert len(read(odds.write_records(tmp_path / "s.csv", "samples"))) == 32
    with pytest.raises(UnknownName, match="probabilities, sensitivities, samples"):
        odds.records("rows")


def test_csv_keeps_every_digit_and_leaves_unknown_empty(tmp_path):
    rows = [{"name": "a, b", "x_mm": 0.1 + 0.2, "margin": math.inf, "safe": None}]
    (row,) = read(write_records(rows, tmp_path / "r.csv"))
    assert float(row["x_mm"]) == 0.1 + 0.2 and float(row["margin"]) == math.inf
    assert row["name"] == "a, b" and row["safe"] == ""


def test_parquet_without_pyarrow_says_what_is_missing_and_what_does(result, tmp_path, monkeypatch):
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(CannotWrite, match=r"needs the package pyarrow, which is not installed; \.csv needs nothing"):
        result.write_records(tmp_path / "r.parquet")
    assert not list(tmp_path.iterdir())


def test_parquet_is_written_whole_where_pyarrow_is_there(result, tmp_path, monkeypatch):
    arrow, parquet = types.ModuleType("pyarrow"), types.ModuleType("pyarrow.parquet")
    arrow.Table = types.SimpleNamespace(from_pylist=lambda rows: rows)
    arrow.parquet = parquet
    parquet.write_table = lambda rows, file: file.write(repr([row["setup"] for row in rows]).encode())
    monkeypatch.setitem(sys.modules, "pyarrow", arrow)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", parquet)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: object())
    path = result.write_records(tmp_path / "r.parquet")
    assert "bottomed, plain" in path.read_text()


@pytest.mark.parametrize("name", ["r.xlsx", "r"])
def test_another_ending_is_refused_with_those_allowed(result, tmp_path, name):
    with pytest.raises(CannotWrite, match=r"allowed: \.csv, \.parquet"):
        result.write_records(tmp_path / name)


def test_a_place_that_cannot_be_written_is_named(result, tmp_path):
    (tmp_path / "taken").write_text("")
    with pytest.raises(CannotWrite, match="taken"):
        result.write_records(tmp_path / "taken" / "r.csv")
