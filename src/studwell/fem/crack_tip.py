"""Stress intensity at the tip of a ring crack or a plane one, as rows over displacements: domain integrals, face openings."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp

from studwell.fem.elasticity import elastic_matrix
from studwell.fem.space import RR, RZ, TT, ZZ, Space
from studwell.mesh.mesh import Floats
from studwell.mesh.reference_element import edge_shapes, gauss_line
from studwell.mesh.ring_crack import CrackedMesh

ROOT_METRE = float(np.sqrt(1000.0))
"""MPa mm^0.5 in one MPa m^0.5."""

FIRST_CONTOUR = 2
"""Number of the first ring of the fan across which a domain's weight falls to zero; the innermost ones are left out."""

CHORD = 0.985
"""A domain's weight falls to zero at this share of a ring's radius: within the chords between its nodes."""

FACE_POINTS = 6
"""Gauss points along an edge of the crack's faces: where the load on them meets the singular field."""


@dataclass(frozen=True, eq=False)
class TipRows:
    """K_I and K_II (the first axis of two) on several contours (the second axis, c), linear in what is solved for.

    displacement : (2, c, 2 N) MPa m^0.5 a mm
    heat         : (2, c, N) MPa m^0.5 a unit of free thermal strain at the nodes
    faces        : (2, c, 2, n) MPa m^0.5 an MPa at the faces' nodes: of opening pressure, and of shear along the crack's
                   direction on the upper face (against it on the lower one)
    """

    displacement: Floats = field(repr=False)
    heat: Floats = field(repr=False)
    faces: Floats = field(repr=False)


def williams(rho: Floats, theta: Floats, youngs_modulus: float, poisson: float) -> tuple[Floats, Floats, Floats]:
    """Return the fields next to a tip with K_I = 1 or K_II = 1 MPa mm^0.5, plane strain, in axes along and across.

    rho, theta : (...,) mm and radian from the direction ahead
    returns    : displacement (2 modes, ..., 2) mm; its slopes (2, ..., 2, 2), [i, j] = du_i/dx_j;
                 stress (2, ..., 3) MPa: along, across, shear

    Source: Williams 1957, Irwin 1957; Tada, Paris & Irwin.
    """
    shear = youngs_modulus / (2 * (1 + poisson))
    kappa = 3 - 4 * poisson
    c, s = np.cos(theta / 2), np.sin(theta / 2)
    c3, s3 = np.cos(1.5 * theta), np.sin(1.5 * theta)
    shape = np.stack(
        [
            np.stack([c * (kappa - 1 + 2 * s**2), s * (kappa + 1 - 2 * c**2)], axis=-1),
            np.stack([s * (kappa + 1 + 2 * c**2), -c * (kappa - 1 - 2 * s**2)], axis=-1),
        ]
    )
    turn = np.stack(
        [
            np.stack(
                [-s / 2 * (kappa - 1 + 2 * s**2) + 2 * s * c**2, c / 2 * (kappa + 1 - 2 * c**2) + 2 * s**2 * c], axis=-1
            ),
            np.stack(
                [c / 2 * (kappa + 1 + 2 * c**2) - 2 * s**2 * c, s / 2 * (kappa - 1 - 2 * s**2) + 2 * s * c**2], axis=-1
            ),
        ]
    )
    scale = 1.0 / (2 * shear * np.sqrt(2 * np.pi))
    root = np.sqrt(rho)[..., None]
    moved = scale * root * shape
    away = scale * 0.5 / root * shape
    around = scale / root * turn
    cos, sin = np.cos(theta)[..., None], np.sin(theta)[..., None]
    slopes = np.stack([cos * away - sin * around, sin * away + cos * around], axis=-1)
    stress = (
        np.stack(
            [
                np.stack([c * (1 - s * s3), c * (1 + s * s3), s * c * c3], axis=-1),
                np.stack([-s * (2 + c * c3), s * c * c3, c * (1 - s * s3)], axis=-1),
            ]
        )
        / np.sqrt(2 * np.pi * rho)[..., None]
    )
    return moved, slopes, stress


