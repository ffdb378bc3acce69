"""What is said of a stud that something else than its tip stops, and of the floor."""

from dataclasses import replace

import pytest

from studwell.case import case_from_text, starter_case
from studwell.store.summary import setup_record
from studwell.study.compare import compare
from studwell.study.findings import findings

OWN = """
[setup."wedged"]
stud = { engaged_length = "10 mm", boss_thread_length = "13 mm" }
[setup."on the floor"]
stud = { engaged_length = "10 mm" }
"""


@pytest.fixture(scope="module")
def compared():
    case = case_from_text(starter_case() + OWN, "own case")
    setups = tuple(replace(s, history=replace(s.history, steps=6)) for s in case.setups[-2:])
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
