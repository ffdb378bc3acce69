"""A meshed body condensed exactly to its faces: one factor, one block of solves, nothing approximated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp

from studwell.fem.elasticity import elastic_matrix, initial_strain_load, stiffness
from studwell.fem.factor import factorise
from studwell.fem.space import Space
from studwell.joint.body import BodyResponse, StressMap
from studwell.mesh.mesh import Mesh, chains_along

Array = np.ndarray


@dataclass(frozen=True)
class FaceColumns:
    """A group of unit loads on one named boundary: 1 N spread evenly over each of its edges.

    boundary  : name in the mesh
    direction : "r", "z", "normal" (outward) or a fixed (r, z) direction; multiplied by sign
    together  : one load for the whole boundary, 1 N in all spread evenly over its area
    by_line   : one load for each separate line of edges, 1 N spread evenly over it
    """

    boundary: str
    direction: str | tuple[float, float]
    sign: float = 1.0
    together: bool = False
    by_line: bool = False


@dataclass(frozen=True)
class StrainMode:
    """A field of initial strain of unit amplitude.

    nodes      : z positions (mm): ends and middles of the pieces on which the field is a parabola; one node: uniform
    index      : the node at which this mode is 1, being 0 at the others
    components : share of each of rr, hoop, zz, rz
    region     : where it acts; None for the whole body
    """

    name: str
    nodes: tuple[float, ...]
    index: int
    components: tuple[float, float, float, float]
    region: str | None = None

    def values(self, z: Array) -> Array:
        """Return the scalar profile (...) at heights z (...), mm: the parabola through this mode's node and its
        neighbours on every piece (nodes 0, 2, 4 ... end pieces; 1, 3 ... are their middles), constant beyond the ends.
        """
        nodes = np.asarray(self.nodes)
        if len(nodes) == 1:
            return np.ones_like(z)
        z = np.clip(z, nodes[0], nodes[-1])
        result = np.zeros_like(z)
        for piece in range(0, len(nodes) - 1, 2):
            three = nodes[piece : piece + 3]
            local = self.index - piece
            if 0 <= local <= 2:
                inside = (z >= three[0]) & ((z < three[2]) if piece + 3 < len(nodes) else (z <= three[2]))
                others = [three[k] for k in range(3) if k != local]
                value = (z - others[0]) * (z - others[1]) / ((three[local] - others[0]) * (three[local] - others[1]))
                result = np.where(inside, value, result)
        return result

    def at_quadrature(self, space: Space) -> Array:
        """Return the scalar profile (M, Q) at a space's quadrature points."""
        return self.values(space.points[..., 1])

    def at_points(self, space: Space, points: Array) -> Array:
        """Return the scalar profile (n,) at points (n, 2), mm."""
        return self.values(points[:, 1])

    def at_nodes(self, nodes: Array) -> Array:
        """Return the scalar profile (N,) at a mesh's nodes (N, 2), mm."""
        return self.values(nodes[:, 1])


@dataclass(frozen=True)
class FieldMode:
    """A field of initial strain of unit amplitude, given at the mesh's nodes.

    nodal      : (N,) values; between nodes as the quadratic elements carry them
    components : share of each of rr, hoop, zz, rz
    """

    name: str
    nodal: Array = field(repr=False)
    components: tuple[float, float, float, float]
    region: str | None = None

    def at_quadrature(self, space: Space) -> Array:
        """Return the scalar field (M, Q) at a space's quadrature points."""
        return space.at_quadrature(self.nodal)

    def at_points(self, space: Space, points: Array) -> Array:
        """Return the scalar field (n,) at points (n, 2), mm."""
        return np.asarray(space.scalar_operator(points) @ self.nodal)

    def at_nodes(self, nodes: Array) -> Array:
        """Return the scalar field (N,) at the mesh's own nodes."""
        return self.nodal


Mode = StrainMode | FieldMode


@dataclass(frozen=True)
class BodySpec:
    """What must be known of a body to condense it.

    youngs_modulus at the reference temperature (MPa), poisson; columns by name; thermal modes first, then others;
    regions and points where stress is wanted: name -> tuple of region names, or (n, 2) points;
    tension_region : the region whose summed axial stress is the tension; grip : boundary whose mean axial movement
    a ground spring holds; floating : False if that spring is a real support.
    axial_share : axial modulus over youngs_modulus of a body that hardly carries axially, such as coils side by side;
    None: isotropic
    """

    name: str
    mesh: Mesh = field(repr=False)
    youngs_modulus: float
    poisson: float
    columns: Mapping[str, FaceColumns]
    modes: tuple[Mode, ...]
    grip: str
    floating: bool = True
    stress_regions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    stress_points: Mapping[str, Array] = field(default_factory=dict, repr=False)
    tension_region: str | None = None
    axial_share: float | None = None

    @property
    def elastic(self) -> Array:
        """The elastic matrix (4, 4), MPa."""
        if self.axial_share is None:
            return elastic_matrix(self.youngs_modulus, self.poisson)
        return loose_axially(self.youngs_modulus, self.poisson, self.axial_share)


