"""What an inelastic solution is asked and what it answers: increments, their records, the history of a body."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from studwell.fem.edges import Amount
from studwell.fem.plastic_laws import PointState
from studwell.fem.solve import Temperature
from studwell.fem.space import Space
from studwell.mesh.mesh import Floats, Ints


@dataclass(frozen=True)
class Increment:
    """What a body carries at the end of an increment; what is not named is zero, supports are as at the start.

    pressures, tractions, supports, temperature_change : as in `solve_elastic`; a support named here replaces the
        one of the same boundary (other millimetres, same directions)
    duration : s that the increment takes, for creep
    """

    pressures: Mapping[str, Amount] = field(default_factory=dict)
    tractions: Mapping[str, Sequence[Amount]] = field(default_factory=dict)
    supports: Mapping[str, Any] = field(default_factory=dict)
    temperature_change: Temperature = 0.0
    duration: float = 0.0


@dataclass(frozen=True)
class IncrementRecord:
    """How an increment was solved.

    method : "accelerated" (frozen elastic factor) or "tangent" (Newton's method), of the last piece
    iterations, back_solves, factors : summed over its pieces, failed tries included
    halvings : how often the increment was split in two
    misfit   : unbalanced force over the largest force, at the end;  misfits : after each iteration, all tries
    """

    method: str
    iterations: int
    back_solves: int
    factors: int
    halvings: int
    misfit: float
    misfits: tuple[float, ...] = field(repr=False)

    def __str__(self) -> str:
        last = ", ".join(f"{one:.2e}" for one in self.misfits[-3:])
        return f"{self.iterations} iterations, {self.halvings} halvings, last relative misfits {last}"


@dataclass(frozen=True, eq=False)
class ElastoplasticHistory:
    """A body after each of its increments.

    displacement    : (T, N, 2), mm;  nodal_reactions : (T, N, 2), N, forces of the supports on the body
    states          : T times the state of the quadrature points of each region
    elements        : region -> its elements, in the order of the states
    records         : one for each increment;  warnings : plain sentences, empty if there is nothing to say
    """

    space: Space
    displacement: Floats
    nodal_reactions: Floats
    states: tuple[Mapping[str, PointState], ...] = field(repr=False)
    elements: Mapping[str, Ints] = field(repr=False)
    records: tuple[IncrementRecord, ...] = field(repr=False)
    warnings: tuple[str, ...]

    def stress(self, increment: int = -1) -> Floats:
        """Return the stresses at the quadrature points, (M, Q, 4), MPa."""
        return self._gathered("stress", increment)

    def plastic_strain(self, increment: int = -1) -> Floats:
        """Return the accumulated equivalent plastic strain at the quadrature points, (M, Q)."""
        return self._gathered("plastic_strain", increment)

    def reaction(self, boundary: str) -> Floats:
        """Return the summed support forces on a boundary's nodes after each increment, (T, 2), N, along r and z."""
        return self.nodal_reactions[:, self.space.boundary_nodes(boundary)].sum(axis=1)

    def displacement_at(self, points: ArrayLike) -> Floats:
        """Return the displacements at points after each increment, (T, n, 2), mm; points (n, 2), mm."""
        operator = self.space.value_operator(points)
        flat = self.displacement.reshape(len(self.displacement), -1)
        return (operator @ flat.T).T.reshape(len(flat), -1, 2)

    def _gathered(self, name: str, increment: int) -> Floats:
        state = self.states[increment]
        first = getattr(next(iter(state.values())), name)
        whole = np.zeros((*self.space.weights.shape, *first.shape[2:]))
        for region, part in state.items():
            whole[self.elements[region]] = getattr(part, name)
        return whole
