"""The heat equations of a system as numbers, sparse or reduced, and the solver that keeps its factors."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix

from studwell.errors import StudwellError
from studwell.fem.factor import Factor, factorise
from studwell.fem.heat_pieces import Piece
from studwell.mesh.mesh import Floats, Ints

KEPT_FACTORS = 10
"""Factors kept; the one not used for longest is dropped."""

SOLVES_BEFORE_FACTOR = 6
"""Solves by conjugate gradients with one matrix before it is factorised."""

LOOSENESS = 1e-10
"""Residual of conjugate gradients relative to the right-hand side."""


@dataclass(eq=False)
class SolveCounts:
    """How much solving was done: factors made, solves, and steps of conjugate gradients in some of them."""

    factors: int = 0
    solves: int = 0
    gradient_steps: int = 0


@dataclass(eq=False, kw_only=True)
class HeatEquations:
    """capacity dT/dt = loads @ amounts - conductance(scales) T, with some unknowns held.

    capacity    : (n, n), mJ/K
    loads       : (n, l), heat of each load's unit amount;  load_sums : (l,) of all nodes
    flows       : (p, n), heat carried by each piece at scale 1
    load_labels, piece_labels, held_labels : (l,), (p,), (d,), number of the condition
    held        : d arrays of unknowns;  free : the others
    held_sums   : (all held unknowns,), mJ/K, heat that lifts each alone by 1 K
    stored      : (b, n), mJ/K, heat in each body
    """

    capacity: Any
    loads: Any
    load_sums: Floats
    flows: Any
    load_labels: Ints
    piece_labels: Ints
    held_labels: Ints
    held: list[Ints]
    free: Ints
    held_sums: Floats
    stored: Any
    counts: SolveCounts = field(default_factory=SolveCounts)

    @property
    def held_owner(self) -> tuple[Ints, Ints]:
        """All held unknowns, and for each the number of its held boundary."""
        unknowns = np.concatenate([np.zeros(0, np.int64), *self.held])
        owner = np.repeat(np.arange(len(self.held)), [len(group) for group in self.held])
        return unknowns, owner

    def conductance(self, scales: Floats) -> Any:
        """Return the conductance matrix (n, n), mW/K, at scales (pieces,)."""
        raise NotImplementedError

    def solve(self, capacity_share: float, time: float, scales: Floats, load: Floats) -> Floats:
        """Return x of (capacity_share x capacity + time x conductance) x = load on the free unknowns, (f,)."""
        raise NotImplementedError


class SparseEquations(HeatEquations):
    """The full equations of a mesh. Factors are kept by time step and scales; they are not pickled."""

    pieces: Sequence[Piece]

    @classmethod
    def of(
        cls,
        capacity: csc_matrix,
        conduction: csc_matrix,
        pieces: Sequence[Piece],
        loads: csc_matrix,
        load_labels: Ints,
        owner: Ints,
        held_labels: Ints,
        bodies: Sequence[slice],
    ) -> SparseEquations:
        """Return the equations.

        owner  : (n,), number of the held boundary of each node or -1
        bodies : the nodes of each
        """
        n = capacity.shape[0]
        held = [np.nonzero(owner == group)[0] for group in range(len(held_labels))]
        sums = np.asarray(capacity.sum(axis=0)).ravel()
        stored = np.zeros((len(bodies), n))
        for number, here in enumerate(bodies):
            stored[number, here] = sums[here]
        places = [np.full(piece.nodes.size, number) for number, piece in enumerate(pieces)]
        flows = csr_matrix(
            (
                np.concatenate([np.zeros(0), *(piece.flow.ravel() for piece in pieces)]),
                (_joined(places), _joined([piece.nodes.ravel() for piece in pieces])),
            ),
            shape=(len(pieces), n),
        )
        equations = cls(
            capacity=capacity.tocsr(),
            loads=loads,
            load_sums=np.asarray(loads.sum(axis=0)).ravel(),
            flows=flows,
            load_labels=load_labels,
            piece_labels=np.array([piece.condition for piece in pieces], np.int64),
            held_labels=held_labels,
            held=held,
            free=np.nonzero(owner < 0)[0],
            held_sums=sums[np.concatenate([np.zeros(0, np.int64), *held])],
            stored=csr_matrix(stored),
        )
        equations._lay_out(capacity, conduction, pieces)
        return equations

    def _lay_out(self, capacity: csc_matrix, conduction: csc_matrix, pieces: Sequence[Piece]) -> None:
        """One sparsity pattern for all: matrix data are linear in the scales."""
        self.pieces = pieces
        n = capacity.shape[0]
        rows, columns, values, owner = [], [], [], []
        for number, piece in enumerate(pieces):
            shape = piece.blocks.shape
            rows.append(np.broadcast_to(piece.nodes[:, :, None], shape).ravel())
            columns.append(np.broadcast_to(piece.nodes[:, None, :], shape).ravel())
            values.append(piece.blocks.ravel())
            owner.append(np.full(piece.blocks.size, number))
        bulk = [matrix.tocoo() for matrix in (capacity, conduction)]
        keys = [matrix.col.astype(np.int64) * n + matrix.row for matrix in bulk]
        every, place = np.unique(_joined([*keys, _joined(columns) * n + _joined(rows)]), return_inverse=True)
        a, b = len(keys[0]), len(keys[0]) + len(keys[1])
        self._capacity_data = np.bincount(place[:a], bulk[0].data, minlength=len(every))
        self._conduction_data = np.bincount(place[a:b], bulk[1].data, minlength=len(every))
        self._piece_data = csr_matrix(
            (np.concatenate([np.zeros(0), *values]), (place[b:], _joined(owner))), shape=(len(every), len(pieces))
        )
        self._rows = (every % n).astype(np.int32)
        self._heads = np.concatenate([[0], np.cumsum(np.bincount(every // n, minlength=n))]).astype(np.int32)
        numbered = csc_matrix((np.arange(1.0, len(every) + 1), self._rows, self._heads), shape=(n, n))
        inner = numbered[:, self.free][self.free].tocsc()
        self._inner = inner.data.astype(np.int64) - 1, inner.indices, inner.indptr, inner.shape
        self._forget()

    def _forget(self) -> None:
        self._factors: OrderedDict[tuple[float, float, bytes], Factor] = OrderedDict()
        self._uses: dict[tuple[float, float, bytes], int] = {}
        self._last: tuple[bytes, Any] | None = None

    def __getstate__(self) -> dict[str, Any]:
        state = dict(self.__dict__)
        for name in ("_factors", "_uses", "_last"):
            state.pop(name, None)
        return state

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state)
        self._forget()

    def conductance(self, scales: Floats) -> csr_matrix:
        """Return the conductance matrix (n, n), mW/K, at scales (pieces,)."""
        key = scales.tobytes()
        if self._last is None or self._last[0] != key:
            data = self._conduction_data + self._piece_data @ scales
            n = len(self._heads) - 1
            self._last = key, csr_matrix((data, self._rows, self._heads), shape=(n, n))  # symmetric: rows are columns
        return self._last[1]

    def reduced_pieces(self, basis: Floats) -> Floats:
        """Return basis^T piece basis of every piece, (pieces, k, k), mW/K, for a basis (n, k)."""
        answer = np.empty((len(self.pieces), basis.shape[1], basis.shape[1]))
        for number, piece in enumerate(self.pieces):
            local = basis[piece.nodes]
            answer[number] = np.einsum("epk,epq,eql->kl", local, piece.blocks, local, optimize=True)
        return answer

    def _matrix(self, capacity_share: float, time: float, scales: Floats) -> csc_matrix:
        data = capacity_share * self._capacity_data + time * (self._conduction_data + self._piece_data @ scales)
        place, indices, heads, shape = self._inner
        return csc_matrix((data[place], indices, heads), shape=shape)

    def solve(self, capacity_share: float, time: float, scales: Floats, load: Floats) -> Floats:
        """Return x of (capacity_share x capacity + time x conductance) x = load on the free unknowns, (f,).

        A matrix that differs from a factorised one only by its scales is first solved by conjugate gradients
        on that factor, and factorised when it is used often or converges slowly.
        """
        self.counts.solves += 1
        if not len(load):
            return load.copy()
        step = float(f"{capacity_share:.11e}"), float(f"{time:.11e}")
        key = (*step, scales.tobytes())
        if key not in self._factors:
            near = next((old for old in reversed(self._factors) if old[:2] == step), None)
            uses = self._uses[key] = self._uses.get(key, 0) + 1
            if near is not None and uses <= SOLVES_BEFORE_FACTOR:
                answer = self._by_gradients(self._matrix(capacity_share, time, scales), self._factors[near], load)
                if answer is not None:
                    return answer
            self._factors[key] = factorise(self._matrix(capacity_share, time, scales))
            self.counts.factors += 1
            self._uses.clear()
            if len(self._factors) > KEPT_FACTORS:
                self._factors.popitem(last=False)
        self._factors.move_to_end(key)
        return self._factors[key].solve(load)

    def _by_gradients(self, matrix: csc_matrix, near: Factor, load: Floats, most: int = 15) -> Floats | None:
        answer, residual = np.zeros_like(load), load.copy()
        goal = LOOSENESS**2 * _dot(load, load)
        way, last = np.zeros_like(load), 1.0
        for _ in range(most):
            if _dot(residual, residual) <= goal:
                return answer
            self.counts.gradient_steps += 1
            better = near.solve(residual)
            product = _dot(residual, better)
            way = better + (product / last) * way
            last = product
            image = matrix @ way
            length = product / _dot(way, image)
            answer += length * way
            residual -= length * image
        return answer if _dot(residual, residual) <= goal else None


class DenseEquations(HeatEquations):
    """Reduced equations of a few unknowns; the held ones come last, one a held boundary."""

    bulk: Floats
    pieces: Floats

    def with_conduction(self, bulk: Floats, pieces: Floats) -> DenseEquations:
        """Return itself with conduction (n, n) and the matrices of the pieces (p, n, n), mW/K."""
        self.bulk, self.pieces = bulk, pieces
        self._inverses: OrderedDict[tuple[float, float, bytes], Floats] = OrderedDict()
        return self

    def conductance(self, scales: Floats) -> Floats:
        """Return the conductance matrix (n, n), mW/K, at scales (pieces,)."""
        return self.bulk + np.tensordot(scales, self.pieces, axes=1)

    def solve(self, capacity_share: float, time: float, scales: Floats, load: Floats) -> Floats:
        """Return x of (capacity_share x capacity + time x conductance) x = load on the free unknowns, (f,)."""
        self.counts.solves += 1
        key = float(f"{capacity_share:.11e}"), float(f"{time:.11e}"), scales.tobytes()
        if key not in self._inverses:
            matrix = capacity_share * self.capacity + time * self.conductance(scales)
            try:
                self._inverses[key] = np.linalg.inv(matrix[np.ix_(self.free, self.free)])
            except np.linalg.LinAlgError as error:
                raise StudwellError("the reduced heat equations are singular", "bad-mesh") from error
            self.counts.factors += 1
            if len(self._inverses) > 10 * KEPT_FACTORS:
                self._inverses.popitem(last=False)
        return self._inverses[key] @ load


def _dot(a: Floats, b: Floats) -> float:
    """Product of two vectors without threads, which cost more than they bring at this size."""
    return float((a * b).sum())


def _joined(parts: Sequence[Any]) -> Ints:
    return np.concatenate([np.zeros(0, np.int64), *parts]).astype(np.int64)
