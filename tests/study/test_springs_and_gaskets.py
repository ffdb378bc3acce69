"""Springs that set in the first heat, and the heat that springs and gaskets let through, from case to finding."""

from dataclasses import replace
from pathlib import Path

import pytest
from pytest import approx

from studwell.case import Case, Settling, case_from_text
from studwell.errors import Unknown
from studwell.history.stages import live_through
from studwell.parts.fastener import property_class
from studwell.store.summary import setup_record
from studwell.study.compare import heated, solve_setup, unset_clamp
from studwell.study.heat_findings import heat_findings
from studwell.study.heat_numbers import spring_set_loss
from studwell.study.results import Comparison

CASES = Path(__file__).parents[2] / "cases"
SETTLED = "backed off, settled and re-tightened"


@pytest.fixture(scope="module")
def cycle_case():
    """The demo with solved heat, gone through once in few steps."""
    case = case_from_text((CASES / "hut-pump-cycle.toml").read_text(), "cycle.toml")
    return replace(
        case,
        setups=tuple(
            replace(each, history=replace(each.history, steps=16, cycles=1, until_periodic=None))
            for each in case.setups
        ),
    )


@pytest.fixture(scope="module")
def sprung(cycle_case):
    """The demo's springs on a coarse mesh: as they are, and setting by a twentieth."""
    setup = cycle_case.setup("backed off, three conical springs")
    settling = Settling(0.0, 0.0, 0.0, 0.0, (), 0.05)
    heats = {}
    plain, setting = (
        solve_setup(each, refinement=0.4, band=False, heats=heats)
        for each in (setup, replace(setup, settling=settling))
    )
    built, strength = setting.built, property_class("8.8", 8.0).yield_strength

    def lived(variant):
        return live_through(
            variant, built.layout, built.bodies, built.joint, built.seat,
            yield_strength=strength, labels=setting.heat.phase_ends,
        )  # fmt: skip

    return plain, replace(setting, unset_clamp=unset_clamp(setting.setup, lived))


def test_what_springs_that_set_cost_is_the_same_run_without_less_the_run_with(sprung):
    plain, setting = sprung
    loss = spring_set_loss(setting)
    assert loss.before == approx(plain.value("clamp_end"), rel=1e-9) and loss.after == setting.value("clamp_end")
    spring = setting.setup.springs[0]
    assert loss.height == approx(0.05 * spring.cone_height * spring.series) and loss.lost > 100.0
    assert spring_set_loss(plain) is None
    record = setup_record(setting)
    assert record["spring_set_clamp_lost_N"] == approx(loss.lost)
    assert "no [settling]" in setup_record(plain)["unknown"]["spring_set_clamp_lost_N"]


def test_the_set_of_springs_is_told_with_what_it_costs_or_said_to_be_unknown(sprung):
    plain, setting = sprung
    case = Case("x.toml", "x", "", "metric", (plain.setup,))
    unknown = replace(setting, setup=replace(setting.setup, settling=replace(setting.setup.settling, spring_set=None)))

    def said(result):
        found = heat_findings(Comparison(case, (result,), (), 0.4, 0.0))
        return [each.text for each in found if each.kind == "settling" and "its springs" in each.text]

    (text,) = said(setting)
    assert f"costs {spring_set_loss(setting).lost / 1000:.3g} kN" in text
    assert any("spring_set is not given" in text and "unknown" in text for text in said(unknown))
    assert said(plain) == []


def test_heat_through_springs_keeps_its_balance_and_brings_the_nut_nearer_to_the_head(cycle_case):
    setup = cycle_case.setup("backed off, three conical springs")
    nuts = []
    for conductance in (None, 1.0):
        thermal = replace(setup.thermal, spring_conductance=conductance)
        _, _, heat = heated(replace(setup, thermal=thermal), 0.3)
        assert heat.imbalance < 1e-5 and heat.reduction < 0.2
        index = next(at for at, label in heat.phase_ends if label.startswith("full load"))
        head, nut = (heat.fields[name][index].mean() for name in ("head", "nut"))
        nuts.append((nut, head))
    assert nuts[1][0] > nuts[0][0] + 2.0 and nuts[1][1] - nuts[1][0] < nuts[0][1] - nuts[0][0]


def test_a_gasket_that_conducts_less_leaves_the_barrel_hotter_and_the_boss_colder(cycle_case):
    setup = cycle_case.setup("backed off, plain")
    found = []
    for conductivity in (0.1, 100.0):
        stack = [
            replace(layer, gasket=replace(layer.gasket, conductivity=conductivity)) if layer.gasket else layer
            for layer in setup.stack
        ]
        _, _, heat = heated(replace(setup, stack=tuple(stack)), 0.3)
        index = next(at for at, label in heat.phase_ends if label.startswith("full load"))
        found.append([heat.fields[name][index].mean() for name in ("barrel", "boss")])
    assert found[0][0] > found[1][0] + 1.0 and found[0][1] < found[1][1] - 1.0


def test_a_gasket_of_unknown_conductivity_leaves_the_heat_unknown(cycle_case):
    setup = cycle_case.setup("backed off, plain")
    stack = [
        replace(each, gasket=replace(each.gasket, conductivity=None)) if each.gasket else each for each in setup.stack
    ]
    with pytest.raises(Unknown, match="conductivity of gasket fibre sheet"):
        heated(replace(setup, stack=tuple(stack)), 0.3)


def test_setups_that_differ_in_settling_alone_share_one_solution_of_their_heat(cycle_case):
    heats = {}
    bare = cycle_case.setup("backed off, plain")
    pair = [bare, replace(cycle_case.setup(SETTLED), name="other", retighten=None)]
    first, second = (solve_setup(each, refinement=0.3, band=False, heats=heats) for each in pair)
    assert len(heats) == 1 and first.heat is second.heat
    alone = solve_setup(pair[1], refinement=0.3, band=False)
    assert [second.value(key) for key in ("clamp_end", "clamp_max")] == [
        alone.value(key) for key in ("clamp_end", "clamp_max")
    ]