def loose_axially(youngs_modulus: float, poisson: float, axial_share: float) -> Array:
    """Return the elastic matrix (4, 4), MPa, of a body as stiff across as a solid one, but hardly so along its axis.

    rr and hoop as in plane stress, zz on its own (no Poisson's ratio between it and the others), rz by the shear modulus.
    youngs_modulus : MPa, across; axial_share : axial modulus over it
    """
    plane = youngs_modulus / (1.0 - poisson**2)
    matrix = np.diag([plane, plane, axial_share * youngs_modulus, 0.5 * youngs_modulus / (1.0 + poisson)])
    matrix[0, 1] = matrix[1, 0] = poisson * plane
    return matrix


@dataclass(frozen=True)
class BodySystem:
    """The discrete body before condensation, shared by the condensed and the full-order path.

    stiffness (2N, 2N) without any support; columns (2N, m) sparse; mode_loads (2N, k); grip (2N,) weights of the
    mean axial displacement of the grip; kept: unknowns left after the axis; ground_stiffness N/mm.
    """

    spec: BodySpec
    space: Space
    elastic: Array
    stiffness: sp.csc_matrix
    columns: sp.csc_matrix
    column_slices: Mapping[str, slice]
    mode_strains: Array
    mode_loads: Array
    grip: Array
    kept: Array
    ground_stiffness: float


def body_system(spec: BodySpec) -> BodySystem:
    """Assemble one body: stiffness, unit loads of its faces, loads of its strain modes.

    raises BadMesh : a face that the mesh does not have
    """
    space = Space(spec.mesh)
    elastic = spec.elastic
    matrix = stiffness(space, elastic)
    pieces, slices, start = [], {}, 0
    for name, face in spec.columns.items():
        piece = face.sign * space.edge_columns(face.boundary, face.direction)
        if face.together:
            areas = space.edges(face.boundary).areas
            piece = sp.csc_matrix(piece @ (areas / areas.sum())[:, None])
        elif face.by_line:
            piece = sp.csc_matrix(piece @ _line_shares(space, face.boundary)[0])
        pieces.append(piece)
        slices[name] = slice(start, start + piece.shape[1])
        start += piece.shape[1]
    columns = sp.hstack(pieces, format="csc") if pieces else sp.csc_matrix((space.n_unknowns, 0))
    strains = np.zeros((*space.weights.shape, 4, len(spec.modes)))
    for k, mode in enumerate(spec.modes):
        profile = mode.at_quadrature(space)
        if mode.region is not None:
            mask = np.zeros(len(space.elements), dtype=bool)
            mask[spec.mesh.elements_of(mode.region)] = True
            profile = profile * mask[:, None]
        for c, share in enumerate(mode.components):
            if share:
                strains[:, :, c, k] = share * profile
    loads = initial_strain_load(space, elastic, strains) if spec.modes else np.zeros((space.n_unknowns, 0))
    grip_columns = space.edge_columns(spec.grip, "z")
    areas = space.edges(spec.grip).areas
    grip = grip_columns @ (areas / areas.sum())
    kept = np.setdiff1d(np.arange(space.n_unknowns), space.axis_dofs)
    ground = spec.youngs_modulus * float(np.sqrt(areas.sum()))
    return BodySystem(
        spec, space, elastic, matrix, columns, slices, strains, loads, np.asarray(grip).ravel(), kept, ground
    )


def condense(spec: BodySpec, *, fields: bool = True) -> BodyResponse:
    """Condense a body to its columns and strain modes.

    fields  : keep the whole displacement field of every column and mode (needed for pictures)
    returns : BodyResponse
    raises BadMesh : a face that the mesh does not have, or a singular body

    Source: static condensation; the response of a linear elastic body to loads on its faces is exact.
    """
    system = body_system(spec)
    space, kept = system.space, system.kept
    held = system.stiffness + system.ground_stiffness * sp.csc_matrix(np.outer([1.0], system.grip)).T @ sp.csc_matrix(
        system.grip[None, :]
    )
    factor = factorise(sp.csc_matrix(held)[kept][:, kept])
    loads = np.concatenate([system.columns.toarray(), system.mode_loads], axis=1)
    answer = np.zeros(loads.shape)
    answer[kept] = factor.solve(loads[kept])
    m = system.columns.shape[1]
    work = np.asarray(system.columns.T @ answer)
    compliance = work[:, :m]
    asymmetry = float(np.max(np.abs(compliance - compliance.T), initial=0.0))
    largest = float(np.max(np.abs(compliance), initial=1e-300))
    axial = np.zeros(space.n_unknowns)
    axial[1::2] = 1.0
    stress = {}
    for name, regions in spec.stress_regions.items():
        stress[name] = _region_map(system, answer, m, regions)
    for name, points in spec.stress_points.items():
        stress[name] = _point_map(system, answer, m, points)
    tension = None
    if spec.tension_region is not None:
        tension = _tension_rows(system, answer, m)
    return BodyResponse(
        name=spec.name,
        columns=system.column_slices,
        compliance=0.5 * (compliance + compliance.T),
        strain_response=work[:, m:],
        axial_resultant=np.asarray(system.columns.T @ axial).ravel(),
        modes=tuple(mode.name for mode in spec.modes),
        stress=stress,
        tension=tension,
        floating=spec.floating,
        displacement=answer if fields else None,
        unknowns=space.n_unknowns,
        energy_error=asymmetry / largest,
        areas={name: _places(space, face)[0] for name, face in spec.columns.items()},
        midpoints={name: _places(space, face)[1] for name, face in spec.columns.items()},
    )