def tip_rows(space: Space, crack: CrackedMesh, youngs_modulus: float, poisson: float) -> TipRows:
    """Return the interaction integrals over nested rings round the tip as rows.

    The weight is 1 inside a ring of elements, falls to 0 across it, and moves points along the crack. The second field
    is the plane one of `williams`; in a ring crack its hoop strain and its lack of balance, both of order 1/r, have
    their own terms, so that the contours agree. Free thermal strain acts through its slope, load on the faces through the
    slope of the second field.

    Source: Rice 1968 (path integral); Shih, Moran & Nakamura 1986 (domain form, thermal strain, face loads); Nahta & Moran
    1993 (axisymmetric interaction integral); derived anew here from the energy-momentum tensor.
    """
    fan = crack.mesh.elements_of("crack tip")
    nodes, weights = space.elements[fan], space.weights[fan]
    slopes, strains = space.gradients[fan], space.strain_matrix[fan]
    points = space.points[fan]
    along, normal = crack.direction, crack.normal
    from_tip = points - crack.tip
    x, y = from_tip @ along, from_tip @ normal
    axes = np.stack([along, normal], axis=1)  # columns: local axes in (r, z)
    moved, local_slopes, local_stress = williams(np.hypot(x, y), np.arctan2(y, x), youngs_modulus, poisson)
    moved = moved @ axes.T
    turned = axes @ local_slopes @ axes.T
    tensor = np.empty((*local_stress.shape[:-1], 2, 2))
    tensor[..., 0, 0], tensor[..., 1, 1] = local_stress[..., 0], local_stress[..., 1]
    tensor[..., 0, 1] = tensor[..., 1, 0] = local_stress[..., 2]
    stress = axes @ tensor @ axes.T
    hoop = poisson * (stress[..., 0, 0] + stress[..., 1, 1])
    forward = turned @ along  # slope of the second displacement along the crack, (2, M, Q, 2)
    plain = np.zeros((*hoop.shape, 4))  # strains that belong to the second stress
    plain[..., RR], plain[..., ZZ] = turned[..., 0, 0], turned[..., 1, 1]
    plain[..., RZ] = turned[..., 0, 1] + turned[..., 1, 0]
    curvature = np.zeros(weights.shape)
    if space.axisymmetric:
        curvature = 1.0 / points[..., 0]
    hooke = elastic_matrix(youngs_modulus, poisson)
    scale = _per_unit(space, crack, youngs_modulus, poisson)

    contours = range(FIRST_CONTOUR, len(crack.radii))
    away = np.linalg.norm(space.nodes - crack.tip, axis=1)
    in_plane = slopes @ along  # (M, Q, 9) slope of the shape functions along the crack
    rows = np.zeros((2, len(contours), space.n_unknowns))
    heat = np.zeros((2, len(contours), space.n_nodes))
    faces = np.zeros((2, len(contours), 2, len(crack.faces)))
    for number, ring in enumerate(contours):
        outer, inner = CHORD * crack.radii[ring], crack.radii[ring - 1]
        nodal = np.clip((outer - away) / (outer - inner), 0.0, 1.0)
        q = np.einsum("qn,mn->mq", space.shapes, nodal[nodes])
        slope = np.einsum("mqni,mn->mqi", slopes, nodal[nodes])
        spread = slope @ along + q * curvature * along[0]
        # factor of each stress component of the solved field
        factor = np.empty_like(plain)
        factor[..., RR] = forward[..., 0] * slope[..., 0]
        factor[..., ZZ] = forward[..., 1] * slope[..., 1]
        factor[..., RZ] = forward[..., 0] * slope[..., 1] + forward[..., 1] * slope[..., 0]
        grown = moved[..., 0] * curvature
        factor[..., TT] = grown * q * curvature * along[0]
        factor[..., TT] += q * (forward[..., 0] * curvature - grown * curvature * along[0])
        factor -= spread[..., None] * plain
        by_strain = np.einsum("amqc,cd,mq->amqd", factor, hooke, weights)
        element = np.einsum("amqd,mqdk->amk", by_strain, strains)
        # factor of the solved displacement's slope along the crack
        pull = np.einsum("amqij,mqj->amqi", stress, slope)
        pull[..., 0] += q * (stress[..., 0, 0] - hoop) * curvature
        pull[..., 1] += q * stress[..., 0, 1] * curvature
        element[..., 0::2] += np.einsum("amq,mqn,mq->amn", pull[..., 0], in_plane, weights)
        element[..., 1::2] += np.einsum("amq,mqn,mq->amn", pull[..., 1], in_plane, weights)
        around = hoop * q * curvature**2 * along[0]
        element[..., 0::2] += np.einsum("amq,qn,mq->amn", around, space.shapes, weights)
        warm = -np.einsum("amqd,qn->amn", by_strain[..., :3], space.shapes)
        trace = stress[..., 0, 0] + stress[..., 1, 1] + hoop
        warm += np.einsum("amq,mq,mqn,mq->amn", trace, q, in_plane, weights)
        for mode in (0, 1):
            where = np.stack([2 * nodes, 2 * nodes + 1], axis=2).reshape(len(nodes), 18)
            rows[mode, number] = np.bincount(where.ravel(), element[mode].ravel(), space.n_unknowns)
            heat[mode, number] = np.bincount(nodes.ravel(), warm[mode].ravel(), space.n_nodes)
        faces[:, number] = _face_rows(space, crack, nodal, youngs_modulus, poisson)
    return TipRows(scale * rows, scale * heat, scale * faces)


