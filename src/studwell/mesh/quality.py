"""How good the elements of a mesh are: Jacobians, aspect ratios, and a record that sums them up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.mesh.mesh import Floats, Mesh
from studwell.mesh.reference_element import gauss_square, gradients, shape_points


@dataclass(frozen=True)
class Quality:
    """A mesh's worst figures.

    n_elements             : int
    n_inverted             : int, elements whose Jacobian is not positive everywhere that it was tried
    least_scaled_jacobian  : float, 1 for a square, <= 0 for a folded element
    largest_aspect_ratio   : float, long over short middle line of the worst element
    area                   : float, mm^2 of the section
    """

    n_elements: int
    n_inverted: int
    least_scaled_jacobian: float
    largest_aspect_ratio: float
    area: float


def jacobians(mesh: Mesh, points: Floats) -> Floats:
    """Return the Jacobian matrices d(r, z)/d(local) at local points, (M, Q, 2, 2), mm.

    points : (Q, 2), local coordinates from 0 to 1
    """
    slopes = gradients(points)
    return np.einsum("qnj,mni->mqij", slopes, mesh.nodes[mesh.elements], optimize=True)


def determinants(matrices: Floats) -> Floats:
    """Return the determinants of (..., 2, 2) matrices."""
    product = matrices[..., 0, 0] * matrices[..., 1, 1]
    return product - matrices[..., 0, 1] * matrices[..., 1, 0]


def least_jacobian(mesh: Mesh) -> Floats:
    """Return each element's least Jacobian determinant over nodes and quadrature points, (M,), mm^2."""
    least = determinants(jacobians(mesh, shape_points())).min(axis=1)
    return np.asarray(least)


def scaled_jacobian(mesh: Mesh) -> Floats:
    """Return each element's least scaled Jacobian, (M,): the determinant over the two edges' lengths."""
    matrices = jacobians(mesh, shape_points())
    lengths = np.linalg.norm(matrices, axis=2).prod(axis=-1)
    scaled = determinants(matrices) / np.maximum(lengths, np.finfo(float).tiny)
    return np.asarray(scaled.min(axis=1))


def aspect_ratio(mesh: Mesh) -> Floats:
    """Return each element's aspect ratio, (M,): long over short line between opposite edge middles."""
    middles = mesh.nodes[mesh.elements[:, 4:8]]
    across = np.linalg.norm(middles[:, 2] - middles[:, 0], axis=1)
    along = np.linalg.norm(middles[:, 3] - middles[:, 1], axis=1)
    return np.asarray(np.maximum(across, along) / np.minimum(across, along))


def quality(mesh: Mesh) -> Quality:
    """Return the mesh's worst figures.

    mesh : Mesh, of any quality, also folded
    """
    points, weights = gauss_square(3)
    area = float((determinants(jacobians(mesh, points)) * weights).sum())
    return Quality(
        n_elements=mesh.n_elements,
        n_inverted=int((least_jacobian(mesh) <= 0).sum()),
        least_scaled_jacobian=float(scaled_jacobian(mesh).min()),
        largest_aspect_ratio=float(aspect_ratio(mesh).max()),
        area=area,
    )
