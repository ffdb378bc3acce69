"""Coils of a wire insert as teeth: they fit the stud inside and the hole outside, edge for edge."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from studwell.case import read_case
from studwell.errors import Unknown
from studwell.parts.insert import insert_hole
from studwell.section.boss import boss_mesh
from studwell.section.insert import insert_mesh
from studwell.section.layout import lay_out
from studwell.section.stud import stud_mesh

CASE = Path(__file__).parents[2] / "cases" / "hut-pump.toml"


def repaired():
    setup = next(s for s in read_case(CASE).setups if s.boss.insert is not None)
    return replace(setup, stud=replace(setup.stud, thread_model="grooves", nut_thread_model="grooves"))


@pytest.fixture(scope="module")
def layout():
    return lay_out(repaired(), 0.6)


def middles(mesh, name):
    return mesh.nodes[mesh.facet_nodes[mesh.facets_of(name)][:, 2]]


def test_coils_meet_stud_and_hole_edge_for_edge(layout):
    coils, stud, boss = insert_mesh(layout.insert), stud_mesh(layout.stud), boss_mesh(layout.boss)
    for suffix in ("", " back"):
        assert middles(coils, "inside thread" + suffix) == approx(middles(stud, "thread" + suffix), abs=1e-7)
        assert middles(coils, "outside thread" + suffix) == approx(middles(boss, "thread" + suffix), abs=1e-7)


def test_coils_reach_from_the_studs_minor_to_the_holes_major_diameter(layout):
    mesh = insert_mesh(layout.insert)
    hole = insert_hole(8.0, 1.25)
    assert 2 * mesh.nodes[:, 0].min() == approx(8.0 - 1.25 * np.sqrt(3) / 2 * 1.25)  # D1 of M8, ISO 724
    assert 2 * mesh.nodes[:, 0].max() == approx(float(hole.major_diameter))


def test_neighbouring_coils_hang_together_by_a_ninth_of_a_pitch(layout):
    coils = layout.insert.coils
    z = coils.inside.height(np.arange(coils.inside.count))
    left = coils.outside.external_radius(z, flat_root=True) - coils.inside.internal_radius(z, flat_root=True)
    assert left == approx(np.full(len(z), 0.108 * 1.25), abs=2e-3)


def test_metal_ends_half_a_pitch_beyond_the_threads_inside(layout):
    coils = layout.insert.coils
    assert coils.ends[1] == approx(coils.inside.top + 0.5 * 1.25)
    assert coils.outside.bottom == approx(
        coils.inside.bottom + 0.5 * 1.25 - (coils.outside.count - coils.inside.count) * 1.25
    )


def test_a_stud_on_the_tang_has_no_teeth():
    setup = repaired()
    with pytest.raises(Unknown, match="tang"):
        lay_out(replace(setup, seating=replace(setup.seating, seat="insert tang")), 0.6)
