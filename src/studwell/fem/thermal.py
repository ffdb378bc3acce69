"""Several bodies as one heat system: capacity, conduction, films, contacts and gaps, steady and as equations in time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import block_diag, csc_matrix, csr_matrix

from studwell.fem.conduction import capacity_matrix, conductivity_matrix, heat_source_load
from studwell.fem.heat_conditions import (
    AirGap,
    Bridge,
    Condition,
    Contact,
    Film,
    Flux,
    Held,
    Source,
    ThermalBody,
    breaks_of,
    label,
)
from studwell.fem.heat_equations import HeatEquations, SparseEquations
from studwell.fem.heat_pieces import Piece, Surface, bridge_piece, contact_pieces, film_piece, gap_piece
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats


@dataclass(frozen=True, eq=False)
class Moment:
    """What the conditions are at an instant.

    scales : (pieces,), factors on films, contact edges and gaps
    loads  : (load columns,), what multiplies each load
    held   : (held boundaries,), degC
    """

    scales: Floats
    loads: Floats
    held: Floats


@dataclass(frozen=True, eq=False)
class SteadyHeat:
    """A steady temperature of several bodies.

    temperature : (N,), degC
    flows       : condition -> N mm/s = mW: into the bodies; of a contact or gap from first to second
    """

    temperature: Floats
    flows: Mapping[str, float] = field(repr=False)


class HeatSystem:
    """Bodies that conduct heat, and what heats, cools and joins them.

    bodies       : ThermalBody each, with different names
    conditions   : Film, Flux, Source, Held, Contact, AirGap, Bridge; each with its own name
    axisymmetric : False for plane sections of 1 mm thickness
    raises BadMesh    : a boundary or region that does not exist, a contact whose edges do not match, a gap
                        whose surfaces do not overlap in z
    raises ValueError : a body that does not exist, two of one name, a conductance below zero

    Nodes are numbered body after body: `nodes_of`. Heat is in N mm = mJ, flow in N mm/s = mW.
    """

    def __init__(
        self, bodies: Sequence[ThermalBody], conditions: Sequence[Condition], axisymmetric: bool = True
    ) -> None:
        _unique("bodies", [body.name for body in bodies])
        _unique("conditions", [label(condition) for condition in conditions])
        self.bodies = {body.name: body for body in bodies}
        self.conditions = tuple(conditions)
        self._steady: dict[int, tuple[Floats, Floats, Floats]] = {}  # of conditions that time does not change
        self.spaces = {body.name: Space(body.mesh, axisymmetric) for body in bodies}
        ends = np.cumsum([0, *(space.n_nodes for space in self.spaces.values())]).tolist()
        self._slices = {name: slice(a, b) for name, a, b in zip(self.bodies, ends[:-1], ends[1:], strict=True)}
        self.n_nodes = int(ends[-1])
        self.equations = self._assemble()

    @property
    def labels(self) -> tuple[str, ...]:
        """Names of the conditions, in order."""
        return tuple(label(condition) for condition in self.conditions)

    def nodes_of(self, body: str) -> slice:
        """Return where a body's nodes stand among all nodes.

        raises ValueError : no body of that name
        """
        if body not in self._slices:
            raise ValueError(f"no body named {body!r}; there are: {', '.join(self._slices)}")
        return self._slices[body]

    def field(self, temperatures: float | Mapping[str, ArrayLike | Callable[[Floats, Floats], ArrayLike]]) -> Floats:
        """Return nodal temperatures (N,), degC, such as initial ones.

        temperatures      : one number, or for each body a number, nodal values or a function of r and z
        raises ValueError : a body without temperature
        """
        answer = np.empty(self.n_nodes)
        for name, space in self.spaces.items():
            value: Any = temperatures
            if isinstance(temperatures, Mapping):
                if name not in temperatures:
                    raise ValueError(f"body {name!r} has no temperature")
                value = temperatures[name]
            answer[self._slices[name]] = value(space.nodes[:, 0], space.nodes[:, 1]) if callable(value) else value
        return answer

    def operator(self, body: str, points: ArrayLike) -> csr_matrix:
        """Return the matrix from all nodal temperatures to those at points (n, 2) mm of one body, sparse (n, N).

        raises OutOfBody : a point outside the body
        """
        here = self.nodes_of(body)
        local = self.spaces[body].scalar_operator(points).tocoo()
        return csr_matrix((local.data, (local.row, local.col + here.start)), shape=(local.shape[0], self.n_nodes))

    def with_conditions(self, *changed: Condition) -> HeatSystem:
        """Return the same system with other histories: each condition replaces the one of its name.

        Matrices and factors are shared. A coefficient, ambient, flux, temperature or scale may change; the
        place, the profile and a contact's conductance may not.
        raises ValueError : no such condition, or one that needs other matrices
        """
        other = copy(self)
        conditions = list(self.conditions)
        for condition in changed:
            if label(condition) not in self.labels:
                raise ValueError(f"no condition named {label(condition)!r}; there are: {', '.join(self.labels)}")
            place = self.labels.index(label(condition))
            if _fixed(condition) != _fixed(conditions[place]):
                raise ValueError(f"{label(condition)}: only histories may change, not the place or its profile")
            conditions[place] = condition
        other.conditions = tuple(conditions)
        other._steady = {}
        return other

    def breaks(self, start: float, end: float) -> Floats:
        """Return the times between start and end (s) at which a history bends or jumps, (n,)."""
        times = [breaks_of(history, start, end) for each in self.conditions for history in _histories(each)]
        return np.unique(np.concatenate([np.zeros(0), *times]))

    def moment(self, time: float) -> Moment:
        """Return what the conditions are at a time, s.

        raises ValueError : a film coefficient or scale below zero, a value not finite, a wrong number of edges
        """
        parts = []
        for number, condition in enumerate(self.conditions):
            part = self._steady.get(number)
            if part is None:
                part = _part(condition, self._counts[number], time)
                if not any(callable(history) for history in _histories(condition)):
                    self._steady[number] = part
            parts.append(part)
        scales, loads, held = zip(*parts, strict=True) if parts else ((), (), ())
        nothing = np.zeros(0)
        return Moment(*(np.concatenate([nothing, *each]) for each in (scales, loads, held)))

    # What a march in time asks for; a reduced model answers the same

    def start(self, initial: ArrayLike) -> Floats:
        """Return the unknowns of a field (N,), degC."""
        array = np.asarray(initial, float)
        if array.shape != (self.n_nodes,) or not np.isfinite(array).all():
            raise ValueError(f"initial temperatures of shape {array.shape}; allowed: ({self.n_nodes},), finite")
        return array.copy()

    def expand(self, unknowns: Floats) -> Floats:
        """Return the nodal temperatures of unknowns (..., N): themselves."""
        return unknowns

    def functional(self, rows: Any) -> Any:
        """Return functionals (k, N) of the nodal temperatures as functionals of the unknowns."""
        return rows

    @property
    def system(self) -> HeatSystem:
        """The full system: this one."""
        return self

    def _assemble(self) -> SparseEquations:
        capacities, conductions = [], []
        for name, body in self.bodies.items():
            space = self.spaces[name]
            capacities.append(capacity_matrix(space, _by_region(body, body.heat_capacity)))
            conductions.append(conductivity_matrix(space, _by_region(body, body.conductivity)))
        pieces: list[Piece] = []
        loads: list[Floats] = []
        load_labels: list[int] = []
        held_labels: list[int] = []
        owner = np.full(self.n_nodes, -1)
        self._counts: list[int] = []
        for number, condition in enumerate(self.conditions):
            made: list[Piece] = []
            if isinstance(condition, Held):
                owner[self._surface(condition.body, condition.boundary).nodes] = len(held_labels)
                held_labels.append(number)
            elif isinstance(condition, Contact):
                sides = self._surface(*condition.first), self._surface(*condition.second)
                made = contact_pieces(number, *sides, condition.conductance)
            elif isinstance(condition, AirGap):
                sides = self._surface(*condition.first), self._surface(*condition.second)
                made = [gap_piece(number, *sides, condition.conductance)]
            elif isinstance(condition, Bridge):
                sides = self._surface(*condition.first), self._surface(*condition.second)
                made = [bridge_piece(number, *sides, condition.conductance)]
            else:
                if isinstance(condition, Film):
                    made = [film_piece(number, self._surface(condition.body, condition.boundary), condition.profile)]
                loads.append(self._load(condition))
                load_labels.append(number)
            pieces.extend(made)
            self._counts.append(len(made))
        return SparseEquations.of(
            capacity=csc_matrix(block_diag(capacities, format="csc")),
            conduction=csc_matrix(block_diag(conductions, format="csc")),
            pieces=pieces,
            loads=csc_matrix(np.array(loads).reshape(-1, self.n_nodes).T),
            load_labels=np.array(load_labels, np.int64),
            owner=owner,
            held_labels=np.array(held_labels, np.int64),
            bodies=list(self._slices.values()),
        )

    def _surface(self, body: str, boundary: str) -> Surface:
        here = self.nodes_of(body)
        space = self.spaces[body]
        return Surface(space, space.edges(boundary), here.start, f"{body}/{boundary}")

    def _load(self, condition: Film | Flux | Source) -> Floats:
        here, answer = self.nodes_of(condition.body), np.zeros(self.n_nodes)
        space = self.spaces[condition.body]
        if isinstance(condition, Source):
            chosen = np.zeros(len(space.elements))
            chosen[space.mesh.elements_of(condition.region)] = 1.0
            answer[here] = heat_source_load(space, chosen)
        else:
            answer[here] = space.edge_scalar_load(condition.boundary, condition.profile)
        return answer


def _part(condition: Condition, count: int, time: float) -> tuple[Floats, Floats, Floats]:
    """Scales, loads and held temperatures of one condition with so many pieces at a time, s; as in `Moment`."""
    values = [history(time) if callable(history) else history for history in _histories(condition)]
    if not all(np.isfinite(value).all() for value in values):
        raise ValueError(f"{label(condition)} is not finite at {time:.6g} s")
    nothing = np.zeros(0)
    scales = loads = held = nothing
    if isinstance(condition, Film | Contact | AirGap | Bridge):
        if np.min(values[0]) < 0:
            what = "coefficient" if isinstance(condition, Film) else "scale"
            raise ValueError(f"{label(condition)}: the {what} is below zero at {time:.6g} s")
        if np.ndim(values[0]) and np.shape(values[0]) != (count,):
            raise ValueError(f"{label(condition)}: scale of shape {np.shape(values[0])}; allowed: ({count},)")
        scales = np.full(count, np.asarray(values[0], float))
    if isinstance(condition, Film):
        loads = np.array([float(values[0]) * float(values[1])])
    elif isinstance(condition, Flux | Source):
        loads = np.array([float(values[0])])
    elif isinstance(condition, Held):
        held = np.array([float(values[0])])
    return scales, loads, held


def _by_region(body: ThermalBody, values: Mapping[str, float]) -> Floats:
    array = np.zeros(body.mesh.n_elements)
    for region, value in values.items():
        array[body.mesh.elements_of(region)] = value
    return array


def _unique(what: str, names: Sequence[str]) -> None:
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise ValueError(f"two {what} are named {doubled[0]!r}; give each a name of its own")


def _histories(condition: Condition) -> tuple[Any, ...]:
    """The histories of a condition; of a film, contact or gap the scale of its pieces comes first."""
    if isinstance(condition, Film):
        return condition.coefficient, condition.ambient
    if isinstance(condition, Flux):
        return (condition.flux,)
    if isinstance(condition, Source):
        return (condition.source,)
    if isinstance(condition, Held):
        return (condition.temperature,)
    return (condition.scale,)


def _fixed(condition: Condition) -> tuple[Any, ...]:
    """What may not change without new matrices."""
    if isinstance(condition, Contact | AirGap | Bridge):
        given = np.asarray(condition.conductance, float)
        return type(condition), condition.first, condition.second, given.shape, given.tobytes()
    if isinstance(condition, Film | Flux):
        return type(condition), condition.body, condition.boundary, condition.profile
    place = condition.region if isinstance(condition, Source) else condition.boundary
    return type(condition), condition.body, place


def sides_of(condition: Condition) -> tuple[str, str]:
    """Return the body that gives heat and the body that takes it; "" for the world outside."""
    if isinstance(condition, Contact | AirGap | Bridge):
        return condition.first[0], condition.second[0]
    return "", condition.body


def solve_steady(system: HeatSystem, time: float = 0.0) -> SteadyHeat:
    """Return the temperature at which the conditions of one instant would settle.

    time                 : s
    raises StudwellError : nothing sets the temperature of some body
    """
    equations, moment = system.equations, system.moment(time)
    matrix, heat = equations.conductance(moment.scales), equations.loads @ moment.loads
    answer = np.zeros(system.n_nodes)
    for group, level in zip(equations.held, moment.held, strict=True):
        answer[group] = level
    free = equations.free
    answer[free] = equations.solve(0.0, 1.0, moment.scales, (heat - matrix @ answer)[free])
    flows = flows_by_condition(equations, len(system.conditions), moment, answer)
    residual = matrix @ answer - heat
    for group, number in zip(equations.held, equations.held_labels, strict=True):
        flows[number] += residual[group].sum()
    return SteadyHeat(answer, dict(zip(system.labels, flows.tolist(), strict=True)))


def flows_by_condition(equations: HeatEquations, n_conditions: int, moment: Moment, unknowns: Floats) -> Floats:
    """Return the heat flow of each condition but held ones (n_conditions,), mW, as in `SteadyHeat`."""
    flows = np.bincount(equations.load_labels, equations.load_sums * moment.loads, minlength=n_conditions)
    carried = moment.scales * (equations.flows @ unknowns)
    return np.asarray(flows + np.bincount(equations.piece_labels, carried, minlength=n_conditions), float)
