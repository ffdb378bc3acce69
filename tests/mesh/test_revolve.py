"""A revolved section has the volume that Pappus gives it, no inverted cell, and fields that turn with it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.errors import BadMesh, StudwellError
from studwell.mesh.reference import fillet_corner
from studwell.mesh.revolve import KINDS, revolve

# faces of linear cells, normals outward by the right-hand rule
FACES = {
    "hexahedron": ((0, 4, 7, 3), (1, 2, 6, 5), (0, 1, 5, 4), (3, 7, 6, 2), (0, 3, 2, 1), (4, 5, 6, 7)),
    "wedge": ((0, 2, 1), (3, 4, 5), (0, 1, 4, 3), (1, 2, 5, 4), (2, 0, 3, 5)),
    "pyramid": ((0, 3, 2, 1), (0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)),
}
BLOCK_NODES = np.array([[0.0, 0.0], [1.0, 0.1], [2.5, 0.0], [0.0, 1.0], [1.2, 0.9], [2.4, 1.3], [1.0, 2.0]])
BLOCK = np.array([[0, 1, 4, 3], [1, 2, 5, 4], [3, 4, 5, 6]])
"""An edge on the axis, none on it, and one corner on it."""


def volumes(body, kind):
    """Volume of each cell by the divergence theorem, faces of four nodes as two triangles; negative: inside out."""
    total = np.zeros(len(body.cells[kind]))
    points = body.nodes[body.cells[kind]]
    for face in FACES[kind]:
        for a, b, c in [face[:3], (face[0], *face[2:])][: len(face) - 2]:
            total += np.einsum("mi,mi->m", points[:, a], np.cross(points[:, b], points[:, c])) / 6.0
    return total


def pappus(nodes, quads, angle):
    """Volume of revolution of straight-sided quadrilaterals: area times the path of the centroid."""
    r, z = nodes[quads].transpose(2, 0, 1)
    s, t = np.roll(r, -1, axis=1), np.roll(z, -1, axis=1)
    return math.radians(angle) * np.sum((r + s) * (r * t - s * z)) / 6.0


@pytest.mark.parametrize(("angle", "sectors"), [(270.0, 27), (360.0, 12), (90.0, 1), (10.0, 1)])
def test_volume_is_that_of_pappus_times_the_share_of_a_chord(angle, sectors):
    body = revolve(BLOCK_NODES, BLOCK, angle, sectors)
    found = sum(volumes(body, kind).sum() for kind in KINDS)
    step = math.radians(angle) / sectors
    assert found == approx(pappus(BLOCK_NODES, BLOCK, angle) * math.sin(step) / step, rel=1e-12)
    assert body.volume_share == approx(math.sin(step) / step)


@settings(deadline=None, max_examples=30)
@given(moved=st.lists(st.floats(-0.2, 0.2), min_size=14, max_size=14), sectors=st.integers(4, 40))
def test_no_cell_of_a_distorted_section_is_inside_out(moved, sectors):
    nodes = BLOCK_NODES + np.reshape(moved, (7, 2)) * (BLOCK_NODES[:, :1] > 0.0)
    body = revolve(nodes, BLOCK, 270.0, sectors)
    for kind in KINDS:
        assert (volumes(body, kind) > 0.0).all(), kind


def test_every_corner_of_every_hexahedron_has_a_positive_jacobian():
    mesh = fillet_corner(4.0, 0.5, 15.0, 6.0, 12.0)
    body = revolve(mesh.nodes, mesh.elements[:, :4])
    points = body.nodes[body.cells["hexahedron"]]
    around = ((1, 3, 4), (2, 0, 5), (3, 1, 6), (0, 2, 7), (7, 5, 0), (4, 6, 1), (5, 7, 2), (6, 4, 3))
    for corner, ends in enumerate(around):
        edges = points[:, list(ends)] - points[:, [corner]]
        assert (np.linalg.det(edges) > 0.0).all()


def test_what_touches_the_axis_is_no_hexahedron_with_a_collapsed_face():
    body = revolve(BLOCK_NODES, BLOCK, 270.0, 6)
    assert {kind: len(cells) for kind, cells in body.cells.items()} == {"hexahedron": 6, "wedge": 12, "pyramid": 6}
    assert sorted(set(body.origin["pyramid"])) == [2] and sorted(set(body.origin["wedge"])) == [0, 2]
    for kind in KINDS:
        for cell in body.cells[kind]:
            assert len(set(cell)) == KINDS[kind], kind
    assert len(np.unique(body.nodes, axis=0)) == len(body.nodes)  # one node a place, also along the axis


def test_a_full_turn_closes_on_itself():
    body = revolve(BLOCK_NODES, BLOCK, 360.0, 8)
    assert len(body.nodes) == 8 * 5 + 2
    faces = {}
    for kind in KINDS:
        for cell in body.cells[kind]:
            for face in FACES[kind]:
                key = tuple(sorted(cell[list(face)]))
                faces[key] = faces.get(key, 0) + 1
    outside = [key for key, uses in faces.items() if uses == 1]
    on_cut = [key for key in outside if np.ptp(body.nodes[list(key)][:, 1]) < 1e-12 and len(key) == 4]
    assert not on_cut and max(faces.values()) == 2


def test_vectors_and_tensors_turn_with_the_section():
    body = revolve(BLOCK_NODES, BLOCK, 270.0, 27)
    u, stress = np.tile([0.3, -0.2], (7, 1)), np.tile([5.0, -3.0, 2.0, 1.5], (7, 1))
    vectors, tensors = body.vectors(u), body.tensors(stress)
    for (x, y, z), angle in zip(vectors, body.angle, strict=True):
        assert (x, y, z) == approx((0.3 * math.cos(angle), 0.3 * math.sin(angle), -0.2))
    for (xx, yy, zz, xy, yz, xz), angle in zip(tensors, body.angle, strict=True):
        turn = np.array([[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1]])
        local = np.array([[5.0, 0.0, 1.5], [0.0, -3.0, 0.0], [1.5, 0.0, 2.0]])
        assert np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]) == approx(turn @ local @ turn.T)


@pytest.mark.parametrize(("angle", "sectors", "told"), [(0.0, 4, "angle = 0"), (361.0, 9, "360"), (270.0, 2, "at least 3"),
                                                        (90.0, 0, "sectors = 0"), (90.0, 1.5, "whole number")])  # fmt: skip
def test_angles_and_sectors_out_of_range_are_refused(angle, sectors, told):
    with pytest.raises(StudwellError, match=told):
        revolve(BLOCK_NODES, BLOCK, angle, sectors)


def test_a_section_across_the_axis_is_refused():
    with pytest.raises(BadMesh, match="one side of its axis"):
        revolve(BLOCK_NODES - [0.5, 0.0], BLOCK)
    with pytest.raises(BadMesh, match="opposite corners"):
        revolve(np.array([[0.0, 0.0], [1.0, 1.0], [0.0, 2.0], [0.5, 1.0]]), np.array([[0, 1, 2, 3]]))
