"""Solve one body that flows and creeps: increments of load, support and temperature in; states of every point out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix

from studwell.errors import NotConverged, StudwellError
from studwell.fem.elasticity import initial_strain_load, stiffness, strain_at_quadrature, stress_load, thermal_strain
from studwell.fem.factor import Factor, factorise
from studwell.fem.fixed_point import fixed_point
from studwell.fem.inelastic_data import Inelastic, range_warnings
from studwell.fem.inelastic_records import ElastoplasticHistory, Increment, IncrementRecord
from studwell.fem.plastic_laws import PointState, advance, tangent, virgin
from studwell.fem.solve import _check_balanced, _constraints, _material_arrays, _nodal, _reduction
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats, Mesh

TOLERANCE = 1e-9
"""Largest unbalanced nodal force over the largest nodal force of stress, support or load."""

ACCELERATED_ITERATIONS = 50
"""Bodies away from collapse took 8 to 40; more than these cost more than Newton's method."""

TANGENT_ITERATIONS = 30
MOST_HALVINGS = 6
"""A piece of an increment is never shorter than 1 / 2^6 of it."""

ROUNDING = 4.0
"""Units of rounding in a nodal force for each unit of stiffness times displacement."""

MOST_NOISE = 1e-6
"""Share of the largest force that rounding may excuse."""

LARGEST_STRAIN = 1.0
"""Plastic strain beyond which a body counts as running away: elements resist volume change and would balance any load."""

SMALL_STRAIN = 0.05
"""Plastic strain above which small-strain results are marked. Common practice, no source."""


def solve_elastoplastic(
    mesh: Mesh,
    materials: Mapping[str, Inelastic],
    increments: Sequence[Increment],
    *,
    start_temperature: float,
    supports: Mapping[str, Any] | None = None,
    free_axially: bool = False,
    axisymmetric: bool = True,
    tolerance: float = TOLERANCE,
    method: str = "accelerated",
) -> ElastoplasticHistory:
    """Return a body's displacements and point states after each increment; small strain, implicit increments.

    Each increment is solved by initial-strain iteration on the elastic factor, made once, with Anderson's
    acceleration; where that fails by Newton's method with the consistent tangent, which then goes on until an
    increment is nearly elastic; where that fails the increment is halved. The records tell.

    materials         : region -> Inelastic; elastic constants and expansion do not change with temperature here
    increments        : in order; each names everything that acts at its end, nothing adds up
    start_temperature : degC of zero temperature change, for material data
    supports, free_axially, axisymmetric : as in `solve_elastic`
    tolerance         : unbalanced nodal force over the largest nodal force
    method            : "accelerated" as above, or "tangent" to start with Newton's method
    returns           : ElastoplasticHistory
    raises BadMesh, ValueError, StudwellError : as in `solve_elastic`; ValueError also for an increment that frees or
                        holds what was not so before
    raises NotConverged : with the IncrementRecord of the increment that was not found

    Source: initial-strain method (Zienkiewicz, Valliappan & King 1969); consistent tangent (Simo & Taylor 1985).
    """
    if method not in ("accelerated", "tangent"):
        raise ValueError(f"method {method!r}; allowed: accelerated, tangent")
    body = _Body(mesh, materials, supports or {}, start_temperature, free_axially, axisymmetric, tolerance)
    now = body.start()
    load = body.load(Increment())
    found, records, warnings = [], [], set()
    used = method
    for increment in increments:
        ahead = body.load(increment)
        now, record = body.solve(now, load, ahead, used)
        # a body near collapse stays with Newton's method until an increment is nearly elastic again
        used = "tangent" if method == "tangent" or record.factors > 1 else "accelerated"
        load = ahead
        for region, material in materials.items():
            hot = ahead.temperature[body.elements[region]]
            warnings |= {f"{region}: {text}" for text in range_warnings(material, hot)}
        found.append(now)
        records.append(record)
    if found:
        largest = max(float(part.plastic_strain.max()) for part in found[-1].points.values())
        if largest > SMALL_STRAIN:
            warnings.add(f"plastic strain reaches {largest:.3g}, beyond small strain ({SMALL_STRAIN:g})")
    n = body.space.n_nodes
    return ElastoplasticHistory(
        space=body.space,
        displacement=np.array([one.u for one in found]).reshape(len(found), n, 2),
        nodal_reactions=np.array([one.reactions for one in found]).reshape(len(found), n, 2),
        states=tuple(one.points for one in found),
        elements=body.elements,
        records=tuple(records),
        warnings=tuple(sorted(warnings)),
    )


@dataclass(frozen=True)
class _Load:
    """Nodal loads, held values, thermal strains, temperatures at one end of an increment, and its duration."""

    forces: Floats
    values: Floats
    thermal: Floats
    temperature: Floats
    duration: float

    def between(self, other: _Load, share: float) -> _Load:
        """The load after a share of the way to another one, of no duration."""
        mixed = {
            name: (1 - share) * getattr(self, name) + share * getattr(other, name)
            for name in ("forces", "values", "thermal", "temperature")
        }
        return _Load(**mixed, duration=0.0)