def _per_unit(space: Space, crack: CrackedMesh, youngs_modulus: float, poisson: float) -> float:
    """K in MPa m^0.5 over the interaction integral with a field of K = 1 MPa mm^0.5."""
    front = 2 * np.pi * crack.tip[0] if space.axisymmetric else 1.0
    return youngs_modulus / (2 * (1 - poisson**2)) / front / ROOT_METRE


def face_quadrature(space: Space, crack: CrackedMesh) -> tuple[Floats, Floats, Floats]:
    """Return quadrature along the edges of one face of a crack: depths from the tip, areas, shape functions.

    returns : rho (e, k) mm, area (e, k) mm^2, shapes (k, 3) of the edges' nodes from mouth to tip
    """
    t, w = gauss_line(FACE_POINTS)
    values, slopes = edge_shapes(t)
    where = _edge_nodes(crack)
    points = np.einsum("kn,eni->eki", values, where)
    speed = np.linalg.norm(np.einsum("kn,eni->eki", slopes, where), axis=2)
    around = 2 * np.pi * points[..., 0] if space.axisymmetric else np.ones_like(speed)
    return np.linalg.norm(points - crack.tip, axis=2), speed * around * w, values


def _edge_nodes(crack: CrackedMesh) -> Floats:
    upper = crack.mesh.nodes[crack.faces[:, 0]]
    where = upper[np.maximum(crack.pairs, 0)]
    where[crack.pairs[:, 2] < 0, 2] = crack.tip
    return where


def _face_rows(space: Space, crack: CrackedMesh, weight: Floats, youngs_modulus: float, poisson: float) -> Floats:
    """What load on the faces adds to the interaction integral, (2 modes, 2 kinds, n) a MPa."""
    rho, area, values = face_quadrature(space, crack)
    jump = np.zeros((2, *rho.shape, 2))
    for side in (1.0, -1.0):
        slopes = williams(rho, np.full_like(rho, side * np.pi), youngs_modulus, poisson)[1]
        jump += side * slopes[..., 0]
    nodal = np.append(weight[crack.faces[:, 0]], 1.0)  # the tip last, where pairs say -1
    q = np.einsum("kn,en->ek", values, nodal[crack.pairs])
    # opening pressure acts across, shear along; the pull of the load is against its slope
    local = -np.einsum("aeki,ek,kn->aien", jump, q * area, values)[:, ::-1]
    rows = np.zeros((2, 2, len(crack.faces) + 1))
    for mode in (0, 1):
        for kind in (0, 1):
            rows[mode, kind] = np.bincount(
                np.where(crack.pairs < 0, len(crack.faces), crack.pairs).ravel(),
                local[mode, kind].ravel(),
                len(crack.faces) + 1,
            )
    return _without_tip(rows, crack)