def _line_shares(space: Space, boundary: str) -> tuple[Array, Array]:
    """Shares (edges, lines) that each edge has of its line's load, and the lines' areas, mm^2."""
    areas = space.edges(boundary).areas
    sizes = [len(facets) for facets, _ in chains_along(space.mesh, space.mesh.facets_of(boundary))]
    member = np.zeros((len(areas), len(sizes)))
    member[np.arange(len(areas)), np.repeat(np.arange(len(sizes)), sizes)] = areas
    return member / member.sum(axis=0), member.sum(axis=0)


def _places(space: Space, face: FaceColumns) -> tuple[Array, Array]:
    """Areas and middles of the edges of a group, or of its lines where each has one load."""
    edges = space.edges(face.boundary)
    if not face.by_line:
        return edges.areas, edges.midpoints
    shares, areas = _line_shares(space, face.boundary)
    return areas, shares.T @ edges.midpoints


def _region_map(system: BodySystem, answer: Array, m: int, regions: tuple[str, ...]) -> StressMap:
    force, strain, where = [], [], []
    for region in regions:
        elements = system.spec.mesh.elements_of(region)
        weights = system.space.weights[elements]
        total = weights.sum()
        average = system.elastic @ np.asarray(system.space.region_average_strain(elements) @ answer)
        own = np.einsum("mq,mqck->ck", weights, system.mode_strains[elements]) / total
        force.append(average[:, :m])
        strain.append(average[:, m:] - system.elastic @ own)
        where.append(np.einsum("mq,mqi->i", weights, system.space.points[elements]) / total)
    return StressMap(np.stack(force), np.stack(strain), np.stack(where))


def _point_map(system: BodySystem, answer: Array, m: int, points: Array) -> StressMap:
    return point_map(system.spec, system.space, answer, m, points)


def point_map(spec: BodySpec, space: Space, displacement: Array, n_columns: int, points: Array) -> StressMap:
    """Return the stress map of a condensed body at any points (n, 2), mm.

    displacement : (2 N, columns + modes) mm, of `BodyResponse`
    raises OutOfBody : a point outside the body
    """
    points = np.asarray(points, dtype=float)
    elastic = spec.elastic
    rows = np.asarray(space.strain_operator(points) @ displacement).reshape(len(points), 4, -1)
    stress = np.einsum("cd,pdk->pck", elastic, rows)
    own = np.zeros((len(points), 4, len(spec.modes)))
    for k, mode in enumerate(spec.modes):
        if mode.region is None:
            own[:, :, k] = np.multiply.outer(mode.at_points(space, points), np.asarray(mode.components))
    strain = stress[:, :, n_columns:] - np.einsum("cd,pdk->pck", elastic, own)
    return StressMap(stress[:, :, :n_columns], strain, points)


def tension_section(system: BodySystem) -> tuple[Array, Array]:
    """Return the row (2 N,) over displacements and the row (k,) over mode amplitudes whose difference is the tension.

    It sums the axial stress of a slice between two plane mesh lines: integral of szz dV over its height. A slice's
    axial virtual displacement that rises linearly from 0 to 1 is in the element space, so that this sum equals the
    axial load on either side of the slice exactly, not only in the limit of a fine mesh. N/mm and N.
    """
    region = system.spec.tension_region
    assert region is not None
    elements = system.spec.mesh.elements_of(region)
    corners = system.space.nodes[system.space.elements[elements]]
    height = corners[..., 1].max() - corners[..., 1].min()
    weights = system.space.weights[elements]
    volume = weights.sum()
    scale = volume / height
    row = system.elastic[2] @ system.space.region_average_strain(elements)
    own = np.einsum("mq,mqck->ck", weights, system.mode_strains[elements]) / volume
    return scale * np.asarray(row).ravel(), scale * (system.elastic[2] @ own)


def _tension_rows(system: BodySystem, answer: Array, m: int) -> tuple[Array, Array]:
    """The tension from column forces (m,) and mode amplitudes (k,)."""
    row, own = tension_section(system)
    whole = row @ answer
    return whole[:m], whole[m:] - own
