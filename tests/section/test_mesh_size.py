"""Meshes of large bosses: coarse far from the stud, counted before they are made, refused where they would be too large."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from studwell.case import case_from_text, starter_case
from studwell.errors import BadMesh
from studwell.joint.bodies import section_bodies
from studwell.mesh.quality import least_jacobian
from studwell.section import mesh_size
from studwell.section.boss import boss_elements, boss_mesh
from studwell.section.layout import lay_out
from studwell.section.lines import FAR, outwards, through

SETUP = case_from_text(starter_case(), "starter.toml").setup("bottomed")


def with_boss(outer: float, floor: float, model: str = "layer"):
    boss = replace(SETUP.boss, outer_diameter=outer, floor_thickness=floor)
    return replace(SETUP, boss=boss, stud=replace(SETUP.stud, thread_model=model))


@pytest.mark.parametrize(
    ("outer", "floor", "refinement", "model"),
    [(28.0, 6.0, 1.0, "layer"), (28.0, 6.0, 0.4, "layer"), (200.0, 150.0, 0.5, "layer"), (28.0, 6.0, 1.0, "grooves")],
)
def test_elements_are_counted_before_they_are_made_within_a_fifth(outer, floor, refinement, model):
    shape = lay_out(with_boss(outer, floor, model), refinement).boss
    assert boss_elements(shape) == pytest.approx(boss_mesh(shape).n_elements, rel=0.2)


def test_metal_near_the_stud_is_divided_alike_whatever_lies_far_from_it():
    small, large = (lay_out(with_boss(outer, 6.0), 0.5) for outer in (28.0, 400.0))
    near = small.boss.top_lines[:-1]
    near = near[near < 11.0 - 1e-6]  # the stack's outer radius
    assert np.array_equal(large.boss.top_lines[: len(near)], near)
    mesh = boss_mesh(lay_out(with_boss(2000.0, 2000.0), 0.4).boss)
    assert mesh.n_unknowns < 25_000 and least_jacobian(mesh).min() > 0.0


def test_radii_are_evenly_spaced_where_nothing_is_far():
    radii, far = (4.0, 7.0, 11.0, 11.0 + FAR * 8.0), FAR * 8.0
    assert np.array_equal(outwards(radii, 0.6, far), through(radii, 0.6))
    graded = np.diff(outwards((4.0, 500.0), 0.6, far))
    assert graded[0] == pytest.approx(0.6, rel=0.1) and (np.diff(graded) > 0.0).all() and graded[-1] > 10.0


@pytest.mark.parametrize(
    ("setup", "named"),
    [
        (with_boss(2000.0, 2000.0), ("boss: a mesh of about", "outer_diameter = 2000 mm", "floor_thickness = 2000 mm")),
        (replace(SETUP, stud=replace(SETUP.stud, length=1900.0)), ("stud: a mesh of about", "[stud] length = 1900 mm")),
    ],
)
def test_a_mesh_that_is_too_large_is_refused_with_its_keys_before_it_is_made(setup, named, monkeypatch):
    monkeypatch.setattr(mesh_size, "MOST_UNKNOWNS", 10_000)
    layout = lay_out(setup, 0.5)
    with pytest.raises(BadMesh) as problem:
        section_bodies(setup, layout, setup.history.node_names)
    assert all(words in str(problem.value) for words in (*named, "more than the 10000", "--refinement"))