@dataclass(frozen=True)
class _Found:
    u: Floats
    points: Mapping[str, PointState]
    reactions: Floats


@dataclass
class _Tally:
    iterations: int = 0
    back_solves: int = 0
    factors: int = 0
    halvings: int = 0
    misfits: list[float] = field(default_factory=list)

    def record(self, method: str) -> IncrementRecord:
        last = self.misfits[-1] if self.misfits else 0.0
        return IncrementRecord(
            method, self.iterations, self.back_solves, self.factors, self.halvings, last, tuple(self.misfits)
        )


class _Body:
    """The discrete body: space, elastic factor, supports, laws."""

    def __init__(
        self,
        mesh: Mesh,
        materials: Mapping[str, Inelastic],
        supports: Mapping[str, Any],
        start_temperature: float,
        free_axially: bool,
        axisymmetric: bool,
        tolerance: float,
    ) -> None:
        self.space = Space(mesh, axisymmetric)
        self.materials, self.supports = materials, supports
        self.start_temperature, self.free_axially, self.tolerance = start_temperature, free_axially, tolerance
        self.elastic, self.expansion = _material_arrays(mesh, materials)
        self.elements = {region: mesh.elements_of(region) for region in mesh.regions}
        self.held = self._held(supports)
        owner = _constraints(self.space, supports)[1]
        self.reduction = csc_matrix(_reduction(self.space.n_unknowns, self.held, owner))
        self.stiffness = stiffness(self.space, self.elastic)

    def _held(self, supports: Mapping[str, Any]) -> dict[int, float]:
        fixed, owner = _constraints(self.space, supports)
        if self.free_axially:
            if any(unknown % 2 for unknown in fixed):
                raise ValueError("a support holds the body axially; allowed with free_axially: none")
            fixed[int(owner[1])] = 0.0
        return fixed

    @cached_property
    def factor(self) -> Factor:
        """The elastic factor, made once."""
        return factorise(self.reduction.T @ (self.stiffness @ self.reduction))

    def start(self) -> _Found:
        none = np.zeros(self.space.n_unknowns)
        q = self.space.weights.shape[1]
        points = {name: virgin(self.materials[name], (len(some), q)) for name, some in self.elements.items()}
        return _Found(none, points, none)

    def load(self, increment: Increment) -> _Load:
        """Nodal loads and held values of an increment's end."""
        if not increment.duration >= 0:
            raise ValueError(f"a duration must be 0 s or more, not {increment.duration}")
        space = self.space
        held = self._held({**self.supports, **increment.supports})
        if held.keys() != self.held.keys():
            raise ValueError("an increment holds other unknowns than the supports do; allowed: other values only")
        values = np.zeros(space.n_unknowns)
        values[list(held)] = list(held.values())
        applied = np.zeros(space.n_unknowns)
        for name, pressure in increment.pressures.items():
            applied -= space.traction_load(name, "normal", pressure)
        for name, pair in increment.tractions.items():
            for direction, amount in zip(("r", "z"), pair, strict=True):
                applied += space.traction_load(name, direction, amount)
        if self.free_axially:
            _check_balanced(applied)
        change = _nodal(space, increment.temperature_change)
        thermal = thermal_strain(space, self.expansion, change)
        return _Load(applied, values, thermal, self.start_temperature + space.at_quadrature(change), increment.duration)

    def respond(self, before: _Found, load: _Load, u: Floats) -> tuple[dict[str, PointState], Floats]:
        """States of all points and nodal forces of their stress, at displacements u (2 N,)."""
        strain = strain_at_quadrature(self.space, u) - load.thermal
        points = {}
        stress = np.empty_like(strain)
        for region, some in self.elements.items():
            points[region] = advance(
                self.materials[region], before.points[region], strain[some], load.temperature[some], load.duration
            )
            stress[some] = points[region].stress
        return points, stress_load(self.space, stress)

    def tangent(self, before: _Found, load: _Load, u: Floats) -> Factor:
        """The factor of the consistent tangent, made symmetric."""
        strain = strain_at_quadrature(self.space, u) - load.thermal
        matrices = np.empty((*strain.shape, 4))
        for region, some in self.elements.items():
            matrices[some] = tangent(
                self.materials[region], before.points[region], strain[some], load.temperature[some], load.duration
            )
        matrices = 0.5 * (matrices + matrices.swapaxes(-1, -2))
        m, q = strain.shape[:2]
        rows = self.space.strain_matrix
        stresses = (matrices @ rows) * self.space.weights[:, :, None, None]
        tall = rows.reshape(m, 4 * q, 18).swapaxes(1, 2)
        whole = self.space.pattern.vector(tall @ stresses.reshape(m, 4 * q, 18))
        return factorise(self.reduction.T @ (whole @ self.reduction))

    def solve(self, before: _Found, old: _Load, new: _Load, method: str) -> tuple[_Found, IncrementRecord]:
        """Solve one increment, in pieces if need be."""
        tally = _Tally()
        done, piece, used = 0.0, 1.0, method
        now = before
        while done < 1.0:
            start, end = old.between(new, done), old.between(new, done + piece)
            end = replace(end, duration=piece * new.duration)
            try:
                now, used = self._piece(now, start, end, method, tally)
            except NotConverged as failure:
                if piece <= 0.5**MOST_HALVINGS:
                    raise NotConverged(tally.record("tangent")) from failure
                tally.halvings += 1
                piece *= 0.5
                continue
            done += piece
            method = used
        return now, tally.record(used)

    def _piece(self, before: _Found, old: _Load, new: _Load, method: str, tally: _Tally) -> tuple[_Found, str]:
        """Solve one piece of an increment by the first method that does."""
        base = new.values.copy()
        # the elastic answer to what changed is where the iteration starts
        first = new.forces - old.forces + initial_strain_load(self.space, self.elastic, new.thermal - old.thermal)
        moved = first - self.stiffness @ (new.values - old.values)
        start = np.asarray(self.reduction.T @ (before.u - old.values)) / self._uses
        start = start + self.factor.solve(self.reduction.T @ moved)
        tally.back_solves += 1
        if method == "accelerated":
            try:
                return self._accelerated(before, new, base, start, tally), "accelerated"
            except NotConverged:
                pass
        return self._newton(before, new, base, start, tally), "tangent"

    @cached_property
    def _noise(self) -> float:
        """Force per mm of displacement that rounding alone may leave, N/mm; seen in thin rings of large radius."""
        return ROUNDING * float(np.finfo(float).eps) * float(abs(self.stiffness).sum(axis=0).max())

    @cached_property
    def _uses(self) -> Floats:
        """How many unknowns move with each reduced one."""
        return np.asarray(self.reduction.sum(axis=0)).ravel()

    def _unbalanced(
        self, before: _Found, load: _Load, base: Floats, x: Floats
    ) -> tuple[Floats, float, dict[str, PointState], Floats]:
        """Unbalanced reduced forces, their relative size, states, reactions."""
        points, inner = self.respond(before, load, self.reduction @ x + base)
        if max(float(part.plastic_strain.max(initial=0.0)) for part in points.values()) > LARGEST_STRAIN:
            return np.full(len(x), np.inf), np.inf, points, inner
        unbalanced = self.reduction.T @ (load.forces - inner)
        scale = max(float(np.abs(inner).max()), float(np.abs(load.forces).max()))
        noise = min(self._noise * float(np.abs(x).max(initial=0.0)), MOST_NOISE * scale)
        scale += noise / self.tolerance
        misfit = float(np.abs(unbalanced).max(initial=0.0)) / scale if scale > 0 else 0.0
        return unbalanced, misfit, points, inner - load.forces

    def _accelerated(self, before: _Found, load: _Load, base: Floats, start: Floats, tally: _Tally) -> _Found:
        kept: dict[str, Any] = {}

        def change(x: Floats) -> tuple[Floats, float]:
            unbalanced, misfit, kept["points"], kept["reactions"] = self._unbalanced(before, load, base, x)
            tally.iterations += 1
            tally.misfits.append(misfit)
            if misfit <= self.tolerance:
                return unbalanced, misfit
            tally.back_solves += 1
            return self.factor.solve(unbalanced), misfit

        x, _ = fixed_point(change, start, self.tolerance, ACCELERATED_ITERATIONS)
        return _Found(self.reduction @ x + base, kept["points"], kept["reactions"])

    def _newton(self, before: _Found, load: _Load, base: Floats, start: Floats, tally: _Tally) -> _Found:
        x = start
        unbalanced, misfit, points, reactions = self._unbalanced(before, load, base, x)
        for _ in range(TANGENT_ITERATIONS):
            tally.iterations += 1
            tally.misfits.append(misfit)
            if misfit <= self.tolerance:
                return _Found(self.reduction @ x + base, points, reactions)
            try:
                step = self.tangent(before, load, self.reduction @ x + base).solve(unbalanced)
            except StudwellError as problem:
                raise NotConverged(tally.record("tangent")) from problem
            tally.factors += 1
            tally.back_solves += 1
            size = float(np.linalg.norm(unbalanced))
            fraction = 1.0
            trial = self._unbalanced(before, load, base, x + step)
            while not float(np.linalg.norm(trial[0])) < size and fraction > 1e-3:
                fraction *= 0.5
                trial = self._unbalanced(before, load, base, x + fraction * step)
            if not float(np.linalg.norm(trial[0])) < size:
                break
            x = x + fraction * step
            unbalanced, misfit, points, reactions = trial
        raise NotConverged(tally.record("tangent"))
