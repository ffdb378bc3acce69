"""The axisymmetric displacement space: r, the hoop strain u_r / r and the weight 2 pi r appear here only."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import csc_matrix, csr_matrix

from studwell.errors import OutOfBody
from studwell.fem.edges import Amount, EdgeSet, edge_set, scalar_load, scalar_matrix, traction_load, unit_columns
from studwell.fem.pattern import Pattern
from studwell.mesh.mesh import Floats, Ints, Mesh
from studwell.mesh.quality import determinants, jacobians
from studwell.mesh.reference_element import gauss_square, gradients, shapes

RR, TT, ZZ, RZ = range(4)
"""Order of stress and strain components; RZ is the engineering shear strain."""

AXIS = 1e-9
"""Share of the body's size below which r counts as zero."""


class Space:
    """Quadratic displacements and scalars on one body's mesh.

    mesh         : Mesh, mm
    axisymmetric : bool; False gives plane strain of 1 mm thickness

    Node n carries the displacements u_r = u[2 n] and u_z = u[2 n + 1], mm.
    nodes        : (N, 2), mm;  elements : (M, 9)
    points       : (M, Q, 2), quadrature points, mm (3 x 3 Gauss points)
    weights      : (M, Q), mm^3: quadrature weight, Jacobian and 2 pi r
    """

    def __init__(self, mesh: Mesh, axisymmetric: bool = True) -> None:
        self.mesh = mesh
        self.axisymmetric = axisymmetric
        self.nodes = mesh.nodes
        self.elements = mesh.elements
        self.local_points, local_weights = gauss_square(3)
        self.shapes = shapes(self.local_points)
        self.points = np.einsum("qn,mni->mqi", self.shapes, self.nodes[self.elements])
        self._jacobians = jacobians(mesh, self.local_points)
        area = determinants(self._jacobians) * local_weights
        self.weights = area * self._around(self.points[..., 0])
        self._edges: dict[str, EdgeSet] = {}
        self.size = float(np.abs(self.nodes).max())

    @property
    def n_nodes(self) -> int:
        """Number of nodes."""
        return len(self.nodes)

    @property
    def n_unknowns(self) -> int:
        """Number of displacement unknowns."""
        return 2 * len(self.nodes)

    def _around(self, r: Floats) -> Floats:
        return 2 * np.pi * r if self.axisymmetric else np.ones_like(r)

    @cached_property
    def gradients(self) -> Floats:
        """Slopes of the shape functions at the quadrature points, (M, Q, 9, 2), 1/mm."""
        return gradients(self.local_points) @ _inverse(self._jacobians)

    @cached_property
    def strain_matrix(self) -> Floats:
        """Strains from an element's 18 displacements, (M, Q, 4, 18), 1/mm."""
        values = np.broadcast_to(self.shapes, self.gradients.shape[:3])
        return self._strains(values, self.gradients, self.points[..., 0])

    def _strains(self, values: Floats, slopes: Floats, r: Floats) -> Floats:
        """Strain rows (..., 4, 18) from shape values (..., 9), slopes (..., 9, 2) and radii (...,)."""
        rows = np.zeros((*values.shape[:-1], 4, 18))
        rows[..., RR, 0::2] = slopes[..., 0]
        rows[..., ZZ, 1::2] = slopes[..., 1]
        rows[..., RZ, 0::2] = slopes[..., 1]
        rows[..., RZ, 1::2] = slopes[..., 0]
        if self.axisymmetric:
            on_axis = (r < AXIS * self.size)[..., None]
            away = np.where(on_axis, 1.0, r[..., None])
            rows[..., TT, 0::2] = np.where(on_axis, slopes[..., 0], values / away)
        return rows

    @cached_property
    def element_unknowns(self) -> Ints:
        """Displacement unknowns of the elements, (M, 18)."""
        return np.stack([2 * self.elements, 2 * self.elements + 1], axis=2).reshape(-1, 18)

    @cached_property
    def pattern(self) -> Pattern:
        """Where element matrices go in the sparse system matrix; found once."""
        return Pattern(self.elements, self.n_nodes)

    @cached_property
    def axis_nodes(self) -> Ints:
        """Nodes at r = 0; empty in a plane space."""
        if not self.axisymmetric:
            return np.zeros(0, np.int64)
        return np.nonzero(self.nodes[:, 0] < AXIS * self.size)[0]

    @property
    def axis_dofs(self) -> Ints:
        """Unknowns u_r at r = 0, which are zero: to be eliminated."""
        return 2 * self.axis_nodes

    def boundary_nodes(self, name: str) -> Ints:
        """Nodes of a named boundary in order along it (corners and middles), each once.

        raises BadMesh : no boundary of that name
        """
        nodes = self.edges(name).nodes.ravel()
        _, first = np.unique(nodes, return_index=True)
        return nodes[np.sort(first)]

    # Edges

    def edges(self, name: str) -> EdgeSet:
        """Return the edges of a named boundary, in order along it.

        raises BadMesh : no boundary of that name
        """
        if name not in self._edges:
            self._edges[name] = edge_set(self.mesh, name, self._around)
        return self._edges[name]

    def edge_columns(self, name: str, direction: str | ArrayLike) -> csc_matrix:
        """Return the nodal loads of 1 N spread evenly over each edge of a boundary.

        Column e's transpose times u is the area average of that displacement component over edge e, so
        that load and averaged displacement are dual.

        name           : str, boundary
        direction      : "r", "z", "normal" (outward, point by point) or a fixed direction (2,)
        returns        : sparse (2 N, n_edges), N per N
        raises BadMesh : no boundary of that name, or an edge on the axis (no area)
        """
        return unit_columns(self.edges(name), name, direction, self.n_nodes)

    def traction_load(self, name: str, direction: str | ArrayLike, amount: Amount) -> Floats:
        """Return the nodal loads of a traction on a boundary, (2 N,), N.

        direction      : as in `edge_columns`
        amount         : MPa, a number or a function of r and z (mm); a pressure is minus a normal traction
        raises BadMesh : no boundary of that name
        """
        return traction_load(self.edges(name), direction, amount, self.n_nodes)

    def edge_scalar_load(self, name: str, amount: Amount) -> Floats:
        """Return the integral over a boundary of amount times each shape function, (N,).

        amount : number or function of r and z, such as a heat flux in W/mm^2 (gives W)
        """
        return scalar_load(self.edges(name), amount, self.n_nodes)

    def edge_scalar_matrix(self, name: str, amount: Amount) -> csc_matrix:
        """Return the integral over a boundary of amount times two shape functions, sparse (N, N).

        amount : number or function of r and z, such as a film coefficient in W/(mm^2 K) (gives W/K)
        """
        return scalar_matrix(self.edges(name), amount, self.n_nodes)

    # Points

    def locate(self, points: ArrayLike, tolerance: float = 1e-6) -> tuple[Ints, Floats]:
        """Return the element that holds each point, and the point's local coordinates in it.

        points           : (n, 2), mm
        tolerance        : local coordinates may lie this far outside 0..1
        returns          : elements (n,), local coordinates (n, 2) from 0 to 1
        raises OutOfBody : a point that no element holds
        """
        wanted = np.atleast_2d(np.asarray(points, float))
        corners = self.nodes[self.elements]
        low, high = corners.min(axis=1), corners.max(axis=1)
        slack = 0.2 * (high - low) + 1e-6 * self.size * tolerance
        low, high = low - slack, high + slack
        best = np.full(len(wanted), np.inf)
        element = np.full(len(wanted), -1, dtype=np.int64)
        local = np.full((len(wanted), 2), np.nan)
        chunk = max(1, 4_000_000 // len(low))
        for start in range(0, len(wanted), chunk):
            some = wanted[start : start + chunk]
            inside = (some[:, None, 0] >= low[:, 0]) & (some[:, None, 0] <= high[:, 0])
            inside &= (some[:, None, 1] >= low[:, 1]) & (some[:, None, 1] <= high[:, 1])
            which, candidate = np.nonzero(inside)
            found = _invert(corners[candidate], some[which], self.size)
            outside = np.maximum(np.abs(found - 0.5).max(axis=1) - 0.5, 0.0)
            outside = np.where(np.isfinite(outside), outside, np.inf)
            order = np.lexsort((candidate, outside, which))
            _, first = np.unique(which[order], return_index=True)
            chosen = order[first]
            place = start + which[chosen]
            best[place], element[place], local[place] = outside[chosen], candidate[chosen], found[chosen]
        lost = ~(best <= tolerance)
        if lost.any():
            r, z = wanted[lost][0]
            raise OutOfBody(f"no element holds r = {r:.6g}, z = {z:.6g} mm ({lost.sum()} such points)")
        return element, np.clip(local, 0.0, 1.0)

    def scalar_operator(self, points: ArrayLike) -> csr_matrix:
        """Return the matrix from nodal scalars to values at points, (n, N).

        points : (n, 2), mm;  raises OutOfBody : a point outside the body
        """
        element, local = self.locate(points)
        rows = np.repeat(np.arange(len(element)), 9)
        return csr_matrix(
            (shapes(local).ravel(), (rows, self.elements[element].ravel())), shape=(len(element), self.n_nodes)
        )

    def value_operator(self, points: ArrayLike) -> csr_matrix:
        """Return the matrix from displacements to displacements at points, (2 n, 2 N).

        Row 2 i is u_r at point i, row 2 i + 1 is u_z.
        points : (n, 2), mm;  raises OutOfBody : a point outside the body
        """
        scalar = self.scalar_operator(points).tocoo()
        rows = np.concatenate([2 * scalar.row, 2 * scalar.row + 1])
        columns = np.concatenate([2 * scalar.col, 2 * scalar.col + 1])
        shape = (2 * scalar.shape[0], self.n_unknowns)
        return csr_matrix((np.tile(scalar.data, 2), (rows, columns)), shape=shape)

    def strain_operator(self, points: ArrayLike) -> csr_matrix:
        """Return the matrix from displacements (mm) to strains at points, (4 n, 2 N).

        Row 4 i + c is component c (rr, hoop, zz, engineering rz) at point i.
        points : (n, 2), mm;  raises OutOfBody : a point outside the body
        """
        element, local = self.locate(points)
        where = self.nodes[self.elements[element]]
        slopes = gradients(local)
        matrices = np.einsum("pnj,pni->pij", slopes, where)
        values = shapes(local)
        radius = (values * where[..., 0]).sum(axis=1)
        rows = self._strains(values, slopes @ _inverse(matrices), radius)
        return self._rows(rows, element)

    def average_strain_operator(self, weights: ArrayLike) -> csr_matrix:
        """Return the matrix from displacements (mm) to volume-averaged strains, (4 k, 2 N).

        weights           : (M, Q) or (k, M, Q), mm^3, such as `region_weights`; each set is normalised
        returns           : row 4 i + c is component c averaged with weight set i
        raises ValueError : a set whose sum is not positive
        """
        sets = np.asarray(weights, float).reshape(-1, *self.weights.shape)
        totals = sets.sum(axis=(1, 2))
        if not (totals > 0).all():
            raise ValueError("weights of an average need a positive sum")
        number, element = np.nonzero((sets != 0).any(axis=2))
        share = sets[number, element] / totals[number, None]
        rows = np.einsum("pq,pqci->pci", share, self.strain_matrix[element])
        return self._rows(rows, element, number, len(sets))

    def region_weights(self, elements: ArrayLike) -> Floats:
        """Return the quadrature weights of some elements, zero elsewhere, (M, Q), mm^3.

        elements : region name, element numbers or (M,) bool
        """
        chosen: ArrayLike = self.mesh.elements_of(elements) if isinstance(elements, str) else elements
        weights = np.zeros_like(self.weights)
        weights[np.asarray(chosen)] = self.weights[np.asarray(chosen)]
        return weights

    def region_average_strain(self, elements: ArrayLike) -> csr_matrix:
        """Return the matrix from displacements (mm) to the strains averaged over some elements, (4, 2 N).

        elements : region name, element numbers, (M,) bool, or quadrature weights (M, Q)
        """
        array = np.asarray(elements)
        if array.ndim == 2:
            return self.average_strain_operator(array)
        return self.average_strain_operator(self.region_weights(elements))

    def _rows(self, rows: Floats, element: Ints, number: Ints | None = None, n_sets: int | None = None) -> csr_matrix:
        number = np.arange(len(element)) if number is None else number
        n_sets = len(element) if n_sets is None else n_sets
        place = np.broadcast_to((4 * number[:, None] + np.arange(4))[:, :, None], rows.shape)
        columns = np.broadcast_to(self.element_unknowns[element][:, None], rows.shape)
        shape = (4 * n_sets, self.n_unknowns)
        matrix = csr_matrix((rows.ravel(), (place.ravel(), columns.ravel())), shape=shape)
        matrix.eliminate_zeros()
        return matrix

    def at_quadrature(self, values: ArrayLike) -> Floats:
        """Return nodal scalars (N[, k]) interpolated to the quadrature points, (M, Q[, k])."""
        array = np.asarray(values, float)
        return np.einsum("qn,mn...->mq...", self.shapes, array[self.elements])


def _inverse(matrices: Floats) -> Floats:
    """Invert (..., 2, 2) matrices."""
    inverse = np.empty_like(matrices)
    inverse[..., 0, 0], inverse[..., 1, 1] = matrices[..., 1, 1], matrices[..., 0, 0]
    inverse[..., 0, 1], inverse[..., 1, 0] = -matrices[..., 0, 1], -matrices[..., 1, 0]
    inverse /= determinants(matrices)[..., None, None]
    return inverse


def _invert(corners: Floats, points: Floats, size: float) -> Floats:
    """Return local coordinates (p, 2) of points in nine-node elements (p, 9, 2) by Newton's method."""
    local = np.full((len(points), 2), 0.5)
    for _ in range(12):
        miss = np.einsum("pn,pni->pi", shapes(local), corners) - points
        if len(miss) == 0 or np.abs(miss).max() < 1e-13 * size:
            break
        matrices = np.einsum("pnj,pni->pij", gradients(local), corners)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.einsum("pji,pi->pj", _inverse(matrices), miss)
        local = np.clip(np.nan_to_num(local - step, nan=9.0), -1.0, 2.0)
    miss = np.einsum("pn,pni->pi", shapes(local), corners) - points
    return np.where(np.abs(miss).max(axis=1, keepdims=True) < 1e-9 * size, local, np.nan)


__all__ = ["RR", "RZ", "TT", "ZZ", "EdgeSet", "Space"]
