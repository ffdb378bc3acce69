"""Linear thermoelasticity on a `Space`: stiffness, initial-strain loads, stresses."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import csc_matrix

from studwell.fem.space import RR, RZ, TT, ZZ, Space
from studwell.mesh.mesh import Floats
from studwell.mesh.reference_element import NODES, gauss_line


def elastic_matrix(youngs_modulus: ArrayLike, poisson: ArrayLike) -> Floats:
    """Return Hooke's matrix from strains (rr, hoop, zz, engineering rz) to stresses.

    youngs_modulus, poisson : float or (...,), MPa and 1; broadcast together
    returns                 : (..., 4, 4), MPa
    raises ValueError       : modulus not positive, or Poisson's ratio outside -1..0.5

    Source: Timoshenko & Goodier, Theory of Elasticity, stress-strain relations of an isotropic solid.
    """
    modulus, ratio = np.broadcast_arrays(np.asarray(youngs_modulus, float), np.asarray(poisson, float))
    if not (modulus > 0).all() or not ((ratio > -1) & (ratio < 0.5)).all():
        raise ValueError("allowed: Young's modulus > 0 MPa and -1 < Poisson's ratio < 0.5")
    shear = modulus / (2 * (1 + ratio))
    lame = modulus * ratio / ((1 + ratio) * (1 - 2 * ratio))
    matrix = np.zeros((*modulus.shape, 4, 4))
    matrix[..., :3, :3] = lame[..., None, None]
    for normal in (RR, TT, ZZ):
        matrix[..., normal, normal] += 2 * shear
    matrix[..., RZ, RZ] = shear
    return matrix


def _by_element(space: Space, elastic: ArrayLike) -> Floats:
    matrix = np.asarray(elastic, float)
    if matrix.shape not in ((4, 4), (len(space.elements), 4, 4)):
        raise ValueError(f"elastic matrix has shape {matrix.shape}; allowed: (4, 4) or (M, 4, 4)")
    return matrix if matrix.ndim == 3 else matrix[None]


def stiffness(space: Space, elastic: ArrayLike) -> csc_matrix:
    """Return the stiffness matrix of the free body, (2 N, 2 N), N/mm.

    elastic : (4, 4) or (M, 4, 4), MPa
    """
    strains = space.strain_matrix
    m, q = strains.shape[:2]
    stresses = _by_element(space, elastic)[:, None] @ strains
    stresses *= space.weights[:, :, None, None]
    tall = strains.reshape(m, 4 * q, 18)
    return space.pattern.vector(tall.swapaxes(1, 2) @ stresses.reshape(m, 4 * q, 18))


def stress_load(space: Space, stress: ArrayLike) -> Floats:
    """Return the nodal forces that balance given stresses, integral of B^T stress, (2 N[, k]), N.

    stress : (M, Q, 4[, k]), MPa at the quadrature points
    """
    array = np.asarray(stress, float)
    many = array.reshape(*array.shape[:3], -1)
    m, q = many.shape[:2]
    weighted = (many * space.weights[:, :, None, None]).reshape(m, 4 * q, -1)
    local = space.strain_matrix.reshape(m, 4 * q, 18).swapaxes(1, 2) @ weighted
    k = local.shape[2]
    where = space.element_unknowns.ravel()
    loads = np.empty((space.n_unknowns, k))
    for column in range(k):
        loads[:, column] = np.bincount(where, local[:, :, column].ravel(), minlength=space.n_unknowns)
    return loads[:, 0] if array.ndim == 3 else loads


def initial_strain_load(space: Space, elastic: ArrayLike, strain: ArrayLike) -> Floats:
    """Return the nodal loads of initial (thermal, plastic) strains, (2 N[, k]), N.

    elastic : (4, 4) or (M, 4, 4), MPa
    strain  : (M, Q, 4[, k]), 1, engineering shear; k columns at once
    """
    array = np.asarray(strain, float)
    many = array.reshape(*array.shape[:3], -1)
    stress = _by_element(space, elastic)[:, None] @ many
    return stress_load(space, stress.reshape(array.shape))


def thermal_strain(space: Space, expansion: ArrayLike, temperature_change: ArrayLike) -> Floats:
    """Return the free thermal strains at the quadrature points, (M, Q, 4[, k]).

    expansion          : float or (M,), 1/K, secant over the change
    temperature_change : nodal (N,) or (N, k), K
    """
    change = space.at_quadrature(temperature_change)
    factor = np.broadcast_to(np.asarray(expansion, float), (len(space.elements),))
    scalar = change * factor.reshape(-1, *[1] * (change.ndim - 1))
    directions = np.zeros(4)
    directions[[RR, TT, ZZ]] = 1.0
    return scalar[:, :, None] * directions.reshape(1, 1, 4, *[1] * (change.ndim - 2))


def strain_at_quadrature(space: Space, displacement: ArrayLike) -> Floats:
    """Return the strains at the quadrature points, (M, Q, 4[, k]).

    displacement : (2 N,) or (2 N, k), mm
    """
    u = np.asarray(displacement, float)
    local = u[space.element_unknowns].reshape(len(space.elements), 18, -1)
    m, q = space.strain_matrix.shape[:2]
    strains = space.strain_matrix.reshape(m, 4 * q, 18) @ local
    return strains.reshape(m, q, 4, *u.shape[1:])


def stress_at_quadrature(
    space: Space, elastic: ArrayLike, displacement: ArrayLike, initial_strain: ArrayLike | None = None
) -> Floats:
    """Return the stresses at the quadrature points, (M, Q, 4[, k]), MPa.

    elastic        : (4, 4) or (M, 4, 4), MPa
    displacement   : (2 N,) or (2 N, k), mm
    initial_strain : (M, Q, 4[, k]) or None
    """
    strains = strain_at_quadrature(space, displacement)
    if initial_strain is not None:
        strains = strains - np.asarray(initial_strain)
    many = strains.reshape(*strains.shape[:3], -1)
    return (_by_element(space, elastic)[:, None] @ many).reshape(strains.shape)


def element_nodal(values: ArrayLike) -> Floats:
    """Return quadrature values carried to each element's own nodes by the biquadratic through them.

    values  : (M, Q, ...), at the 3 x 3 Gauss points
    returns : (M, 9, ...), one value a node and element (not averaged between elements)
    """
    return np.einsum("nq,mq...->mn...", _to_nodes(), np.asarray(values, float), optimize=True)


def _to_nodes() -> Floats:
    x, _ = gauss_line(3)

    def lagrange(t: Floats) -> Floats:
        columns = []
        for i in range(3):
            others = [x[j] for j in range(3) if j != i]
            columns.append((t - others[0]) * (t - others[1]) / ((x[i] - others[0]) * (x[i] - others[1])))
        return np.stack(columns, axis=-1)

    first, second = lagrange(NODES[:, 0]), lagrange(NODES[:, 1])
    return (first[:, :, None] * second[:, None, :]).reshape(9, 9)


def averaged_nodal(space: Space, values: ArrayLike) -> Floats:
    """Return element-nodal values averaged over the elements that share each node.

    values  : (M, 9, ...), such as of `element_nodal`
    returns : (N, ...)
    """
    array = np.asarray(values, float)
    flat = array.reshape(array.shape[0] * 9, -1)
    where = space.elements.ravel()
    total = np.stack([np.bincount(where, column, minlength=space.n_nodes) for column in flat.T], axis=1)
    uses = np.bincount(where, minlength=space.n_nodes)
    return (total / uses[:, None]).reshape(space.n_nodes, *array.shape[2:])


def nodal_stress(
    space: Space,
    elastic: ArrayLike,
    displacement: ArrayLike,
    initial_strain: ArrayLike | None = None,
    averaged: bool = True,
) -> Floats:
    """Return stresses at the nodes, MPa.

    elastic        : (4, 4) or (M, 4, 4), MPa
    displacement   : (2 N,) or (2 N, k), mm
    initial_strain : (M, Q, 4[, k]) or None
    averaged       : True gives one value a node, (N, 4[, k]); False each element's own, (M, 9, 4[, k])
    """
    stress = stress_at_quadrature(space, elastic, displacement, initial_strain)
    own = element_nodal(stress)
    return averaged_nodal(space, own) if averaged else own


def principal_stresses(stress: ArrayLike) -> Floats:
    """Return the principal stresses, largest first, (..., 3), MPa; the hoop stress is one of them.

    stress : (..., 4), rr, hoop, zz, rz
    """
    s = np.asarray(stress, float)
    hoop = s[..., TT]
    centre = 0.5 * (s[..., RR] + s[..., ZZ])
    radius = np.hypot(0.5 * (s[..., RR] - s[..., ZZ]), s[..., RZ])
    high, low = centre + radius, centre - radius  # in the section: the hoop stress takes its place among the two
    return np.stack([np.maximum(high, hoop), np.clip(hoop, low, high), np.minimum(low, hoop)], axis=-1)


def first_principal(stress: ArrayLike) -> Floats:
    """Return the first principal stress (...,), MPa, of stresses (..., 4), as `principal_stresses` has it."""
    s = np.asarray(stress, float)
    high = 0.5 * (s[..., RR] + s[..., ZZ]) + np.hypot(0.5 * (s[..., RR] - s[..., ZZ]), s[..., RZ])
    return np.maximum(high, s[..., TT])


def von_mises(stress: ArrayLike) -> Floats:
    """Return the von Mises stress, (...,), MPa.

    stress : (..., 4), rr, hoop, zz, rz
    """
    s = np.asarray(stress, float)
    r, t, z = s[..., RR], s[..., TT], s[..., ZZ]
    return np.sqrt(0.5 * ((r - t) ** 2 + (t - z) ** 2 + (z - r) ** 2) + 3 * s[..., RZ] ** 2)
