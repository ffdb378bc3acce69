"""The section's shapes and meshes: lines where parts end, volumes by hand, bodies that meet."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.errors import BadMesh, Unknown
from studwell.fem.space import Space
from studwell.joint.bodies import section_bodies
from studwell.mesh.quality import scaled_jacobian
from studwell.section.boss import boss_mesh
from studwell.section.layout import lay_out
from studwell.section.nut import nut_mesh
from studwell.section.ring import ring_mesh
from studwell.section.stud import stud_mesh

FEW = settings(derandomize=True, max_examples=12, deadline=None)
COARSE = 0.2


def volume(mesh):
    return float(Space(mesh).weights.sum())


def frusta(outline):
    """Volume of a solid of revolution with straight sides between (radius, z) points."""
    r, z = np.asarray(outline).T
    return float(np.sum(np.pi / 3 * np.diff(z) * (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2)))


def ring_area(inner, outer):
    return np.pi * (outer**2 - inner**2)


@given(st.floats(10.0, 13.0), st.floats(15.0, 24.0), st.floats(8.5, 9.5))
@FEW
def test_washer_layer_and_nut_edges_are_mesh_lines_of_everything_that_they_touch(make_setup, nut, washer, hole):
    nut, washer, hole = round(nut, 2), round(washer, 2), round(hole, 2)
    override = (
        f'washer = [{{ kind = "plain", inner_diameter = "{hole} mm", outer_diameter = "{washer} mm", '
        f'thickness = "1.6 mm", material = "steel 8.8" }}]\nnut = {{ bearing_diameter = "{nut} mm" }}\n'
    )
    setup = make_setup(override)
    layout = lay_out(setup, COARSE)
    bodies = {b.spec.name: b.spec for b in section_bodies(setup, layout, setup.history.node_names)}
    for joining in layout.joinings:
        for body, face, inner, outer in (
            (joining.lower, "top", joining.inner, joining.outer),
            (joining.upper, "bottom", joining.upper_inner, joining.upper_outer),
        ):
            spec = bodies[body]
            edges = Space(spec.mesh).edges(spec.columns[face].boundary)
            assert edges.areas.sum() == approx(ring_area(inner, outer), rel=1e-9)
    under_nut = layout.joinings[-1]
    assert 2 * under_nut.outer == approx(min(nut, washer))
    assert 2 * under_nut.inner == approx(max(hole, setup.nut.bearing_inner_diameter))


def test_tip_and_floor_touch_over_the_whole_flat_tip(make_setup):
    setup = make_setup()
    layout = lay_out(setup, COARSE)
    tip = Space(stud_mesh(layout.stud)).edges("tip")
    seat = Space(boss_mesh(layout.boss)).edges("seat")
    assert tip.areas.sum() == approx(np.pi / 4 * setup.stud.tip_diameter**2, rel=1e-9)
    assert seat.midpoints == approx(tip.midpoints, abs=1e-9)


def test_on_a_drill_cone_only_the_tips_edge_touches_and_both_faces_are_parallel(make_setup):
    layout = lay_out(make_setup('boss = { hole_end = "cone", cone_angle = "118 deg" }'), COARSE)
    tip = Space(stud_mesh(layout.stud)).edges("tip")
    seat = Space(boss_mesh(layout.boss)).edges("seat")
    assert tip.midpoints == approx(seat.midpoints + np.array([0.0, layout.tip_lift]), abs=1e-6)
    assert tip.normals == approx(-seat.normals, abs=1e-9)
    assert tip.midpoints[:, 0].min() > layout.stud.tip_contact_from


def test_on_a_radiused_end_the_tips_edge_touches_and_both_faces_are_parallel(make_setup):
    override = 'boss = { hole_end = "radiused", corner_radius = "2 mm" }\nstud = { engaged_length = "10 mm" }'
    layout = lay_out(make_setup(override), COARSE)
    tip, seat = Space(stud_mesh(layout.stud)).edges("tip"), Space(boss_mesh(layout.boss)).edges("seat")
    assert tip.midpoints == approx(seat.midpoints + np.array([0.0, layout.tip_lift]), abs=1e-6)
    assert tip.normals == approx(-seat.normals, abs=1e-9)
    assert seat.normals[:, 0] == approx(-np.sin(layout.cone_slope)) and 0.3 < layout.cone_slope < 1.1
    # both ends of the land lie on the arc of the end's radius
    rc, zc = layout.boss.fillet_centre
    for radius in (layout.boss.contact_from, layout.boss.tip_lines[-1]):
        assert np.hypot(radius - rc, layout.boss.floor_height(radius) - zc) == approx(2.0)


def test_a_radius_that_runs_into_the_engaged_thread_is_refused_and_told(make_setup):
    shape = lay_out(make_setup(), COARSE).boss
    _, zc = shape.fillet_centre
    raised = replace(shape, corner_radius=shape.corner_radius + shape.engaged[0] - zc + 0.1)
    with pytest.raises(BadMesh, match="engaged thread begins"):
        boss_mesh(raised)


@pytest.mark.parametrize("thread", ["M6", "M8", "M10"])
def test_the_studs_volume_is_that_of_its_outline(make_setup, thread):
    layout = lay_out(make_setup(thread=thread), COARSE)
    shape = layout.stud
    point = [(shape.tip_lines[-1], shape.tip_heights[0]), tuple(shape.profile[0])]
    assert volume(stud_mesh(shape)) == approx(frusta(point) + frusta(shape.profile), rel=1e-9)


def test_a_rings_volume_is_area_times_height():
    mesh = ring_mesh(np.array([4.5, 6.0, 11.0]), 15.0, 55.0, 0.64)
    assert volume(mesh) == approx(ring_area(4.5, 11.0) * 40.0, rel=1e-12)


def test_the_boss_is_a_cylinder_less_its_hole(make_setup):
    setup = make_setup()
    shape = lay_out(setup, COARSE).boss
    boss = setup.boss
    taper_start = max(shape.fillet_centre[1], shape.thread_bottom - shape.runout)
    hole = [
        (shape.drill_radius, 0.0),
        (shape.drill_radius, taper_start),
        (shape.thread_radius, max(shape.thread_bottom, taper_start + 1e-3)),
        (shape.thread_radius, shape.mouth_start),
        (shape.mouth_radius, shape.hole_depth),
    ]
    r = shape.corner_radius
    # the fillet fills the square less the quarter circle, about its centroid's radius
    fillet_area = r**2 * (1.0 - np.pi / 4)
    centroid = shape.drill_radius - r * (1.0 - (5.0 / 6.0 - np.pi / 4) / (1.0 - np.pi / 4))
    assert centroid < shape.drill_radius
    expected = np.pi * shape.outer_radius**2 * boss.height - frusta(hole) + 2 * np.pi * centroid * fillet_area
    assert volume(boss_mesh(shape)) == approx(expected, rel=2e-4)


def test_the_fillet_is_round_and_a_mesh_line_starts_in_its_middle(make_setup):
    shape = lay_out(make_setup(), 0.5).boss
    mesh = boss_mesh(shape)
    space = Space(mesh)
    nodes = space.nodes[space.boundary_nodes("fillet")] - np.array(shape.fillet_centre)
    assert np.linalg.norm(nodes, axis=1) == approx(np.full(len(nodes), shape.corner_radius), rel=1e-6)
    angles = np.degrees(np.arctan2(nodes[:, 1], nodes[:, 0]))
    assert np.abs(angles + 45.0).min() < 1e-6
    floor_side = space.nodes[space.elements[mesh.elements_of("fillet floor side")]].reshape(-1, 2)
    wall_side = space.nodes[space.elements[mesh.elements_of("fillet wall side")]].reshape(-1, 2)
    assert floor_side[:, 1].min() < wall_side[:, 1].min() and floor_side[:, 0].min() < wall_side[:, 0].min()


@pytest.mark.parametrize(
    "override",
    [
        "",
        'boss = { hole_end = "cone", cone_angle = "118 deg" }',
        'boss = { corner_radius = "0.5 mm" }',
        'boss = { hole_end = "radiused", corner_radius = "2 mm" }\nstud = { engaged_length = "10 mm" }',
        'boss = { hole_end = "radiused", corner_radius = "3.32 mm" }\nstud = { engaged_length = "10 mm" }',
    ],
    ids=["flat", "cone", "large fillet", "radiused", "ball end"],
)
@pytest.mark.parametrize("nut", ["hex", "domed"])
def test_meshes_of_every_refinement_hold_no_bad_element(make_setup, override, nut):
    counts = []
    for refinement in (0.1, 0.3, 0.6):
        layout = lay_out(make_setup(override, nut=nut), refinement)
        meshes = [boss_mesh(layout.boss), stud_mesh(layout.stud), nut_mesh(layout.nut)]
        for mesh in meshes:
            assert scaled_jacobian(mesh).min() > 0.05
        counts.append(sum(mesh.n_elements for mesh in meshes))
    assert counts == sorted(counts) and counts[0] < counts[-1]


def test_tension_is_summed_over_a_plain_slice_apart_from_the_plastic_length(make_setup):
    layout = lay_out(make_setup(), COARSE)
    mesh = stud_mesh(layout.stud)
    nodes = Space(mesh).nodes
    elements = Space(mesh).elements
    z = nodes[elements[mesh.elements_of("tension")]][..., 1]
    assert (z.min(), z.max()) == approx(layout.stud.tension)
    stretch = nodes[elements[mesh.elements_of("stretch")]][..., 1]
    assert stretch.max() <= z.min() + 1e-9 or stretch.min() >= z.max() - 1e-9
    assert layout.stretch_length == approx(layout.stud.stretch[1] - layout.stud.stretch[0])


@given(st.floats(0.0, 4.0))
@FEW
def test_a_domed_nut_has_either_a_gap_over_the_stud_or_stands_lifted_by_it(make_setup, more):
    base = make_setup(nut="domed")
    setup = make_setup(f'stud = {{ length = "{base.stud.length + more:.2f} mm" }}', nut="domed")
    layout = lay_out(setup, COARSE)
    free = setup.nut_face_z + setup.nut.usable_thread_depth - (setup.tip_seat_z + setup.stud.length)
    assert layout.dome_gap == approx(max(0.0, free), abs=1e-9)
    assert layout.nut_lift == approx(max(0.0, -free), abs=1e-9)


def test_a_hex_nut_has_no_dome(make_setup):
    layout = lay_out(make_setup(), COARSE)
    assert layout.dome_gap is None and layout.nut_lift == 0.0


def test_two_springs_on_each_other_without_a_layer_between_are_unknown(make_setup):
    plain, spring = '{ kind = "plain", size = "M8" }', '{ kind = "spring", size = "DIN 2093 A 16x8.2x0.9" }'
    setup = make_setup(f"washer = [{plain}, {spring}]")
    washer, one = setup.washers
    with pytest.raises(Unknown, match="without a solid layer between"):
        lay_out(replace(setup, washers=(washer, one, one)), COARSE)
