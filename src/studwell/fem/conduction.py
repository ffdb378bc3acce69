"""Heat conduction on a `Space`: conductivity, capacity and film matrices, and the steady temperature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import csc_matrix

from studwell.errors import BadMesh, NotConverged
from studwell.fem.edges import Amount, amounts_at
from studwell.fem.factor import factorise
from studwell.fem.radiation import radiation
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats, Mesh

NEWTON_STEPS = 40
SETTLED = 1e-5
"""K, the last correction of a temperature that radiation sets; Newton's method squares what is left."""


def _per_element(space: Space, value: ArrayLike) -> Floats:
    return np.broadcast_to(np.asarray(value, float), (len(space.elements),))


def conductivity_matrix(space: Space, conductivity: ArrayLike) -> csc_matrix:
    """Return the conduction matrix, (N, N), N mm/(s K) = mW/K: heat flow out of each node per kelvin.

    conductivity : float or (M,), N/(s K), the same number as in W/(m K)
    """
    weight = space.weights * _per_element(space, conductivity)[:, None]
    slopes = space.gradients
    m, q = slopes.shape[:2]
    tall = slopes.swapaxes(2, 3).reshape(m, 2 * q, 9)
    weighted = (slopes * weight[:, :, None, None]).swapaxes(2, 3).reshape(m, 2 * q, 9)
    return space.pattern.scalar(tall.swapaxes(1, 2) @ weighted)


def capacity_matrix(space: Space, heat_capacity: ArrayLike) -> csc_matrix:
    """Return the heat capacity matrix, (N, N), N mm/K = mJ/K.

    heat_capacity : float or (M,), MPa/K: density times specific heat, J/(m^3 K) times 1e-6
    """
    weight = space.weights * _per_element(space, heat_capacity)[:, None]
    both = space.shapes[:, :, None] * space.shapes[:, None, :]
    return space.pattern.scalar(np.einsum("mq,qij->mij", weight, both, optimize=True))


def heat_source_load(space: Space, source: ArrayLike) -> Floats:
    """Return the nodal heat of a source in the volume, (N,), N mm/s = mW.

    source : float or (M,), MPa/s: W/m^3 times 1e-6
    """
    weight = space.weights * _per_element(space, source)[:, None]
    heat = np.bincount(space.elements.ravel(), (weight @ space.shapes).ravel(), minlength=space.n_nodes)
    return np.asarray(heat, float)


@dataclass(frozen=True, eq=False)
class TemperatureField:
    """A steady temperature.

    space       : Space
    temperature : (N,), degC
    nodal_flow  : (N,), N mm/s = mW, heat that the held temperatures feed into the body
    """

    space: Space
    temperature: Floats
    nodal_flow: Floats

    def at(self, points: ArrayLike) -> Floats:
        """Return the temperatures at points (n, 2) mm, (n,), degC.

        raises OutOfBody : a point outside the body
        """
        return self.space.scalar_operator(points) @ self.temperature

    def flow(self, boundary: str) -> float:
        """Return the heat fed into the body by a boundary's held temperature, N mm/s = mW."""
        return float(self.nodal_flow[self.space.boundary_nodes(boundary)].sum())


def solve_conduction(
    mesh: Mesh,
    conductivity: Mapping[str, float],
    temperatures: Mapping[str, Amount] | None = None,
    fluxes: Mapping[str, Amount] | None = None,
    films: Mapping[str, tuple[Amount, float]] | None = None,
    sources: Mapping[str, float] | None = None,
    axisymmetric: bool = True,
    radiating: Mapping[str, tuple[float, float]] | None = None,
) -> TemperatureField:
    """Return the steady temperature of one body; boundaries without a condition are insulated.

    mesh           : Mesh, mm
    conductivity   : region -> N/(s K), the same number as in W/(m K)
    temperatures   : boundary -> degC, number or function of r, z
    fluxes         : boundary -> N/(mm s), heat into the body: W/m^2 times 1e-3
    films          : boundary -> (film coefficient in N/(mm s K): W/(m^2 K) times 1e-3, fluid temperature degC)
    sources        : region -> MPa/s: W/m^3 times 1e-6
    axisymmetric   : False for a plane section of 1 mm thickness
    radiating      : boundary -> (emissivity 0..1, temperature of large surroundings degC); found by Newton's method
    raises BadMesh : a name that the mesh does not have, or a region without conductivity
    raises ValueError : a conductivity that is not positive, a film without fluid temperature or below zero, an
                        emissivity outside 0..1
    raises StudwellError : no temperature, film or radiation: nothing sets the level
    raises NotConverged  : radiation does not settle
    """
    space = Space(mesh, axisymmetric)
    _check(conductivity, films or {})
    system = conductivity_matrix(space, _by_region(mesh, conductivity, complete=True))
    load = heat_source_load(space, _by_region(mesh, sources or {}, complete=False))
    for name, flux in (fluxes or {}).items():
        load = load + space.edge_scalar_load(name, flux)
    for name, (coefficient, fluid) in (films or {}).items():
        matrix = space.edge_scalar_matrix(name, coefficient)
        system = system + matrix
        load = load + fluid * np.asarray(matrix.sum(axis=1)).ravel()
    answer = np.zeros(space.n_nodes)
    free = np.ones(space.n_nodes, bool)
    for name, level in (temperatures or {}).items():
        nodes = space.boundary_nodes(name)
        where = space.nodes[nodes]
        answer[nodes] = amounts_at(level, where, f"the temperature of {name!r}")
        free[nodes] = False
    system = system.tocsc()
    if radiating:
        answer[free] = np.mean([surroundings for _, surroundings in radiating.values()])
    for _ in range(NEWTON_STEPS):
        heat, slope = load, system
        for name, (emissivity, surroundings) in (radiating or {}).items():
            brought, fall = radiation(space.edges(name), emissivity, surroundings, answer)
            heat, slope = heat + brought, slope + fall
        missing = heat - system @ answer
        step = factorise(slope.tocsr()[free][:, free]).solve(missing[free])
        answer[free] += step
        if not radiating:
            break
        if np.abs(step).max() <= SETTLED:
            break
    else:
        raise NotConverged(f"radiation: {NEWTON_STEPS} steps, the last one of {np.abs(step).max():.3g} K")
    if radiating:
        heat = load + sum(radiation(space.edges(name), *pair, answer)[0] for name, pair in radiating.items())
    return TemperatureField(space, answer, np.where(free, 0.0, system @ answer - heat))


def _check(conductivity: Mapping[str, float], films: Mapping[str, tuple[Amount, float]]) -> None:
    for region, value in conductivity.items():
        if not (np.isfinite(value) and value > 0):
            raise ValueError(f"conductivity of region {region!r} is {value}; allowed: a finite number above zero")
    for name, film in films.items():
        if not isinstance(film, tuple | list) or len(film) != 2 or film[1] is None:
            raise ValueError(f"the film on {name!r} has no fluid temperature; allowed: (coefficient, temperature)")
        if not callable(film[0]) and not (np.isfinite(film[0]) and film[0] >= 0):
            raise ValueError(f"the film coefficient on {name!r} is {film[0]}; allowed: a finite number, not below zero")


def _by_region(mesh: Mesh, values: Mapping[str, float], complete: bool) -> Floats:
    array = np.zeros(mesh.n_elements)
    for region, value in values.items():
        array[mesh.elements_of(region)] = value
    for region in mesh.regions:
        if complete and region not in values:
            raise BadMesh(f"region {region!r} has no conductivity")
    return array
