import csv
import io
import json

import pytest

from studwell.review.run import review
from studwell.store.review_record import review_record, sweep_csv


def test_the_record_holds_verdict_budget_mechanisms_and_sweep_and_names_what_is_unknown(small_review):
    record = review_record(small_review)
    assert record["verdict"]["code"] == small_review.verdict.code
    assert len(record["need"]["budget"]) == 7
    for apart in record["mechanisms"]:
        for found in apart["quantities"].values():
            total = found["with_all"] - found["without"]
            assert abs(sum(found["share"].values()) - total) <= 1e-5 * max(1.0, abs(total))
        relieved = apart["relieved_by_turning_back"]["thread load"]
        assert (
            abs(sum(relieved["share"].values()) - relieved["with_all"] + relieved["without"])
            <= 1e-4 * relieved["with_all"]
        )
    assert sum(one["stated"] for one in record["mechanisms"]) == 1
    assert len(record["sweep"]) == len(small_review.rows)
    iron = [row for row in record["sweep"] if row["family"] == "boss"]
    assert all(row["margin_floor_corner"] is None and "toughness" in row["reason"] for row in iron)


def test_the_sweep_is_a_tidy_table(small_review):
    rows = list(csv.DictReader(io.StringIO(sweep_csv(small_review))))
    assert len(rows) == len(small_review.rows)
    assert {"family", "boss", "floor_mm", "pocket", "seating_torque_Nmm", "backoff_turns", "tip_gap_min_mm"} <= set(
        rows[0]
    )
    assert float(rows[0]["wedge_N"]) > 8000.0


@pytest.mark.slow
def test_the_same_case_gives_the_same_record(small_review):
    again = review(small_review.case, refinement=small_review.refinement)
    assert json.dumps(review_record(again)) == json.dumps(review_record(small_review))
