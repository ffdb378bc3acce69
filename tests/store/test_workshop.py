"""Blocks of summary.json on threads, repair and threadlocker."""

import json

import pytest

from studwell.store.summary import failed_record, setup_record
from studwell.store.workshop import WORKSHOP_FIELDS, workshop_record
from studwell.study.results import FailedSetup


@pytest.fixture(scope="module")
def records(workshop):
    return {result.name: setup_record(result) for result in workshop.results}


def nulls(value, path):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from nulls(inner, (*path, key))
    elif value is None:
        yield ".".join(path)


def test_every_null_has_its_reason_by_its_path_and_nothing_known_is_called_unknown(workshop, comparison):
    for result in (*workshop.results, *comparison.results):
        record, reasons = workshop_record(result)
        assert set(record) == set(WORKSHOP_FIELDS)
        assert set(nulls(record, ())) == set(reasons) and all(reasons.values())


def test_the_blocks_are_plain_json_and_part_of_the_record(records):
    for record in records.values():
        assert json.loads(json.dumps(record))["threads"] == record["threads"]
        assert set(WORKSHOP_FIELDS) <= set(record)


def test_the_governing_route_is_the_margin(records):
    for record in records.values():
        for name, thread in record["threads"].items():
            assert record["margins"][f"{name} strip"] == thread["routes"][thread["governing"]]["ratio"]
            assert sum(thread["pitches"]["lengths_mm"]) > 0.0


def test_the_threadlocker_block_is_null_where_there_is_none(records):
    assert records["domed"]["threadlocker"] is None and records["domed"]["unknown"]["threadlocker"]
    lock = records["insert"]["threadlocker"]
    assert lock["bond_torque_hottest_Nmm"] < lock["bond_torque_assembled_Nmm"]


def test_a_setup_that_could_not_be_solved_has_the_fields_too(workshop):
    record = failed_record(FailedSetup(workshop.case.setups[0], "no seat is known", "unknown-outcome"))
    assert all(record[key] is None and record["unknown"][key] for key in WORKSHOP_FIELDS)
