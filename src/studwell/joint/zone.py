"""The part of a body that may flow: its points' stress and strain operators and its own answer to inelastic strain."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.linalg
import scipy.sparse as sp
from numpy.typing import ArrayLike

from studwell.fem.factor import Factor, factorise
from studwell.fem.space import Space
from studwell.joint.body import BodyResponse
from studwell.joint.condense import BodySpec, body_system
from studwell.joint.state import StrainEffect
from studwell.mesh.mesh import Mesh

Array = np.ndarray

DENSE_UNKNOWNS = 2000
"""Largest number of a zone's displacement unknowns for which the self-influence is kept as a matrix (32 MB)."""


@dataclass(frozen=True)
class InelasticZone:
    """The part of a body that may flow or creep, seen from the joint; the rest of the body stays elastic.

    Points are the quadrature points of the zone's elements, P in all; components rr, hoop, zz, rz.

    body         : name;  elements : (Z,) of its mesh;  where : (P, 2) mm;  weights : (P,) mm^3 with 2 pi r
    rim          : (P,) bool, points of elements that touch the elastic rest: flow there asks for a larger zone
    elastic      : (4, 4) MPa at the reference modulus
    force_stress : (P, 4, m) MPa/N of the body's column forces; times the weights it is, by reciprocity, the opening
                   that an inelastic strain makes at the columns
    mode_stress  : (P, 4, k) MPa per unit amplitude of the strain modes
    strain_rows  : sparse (4 P, d), strain from the zone's own d unknowns;  unknowns : (d,) their numbers in the body
    influence    : (d, d) mm/N, displacements of the zone's own d unknowns from loads on them; or None
    factor       : the body's factor, if the influence is not kept (then the zone cannot be pickled); or None
    """

    body: str
    elements: Array = field(repr=False)
    where: Array = field(repr=False)
    weights: Array = field(repr=False)
    rim: Array = field(repr=False)
    elastic: Array = field(repr=False)
    force_stress: Array = field(repr=False)
    mode_stress: Array = field(repr=False)
    strain_rows: sp.csr_matrix = field(repr=False)
    unknowns: Array = field(repr=False)
    influence: Array | None = field(repr=False)
    factor: Factor | None = field(repr=False)
    kept: Array = field(repr=False)
    body_unknowns: int

    @property
    def n_points(self) -> int:
        """Number of points P."""
        return len(self.weights)

    def openings(self, strain: Array) -> Array:
        """Return the movements (m,) mm of the body's columns that an inelastic strain (P, 4) makes, at no force.

        Source: Betti's reciprocal theorem; the unit fields are those of the condensed body. Independent of modulus.
        """
        weighted = (strain * self.weights[:, None]).ravel()
        return weighted @ self.force_stress.reshape(len(weighted), -1)

    def effect(self, strain: Array) -> StrainEffect:
        """Return what an inelastic strain (P, 4) does at no force."""
        return StrainEffect(self.openings(strain), self.self_stress(strain))

    def elastic_stress(self, column_forces: Array, amplitudes: Array, modulus_ratio: float) -> Array:
        """Return the stress (P, 4) MPa of column forces (m,) N and strain modes (k,), no inelastic strain."""
        points = self.n_points
        stress = self.force_stress.reshape(4 * points, -1) @ column_forces
        stress += modulus_ratio * (self.mode_stress.reshape(4 * points, -1) @ amplitudes)
        return stress.reshape(points, 4)

    def self_stress(self, strain: Array) -> Array:
        """Return the stress (P, 4) MPa at the reference modulus that an inelastic strain (P, 4) leaves in the zone."""
        moved = self._own_displacement(self.load(strain))
        own = self.strain_rows @ moved
        return (own.reshape(-1, 4) - strain) @ self.elastic

    def displacement(self, strain: Array) -> Array:
        """Return the body's displacements (2 N,) mm from an inelastic strain (P, 4), at no force; one back-solve.

        raises ValueError : the zone was made without keeping the factor
        """
        if self.factor is None:
            raise ValueError("the zone was made without its factor; make it with keep_factor=True")
        return self._back(self.load(strain))

    def load(self, strain: Array) -> Array:
        """Return the loads (d,) N on the zone's own unknowns of an inelastic strain (P, 4), at the reference modulus."""
        stress = (strain @ self.elastic) * self.weights[:, None]
        return self.strain_rows.T @ stress.ravel()

    def _own_displacement(self, load: Array) -> Array:
        if self.influence is not None:
            return self.influence @ load
        return self._back(load)[self.unknowns]

    def _back(self, load: Array) -> Array:
        """Displacements (2 N,) mm from loads (d,) N on the zone's unknowns."""
        assert self.factor is not None
        whole = np.zeros(self.body_unknowns)
        whole[self.unknowns] = load
        answer = np.zeros(self.body_unknowns)
        answer[self.kept] = self.factor.solve(whole[self.kept])
        return answer


