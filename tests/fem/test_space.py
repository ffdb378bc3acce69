"""Geometry and operators of the axisymmetric space against exact integrals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studwell.errors import BadMesh, OutOfBody
from studwell.fem import Space
from studwell.mesh import Block, build
from studwell.mesh.reference import distorted_patch, fillet_corner, hollow_sphere, ring

RING = ring(2.0, 5.0, 3.0, (3, 4))
FILLET = fillet_corner(4.0, 0.5, 15.0, 6.0, 12.0)
PATCH = distorted_patch()


def test_weights_sum_to_the_volume_of_revolution():
    assert Space(RING).weights.sum() == pytest.approx(np.pi * (25 - 4) * 3, rel=1e-13)
    assert Space(RING, axisymmetric=False).weights.sum() == pytest.approx(9.0, rel=1e-13)
    sphere = Space(hollow_sphere(1.0, 2.0, (4, 12)))
    assert sphere.weights.sum() == pytest.approx(2 / 3 * np.pi * 7, rel=1e-6)


def test_edge_areas_of_straight_edges_are_exact():
    space = Space(RING)
    assert space.edges("bottom").areas.sum() == pytest.approx(np.pi * 21, rel=1e-14)
    assert space.edges("bore").areas == pytest.approx(2 * np.pi * 2 * 0.75, rel=1e-14)
    r = np.array([2.0, 3.0, 4.0, 5.0])
    assert space.edges("top").areas == pytest.approx(np.pi * np.diff(r**2), rel=1e-14)


def test_normals_point_out_of_the_body():
    space = Space(RING)
    for name, way in {"bottom": (0, -1), "top": (0, 1), "bore": (-1, 0), "outside": (1, 0)}.items():
        assert space.edges(name).normals == pytest.approx(np.array([way] * len(space.edges(name).nodes)), abs=1e-14)
    edges = Space(FILLET).edges("fillet")
    towards_centre = np.array([3.5, 0.5]) - edges.midpoints
    assert (towards_centre * edges.normals).sum(axis=1) == pytest.approx(0.5, rel=1e-6)


@pytest.mark.parametrize("mesh", [RING, FILLET, PATCH], ids=["ring", "fillet", "patch"])
def test_each_edge_column_is_one_newton_and_averages_displacement_over_the_area(mesh):
    space = Space(mesh)
    z = np.zeros(space.n_unknowns)
    z[1::2] = space.nodes[:, 1]
    for name in mesh.boundaries:
        columns = space.edge_columns(name, "z")
        assert columns.sum(axis=0) == pytest.approx(1.0, abs=1e-13)
        edges = space.edges(name)
        points = np.einsum("kn,enz->ekz", edges.shapes, space.nodes[edges.nodes])
        average = (edges.shares * points[..., 1]).sum(axis=1) / edges.areas
        assert columns.T @ z == pytest.approx(average, abs=1e-12)


def test_load_on_the_innermost_edge_gives_the_axis_node_nothing():
    space = Space(ring(0.0, 5.0, 3.0, (4, 2)))
    column = space.edge_columns("bottom", "z")[:, 0].toarray().ravel()
    start, middle, end = space.edges("bottom").nodes[0]
    assert space.nodes[start, 0] == 0
    assert column[2 * start + 1] == pytest.approx(0.0, abs=1e-15)
    assert column[[2 * middle + 1, 2 * end + 1]] == pytest.approx([2 / 3, 1 / 3], rel=1e-12)


def test_normal_columns_on_the_whole_outline_push_with_no_net_axial_force_per_pressure():
    space = Space(PATCH)
    force = space.edge_columns("rim", "normal") @ space.edges("rim").areas
    assert force[1::2].sum() == pytest.approx(0.0, abs=1e-11)
    assert -space.traction_load("rim", "normal", -1.0) == pytest.approx(force, abs=1e-12)


def test_edge_on_the_axis_cannot_be_loaded_and_unknown_directions_are_refused():
    mesh = build([Block([[0, 0], [1, 0], [1, 1], [0, 1]], (1, 1), tags={"west": "axis", "east": "side"})])
    with pytest.raises(BadMesh, match="no area"):
        Space(mesh).edge_columns("axis", "z")
    with pytest.raises(ValueError, match="normal"):
        Space(mesh).edge_columns("side", "axial")


def test_axis_unknowns_are_the_radial_ones_at_zero_radius():
    space = Space(ring(0.0, 5.0, 3.0, (4, 2)))
    assert len(space.axis_dofs) == 5
    assert not space.nodes[space.axis_dofs // 2, 0].any()
    assert not (space.axis_dofs % 2).any()
    assert len(Space(RING).axis_dofs) == 0


@pytest.mark.parametrize("mesh", [RING, FILLET, PATCH], ids=["ring", "fillet", "patch"])
def test_located_points_map_back_to_themselves(mesh):
    space = Space(mesh)
    points = space.points.reshape(-1, 2)
    element, _ = space.locate(points)
    assert (element == np.repeat(np.arange(mesh.n_elements), 9)).all()
    assert space.value_operator(points) @ space.nodes.ravel() == pytest.approx(points.ravel(), abs=1e-12)


def test_nodes_are_found_too_and_points_outside_are_an_error():
    space = Space(FILLET)
    assert space.value_operator(space.nodes) @ space.nodes.ravel() == pytest.approx(space.nodes.ravel(), abs=1e-12)
    with pytest.raises(OutOfBody, match=r"3\.9"):
        space.locate([[1.0, -1.0], [3.9, 3.0]])
    with pytest.raises(OutOfBody):
        space.locate([[3.5 + 0.5 * np.sqrt(0.5) - 0.02, 0.5 - 0.5 * np.sqrt(0.5) + 0.02]])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(-1e-3, 1e-3), min_size=4, max_size=4))
def test_linear_displacements_have_exact_strains_everywhere(gradient):
    a, b, c, d = gradient
    space = Space(PATCH)
    r, z = space.nodes.T
    u = np.stack([a * r, c * r + d * z], axis=1).ravel()
    points = np.array([[2.0, 0.0], [3.1, 1.7], [7.9, 2.2], [10.7, 2.0]])
    expected = np.tile([a, a, d, c], (4, 1))
    assert (space.strain_operator(points) @ u).reshape(-1, 4) == pytest.approx(expected, abs=1e-14)
    assert space.region_average_strain("patch") @ u == pytest.approx(expected[0], abs=1e-14)
    shear = np.stack([b * z, 0 * z], axis=1).ravel()
    assert (space.strain_operator(points) @ shear).reshape(-1, 4)[:, 3] == pytest.approx(b, abs=1e-14)
    hoop = (space.strain_operator(points) @ shear).reshape(-1, 4)[:, 1]
    exact = b * points[:, 1] / points[:, 0]
    assert hoop[:1] == pytest.approx(exact[:1], abs=1e-14)


def test_hoop_strain_on_the_axis_is_the_radial_strain():
    space = Space(ring(0.0, 5.0, 3.0, (4, 2)))
    u = np.zeros(space.n_unknowns)
    u[0::2] = 1e-3 * space.nodes[:, 0]
    assert space.strain_operator([[0.0, 1.0]]) @ u == pytest.approx([1e-3, 1e-3, 0, 0], abs=1e-16)


def test_average_strain_is_the_weighted_mean_of_the_quadrature_strains():
    space = Space(FILLET)
    rng = np.random.default_rng(1)
    u = rng.standard_normal(space.n_unknowns)
    u[space.axis_dofs] = 0
    weights = space.weights * rng.random(space.weights.shape)
    local = np.einsum("mqci,mi->mqc", space.strain_matrix, u[space.element_unknowns])
    mean = (local * weights[..., None]).sum(axis=(0, 1)) / weights.sum()
    both = space.average_strain_operator([weights, space.region_weights([3, 5])]) @ u
    assert both[:4] == pytest.approx(mean, rel=1e-10)
    assert both[4:] == pytest.approx(space.region_average_strain([3, 5]) @ u, rel=1e-12)
    with pytest.raises(ValueError, match="positive sum"):
        space.average_strain_operator(0 * weights)
