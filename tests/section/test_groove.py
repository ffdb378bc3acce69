"""Thread teeth as shapes: the profile of the standard, rows that close round the roots, flanks that meet."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.case import case_from_text, starter_case
from studwell.errors import Unknown
from studwell.parts.thread import minor_diameter, pitch_diameter, root_diameter, root_radius
from studwell.section.boss import boss_mesh
from studwell.section.engagement import mean_clearance
from studwell.section.groove import Teeth, whole_threads
from studwell.section.layout import lay_out
from studwell.section.nut import nut_mesh
from studwell.section.stud import stud_mesh
from studwell.section.teeth import ROOT_DEPTH

THREADS = st.sampled_from([(5.0, 0.8), (6.0, 1.0), (8.0, 1.25), (10.0, 1.5), (12.0, 1.75), (8.0, 1.0)])


@pytest.fixture
def teeth_of():
    def build(override="", refinement=0.7):
        text = starter_case("M8") + '\n[setup."toothed"]\nstud = { thread_model = "grooves" }\n' + override
        return lay_out(case_from_text(text, "starter case").setup("toothed"), refinement)

    return build


@given(THREADS, st.integers(2, 12), st.sampled_from([1, -1]))
def test_profile_has_the_diameters_of_the_standard(thread, count, loaded):
    d, pitch = thread
    teeth = Teeth(d, pitch, 3.0, count, loaded)
    z = teeth.height(np.linspace(-0.25, count - 0.25, 4001))
    outside, inside = teeth.external_radius(z), teeth.internal_radius(z)
    assert 2 * outside.max() == approx(d)
    assert 2 * outside.min() == approx(float(root_diameter(d, pitch)), rel=1e-5)
    assert 2 * inside.min() == approx(float(minor_diameter(d, pitch)))
    ends = np.array([teeth.bottom, teeth.top])
    assert 2 * teeth.external_radius(ends) == approx(float(pitch_diameter(d, pitch)))
    assert 2 * teeth.internal_radius(ends) == approx(float(pitch_diameter(d, pitch)))


@given(THREADS)
def test_external_and_internal_flanks_coincide_and_never_cross(thread):
    d, pitch = thread
    teeth = Teeth(d, pitch, 0.0, 3, 1)
    z = teeth.height(np.linspace(0.0, 2.0, 801))
    outside, inside = teeth.external_radius(z), teeth.internal_radius(z)
    assert np.all(inside - outside > -1e-9)
    flank = (outside > inside.min() + 1e-6) & (outside < d / 2 - 1e-6)
    assert inside[flank] == approx(outside[flank])


@given(THREADS)
def test_external_root_is_an_arc_of_the_standards_radius(thread):
    d, pitch = thread
    teeth = Teeth(d, pitch, 0.0, 2, 1)
    x = np.linspace(0.4, 0.6, 41)
    z, r = teeth.height(x), teeth.external_radius(teeth.height(x))
    radius = float(root_radius(pitch))
    centre = r.min() + radius
    assert np.hypot(r - centre, z - float(teeth.height(0.5))) == approx(radius, rel=1e-9)


@pytest.mark.parametrize("loaded", [1, -1])
@pytest.mark.parametrize("kind", ["external", "internal", "flat"])
def test_rows_rise_from_end_to_end(kind, loaded):
    teeth = Teeth(8.0, 1.25, 2.0, 5, loaded, 0.15)
    rows = teeth.rows(kind)
    assert np.all(np.diff(rows) > 0.0)
    low, high = (teeth.bottom, teeth.top) if kind == "flat" else teeth.span(kind)
    assert (rows[0], rows[-1]) == approx((low, high))


def test_flanks_touch_as_far_as_the_clearance_lets_them():
    for clearance in (0.0, 0.05, 0.15, 0.25):
        teeth = Teeth(8.0, 1.25, 0.0, 2, 1, clearance)
        z = teeth.rows("flat")[1::2]
        r = teeth.external_radius(z)
        touching = teeth.on_flank(r, z)
        ends = teeth.external_radius(teeth.rows("flat")[::2])
        outermost = np.maximum(ends[:-1], ends[1:])[touching].max()
        assert outermost == approx((8.0 - clearance) / 2, abs=1e-9)


@given(st.floats(2.0, 30.0), st.floats(0.5, 2.0))
def test_whole_threads_fit_the_length(length, pitch):
    count = whole_threads(length, pitch)
    assert count * pitch <= length * (1 + 1e-9) + 1e-9
    assert (count + 1) * pitch > length - 1e-6


def test_clearance_of_a_medium_fit_is_the_middle_of_its_limits():
    thread = case_from_text(starter_case("M8"), "starter case").setups[0].stud.thread
    # ISO 965 limits of M8 6g/6H, from memory: d2 7.042-7.160, D2 7.188-7.348
    assert mean_clearance(thread) == approx((7.188 + 7.348 - 7.042 - 7.160) / 2, abs=2e-3)


def test_flanks_of_stud_and_partner_are_the_same_edges(teeth_of):
    layout = teeth_of()
    stud = stud_mesh(layout.stud)
    for name, partner in (("thread", boss_mesh(layout.boss)), ("nut thread", nut_mesh(layout.nut))):
        for suffix in ("", " back"):
            own = stud.nodes[stud.facet_nodes[stud.facets_of(name + suffix)][:, 2]]
            theirs = partner.nodes[partner.facet_nodes[partner.facets_of("thread" + suffix)][:, 2]]
            assert own == approx(theirs, abs=1e-7)


def test_every_carrying_thread_has_its_flank_and_root(teeth_of):
    layout = teeth_of()
    teeth = layout.boss.teeth
    mesh = boss_mesh(layout.boss)
    assert len(mesh.facets_of("thread")) == teeth.count * (teeth.flank_edges - 1)
    assert len(mesh.facets_of("thread back")) == (teeth.count - 1) * (teeth.flank_edges - 1)
    assert {f"root {k}" for k in range(1, teeth.count + 1)} <= set(mesh.regions)
    members = np.concatenate(list(mesh.regions.values()))
    assert sorted(members.tolist()) == list(range(mesh.n_elements))


def test_metal_under_a_root_is_as_deep_as_its_name_says(teeth_of):
    layout = teeth_of()
    for mesh, teeth, kind in (
        (boss_mesh(layout.boss), layout.boss.teeth, "internal"),
        (stud_mesh(layout.stud), layout.stud.boss_teeth, "external"),
    ):
        nodes = mesh.nodes[mesh.elements[mesh.elements_of("root 2")]]
        wall = teeth.internal_radius if kind == "internal" else teeth.external_radius
        depth = np.abs(nodes[..., 0] - wall(nodes[..., 1])).max()
        assert depth == approx(ROOT_DEPTH * teeth.pitch, rel=1e-6)


def test_fewer_than_two_whole_threads_are_refused(teeth_of):
    text = starter_case("M8")
    case = case_from_text(
        text + '\n[setup."short"]\nstud = { thread_model = "grooves", engaged_length = "2.6 mm" }\n', "starter case"
    )
    assert lay_out(case.setup("short")).boss.teeth.count == 2
    setup = case.setup("short")
    with pytest.raises(Unknown, match="fewer than two whole threads"):
        from dataclasses import replace

        lay_out(replace(setup, stud=replace(setup.stud, engaged_length=2.4)))
