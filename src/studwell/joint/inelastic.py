"""Bodies that flow and creep behind the reduced joint: inelastic strain of a zone in, port openings out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import scipy.linalg
import scipy.sparse as sp
from numpy.typing import ArrayLike

from studwell.fem.factor import Factor, factorise
from studwell.fem.fixed_point import IterationRecord, fixed_point
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.fem.inelastic_data import Inelastic, range_warnings
from studwell.fem.plastic_laws import PointState, advance, virgin
from studwell.fem.space import Space
from studwell.joint.body import BodyResponse
from studwell.joint.condense import BodySpec, body_system
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import StepSystem, prepare, solve_state
from studwell.joint.solve import advance as advance_state
from studwell.joint.state import Heat, JointState, mode_amplitudes
from studwell.mesh.mesh import Mesh

Array = np.ndarray

DENSE_UNKNOWNS = 2000
"""Largest number of a zone's displacement unknowns for which the self-influence is kept as a matrix (32 MB)."""

TOLERANCE = 1e-8
"""Largest difference between the inelastic strain given and that answered, over the largest strain of the zones."""

MOST_ITERATIONS = 300
"""Near the load that a body can carry at all the iteration slows down: 230 were seen, 60 far from it."""

EDGE_CREEP = 0.01
"""Creep strain at a zone's edge over its largest, above which the result says that the zone cuts creep off."""


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

    def elastic_stress(self, column_forces: Array, amplitudes: Array, modulus_ratio: float) -> Array:
        """Return the stress (P, 4) MPa of column forces (m,) N and strain modes (k,), no inelastic strain."""
        return self.force_stress @ column_forces + modulus_ratio * (self.mode_stress @ amplitudes)

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
        force_stress=stress[:, :, :m],
        mode_stress=stress[:, :, m:],
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


@dataclass(frozen=True)
class InelasticStep:
    """One instant of a joint whose bodies flow and creep.

    state    : JointState; its openings hold those of the inelastic strain, its heat does not
    zones    : body -> PointState
    record   : of the iteration; state_solves : how many joint states it took
    warnings : plain sentences, empty if there is nothing to say
    """

    state: JointState
    zones: Mapping[str, PointState] = field(repr=False)
    record: IterationRecord
    state_solves: int
    warnings: tuple[str, ...]


def start_zones(zones: Mapping[str, InelasticZone], materials: Mapping[str, Inelastic]) -> dict[str, PointState]:
    """Return the zones' points without history."""
    return {name: virgin(materials[name], (zone.n_points,)) for name, zone in zones.items()}


def advance_joint(
    joint: ReducedJoint,
    before: JointState,
    heat: Heat,
    zones: Mapping[str, InelasticZone],
    materials: Mapping[str, Inelastic],
    states: Mapping[str, PointState],
    temperatures: Mapping[str, Any],
    *,
    duration: float = 0.0,
    tolerance: float = TOLERANCE,
    most_iterations: int = MOST_ITERATIONS,
    solver: Any = solve_state,
    system: StepSystem | None = None,
    gap: Array | None = None,
    **controls: Any,
) -> InelasticStep:
    """Find the state that follows another one while zones of the bodies flow and creep.

    Joint state and material law answer each other's forces and inelastic strains until they agree, with Anderson's
    acceleration over the inelastic strains of all zones.

    heat         : thermal state, without openings of inelastic strain (they are added here, from the whole strain)
    zones        : body -> InelasticZone;  materials : body -> Inelastic, elastic constants as the body was condensed
    states       : body -> PointState of the instant before;  temperatures : body -> degC, number or (P,)
    duration     : s, for creep
    tolerance    : difference of inelastic strains over the largest strain in the zones
    solver       : of the joint's states; the reference path takes `joint.full.FullJoint.solver`
    system       : the instant as prepared before, of the same heat; None prepares it here
    gap          : (n,) mm added to the ports' gaps beside (a gasket that crept)
    controls     : further arguments of `joint.solve.solve_state` (control, travels, outside_load, shear, absent)
    returns      : InelasticStep
    raises NotConverged : no agreement, or no joint state; with the record
    raises ValueError   : a material whose elastic constants are not those of its zone

    Source: initial-strain method on the condensed body; Betti's theorem for the openings.
    """
    index = {name: joint.body_index(name) for name in zones}
    for name, zone in zones.items():
        _check_constants(zone, materials[name])
    sizes = [zone.n_points * 4 for zone in zones.values()]
    cuts = np.cumsum(sizes)[:-1]
    found: dict[str, Any] = {"state": before, "solves": 0}
    attempt = _attempts(joint, before, heat, solver, system, controls)

    def change(x: Array) -> tuple[Array, float]:
        parts = dict(zip(zones, (part.reshape(-1, 4) for part in np.split(x, cuts)), strict=True))
        moved = np.zeros(joint.n_ports) if gap is None else gap.copy()
        for name, zone in zones.items():
            moved += joint.weights[index[name]].T @ zone.openings(parts[name])
        state = attempt(found["state"], moved)
        answers, news = [], {}
        largest = 0.0
        for name, zone in zones.items():
            body = index[name]
            ratio = float(heat.modulus_ratio[body])
            forces = joint.column_forces(body, state.forces, state.outside_load)
            amplitudes = mode_amplitudes(joint, body, heat, state.stretch)
            stress = zone.elastic_stress(forces, amplitudes, ratio) + ratio * zone.self_stress(parts[name])
            strain = np.linalg.solve(zone.elastic, stress.T).T / ratio + parts[name]
            news[name] = advance(materials[name], states[name], strain, temperatures[name], duration, ratio)
            answers.append((news[name].inelastic - parts[name]).ravel())
            largest = max(largest, float(np.abs(strain).max(initial=0.0)))
        found.update(state=state, news=news, solves=found["solves"] + 1)
        step = np.concatenate(answers)
        return step, float(np.abs(step).max(initial=0.0)) / largest if largest > 0 else 0.0

    start = np.concatenate([states[name].inelastic.ravel() for name in zones])
    _, record = fixed_point(change, start, tolerance, most_iterations)
    warnings = [
        text
        for name, zone in zones.items()
        for text in zone_warnings(zone, materials[name], found["news"][name], temperatures[name])
    ]
    return InelasticStep(found["state"], found["news"], record, found["solves"], tuple(warnings))