def zone_near(mesh: Mesh, point: ArrayLike, distance: float) -> Array:
    """Return the elements whose centre lies within a distance (mm) of a point (r, z), such as the floor's corner.

    raises ValueError : no element is that near
    """
    centres = mesh.nodes[mesh.elements].mean(axis=1)
    near = np.flatnonzero(np.hypot(*(centres - np.asarray(point, float)).T) <= distance)
    if not len(near):
        raise ValueError(f"no element's centre lies within {distance:g} mm of {tuple(np.asarray(point))}")
    return near


def inelastic_zone(
    spec: BodySpec,
    elements: ArrayLike | None = None,
    *,
    response: BodyResponse | None = None,
    dense: bool | None = None,
    keep_factor: bool = False,
) -> InelasticZone:
    """Prepare a zone of a body for inelastic strain: stress and opening operators, and the body's own answer.

    elements    : numbers of the zone's elements; None for the whole body
    response    : the body as condensed before, with its fields, whose unit columns are then used again
    dense       : keep the zone's self-influence as a matrix (True), or back-solve on the factor each time (False);
                  None keeps it up to DENSE_UNKNOWNS unknowns. Both are exact.
    keep_factor : keep the factor beside the matrix, for whole displacement fields
    returns     : InelasticZone
    raises BadMesh, ValueError : as `condense`; a response of another body
    """
    system = body_system(spec)
    space: Space = system.space
    chosen = np.arange(len(space.elements)) if elements is None else np.asarray(elements)
    grip = sp.csc_matrix(system.grip[None, :])
    held = sp.csc_matrix(system.stiffness + system.ground_stiffness * (grip.T @ grip))
    held = held[system.kept][:, system.kept]

    q = space.weights.shape[1]
    global_unknowns = np.repeat(space.element_unknowns[chosen], q, axis=0)
    unknowns, local = np.unique(global_unknowns, return_inverse=True)
    local = local.reshape(global_unknowns.shape)
    rows = space.strain_matrix[chosen].reshape(-1, 4, 18)
    heads = np.arange(0, rows.size + 1, 18)
    places = np.repeat(local, 4, axis=0).ravel()
    strain_rows = sp.csr_matrix((rows.ravel(), places, heads), (len(heads) - 1, len(unknowns)))

    if dense is None:
        dense = len(unknowns) <= DENSE_UNKNOWNS
    solved = response is not None and response.displacement is not None
    factor = None if solved and dense and not keep_factor else factorise(held)
    m = system.columns.shape[1]
    if response is not None and response.displacement is not None:
        fields = response.displacement
        if fields.shape != (space.n_unknowns, m + len(spec.modes)):
            raise ValueError(f"the response of {response.name!r} is not that of the body {spec.name!r} as given")
    else:
        assert factor is not None
        fields = np.zeros((space.n_unknowns, m + len(spec.modes)))
        loads = np.concatenate([system.columns.toarray(), system.mode_loads], axis=1)
        fields[system.kept] = factor.solve(loads[system.kept])
    strains = np.einsum("pcu,puk->pck", rows, fields[global_unknowns])
    strains[:, :, m:] -= system.mode_strains[chosen].reshape(-1, 4, len(spec.modes))
    stress = np.einsum("cd,pdk->pck", system.elastic, strains)

    return InelasticZone(
        body=spec.name,
        elements=chosen,
        where=space.points[chosen].reshape(-1, 2),
        weights=space.weights[chosen].ravel(),
        rim=np.repeat(_touches_rest(space.elements, chosen), q),
        elastic=system.elastic,
        force_stress=np.ascontiguousarray(stress[:, :, :m]),
        mode_stress=np.ascontiguousarray(stress[:, :, m:]),
        strain_rows=strain_rows,
        unknowns=unknowns,
        influence=_influence(held, system.kept, unknowns) if dense else None,
        factor=factor if keep_factor or not dense else None,
        kept=system.kept,
        body_unknowns=space.n_unknowns,
    )


def _touches_rest(elements: Array, chosen: Array) -> Array:
    """Whether each chosen element (Z,) shares a node with one that is not chosen."""
    rest = np.delete(elements, chosen, axis=0)
    return np.asarray(np.isin(elements[chosen], rest).any(axis=1))


def _influence(held: sp.csc_matrix, kept: Array, unknowns: Array) -> Array:
    """Displacements of some unknowns from unit loads on them, (d, d) mm/N; zero for unknowns that are held.

    The rest of the body is eliminated: only the zone's rim needs solves, then one dense inverse of the zone's size.
    """
    free = np.isin(unknowns, kept)
    inside = np.searchsorted(kept, unknowns[free])
    outside = np.setdiff1d(np.arange(len(kept)), inside)
    schur = held[inside][:, inside].toarray()
    if len(outside):
        across = held[outside][:, inside].tocsc()
        rim = np.flatnonzero(np.diff(across.indptr))
        schur[:, rim] -= across.T @ factorise(held[outside][:, outside]).solve(across[:, rim])
    inverse = scipy.linalg.cho_solve(scipy.linalg.cho_factor(schur), np.eye(len(inside)))
    result = np.zeros((len(unknowns), len(unknowns)))
    result[np.ix_(free, free)] = 0.5 * (inverse + inverse.T)
    return result
