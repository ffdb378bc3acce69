import numpy as np
import pytest

from studwell.errors import BadMesh
from studwell.mesh.blocks import Block, arc, build
from studwell.mesh.outline import outline_of, simplified
from studwell.mesh.quality import least_jacobian, scaled_jacobian
from studwell.mesh.ring_crack import LOWER, UPPER, cracked_mesh


def ring(inner=2.0, outer=6.0, half=5.0):
    """A hollow cylinder whose outside bulges by an arc."""
    curve = arc((outer - half, 0.0), half * np.sqrt(2), -45.0, 45.0)
    block = Block(
        corners=[(inner, -half), (outer, -half), (outer, half), (inner, half)],
        divisions=(4, 8),
        curves={"east": curve},
        tags={"south": "bottom", "north": "top", "west": "bore", "east": "outside"},
    )
    return build([block])


@pytest.fixture(scope="module")
def crack():
    return cracked_mesh(ring(), (2.0, 0.3), (1.0, -0.4), 0.8)


def area(mesh):
    from studwell.fem.space import Space

    return Space(mesh, axisymmetric=False).weights.sum()


def test_a_cracked_mesh_covers_the_same_section_and_keeps_its_named_edges(crack):
    before = ring()
    assert area(crack.mesh) == pytest.approx(area(before), rel=1e-5)
    assert set(crack.mesh.boundaries) == {"bottom", "top", "bore", "outside", UPPER, LOWER}
    for name in ("bottom", "top", "bore"):
        lengths = []
        for mesh in (before, crack.mesh):
            ends = mesh.nodes[mesh.facet_nodes[mesh.facets_of(name), :2]]
            lengths.append(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())
        assert lengths[1] == pytest.approx(lengths[0], rel=1e-9)


def test_no_element_of_a_cracked_mesh_is_folded_or_flat(crack):
    body = crack.mesh.elements_of("body")
    assert least_jacobian(crack.mesh)[body].min() > 0.0
    assert scaled_jacobian(crack.mesh)[body].min() > 0.1


def test_the_faces_of_a_crack_lie_on_each_other_and_share_no_node(crack):
    upper, lower = crack.faces.T
    assert np.abs(crack.mesh.nodes[upper] - crack.mesh.nodes[lower]).max() < 1e-12
    assert not set(upper.tolist()) & set(lower.tolist())
    assert crack.depths[0] == pytest.approx(0.0, abs=1e-9) and np.all(np.diff(crack.depths) > 0.0)


def test_the_innermost_face_nodes_stand_a_quarter_of_the_way_from_the_tip(crack):
    last_two = np.linalg.norm(crack.mesh.nodes[crack.faces[-2:, 0]] - crack.tip, axis=1)
    assert last_two[1] / last_two[0] == pytest.approx(0.25)
    assert last_two[0] == pytest.approx(crack.radii[0])


def test_the_upper_face_is_on_the_side_of_the_normal(crack):
    mesh = crack.mesh
    for name, side in ((UPPER, 1.0), (LOWER, -1.0)):
        facets = mesh.facets_of(name)
        centres = mesh.nodes[mesh.elements[mesh.facet_element[facets], 8]]
        assert (side * ((centres - crack.mouth) @ crack.normal) > 0.0).all()


def test_a_crack_longer_than_the_wall_is_refused_with_both_lengths():
    with pytest.raises(BadMesh, match=r"6 mm long runs out of the body, which is 5\.571 mm thick"):
        cracked_mesh(ring(outer=5.5), (2.0, 0.0), (1.0, 0.0), 6.0)


def test_a_crack_that_points_out_of_the_body_is_refused():
    with pytest.raises(BadMesh, match="out of the body at once"):
        cracked_mesh(ring(), (2.0, 0.0), (-1.0, 0.0), 0.5)


def test_a_simplified_outline_keeps_its_edges_near_and_has_fewer_far_away():
    outline = outline_of(ring())
    coarse = simplified(outline, np.array([2.0, 0.0]), 1.5, 0.2)
    assert len(coarse.nodes) < len(outline.nodes)
    near = [tuple(edge.ravel()) for edge in outline.nodes if np.linalg.norm(edge - [2.0, 0.0], axis=1).min() < 1.5]
    assert near and set(near) <= {tuple(edge.ravel()) for edge in coarse.nodes}
