"""What is told of bodies that yield in repeated heat: in the record, the findings and the report's table."""

from dataclasses import replace

import pytest

from studwell.history.cycles import CycleMark, CycleResult
from studwell.history.zone_cycles import VERDICTS, ZoneCycles
from studwell.show.heat_content import heat_tables
from studwell.show.report import report_text
from studwell.show.table import evidence_tables
from studwell.store.summary import setup_record
from studwell.study.cycles import CycleStudy
from studwell.study.heat_findings import heat_findings

ZONES = {
    "elastic": ZoneCycles("elastic", 0.0, (0.0, 0.0), 0.0),
    "settles": ZoneCycles("settles", 0.0, (0.0,), 0.0, creep=2e-4, creep_increment=3e-5),
    "shakes down": ZoneCycles("shakes down", 0.0123456789, (4e-4, 1e-5, 0.0), 0.0),
    "cycles plastically": ZoneCycles("cycles plastically", 0.02, (1.5e-3, 1.5e-3, 1.5e-3), 0.01),
    "ratchets": ZoneCycles("ratchets", 0.04, (2.5e-3, 2.5e-3, 2.5e-3), 0.9),
}


@pytest.fixture(scope="module")
def cycled(solved_heat):
    """Function: verdict, stretch of the stud -> the comparison with one setup whose boss did that over 50 cycles."""

    def function(verdict, stretch=0.0, stopped=""):
        result = solved_heat["bottomed, plain"]
        marks = (CycleMark(1, 9e3, 9e3, 16e3, stretch, False), CycleMark(50, 9e3, 9e3, 16e3, stretch, False))
        cycles = CycleResult(marks, 0.0, 3, verdict, (), 50, {"boss": ZONES[verdict]}, stopped)
        return replace(solved_heat, results=(replace(result, cycles=CycleStudy(cycles, None, None)),))

    return function


def said(comparison, kind):
    return [each.text for each in heat_findings(comparison) if each.kind == kind]


def test_every_verdict_has_its_words():
    assert set(ZONES) == set(VERDICTS)


@pytest.mark.parametrize("verdict", VERDICTS)
def test_the_record_lists_each_zone_with_its_verdict_and_its_strain_a_cycle(cycled, verdict):
    record = setup_record(cycled(verdict).results[0])
    (zone,) = record["zones"]
    assert (zone["zone"], zone["verdict"]) == ("boss", verdict) and "zones" not in record["unknown"]
    own = ZONES[verdict]
    assert zone["plastic_strain"] == pytest.approx(own.strain, rel=1e-5)
    assert zone["plastic_strain_per_cycle"] == own.increments[-1]
    assert (zone["cycles_followed"], zone["creep_strain_per_cycle"]) == (len(own.increments), own.creep_increment)
    assert record["many_cycles"]["as_given"]["zones"] == record["zones"]
    assert record["many_cycles"]["as_given"]["cycles_reached"] == 50


def test_the_record_of_an_elastic_setup_has_no_zones_and_says_why(solved_heat):
    record = setup_record(solved_heat["bottomed, plain"])
    assert record["zones"] is None and "[inelastic]" in record["unknown"]["zones"]


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("settles", "the boss creeps without yielding. Creep has reached 0.0002, 3e-05 of it in the last cycle."),
        ("shakes down", "plastic strain of 0.012 at most; it shakes down: the last cycle solved adds nothing"),
        ("cycles plastically", "0.0015 more comes in every cycle, as much back as forth: it fatigues"),
        ("ratchets", "0.0025 more comes in every cycle and stays: it ratchets"),
    ],
)
def test_findings_say_in_plain_words_what_becomes_of_the_boss(cycled, verdict, words):
    (text,) = said(cycled(verdict), "zone")
    assert words in text


def test_nothing_is_said_of_a_zone_that_stays_elastic(cycled):
    assert said(cycled("elastic"), "zone") == []


def test_the_boss_that_yields_is_not_taken_for_the_stud(cycled):
    (text,) = said(cycled("shakes down"), "cycles")
    assert "the boss yielded at first and then rests" in text and "stud" not in text
    assert "as in the first" in text
    (text,) = said(cycled("ratchets", stretch=0.02), "cycles")
    assert "the stud and the boss deform on in every cycle" in text


def test_cycles_that_stop_early_say_so(cycled):
    (text,) = said(cycled("ratchets", stopped="one cycle was not solved"), "cycles")
    assert "stop after 50: one cycle was not solved" in text
    assert setup_record(cycled("ratchets", stopped="why").results[0])["many_cycles"]["as_given"]["stopped"] == "why"


@pytest.mark.parametrize("verdict", VERDICTS)
def test_report_and_evidence_have_a_row_for_each_zone(cycled, verdict):
    comparison = cycled(verdict)
    (table,) = [each for each in heat_tables(comparison) if "may yield" in each.caption]
    (row,) = table.rows
    assert len(row) == len(table.heads) and row[:2] == ("bottomed, plain", "boss")
    assert row[2] in report_text(comparison, [], {}, "a" * 64, ())
    told = evidence_tables(comparison.results[0], "metric")[-1]
    cells = [list(column.cells) for column in told.columns]
    at = cells[0].index("boss in repeated heat")
    assert cells[1][at].startswith(row[2])


def test_no_setup_that_may_yield_no_table_of_zones(solved_heat):
    assert not any("may yield" in table.caption for table in heat_tables(solved_heat))
