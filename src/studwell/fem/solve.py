"""Solve one body: named supports, pressures, tractions and temperatures in; displacements and stresses out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import csr_matrix

from studwell.errors import BadMesh, StudwellError
from studwell.fem.edges import Amount, amounts_at
from studwell.fem.elasticity import (
    averaged_nodal,
    elastic_matrix,
    element_nodal,
    initial_strain_load,
    stiffness,
    stress_at_quadrature,
    thermal_strain,
)
from studwell.fem.factor import factorise
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats, Ints, Mesh

Temperature = float | ArrayLike | Callable[[Floats, Floats], ArrayLike]


@dataclass(frozen=True)
class Elastic:
    """An isotropic elastic material.

    youngs_modulus : MPa;  poisson : 1;  expansion : 1/K, secant over the temperature change
    """

    youngs_modulus: float
    poisson: float
    expansion: float = 0.0


@dataclass(frozen=True, eq=False)
class ElasticField:
    """A solved body.

    space              : Space
    displacement       : (N, 2), u_r and u_z, mm
    nodal_reactions    : (N, 2), forces of the supports on the body, N (full revolution)
    elastic            : (M, 4, 4), MPa
    expansion          : (M,), 1/K
    temperature_change : (N,), K
    """

    space: Space
    displacement: Floats
    nodal_reactions: Floats
    elastic: Floats
    expansion: Floats
    temperature_change: Floats

    @cached_property
    def quadrature_stress(self) -> Floats:
        """Stresses (rr, hoop, zz, rz) at the quadrature points, (M, Q, 4), MPa."""
        strain = thermal_strain(self.space, self.expansion, self.temperature_change)
        return stress_at_quadrature(self.space, self.elastic, self.displacement.ravel(), strain)

    def element_stress(self) -> Floats:
        """Return each element's own nodal stresses, not averaged between elements, (M, 9, 4), MPa."""
        return element_nodal(self.quadrature_stress)

    def stress(self) -> Floats:
        """Return the nodal stresses averaged over the elements at each node, (N, 4), MPa."""
        return averaged_nodal(self.space, self.element_stress())

    def at(self, points: ArrayLike) -> Floats:
        """Return the stresses at points, (n, 4), MPa; points (n, 2), mm.

        raises OutOfBody : a point outside the body
        """
        element, _ = self.space.locate(points)
        strain = (self.space.strain_operator(points) @ self.displacement.ravel()).reshape(-1, 4)
        change = self.space.scalar_operator(points) @ self.temperature_change
        strain[:, :3] -= (self.expansion[element] * change)[:, None]
        return np.einsum("pij,pj->pi", self.elastic[element], strain)

    def displacement_at(self, points: ArrayLike) -> Floats:
        """Return the displacements at points, (n, 2), mm; points (n, 2), mm.

        raises OutOfBody : a point outside the body
        """
        return (self.space.value_operator(points) @ self.displacement.ravel()).reshape(-1, 2)

    def reaction(self, boundary: str) -> Floats:
        """Return the summed support forces on a boundary's nodes, (2,), N, along r and z.

        A node that two boundaries share counts on both.
        """
        return self.nodal_reactions[self.space.boundary_nodes(boundary)].sum(axis=0)


def solve_elastic(
    mesh: Mesh,
    materials: Mapping[str, Elastic],
    supports: Mapping[str, Any] | None = None,
    pressures: Mapping[str, Amount] | None = None,
    tractions: Mapping[str, Sequence[Amount]] | None = None,
    temperature_change: Temperature = 0.0,
    free_axially: bool = False,
    axisymmetric: bool = True,
) -> ElasticField:
    """Return the displacement and stress of one body under named loads.

    mesh               : Mesh, mm
    materials          : region -> Elastic; every region of the mesh
    supports           : boundary -> one or a list of "r", "z", "both" (held at zero), ("r", value) or
                         ("z", value) in mm (number, array over the boundary's nodes, or function of r, z),
                         "r uniform" or "z uniform" (moves as one, no net force from outside)
    pressures          : boundary -> MPa, pushing into the body; number or function of r, z
    tractions          : boundary -> (t_r, t_z), MPa
    temperature_change : K; number, nodal (N,), or function of r, z
    free_axially       : True for a body that nothing holds axially; its loads must balance
    axisymmetric       : False for plane strain of 1 mm thickness
    raises BadMesh     : a name that the mesh does not have, or a region without a material
    raises ValueError  : a support that is not understood, or supports that contradict each other
    raises StudwellError : nothing holds the body
    """
    space = Space(mesh, axisymmetric)
    matrices, expansion = _material_arrays(mesh, materials)
    change = _nodal(space, temperature_change)
    load = initial_strain_load(space, matrices, thermal_strain(space, expansion, change))
    applied = np.zeros(space.n_unknowns)
    for name, pressure in (pressures or {}).items():
        amounts_at(pressure, space.edges(name).points, f"the pressure on {name!r}")
        applied -= space.traction_load(name, "normal", pressure)
    for name, pair in (tractions or {}).items():
        for direction, amount in zip(("r", "z"), pair, strict=True):
            applied += space.traction_load(name, direction, amount)
    load = load + applied
    fixed, owner = _constraints(space, supports or {})
    if free_axially:
        _check_balanced(applied)
        if any(unknown % 2 for unknown in fixed):
            raise ValueError("a support holds the body axially; allowed with free_axially: none")
        fixed[int(owner[1])] = 0.0
    system = stiffness(space, matrices)
    values = np.zeros(space.n_unknowns)
    values[list(fixed)] = list(fixed.values())
    reduction = _reduction(space.n_unknowns, fixed, owner)
    reduced = (reduction.T @ (system @ reduction)).tocsc()
    u = reduction @ factorise(reduced).solve(reduction.T @ (load - system @ values)) + values
    return ElasticField(
        space=space,
        displacement=u.reshape(-1, 2),
        nodal_reactions=(system @ u - load).reshape(-1, 2),
        elastic=matrices,
        expansion=expansion,
        temperature_change=change,
    )