def _without_tip(rows: Floats, crack: CrackedMesh) -> Floats:
    """Give the load at the tip, which is no node of the faces' list, to the line through the last two nodes."""
    kept = rows[..., :-1].copy()
    depth = np.linalg.norm(crack.mesh.nodes[crack.faces[-2:, 0]] - crack.tip, axis=1)
    share = depth[0] / (depth[0] - depth[1])
    kept[..., -1] += share * rows[..., -1]
    kept[..., -2] += (1 - share) * rows[..., -1]
    return kept


def face_loads(space: Space, crack: CrackedMesh) -> sp.csc_matrix:
    """Return the nodal loads of 1 MPa at each node of the faces, sparse (2 N, 2 n): opening pressures, then shears.

    Opening pressure pushes both faces apart; shear pulls the upper face along the crack, the lower one against it.
    Between nodes the load is quadratic along each edge; at the tip it follows the last two nodes.
    """
    _, area, values = face_quadrature(space, crack)
    n = len(crack.faces)
    local = np.einsum("ek,ki,kj->eij", area, values, values)
    place = np.where(crack.pairs < 0, n, crack.pairs)
    rows = np.broadcast_to(place[:, :, None], local.shape)
    columns = np.broadcast_to(place[:, None, :], local.shape)
    full = sp.csr_matrix((local.ravel(), (rows.ravel(), columns.ravel())), shape=(n + 1, n + 1)).toarray()
    mass = _without_tip(full, crack)[:n]
    upper, lower = crack.faces.T
    pieces = []
    for way in (crack.normal, crack.direction):
        piece = np.zeros((space.n_unknowns, n))
        for axis in (0, 1):
            piece[2 * upper + axis] = way[axis] * mass
            piece[2 * lower + axis] = -way[axis] * mass
        pieces.append(piece)
    return sp.csc_matrix(np.concatenate(pieces, axis=1))


def face_jumps(space: Space, crack: CrackedMesh) -> sp.csr_matrix:
    """Return the rows over displacements that give the faces' opening, then their slide, (2 n, 2 N), mm."""
    n = len(crack.faces)
    upper, lower = crack.faces.T
    rows, columns, data = [], [], []
    for block, way in enumerate((crack.normal, crack.direction)):
        for axis in (0, 1):
            for side, nodes in ((1.0, upper), (-1.0, lower)):
                rows.append(block * n + np.arange(n))
                columns.append(2 * nodes + axis)
                data.append(np.full(n, side * way[axis]))
    matrix = (np.concatenate(data), (np.concatenate(rows), np.concatenate(columns)))
    return sp.csr_matrix(matrix, shape=(2 * n, space.n_unknowns))


def opening_rows(space: Space, crack: CrackedMesh, youngs_modulus: float, poisson: float) -> sp.csr_matrix:
    """Return K_I and K_II as rows over displacements from the faces' jumps on the fan, (2, 2 N) MPa m^0.5 a mm.

    jump / sqrt(rho) = A + B rho, least squares over the fan's face nodes outside the innermost element; K = A E' sqrt(2 pi)
    / 8. Source: Chan, Tuba & Wilson 1970 (extrapolation); quarter points after Barsoum 1976.
    """
    n = len(crack.faces)
    rho = np.linalg.norm(space.nodes[crack.faces[:, 0]] - crack.tip, axis=1)
    used = np.nonzero((rho > 0.9 * crack.radii[0]) & (rho < 1.001 * crack.radii[-2]))[0]
    root = np.sqrt(rho[used])
    fit = np.linalg.pinv(np.stack([np.ones_like(root), rho[used]], axis=1))[0] / root
    modulus = youngs_modulus / (1 - poisson**2)
    scale = modulus * np.sqrt(2 * np.pi) / 8 / ROOT_METRE
    pick = sp.csr_matrix(
        (np.tile(scale * fit, 2), (np.repeat([0, 1], len(used)), np.concatenate([used, n + used]))), shape=(2, 2 * n)
    )
    return sp.csr_matrix(pick @ face_jumps(space, crack))
