"""Blocks join into one conforming body or are refused."""

import numpy as np
import pytest

from studwell.errors import BadMesh
from studwell.mesh import Block, arc, build, graded, grid_block, quality

LEFT = Block([[0, 0], [2, 0], [2, 1], [0, 1]], (4, 2), "left", {"south": "floor", "west": "axis"})


def right(n: int = 2, shift: float = 0.0, **more) -> Block:
    corners = [[2, shift], [5, shift], [5, 1 + shift], [2, 1 + shift]]
    return Block(corners, (3, n), "right", {"south": "floor", "east": "outside"}, **more)


def test_joined_blocks_share_their_nodes_and_keep_both_regions():
    mesh = build([LEFT, right()])
    assert mesh.n_elements == 14
    assert mesh.n_nodes == 15 * 5
    assert set(mesh.regions) == {"left", "right"}
    assert sorted(np.concatenate(list(mesh.regions.values()))) == list(range(14))
    assert quality(mesh).area == pytest.approx(5.0, rel=1e-13)


def test_node_numbers_are_those_of_scikit_fem():
    mesh = build([LEFT, right()])
    assert (mesh.elements == mesh.quads.dofs.element_dofs.T).all()


def test_boundary_runs_through_blocks_in_order_of_radius():
    mesh = build([right(), LEFT])
    middles = mesh.nodes[mesh.facet_nodes[mesh.facets_of("floor"), 2]]
    assert middles[:, 0] == pytest.approx([0.25, 0.75, 1.25, 1.75, 2.5, 3.5, 4.5])
    assert not middles[:, 1].any()


def test_two_bodies_order_their_shared_line_alike():
    upper = build([Block([[0, 1], [5, 1], [5, 3], [0, 3]], (7, 2), tags={"south": "underside"})])
    lower = build([Block([[5, 1], [0, 1], [0, 0], [5, 0]], (7, 2), tags={"south": "face"})])
    above, below = (mesh.nodes[mesh.facet_nodes[mesh.facets_of(name), 2]]
                    for mesh, name in ((upper, "underside"), (lower, "face")))  # fmt: skip
    assert above == pytest.approx(below, abs=1e-12)


def test_slanted_face_runs_from_its_inner_end_from_either_side():
    line = [[1, 3], [4, 1]]
    upper = build([Block([*line, [5, 6], [1, 6]], (3, 2), tags={"south": "face"})])
    lower = build([Block([line[1], line[0], [0, 0], [4, 0]], (3, 2), tags={"south": "face"})])
    for mesh in (upper, lower):
        middles = mesh.nodes[mesh.facet_nodes[mesh.facets_of("face"), 2]]
        assert middles[:, 0] == pytest.approx([1.5, 2.5, 3.5])
        assert middles[:, 1] == pytest.approx([8 / 3, 2, 4 / 3])


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ([LEFT, right(3)], "hanging"),
        ([LEFT, right(2, 0.25)], "hanging"),
        ([LEFT, right(2, 0.0), right(2, 0.0)], "more than two"),
        ([LEFT, Block([[1.1, 0.3], [5, 0.3], [5, 4], [1.1, 4]], (3, 3))], "sharing"),
        ([LEFT, Block([[3, 0], [5, 0], [5, 1], [3, 1]], (2, 2))], "separate"),
        ([Block([[0, 0], [0, 1], [1, 1], [1, 0]], (2, 2))], "clockwise"),
        ([Block([[0, 0], [1, 0], [0.1, 0.1], [0, 1]], (1, 1))], "folded"),
        ([Block([[-1, 0], [1, 0], [1, 1], [-1, 1]], (2, 2))], "r >= 0"),
        ([LEFT, Block([[2, 0], [5, 0], [5, 1], [2, 1]], (3, 2), tags={"west": "joint"})], "inside the body"),
        ([], "at least one"),
    ],
    ids=lambda value: value.replace(" ", "_") if isinstance(value, str) else "",
)
def test_body_that_cannot_be_solved_on_is_refused(blocks, words):
    with pytest.raises(BadMesh, match=words):
        build(blocks)


