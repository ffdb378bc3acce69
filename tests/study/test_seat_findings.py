"""What is said of a stud that something else than its tip stops, and of the floor."""

from dataclasses import replace

import pytest

from studwell.case import case_from_text, starter_case
from studwell.live.page_words import key_outcomes
from studwell.live.reading import reading_of
from studwell.live.state import start_state
from studwell.show.page_content import RANKED, ranked_rows
from studwell.show.table import comparison_table, tip_text
from studwell.store.summary import setup_record
from studwell.study.compare import compare
from studwell.study.findings import findings
from studwell.units import as_text

OWN = """
[setup."wedged"]
stud = { engaged_length = "10 mm", boss_thread_length = "13 mm" }
[setup."on the floor"]
stud = { engaged_length = "10 mm" }
[setup."off the wedge"]
stud = { engaged_length = "10 mm", boss_thread_length = "13 mm" }
seating = { mode = "backed off", back_off = "0.05 turn", counted_from = "first contact" }
"""


@pytest.fixture(scope="module")
def compared():
    case = case_from_text(starter_case() + OWN, "own case")
    setups = tuple(replace(s, history=replace(s.history, steps=6)) for s in case.setups[-3:])
    return compare(replace(case, setups=setups), refinement=0.15)


def test_the_seat_that_carried_the_drive_is_told_with_what_the_tip_would_have_done(compared):
    (found,) = [f for f in findings(compared) if f.kind == "seat"]
    wedged = compared["wedged"]
    assert found.text.startswith("wedged: the drive ends on the thread run-out at the mouth")
    less = 100.0 * (1.0 - wedged.value("floor_stress_max") / wedged.on_tip["floor_stress_max"])
    assert f"{less:.2g} % less than with the same torque on the tip" in found.text
    assert "hoop stress" in found.text and compared["on the floor"].on_tip is None


def test_the_floors_nearest_failure_is_told_for_the_setup_that_is_nearest_to_it(compared):
    (found,) = [f for f in findings(compared) if f.kind == "floor"]
    assert found.text.startswith("on the floor:")
    margins = compared["on the floor"].verdict.margins
    sooner = "punched out" if margins["floor punch"].value > margins["floor split"].value else "split from below"
    assert f"would sooner {'be ' if sooner == 'punched out' else ''}{sooner}" in found.text


def test_the_summary_holds_seat_and_floor_or_says_why_not(compared):
    wedged, seated = (setup_record(compared[name]) for name in ("wedged", "on the floor"))
    assert wedged["seat"] == "thread run-out at the mouth" and wedged["seat_force_max_N"] > 0.0
    assert wedged["seat_hoop_max_MPa"] > 0.0 and wedged["margins"]["seat split"] > 0.0
    assert seated["seat_force_max_N"] is None and "tip" in seated["unknown"]["seat_force_max_N"]
    assert seated["floor_punch_max_MPa"] > 0.0 and seated["floor_split_max_MPa"] > 0.0


def test_the_cost_of_bottoming_is_told_of_the_surface_that_carries_it(compared):
    (found,) = [f for f in findings(compared) if f.kind == "bottoming"]
    wedged = compared["wedged"]
    force = as_text(wedged.value("seat_force_max"), "force", digits=3)
    assert wedged.value("tip_force_max") == 0.0 and wedged.value("seat_force_max") > 1000.0
    assert (
        f"a wedge force of {force} on the thread run-out at the mouth, which carries the drive in place" in found.text
    )
    (moved,) = [f for f in findings(replace(compared, results=(wedged,))) if "heat moves the" in f.text]
    assert "moves the force on the thread run-out at the mouth between" in moved.text and f"with {force}" in moved.text


def test_tables_and_page_show_the_seats_force_where_the_tip_carries_nothing(compared):
    wedged, seated = compared["wedged"], compared["on the floor"]
    assert tip_text(wedged, "metric") == f"0; seat {wedged.value('seat_force_max') / 1000.0:.3g}"
    assert "seat" not in tip_text(seated, "metric") and "seat" not in tip_text(compared["off the wedge"], "metric")
    table = comparison_table(compared)
    assert "wedged: not the tip but the thread run-out at the mouth carries the drive." in table.caption
    column = [key for _, key, _ in RANKED].index("tip_force_max")
    shown = {row.name: row.numbers[column] for row in ranked_rows(compared)}
    assert shown["wedged"] == tip_text(wedged, "metric")
    for item, name in ((wedged, "seat_force_max"), (seated, "tip_force_max")):
        reading = reading_of(start_state(compared.case, item.name), compared.case, item, 0.0)
        assert [key for key, _ in key_outcomes(reading)][2] == name


def test_the_gap_of_a_stud_turned_back_from_a_run_out_says_what_it_is_made_of(compared):
    off = compared["off the wedge"]
    (found,) = [f for f in findings(compared) if f.kind == "gap"]
    clearance, gap = (
        as_text(value, "length", digits=3) for value in (off.history.seat.clearance, off.value("tip_gap_min"))
    )
    assert f"meets the thread run-out at the mouth first, {clearance} before its tip would land" in found.text
    assert f"the tip's gap of at least {gap} is made of that, the turn" in found.text
    turned = off.setup.seating.turns * off.setup.stud.thread.pitch
    assert off.value("tip_gap_min") == pytest.approx(off.history.seat.clearance + turned, abs=0.03)
