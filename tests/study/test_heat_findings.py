"""Findings on solved heat and settling: computed from the result, and silent where a number is missing."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from studwell.study.compare import compare
from studwell.study.findings import findings
from studwell.study.heat_findings import heat_findings
from studwell.study.heat_numbers import extreme_differences, retightening

KINDS = {"phase", "difference", "settling", "re-tightening"}


@pytest.fixture(scope="module")
def said(solved_heat):
    return heat_findings(solved_heat)


@pytest.fixture(scope="module")
def settled(solved_heat):
    return solved_heat["backed off, settled and re-tightened"]


def texts(found, kind):
    return [finding.text for finding in found if finding.kind == kind]


def test_given_temperatures_that_settle_nothing_have_no_such_finding(comparison):
    assert heat_findings(comparison) == []
    assert not {finding.kind for finding in findings(comparison)} & KINDS


def test_all_findings_of_a_comparison_hold_those_on_heat(solved_heat, said):
    assert set(said) <= set(findings(solved_heat)) and {finding.kind for finding in said} == KINDS


def test_each_setup_says_in_which_phase_its_worst_comes(solved_heat, said):
    found = texts(said, "phase")
    assert len(found) == len(solved_heat.results)
    bottomed = next(text for text in found if text.startswith("bottomed"))
    assert "largest in full load of cycle" in bottomed and "least in cold start of cycle" in bottomed
    assert "the tip presses hardest in cold start" in bottomed
    assert not any("tip presses" in text for text in found if not text.startswith("bottomed"))


def test_the_worst_tip_force_of_equal_cycles_is_placed_in_the_same_one_by_every_finding(solved_heat, said):
    """Rounding alone tells equal cycles apart: each finding names the first of them."""
    (moved,) = [f.text for f in findings(solved_heat) if "heat moves the tip force" in f.text]
    (phase,) = [text for text in texts(said, "phase") if "tip presses hardest" in text]
    cycles = re.findall(r", cycle (\d+) \(", moved.partition(" and ")[2])
    assert cycles and {*cycles} == set(re.findall(r"hardest in [a-z -]+ of cycle (\d+)", phase)) == {"1"}


def test_the_phase_named_turns_with_the_forces(solved_heat):
    result = solved_heat["backed off, plain"]
    clamp = result.timeline.forces.clamp
    flipped = replace(result.timeline.forces, clamp=clamp.max() + clamp.min() - clamp)
    turned = replace(result, timeline=replace(result.timeline, forces=flipped))
    (text,) = texts(heat_findings(replace(solved_heat, results=(turned,))), "phase")
    assert "largest in cold start" in text and "largest in full load" not in text


def test_the_difference_and_its_worth_are_the_results_own(solved_heat, said):
    bottomed = solved_heat["bottomed, plain"]
    text = next(text for text in texts(said, "difference") if text.startswith("bottomed"))
    above, below = extreme_differences(bottomed)
    assert f"{above.value:.2g} K hotter" in text and f"{-below.value:.2g} K colder" in text
    assert "takes 0.0" in text and "at the tip" in text
    off = next(text for text in texts(said, "difference") if text.startswith("backed off"))
    assert "opens the tip's gap by" in off


def test_one_setup_of_each_seating_says_how_stud_and_boss_differ(said):
    assert len(texts(said, "difference")) == 2


def test_settling_is_held_against_the_setup_that_is_alike(solved_heat, settled, said):
    (text,) = texts(said, "settling")
    other = solved_heat["backed off, plain"]
    lost = other.value("clamp_end") - settled.value("clamp_end")
    assert "than backed off, plain, which is alike but does not settle" in text
    assert ("less than backed off" in text) == (lost > 0.0)
    before = retightening(settled).before
    taken = (settled.value("clamp_assembled") - before) / 1000.0
    assert f"{taken:.3g} kN" in text


def test_alone_it_is_held_against_its_own_assembled_clamp(solved_heat, settled):
    found = heat_findings(replace(solved_heat, results=(settled,)))
    (text,) = texts(found, "settling")
    assert "less than when assembled" in text and "alike" not in text
    (text,) = texts(found, "re-tightening")
    again = retightening(settled)
    assert "pays" in text and f"{again.before / 1000:.3g} kN to {again.after / 1000:.3g} kN" in text


def test_re_tightening_is_held_against_the_setup_that_is_alike_without_it(solved_heat):
    setup = solved_heat.case.setup("backed off, settled and re-tightened")
    without = replace(setup, name="backed off, settled", retighten=None)
    both = compare(replace(solved_heat.case, setups=(setup, without)), refinement=0.4, band=False)
    (text,) = texts(heat_findings(both), "re-tightening")
    assert "against" in text and "of backed off, settled, which is alike but not re-tightened" in text
    assert "pays" in text
    own, other = (both[name].value("clamp_end") for name in (setup.name, without.name))
    assert own > other


def test_nothing_is_said_of_re_tightening_whose_state_is_missing(solved_heat, settled):
    lost = replace(settled, history=replace(settled.history, retightened=None, retightened_after=None))
    found = heat_findings(replace(solved_heat, results=(lost,)))
    assert texts(found, "re-tightening") == []
    assert "had taken" not in texts(found, "settling")[0]


def test_findings_follow_the_units_of_the_case(solved_heat):
    inch = replace(solved_heat, case=replace(solved_heat.case, units="inch"))
    assert all("kN" not in text and "lbf" in text for text in texts(heat_findings(inch), "phase"))
