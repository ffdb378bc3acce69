"""A setup whose boss yields, from case to record: outcomes, warnings, cycles, and alloys that cannot be known."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.case import Case, Inelastic, case_from_text
from studwell.parts.material import stock_material
from studwell.store.summary import setup_record
from studwell.study.compare import compare, solve_setup

NAME = "bottomed, floor yields"
CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture(scope="module")
def cycle_case():
    text = (CASES / "hut-pump-cycle.toml").read_text().replace("steps = 120", "steps = 24")
    return case_from_text(text, "cycle.toml")


@pytest.fixture(scope="module")
def flowing(cycle_case):
    return solve_setup(cycle_case.setup(NAME), refinement=0.4, band=True)


@pytest.fixture(scope="module")
def elastic(cycle_case):
    return solve_setup(replace(cycle_case.setup(NAME), inelastic=None), refinement=0.4, band=False)


def test_the_record_tells_plastic_strain_and_lost_wedge_force_with_their_moments(flowing):
    record = setup_record(flowing)
    assert record["floor_plastic_strain_max"] > 0.01 and record["wedge_force_lost_N"] > 0.0
    assert record["times"]["floor_plastic_strain_max"]["when"] == "seated"
    assert "mm" in flowing.outcomes["floor_plastic_strain_max"].reason


def test_the_record_of_an_elastic_setup_says_why_it_has_neither(elastic):
    record = setup_record(elastic)
    for key in ("floor_plastic_strain_max", "wedge_force_lost_N"):
        assert record[key] is None and "[inelastic]" in record["unknown"][key]


def test_the_record_tells_of_every_body_that_may_yield(flowing, elastic):
    record = setup_record(flowing)
    boss = record["inelastic_bodies"]["boss"]
    assert set(record["inelastic_bodies"]) == {"boss"}
    assert boss["plastic_strain_max"] == record["floor_plastic_strain_max"] and boss["when"] == "seated"
    assert len(boss["where_mm"]) == 2 and boss["creep_strain_end"] == 0.0
    assert record["layer_plastic_strain_max"] is None
    assert "layers names none" in record["unknown"]["layer_plastic_strain_max"]
    still = setup_record(elastic)
    assert still["inelastic_bodies"] is None and "[inelastic]" in still["unknown"]["inelastic_bodies"]


def test_yielding_lowers_floor_stress_and_leaves_the_margins_known(flowing, elastic):
    assert flowing.value("floor_stress_max") < 0.8 * elastic.value("floor_stress_max")
    ours, theirs = flowing.verdict.margins, elastic.verdict.margins
    assert {mode for mode in ours if ours[mode].value is not None} == {
        mode for mode in theirs if theirs[mode].value is not None
    }
    assert ours["boss crack (once)"].value <= theirs["boss crack (once)"].value
    assert flowing.equilibrium_residual < 1e-8


def test_a_yielding_floor_shakes_down_over_the_cycles_of_the_case(flowing):
    cycles = flowing.cycles.as_given
    assert cycles.verdict == "shakes down" and cycles.reached == flowing.setup.history.cycles
    assert flowing.history.warnings and all(text.startswith("boss: ") for text in flowing.history.warnings)


def test_a_setup_of_an_alloy_without_data_fails_with_its_reason_and_the_others_are_solved(cycle_case):
    setup = cycle_case.setup(NAME)
    wrought = replace(
        setup,
        name="wrought",
        boss=replace(setup.boss, material=stock_material("6061-t6")),
        inelastic=Inelastic("boss", False),
    )
    plain = replace(cycle_case.setup("bottomed, plain"), name="plain")
    both = compare(Case("file", "title", "", "metric", (wrought, plain)), refinement=0.4, band=False)
    assert [result.name for result in both.results] == ["plain"]
    assert both.failed[0].slug == "unknown-outcome" and "how 6061-t6 hardens is not known" in both.failed[0].reason


def test_warnings_of_a_yielding_boss_are_told_among_the_findings(hut_pump):
    from dataclasses import replace

    from studwell.case.records import Inelastic
    from studwell.study.compare import compare
    from studwell.study.findings import findings

    setup = replace(hut_pump.setup("bottomed, plain"), inelastic=Inelastic(1.0, False))
    result = compare(replace(hut_pump, setups=(setup,)), refinement=0.4, band=False)
    assert not result.failed, result.failed
    warnings = result.results[0].history.warnings
    told = [item.text for item in findings(result)]
    assert warnings
    for text in warnings:
        assert any(text.rstrip(".") in said for said in told)
    assert not any("this elastic model does not follow" in said for said in told)
