"""A cracked body solved once for every load on its crack's faces: stress intensity, openings, faces that close."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.optimize import nnls

from studwell.fem.crack_tip import face_jumps, face_loads, opening_rows, tip_rows
from studwell.fem.edges import Amount
from studwell.fem.elasticity import elastic_matrix, initial_strain_load, stiffness, thermal_strain
from studwell.fem.factor import factorise
from studwell.fem.solve import _constraints, _reduction
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats
from studwell.mesh.ring_crack import CrackedMesh

CLOSED = 1e-9
"""Overlap of faces that counts as one, over their largest opening."""


@dataclass(frozen=True)
class Intensity:
    """Stress intensity of one load, MPa m^0.5.

    opening, sliding : K_I and K_II, mean over the contours
    contours         : (2, c) both on each contour
    displacement     : (2,) both from the faces' jumps
    energy           : N mm, half the work of the load on the faces over their jumps (full revolution, or 1 mm thick)
    jumps            : (2, n) opening and slide of the faces' nodes, mm
    closed           : faces touch somewhere
    """

    opening: float
    sliding: float
    contours: Floats = field(repr=False)
    displacement: Floats = field(repr=False)
    energy: float
    jumps: Floats = field(repr=False)
    closed: bool

    @property
    def spread(self) -> float:
        """Largest difference of a contour from the mean, over the larger of both intensities."""
        mean = self.contours.mean(axis=1, keepdims=True)
        return float(np.abs(self.contours - mean).max() / max(np.hypot(*mean.ravel()), 1e-300))


@dataclass(frozen=True)
class CrackWeights:
    """What loads on the faces of one crack do: numbers only, picklable. n nodes of the faces, from the mouth.

    depths       : (n,) mm from the mouth
    intensity    : (2, 2 n) K_I and K_II, MPa m^0.5 an MPa of opening pressure and of shear at the nodes
    contours     : (2, c, 2 n) the same on each contour;  displacement : (2, 2 n) the same from the faces' jumps
    opening      : (n, 2 n) mm an MPa, opening of the faces
    push         : (n, n) mm a N, opening by pairs of forces at the nodes
    push_intensity : (2, n) MPa m^0.5 a N
    unknowns     : displacement unknowns
    """

    depths: Floats = field(repr=False)
    intensity: Floats = field(repr=False)
    contours: Floats = field(repr=False)
    displacement: Floats = field(repr=False)
    opening: Floats = field(repr=False)
    push: Floats = field(repr=False)
    push_intensity: Floats = field(repr=False)
    unknowns: int

    def of(self, pressures: Floats, shears: Floats, contact: bool = True) -> tuple[Floats, Floats]:
        """Return K_I and K_II (states, 2), MPa m^0.5, and whether faces touch (states,) bool.

        pressures, shears : (states, n) MPa at the faces' nodes: what the uncracked body carries across the line
        contact           : faces that would overlap push each other open again, without friction; False: they overlap
        """
        loads = np.concatenate([pressures, shears], axis=1)
        found = loads @ self.intensity.T
        gaps = loads @ self.opening.T
        overlap = gaps.min(axis=1) < -CLOSED * np.maximum(np.abs(gaps).max(axis=1), 1e-300)
        if contact:
            for state in np.nonzero(overlap)[0]:
                found[state] += self.push_intensity @ pushed_open(self.push, gaps[state])
            found[:, 0] = np.maximum(found[:, 0], 0.0)
        return found, overlap


def pushed_open(push: Floats, gaps: Floats) -> Floats:
    """Return the forces (n,) N >= 0 between nodes of closing faces that leave no overlap and no force at a gap.

    push : (n, n) mm a N;  gaps : (n,) mm, negative where the faces would overlap

    Source: the linear complementarity problem of contact without friction as non-negative least squares (Lawson & Hanson
    1974): least of 1/2 f C f + g f over f >= 0.
    """
    size = np.sqrt(np.diag(push))
    scaled = push / np.outer(size, size)
    lower = np.linalg.cholesky(scaled + 1e-12 * np.eye(len(size)))
    goal = -np.linalg.solve(lower, gaps / size)
    return np.asarray(nnls(lower.T, goal, maxiter=30 * len(size))[0] / size)


class CrackedBody:
    """A cracked body of one isotropic material, factorised once.

    crack         : CrackedMesh
    youngs_modulus, poisson : MPa and 1
    supports      : as in `solve_elastic`; None: a free body, held just enough not to move as a whole
    axisymmetric  : False for plane strain of 1 mm thickness
    free_axially  : True where the supports hold nothing along z: the loads balance
    raises BadMesh, ValueError, StudwellError : as `solve_elastic`
    """

    def __init__(
        self,
        crack: CrackedMesh,
        youngs_modulus: float,
        poisson: float,
        supports: Mapping[str, Any] | None = None,
        axisymmetric: bool = True,
        free_axially: bool = False,
    ) -> None:
        self.crack = crack
        self.space = Space(crack.mesh, axisymmetric)
        self.youngs_modulus, self.poisson = youngs_modulus, poisson
        self.hooke = elastic_matrix(youngs_modulus, poisson)
        fixed, owner = _constraints(self.space, supports or {})
        tip = crack.tip_nodes
        for axis in (0, 1):
            owner[2 * tip + axis] = 2 * tip[0] + axis
        if supports is None or free_axially:
            self._hold(fixed, supports is None)
        self._held = np.zeros(self.space.n_unknowns)
        self._held[list(fixed)] = list(fixed.values())
        matrix = stiffness(self.space, self.hooke)
        self._reduction = _reduction(self.space.n_unknowns, fixed, owner)
        self._factor = factorise((self._reduction.T @ (matrix @ self._reduction)).tocsc())
        self._from_held = matrix @ self._held
        self.rows = tip_rows(self.space, crack, youngs_modulus, poisson)
        self.opening_rows = opening_rows(self.space, crack, youngs_modulus, poisson)
        self._face_loads = face_loads(self.space, crack)
        self._jumps = face_jumps(self.space, crack)

    def _hold(self, fixed: dict[int, float], wholly: bool) -> None:
        """Hold the node farthest from the tip along z; in a plane body held nowhere also across, and against turning."""
        nodes = self.space.nodes
        far = int(np.argmax(np.linalg.norm(nodes - self.crack.tip, axis=1)))
        fixed[2 * far + 1] = 0.0
        if wholly and not self.space.axisymmetric:
            fixed[2 * far] = 0.0
            other = int(np.argmax(np.linalg.norm(nodes - nodes[far], axis=1)))
            across = int(np.argmin(np.abs(nodes[other] - nodes[far])))
            fixed[2 * other + across] = 0.0

    def _solve(self, loads: Floats) -> Floats:
        return np.asarray(self._reduction @ self._factor.solve(self._reduction.T @ loads))

    def solve(
        self,
        *,
        tractions: Mapping[str, Sequence[Amount]] | None = None,
        pressures: Mapping[str, Amount] | None = None,
        free_strain: Floats | None = None,
        face_pressure: Floats | None = None,
        face_shear: Floats | None = None,
        contact: bool = True,
    ) -> Intensity:
        """Return the stress intensity of one set of loads.

        tractions     : boundary -> (t_r, t_z), MPa;  pressures : boundary -> MPa
        free_strain   : (N,) thermal expansion times temperature change at the mesh's nodes
        face_pressure : (n,) MPa at the faces' nodes, pushes them apart;  face_shear : (n,) MPa
        contact       : faces that would overlap touch instead, without friction
        """
        space = self.space
        load = np.zeros(space.n_unknowns)
        for name, amount in (pressures or {}).items():
            load = load - space.traction_load(name, "normal", amount)
        for name, pair in (tractions or {}).items():
            for direction, part in zip(("r", "z"), pair, strict=True):
                load = load + space.traction_load(name, direction, part)
        if free_strain is not None:
            load = load + initial_strain_load(space, self.hooke, thermal_strain(space, 1.0, free_strain))
        return self.under(load, free_strain, face_pressure, face_shear, contact)

    def under(
        self,
        load: Floats,
        free_strain: Floats | None = None,
        face_pressure: Floats | None = None,
        face_shear: Floats | None = None,
        contact: bool = True,
    ) -> Intensity:
        """Return the stress intensity under nodal loads (2 N,) N, which act nowhere on the crack's faces.

        free_strain : (N,), whose load is in `load` already, for the domain integral;  the others: as in `solve`
        """
        n = len(self.crack.faces)
        load = load - self._from_held
        faces = np.zeros(2 * n)
        if face_pressure is not None:
            faces[:n] = face_pressure
        if face_shear is not None:
            faces[n:] = face_shear
        work = np.asarray(self._face_loads @ faces)
        u = self._solve(load + work) + self._held
        jumps = self._jumps @ u
        overlap = bool(jumps[:n].min() < -CLOSED * np.abs(jumps[:n]).max())
        if contact and overlap:
            pairs = self._jumps[:n].T.toarray()
            moved = self._solve(pairs)
            force = pushed_open(np.asarray(self._jumps[:n] @ moved), jumps[:n])
            u = u + moved @ force
            jumps = self._jumps @ u
            faces[:n] += np.linalg.solve(self._mass, force)
        contours = np.einsum("acu,u->ac", self.rows.displacement, u)
        contours += np.einsum("ackn,kn->ac", self.rows.faces, faces.reshape(2, n))
        if free_strain is not None:
            contours += np.einsum("acn,n->ac", self.rows.heat, free_strain)
        mean = contours.mean(axis=1)
        return Intensity(
            opening=float(mean[0]),
            sliding=float(mean[1]),
            contours=contours,
            displacement=np.asarray(self.opening_rows @ u),
            energy=0.5 * float(work @ u),
            jumps=jumps.reshape(2, n),
            closed=overlap,
        )

    @property
    def _mass(self) -> Floats:
        """Force at the faces' nodes of opening pressures there, (n, n), N a MPa."""
        n = len(self.crack.faces)
        upper = self.crack.faces[:, 0]
        normal = self.crack.normal
        loads = self._face_loads[:, :n]
        mass = normal[0] * loads[2 * upper] + normal[1] * loads[2 * upper + 1]
        return np.asarray(mass.toarray())

    def weights(self) -> CrackWeights:
        """Return what loads on the crack's faces do, for any number of states.

        Betti's theorem turns one solve per contour and mode into the intensity of every load.
        """
        n = len(self.crack.faces)
        modes, contours = self.rows.displacement.shape[:2]
        adjoint = self._solve(self.rows.displacement.reshape(modes * contours, -1).T)
        by_load = (self._face_loads.T @ adjoint).T.reshape(modes, contours, 2 * n)
        direct = self.rows.faces.reshape(modes, contours, 2 * n)
        intensity = by_load + direct
        pairs = self._jumps[:n].T.toarray()
        moved = self._solve(pairs)
        push = np.asarray(self._jumps[:n] @ moved)
        tied = (self._jumps[:n] @ adjoint).T.reshape(modes, contours, n)
        tied = tied + np.linalg.solve(self._mass.T, direct[..., :n].reshape(-1, n).T).T.reshape(tied.shape)
        near = self._solve(self.opening_rows.toarray().T)
        return CrackWeights(
            depths=self.crack.depths,
            intensity=intensity.mean(axis=1),
            contours=intensity,
            displacement=np.asarray((self._face_loads.T @ near).T),
            opening=np.asarray((self._face_loads.T @ moved).T),
            push=0.5 * (push + push.T),
            push_intensity=tied.mean(axis=1),
            unknowns=self.space.n_unknowns,
        )