def zone_warnings(zone: InelasticZone, material: Inelastic, points: PointState, temperatures: Any) -> tuple[str, ...]:
    """Return what must be said of a zone's state: data left, an edge reached, strain that is no longer small.

    temperatures : degC, number or array, all that the zone has been through
    """
    name = zone.body
    warnings = [f"{name}: {text}" for text in range_warnings(material, temperatures)]
    strain, creep = points.plastic_strain, points.creep_strain
    if strain[zone.rim].any():
        warnings.append(f"{name}: yielding reaches the edge of the zone that may yield; take a larger zone")
    if creep[zone.rim].max(initial=0.0) > EDGE_CREEP * creep.max(initial=0.0):
        warnings.append(
            f"{name}: creep at the zone's edge is {creep[zone.rim].max() / creep.max():.2g} of its largest, "
            "and beyond it nothing creeps; take a larger zone"
        )
    if strain.max(initial=0.0) > SMALL_STRAIN:
        warnings.append(f"{name}: plastic strain reaches {strain.max():.3g}, beyond small strain ({SMALL_STRAIN:g})")
    return tuple(warnings)


def _attempts(
    joint: ReducedJoint,
    before: JointState,
    heat: Heat,
    solver: Any,
    system: StepSystem | None,
    controls: Mapping[str, Any],
) -> Callable[[JointState, Array], JointState]:
    """What solves the joint for gaps (n,) mm beside those of its heat, starting near a state."""
    if solver is solve_state:
        rest = dict(controls)
        outside, absent = rest.pop("outside_load", None), rest.pop("absent", None)
        ready = system or prepare(
            joint,
            heat,
            before.outside_load if outside is None else outside,
            before.absent if absent is None else absent,
        )
        return lambda near, gap: advance_state(joint, ready, before, gap=gap, guess=near, **rest)

    def reference(near: JointState, gap: Array) -> JointState:
        whole = gap if heat.gap_change is None else heat.gap_change + gap
        start = replace(before, forces=near.forces, shifts=near.shifts)
        return replace(solver(joint, start, replace(heat, gap_change=whole), **controls), heat=heat)

    return reference


def _check_constants(zone: InelasticZone, material: Inelastic) -> None:
    compliance = np.linalg.inv(zone.elastic)
    young, ratio = 1 / compliance[0, 0], -compliance[0, 1] / compliance[0, 0]
    if abs(material.youngs_modulus / young - 1) > 1e-9 or abs(material.poisson - ratio) > 1e-9:
        raise ValueError(
            f"{zone.body}: the material has E {material.youngs_modulus:g} MPa and nu {material.poisson:g}; "
            f"allowed: those of the condensed body, {young:g} and {ratio:g}"
        )
