"""Quality figures see bad elements."""

import numpy as np
import pytest

from studwell.mesh import quality
from studwell.mesh.mesh import mesh_of
from studwell.mesh.quality import aspect_ratio, scaled_jacobian
from studwell.mesh.reference_element import NODES


def one_element(positions) -> object:
    return mesh_of(np.array([[0, 1, 2, 3]]), np.asarray(positions, float)[None], {"body": [0]})


def test_square_has_scaled_jacobian_one_and_rectangle_its_side_ratio():
    square = one_element(NODES)
    assert scaled_jacobian(square) == pytest.approx([1.0])
    flat = one_element(NODES * [3.0, 0.5])
    assert scaled_jacobian(flat) == pytest.approx([1.0])
    assert aspect_ratio(flat) == pytest.approx([6.0])


def test_rhombus_has_the_sine_of_its_angle():
    angle = np.radians(30)
    sheared = NODES @ np.array([[1.0, 0.0], [np.cos(angle), np.sin(angle)]])
    assert scaled_jacobian(one_element(sheared)) == pytest.approx([0.5])


def test_clockwise_element_counts_as_inverted():
    assert quality(one_element(NODES[:, ::-1])).n_inverted == 1


@pytest.mark.parametrize("pull", [0.0, 0.2])
def test_element_folded_by_a_middle_node_near_a_corner_counts_as_inverted(pull):
    nodes = NODES.copy()
    nodes[4] = [0.5 if pull else 0.05, pull * 6]
    assert quality(one_element(nodes)).n_inverted == 1
    assert quality(one_element(nodes)).least_scaled_jacobian <= 0