def _material_arrays(mesh: Mesh, materials: Mapping[str, Elastic]) -> tuple[Floats, Floats]:
    matrices = np.full((mesh.n_elements, 4, 4), np.nan)
    expansion = np.zeros(mesh.n_elements)
    for region, material in materials.items():
        members = mesh.elements_of(region)
        matrices[members] = elastic_matrix(material.youngs_modulus, material.poisson)
        expansion[members] = material.expansion
    for region in mesh.regions:
        if region not in materials:
            raise BadMesh(f"region {region!r} has no material")
    return matrices, expansion


def _nodal(space: Space, amount: Temperature) -> Floats:
    return np.array(amounts_at(amount, space.nodes, "a temperature change"))


def _constraints(space: Space, supports: Mapping[str, Any]) -> tuple[dict[int, float], Ints]:
    """Held unknowns with their values, and for each unknown the one that it moves with."""
    fixed: dict[int, float] = {}
    owner = np.arange(space.n_unknowns)
    for name, wishes in supports.items():
        nodes = space.boundary_nodes(name)
        where = space.nodes[nodes]
        for wish in wishes if isinstance(wishes, list) else [wishes]:
            kind, value = (wish, 0.0) if isinstance(wish, str) else wish
            if kind in ("r uniform", "z uniform"):
                group = 2 * nodes + ("r", "z").index(kind[0])
                owner[group] = group[0]
                continue
            if kind not in ("r", "z", "both"):
                raise ValueError(
                    f"support {kind!r} of {name!r}; allowed: r, z, both, r uniform, z uniform, (r, mm), (z, mm)"
                )
            held = amounts_at(value, where, f"the support of {name!r}")
            for axis in (0, 1) if kind == "both" else (("r", "z").index(kind),):
                for unknown, mm in zip((2 * nodes + axis).tolist(), held.tolist(), strict=True):
                    if abs(fixed.setdefault(unknown, mm) - mm) > 1e-9 * (abs(mm) + 1e-9):
                        raise ValueError(f"support of {name!r} contradicts another one at a shared node")
    for unknown in space.axis_dofs.tolist():
        if abs(fixed.get(unknown, 0.0)) > 1e-12 * space.size:
            raise ValueError("a support moves the axis radially")
        fixed[unknown] = 0.0
    tied = np.nonzero(owner != np.arange(len(owner)))[0]
    if set(owner[tied].tolist() + tied.tolist()) & set(fixed):
        raise ValueError("a boundary that moves as one shares a held node with another support")
    return fixed, owner


def _check_balanced(applied: Floats) -> None:
    axial = applied[1::2]
    if abs(axial.sum()) > 1e-8 * np.abs(axial).sum() + 1e-300:
        raise StudwellError(
            f"the axial loads of a free body leave {axial.sum():.6g} N; allowed: balanced loads", slug="bad-mesh"
        )


def _reduction(n: int, fixed: Mapping[int, float], owner: Ints) -> csr_matrix:
    free = np.ones(n, bool)
    free[list(fixed)] = False
    free &= free[owner]
    masters = np.nonzero(free & (owner == np.arange(n)))[0]
    number = np.full(n, -1)
    number[masters] = np.arange(len(masters))
    rows = np.nonzero(free)[0]
    return csr_matrix((np.ones(len(rows)), (rows, number[owner[rows]])), shape=(n, len(masters)))
