"""What a comparison says of a liquid under the tip: outcomes, findings, summary.json, history.csv, report and figure."""

import csv
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from studwell.case import case_from_text, read_case, starter_case
from studwell.errors import Unknown
from studwell.mesh.files import write_mesh
from studwell.show.page_content import headline
from studwell.show.pocket import plot_pocket_pressure, pocket_sheets
from studwell.show.report import report_text
from studwell.store.summary import history_csv, summary
from studwell.study.compare import compare, solve_setup
from studwell.study.findings import findings
from studwell.units import as_text

WET = Path(__file__).parents[2] / "cases" / "wet-hole.toml"
REFILLED, CONTACT, WATER = (
    "oil, filled again after backing off",
    "oil in when the tip touched",
    "water, filled again after backing off",
)


@pytest.fixture(scope="module")
def wet():
    case = read_case(WET)
    setups = [replace(s, history=replace(s.history, steps=12)) for s in case.setups]
    return compare(replace(case, setups=tuple(setups)), refinement=0.1)


def test_every_setup_of_the_case_is_solved_and_balances(wet):
    assert not wet.failed and len(wet.results) == 6
    assert max(r.equilibrium_residual for r in wet.results) < 1e-8
    assert max(r.law_residual for r in wet.results) < 1e-8
    assert all(r.built.seat.by_tip for r in wet.results)


def test_a_liquid_is_compared_with_the_same_setup_emptied(wet):
    dry, oil = wet["dry"], wet[REFILLED]
    assert oil.emptied["thread_load_max"].value == approx(dry.value("thread_load_max"), rel=1e-9)
    assert oil.emptied["floor_stress_max"].value == approx(dry.value("floor_stress_max"), rel=1e-6)
    assert oil.value("floor_stress_max") > 2.0 * dry.value("floor_stress_max")
    assert dry.emptied is None


def test_the_pressure_of_a_liquid_that_is_shut_in_stands_beside_the_verdict(wet):
    told = {f.text.partition(": ")[0]: f.text for f in findings(wet) if f.kind == "governing"}
    for name, contents in ((REFILLED, "oil"), (WATER, "water")):
        pressure = as_text(wet[name].value("pocket_pressure_max"), "pressure", digits=3)
        assert f"The {contents} shut in under its tip reaches {pressure} (" in told[name]
    assert "shut in" not in told["dry"]
    pressed = sum(bool(each.value("pocket_pressure_max")) for each in wet.results)
    assert f"presses under the tip of {pressed} of 6 setups" in headline(wet)


def test_outcomes_have_their_moment_or_their_reason(wet):
    oil, water, dry = wet[REFILLED], wet[WATER], wet["dry"]
    assert "hot" in oil.outcomes["pocket_pressure_max"].when
    assert "winter night" in water.outcomes["pocket_pressure_max"].when
    sealed = np.pi / 4.0 * 7.188**2
    assert oil.value("pocket_force_max") == approx(oil.value("pocket_pressure_max") * sealed, rel=1e-4)
    assert dry.value("pocket_pressure_max") is None and "empty" in dry.outcomes["pocket_pressure_max"].reason
    assert oil.value("pocket_pressure_driven") == 0.0
    assert wet["bottomed in oil"].value("pocket_pressure_driven") > 5.0
    assert 0.3 < water.value("pocket_ice_share_max") < 1.0 and oil.value("pocket_ice_share_max") is None


def test_findings_say_what_was_counted_and_what_it_costs(wet):
    told = {name: [f.text for f in findings(wet) if f.kind == "pocket" and f.text.startswith(name)] for name in (
        REFILLED, CONTACT, WATER, "bottomed in oil", "dry")}  # fmt: skip
    assert "counted as fitted" in told[REFILLED][0] and "against an empty pocket it takes" in told[REFILLED][0]
    assert "counted at first contact" in told[CONTACT][0] and "pushes on nothing" in told[CONTACT][0]
    assert any("is ice" in text for text in told[WATER])
    assert any("driving the stud into the full hole" in text for text in told["bottomed in oil"])
    assert not told["dry"]


