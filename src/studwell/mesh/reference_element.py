"""The nine-node reference square: shape functions, their slopes and Gauss points, from scikit-fem's element."""

from __future__ import annotations

import numpy as np
from skfem import ElementQuad2

from studwell.mesh.mesh import Floats

NODES: Floats = np.ascontiguousarray(ElementQuad2.doflocs)
"""Local coordinates of the nine nodes, (9, 2), from 0 to 1."""


def shapes(points: Floats) -> Floats:
    """Return the nine shape functions at local points, (n, 9).

    points : (n, 2), local coordinates from 0 to 1
    """
    element = ElementQuad2()
    local = np.asarray(points, float).T
    return np.stack([element.lbasis(local, i)[0] for i in range(9)], axis=-1)


def gradients(points: Floats) -> Floats:
    """Return the shape functions' slopes in local coordinates, (n, 9, 2).

    points : (n, 2), local coordinates from 0 to 1
    """
    element = ElementQuad2()
    local = np.asarray(points, float).T
    return np.stack([element.lbasis(local, i)[1].T for i in range(9)], axis=1)


def gauss_line(n: int) -> tuple[Floats, Floats]:
    """Return n Gauss points on 0..1 and their weights, (n,) each."""
    points, weights = np.polynomial.legendre.leggauss(n)
    return 0.5 * (points + 1), 0.5 * weights


def gauss_square(n: int) -> tuple[Floats, Floats]:
    """Return n x n Gauss points on the unit square, (n*n, 2), first coordinate slowest, and weights (n*n,)."""
    x, w = gauss_line(n)
    points = np.stack(np.meshgrid(x, x, indexing="ij"), axis=-1).reshape(-1, 2)
    return points, np.outer(w, w).ravel()


def edge_shapes(t: Floats) -> tuple[Floats, Floats]:
    """Return the three shape functions of a quadratic edge and their slopes, (n, 3) each.

    t : (n,), 0 at the start, 1 at the end; nodes in order start, middle, end
    """
    t = np.asarray(t, float)
    values = np.stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)], axis=-1)
    slopes = np.stack([4 * t - 3, 4 - 8 * t, 4 * t - 1], axis=-1)
    return values, slopes


def shape_points() -> Floats:
    """Return the local points where an element's Jacobian is tried: nodes and 3 x 3 Gauss points, (18, 2)."""
    return np.concatenate([NODES, gauss_square(3)[0]])