def test_blocks_that_disagree_on_a_curved_edge_are_refused():
    bow = {"west": lambda t: np.stack([2 + 0.2 * t * (1 - t), t], axis=-1)}
    with pytest.raises(BadMesh, match="not the edge between them"):
        build([Block([[0, 0], [2, 0], [2, 1], [0, 1]], (2, 1)), right(1, curves=bow)])


@pytest.mark.parametrize(
    "wrong",
    [
        {"tags": {"left": "floor"}},
        {"curves": {"top": arc((0, 0), 1, 0, 90)}},
        {"curves": {"south": arc((0, 0), 1, 0, 90)}},
        {"u_spacing": [0, 0.5, 1]},
        {"u_spacing": [0, 0.5, 0.4, 1]},
        {"u_spacing": [0, 0.2, 0.4, 0.9]},
    ],
    ids=str,
)
def test_wrong_block_is_refused(wrong):
    with pytest.raises(BadMesh):
        build([Block([[0, 0], [1, 0], [1, 1], [0, 1]], (3, 1), **wrong)])


def test_all_nodes_of_a_curved_edge_lie_on_the_curve():
    block = Block([[1, 0], [2, 0], [0, 2], [0, 1]], (2, 5), tags={"west": "bore"},
                  curves={"west": arc((0, 0), 1, 0, 90), "east": arc((0, 0), 2, 0, 90)})  # fmt: skip
    mesh = build([block])
    nodes = mesh.facet_nodes[mesh.facets_of("bore")]
    assert np.hypot(*mesh.nodes[nodes].reshape(-1, 2).T) == pytest.approx(1.0, abs=1e-14)
    assert quality(mesh).area == pytest.approx(np.pi * 0.75, rel=1e-4)


def test_boundary_chosen_by_a_predicate_holds_outer_edges_only():
    mesh = build([LEFT, right()]).with_boundary("roof", lambda r, z: z > 0.99)
    assert len(mesh.facets_of("roof")) == 7
    everything = mesh.with_boundary("all", lambda r, z: r > -1)
    assert len(everything.facets_of("all")) == 2 * (7 + 2)


def test_predicate_that_matches_no_edge_is_an_error():
    with pytest.raises(BadMesh, match="matches no outer edge"):
        build([LEFT]).with_boundary("nowhere", lambda r, z: z == 0.5)


def test_boundary_name_in_use_and_unknown_names_are_errors():
    mesh = build([LEFT])
    with pytest.raises(BadMesh, match="exists already"):
        mesh.with_boundary("floor", lambda r, z: z == 0)
    with pytest.raises(BadMesh, match="floor"):
        mesh.facets_of("flor")
    with pytest.raises(BadMesh, match="left"):
        mesh.elements_of("middle")


def test_swept_block_equals_the_straight_block_of_the_same_corners():
    u, v = np.meshgrid(np.linspace(0, 2, 5), np.linspace(0, 1, 3), indexing="ij")
    swept = build([grid_block(np.stack([u, v], axis=-1), "left", LEFT.tags)])
    assert swept.nodes == pytest.approx(build([LEFT]).nodes, abs=1e-15)


def test_graded_spacing_ends_with_its_ratio():
    steps = np.diff(graded(6, 5.0))
    assert steps[-1] / steps[0] == pytest.approx(5.0)
    assert steps.sum() == pytest.approx(1.0)
    assert steps[1:] / steps[:-1] == pytest.approx(5.0**0.2)


def test_linear_quads_for_drawing_cover_the_same_area():
    mesh = build([LEFT, right()])
    corners = mesh.nodes[mesh.linear_quads()]
    x, y = corners[..., 0], corners[..., 1]
    areas = 0.5 * (x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1)).sum(axis=1)
    assert (areas > 0).all()
    assert areas.sum() == pytest.approx(5.0)