def test_summary_tells_the_liquid_and_stays_null_with_a_reason_without_one(wet):
    record = summary(wet)
    setups = {each["name"]: each for each in record["setups"]}
    assert isinstance(record["schema"], int)
    pocket = setups[REFILLED]["pocket"]
    assert (pocket["contents"], pocket["fill_at"], pocket["seal"]) == ("oil", "as fitted", "sealed")
    assert pocket["volume_seated_mm3"] > pocket["volume_at_contact_mm3"]
    assert pocket["liquid_left_mm3"] == approx(pocket["volume_seated_mm3"], rel=1e-9)
    assert setups["oil, leaking"]["pocket"]["liquid_left_mm3"] < 0.999 * pocket["liquid_left_mm3"]
    assert setups["dry"]["pocket"] is None and "empty" in setups["dry"]["unknown"]["pocket"]
    assert setups["dry"]["pocket_pressure_max_MPa"] is None
    assert setups[WATER]["times"]["pocket_pressure_max_MPa"]["time_s"] == 36_000.0


def test_a_vented_pocket_says_so(wet):
    text = starter_case() + (
        '[setup."own"]\npocket = { contents = "oil", fill = 1.0, fill_at = "as fitted", seal = "vented" }\n'
    )
    setup = case_from_text(text, "own").setups[-1]
    result = solve_setup(replace(setup, history=replace(setup.history, steps=3)), refinement=0.05, band=False)
    assert result.value("pocket_pressure_max") is None
    assert "vented" in result.outcomes["pocket_pressure_max"].reason


def test_history_csv_has_the_pressure_of_every_state(wet):
    result = wet[REFILLED]
    rows = list(csv.DictReader(io.StringIO(history_csv(result))))
    values = [float(row["pocket_pressure_MPa"]) for row in rows]
    assert len(values) == len(result.timeline.states)
    assert max(values) == approx(result.value("pocket_pressure_max"), rel=1e-6)


def test_the_figure_draws_every_filled_pocket_and_none_where_all_are_dry(wet):
    ax = plot_pocket_pressure(wet)
    drawn = {line.get_label().replace("\n", " "): line for line in ax.get_lines() if "(" in line.get_label()}
    assert len(drawn) == 5
    top = max(np.nanmax(line.get_ydata()) for line in drawn.values())
    assert top == approx(max(r.value("pocket_pressure_max") or 0.0 for r in wet.results), rel=1e-6)
    (sheet,) = pocket_sheets(wet)
    assert "counted as fitted" in sheet.told
    assert not pocket_sheets(replace(wet, results=(wet["dry"],)))


def test_the_report_names_the_liquid_its_source_and_shows_the_figure(wet):
    page = report_text(wet, findings(wet), {}, "0" * 64, pocket_sheets(wet))
    assert "Pressure of the liquid under the tip" in page
    assert "oil under the tip: bulk modulus" in page and "IAPWS-95" in page


def test_a_boss_mesh_of_ones_own_gives_the_same_liquid_and_without_the_name_none(wet, tmp_path):
    text = WET.read_text().replace("steps = 60", "steps = 3")
    known = case_from_text(text).setup(REFILLED)
    first = solve_setup(known, refinement=0.1, band=False)
    named = text.replace("[boss]\n", '[boss]\nmesh = "own.vtu"\n')
    write_mesh(tmp_path / "own.vtu", first.built.bodies[0].spec.mesh)
    again = solve_setup(case_from_text(named, "own.toml", tmp_path).setup(REFILLED), refinement=0.1, band=False)
    assert again.value("pocket_pressure_max") == approx(first.value("pocket_pressure_max"), rel=1e-9)
    write_mesh(tmp_path / "dry.vtu", wet["dry"].built.bodies[0].spec.mesh)
    nameless = case_from_text(named.replace("own.vtu", "dry.vtu"), "dry.toml", tmp_path).setup(REFILLED)
    with pytest.raises(Unknown, match='no boundary "pocket"'):
        solve_setup(nameless, refinement=0.1, band=False)
