"""How findings write margins and list setups; what they say of one hole that several setups share."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from studwell.case import read_case
from studwell.show.both_units import in_units
from studwell.show.table import margin_text
from studwell.strength.crack import ONCE
from studwell.strength.floor import punch_surface_of
from studwell.strength.margin import unknown_margin
from studwell.study.compare import compare
from studwell.study.finding import margin_words, setups_words
from studwell.study.findings import findings, findings_in_both

CASES = Path(__file__).parents[2] / "cases"
REPAIRED = "repaired hole, backed off, three conical springs"


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (1.05, "1.05"), (11.604, "11.60"), (0.9, "0.90"), (0.0, "0.00"), (1.0, "1.00"), (1.003, "1.003"), (0.99996, "0.99996"),
        (float("inf"), "unbounded"), (None, "unknown"),
    ],
)  # fmt: skip
def test_a_margin_has_two_decimals_and_more_where_they_would_hide_the_side_of_the_limit(value, said):
    assert margin_words(value) == said


def test_findings_give_margins_as_the_table_does(comparison):
    texts = {item.text.partition(": ")[0]: item.text for item in findings(comparison) if item.kind == "governing"}
    for item in comparison.results:
        margin = item.verdict.margins[item.verdict.governing]
        shown = margin_text(margin)
        assert ("is unbounded" if shown == "unbounded" else f"governs at {shown} of its limit") in texts[item.name]
    missed = [m for m in comparison["bottomed, plain"].verdict.margins.values() if m.kind == "function" and m.fails]
    assert missed and all(f"{m.mode} {margin_text(m)}" in texts["bottomed, plain"] for m in missed)


def test_stresses_in_findings_have_three_figures(comparison):
    (text,) = [item.text for item in findings(comparison) if item.kind == "bottoming"]
    low, high = (float(value) for value in re.search(r"floor stress from ([\d.]+) MPa to ([\d.]+) MPa", text).groups())
    off, bottomed = (comparison[f"{name}, plain"].value("floor_stress_max") for name in ("backed off", "bottomed"))
    assert low == float(f"{off:.3g}") and high == float(f"{bottomed:.3g}")


def test_a_floor_that_is_not_measured_where_the_case_does_says_where_and_what_the_case_says():
    case = read_case(CASES / "m10-anchor.toml")
    setup = case.setup("on the cone")
    setup = replace(setup, history=replace(setup.history, steps=4))
    result = compare(replace(case, setups=(setup,)), refinement=0.3, band=False)
    (text,) = [item.text for item in findings(result) if item.kind == "floor"]
    surface, boss = punch_surface_of(result.results[0].built), setup.boss
    assert boss.floor_thickness < surface.height < boss.floor_thickness + boss.cone_depth
    assert (
        f"a floor of {surface.height:.3g} mm, measured at the tip's edge, {surface.radius:.3g} mm from the axis" in text
    )
    assert "(floor_thickness, under the hole's deepest point, is 8 mm), would sooner" in text


def test_setups_that_share_a_hole_are_named_together_and_every_setup_once():
    assert setups_words(["a"], 1) == "a"
    assert setups_words(["a", "b"], 3) == "a; b"
    assert setups_words(["a", "b"], 2) == "every setup"
    assert setups_words(["a", "b", "c", "d", "e"], 9) == "a; b; 3 more"


def test_what_is_said_of_an_insert_is_said_once_for_setups_with_the_same_hole(comparison):
    item = comparison[REPAIRED]
    shallow = replace(item.setup, boss=replace(item.setup.boss, hole_depth=16.5))
    twins = tuple(replace(item, setup=replace(shallow, name=name)) for name in ("one", "two"))
    texts = [each.text for each in findings(replace(comparison, results=(*twins, comparison["backed off, plain"])))]
    (gain,) = [text for text in texts if "round the insert" in text]
    assert gain.startswith("one; two: round the insert") and "of a largest" in gain.lower() and " in one" in gain
    (tap,) = [text for text in texts if "bottoming tap and" in text]
    assert tap.startswith("one; two: the hole is 16.5 mm deep")


def test_findings_in_inches_round_the_value_itself_as_the_table_does(comparison):
    pairs = findings_in_both(comparison)
    assert [one.text for one in pairs] == [one.text for one in findings(in_units(comparison, "metric"))]
    (told,) = [item for item in pairs if item.kind == "bottoming"]
    stress = comparison["bottomed, plain"].value("floor_stress_max")
    assert f"to {float(f'{stress / 0.006894757293168:.3g}'):.0f} psi" in told.inch  # MPa of a psi, by definition
    assert f"to {float(f'{stress:.3g}'):g} MPa" in told.text


def test_a_crack_margin_that_is_not_known_as_a_whole_is_told_by_the_views_that_are(comparison):
    changed = []
    for item in comparison.results:
        margins = item.verdict.margins | {ONCE: unknown_margin(ONCE, "damage", "one view is not known")}
        changed.append(replace(item, verdict=replace(item.verdict, margins=margins)))
    (text,) = [item.text for item in findings(replace(comparison, results=tuple(changed))) if item.kind == "bottoming"]
    known = [said for said in comparison["bottomed, plain"].verdict.cracks.once if said.value is not None]
    assert known and f"known views: {margin_words(known[0].value)} by {known[0].view}" in text
