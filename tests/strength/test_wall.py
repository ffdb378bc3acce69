"""The boss's wall under a liquid that is shut in: the plastic limit of a thick tube, or the tensile strength at its bore."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from studwell.case import read_case
from studwell.history.pocket import pressures
from studwell.parts.material import stock_material
from studwell.strength.wall import BRITTLE, OWN_MESH, wall_burst
from studwell.study.compare import solve_setup

WET = Path(__file__).parents[2] / "cases" / "wet-hole.toml"


@pytest.fixture(scope="module")
def wet():
    case = read_case(WET)
    setup = case.setup("oil, filled again after backing off")
    return solve_setup(replace(setup, history=replace(setup.history, steps=6)), refinement=0.1, band=False)


def judged(found, **boss):
    built = found.built
    setup = replace(built.setup, boss=replace(built.setup.boss, **boss))
    return wall_burst(replace(built, setup=setup), found.timeline, found.history.temperatures)


def test_the_pressure_is_that_of_the_pocket_over_the_limit_of_a_thick_tube(wet):
    margin, boss = wet.verdict.margins["wall burst"], wet.setup.boss
    pressure = pressures(wet.built.joint, wet.timeline.states)
    assert margin.load == approx(pressure.max()) and margin.load > 10.0 and margin.kind == "damage"
    # Hill 1950: (2/sqrt 3) S_y ln(b/a), by hand from the case's dimensions and the yield strength at some heat
    ratio = np.log(boss.outer_diameter / (2.0 * wet.built.layout.boss.drill_radius))
    assert 0.5 < margin.capacity / (2.0 / np.sqrt(3.0) * float(boss.material.yield_strength.at(20.0)) * ratio) <= 1.0
    assert margin.value == approx(margin.load / margin.capacity)


def test_a_metal_that_does_not_yield_gives_way_at_the_tension_of_its_bore(wet):
    iron = stock_material("en-gjl-250")
    margin = judged(wet, material=iron)
    a, b = wet.built.layout.boss.drill_radius, wet.built.layout.boss.outer_radius
    assert iron.family == BRITTLE
    hoop = margin.load * (b**2 + a**2) / (b**2 - a**2)  # Lame
    assert margin.value == approx(hoop / float(iron.ultimate_strength.at(20.0)), rel=0.1)
    assert judged(wet, material=replace(iron, yield_strength=None)).value == margin.value


def test_a_metal_of_unknown_strength_or_a_mesh_of_ones_own_leaves_it_unknown(wet):
    bare = replace(wet.setup.boss.material, yield_strength=None, ultimate_strength=None)
    margin = judged(wet, material=bare)
    assert margin.unknown and "in tension is not known" in margin.reason
    own = replace(wet.built, layout=replace(wet.built.layout, own_boss=wet.built.bodies[0].spec.mesh))
    assert wall_burst(own, wet.timeline, wet.history.temperatures).reason == OWN_MESH


def test_a_dry_hole_has_no_such_mode(comparison):
    margin = comparison["backed off, plain"].verdict.margins["wall burst"]
    assert not margin.applies and not margin.unknown and "no liquid is shut in" in margin.reason
