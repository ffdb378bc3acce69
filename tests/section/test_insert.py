"""The insert's ring and coil: lines that match stud and hole, areas by hand."""

import numpy as np
import pytest
from pytest import approx

from studwell.fem.space import Space
from studwell.parts.insert import insert_hole
from studwell.parts.thread import minor_diameter, pitch_diameter
from studwell.section.boss import boss_mesh
from studwell.section.insert import coil_mesh, insert_mesh, insert_pitch_diameter, lay_out_insert
from studwell.section.layout import lay_out
from studwell.section.stud import stud_mesh

HOLE = 'boss = { hole_depth = "17 mm", thread_depth = "14.5 mm", insert = { length = "1.5 d", set_down = "1 mm" } }\n'


@pytest.fixture(scope="module", params=["12 mm", "13 mm"], ids=["short of its top", "past its top"])
def laid_out(request, make_setup):
    setup = make_setup(HOLE + f'stud = {{ engaged_length = "{request.param}" }}')
    return setup, lay_out(setup, 0.3)


def test_stud_insert_and_hole_have_the_same_edges_where_they_meet(laid_out):
    _, layout = laid_out
    stud, boss, insert = (
        Space(mesh) for mesh in (stud_mesh(layout.stud), boss_mesh(layout.boss), insert_mesh(layout.insert))
    )
    inside, thread = insert.edges("inside thread"), stud.edges("thread")
    assert inside.midpoints == approx(thread.midpoints, abs=1e-9) and len(inside.midpoints) >= 4
    assert insert.edges("outside thread").midpoints == approx(boss.edges("thread").midpoints, abs=1e-9)


def test_the_insert_stands_between_the_pitch_lines_set_down_and_as_long_as_in_its_hole(laid_out):
    setup, layout = laid_out
    mesh = insert_mesh(layout.insert)
    (inner, low), (outer, high) = mesh.nodes.min(axis=0), mesh.nodes.max(axis=0)
    assert (low, high) == approx(setup.boss.insert_ends)
    assert 2 * inner == approx(float(pitch_diameter(8.0, 1.25)))
    assert 2 * outer == approx(float(insert_hole(8.0, 1.25).pitch_diameter)) == approx(insert_pitch_diameter(setup))
    space = Space(mesh)
    assert space.weights.sum() == approx(np.pi * (outer**2 - inner**2) * (high - low))
    assert {"top", "bottom"} <= set(mesh.boundaries)


def test_the_studs_full_threads_begin_at_its_tips_end_though_the_insert_ends_above_them(laid_out):
    setup, layout = laid_out
    assert layout.stud.profile[0] == approx([layout.stud.thread_radius, setup.stud.tip_length])
    assert layout.insert.lines[0] > setup.stud.tip_length + setup.stud.thread.pitch


def test_only_the_overlap_of_stud_and_insert_is_engaged(laid_out):
    setup, layout = laid_out
    assert np.ptp(layout.insert.engaged) == approx(setup.engaged_thread)
    assert layout.insert.engaged[0] == approx(max(setup.stud.tip_length, layout.insert.lines[0]))


def test_an_insert_that_ends_below_the_studs_first_thread_is_engaged_from_there(make_setup):
    hole = HOLE.replace("17 mm", "17.5 mm").replace("14.5 mm", "17 mm").replace("1.5 d", "2 d")
    setup = make_setup(hole + 'stud = { engaged_length = "13 mm" }')
    shape = lay_out(setup, 0.3).insert
    assert shape.lines[0] < shape.engaged[0] == approx(setup.stud.tip_length)
    assert set(shape.engaged) <= set(shape.lines)


def test_a_hole_without_an_insert_has_no_shape_of_one(make_setup):
    assert lay_out(make_setup(), 0.3).insert is None
    with pytest.raises(ValueError, match="has no insert"):
        lay_out_insert(make_setup(), 2.0, 14.0, 1.0, 0.3, None)


def test_a_coil_is_cut_off_at_the_minor_diameter_and_its_flanks_are_at_sixty_degrees():
    d, pitch = 8.0, 1.25
    mesh = coil_mesh(d, pitch, 2)
    (inner, low), (outer, high) = mesh.nodes.min(axis=0), mesh.nodes.max(axis=0)
    assert 2 * inner == approx(float(minor_diameter(d, pitch)))
    assert 2 * outer == approx(float(insert_hole(d, pitch).major_diameter))
    assert high - low == approx(7 / 8 * pitch)
    space = Space(mesh)
    for name, way in (("inner flank", -1.0), ("outer flank", 1.0)):
        assert space.edges(name).normals == approx(
            np.tile(way * np.array([0.5, np.sqrt(0.75)]), (len(space.edges(name).lengths), 1))
        )
    # the gap to the next coil is an eighth of a pitch
    assert pitch - (high - low) == approx(pitch / 8)
