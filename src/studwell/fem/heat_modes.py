"""A few modes that stand for a heat system's temperature, and how far they are off a full solution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from studwell.fem.heat_equations import DenseEquations
from studwell.fem.heat_ledger import HeatHistory
from studwell.fem.thermal import HeatSystem, Moment
from studwell.fem.transient import solve_transient
from studwell.mesh.mesh import Floats

NEGLIGIBLE = 1e-8
"""Share of the largest singular value below which a mode is rounding."""


@dataclass(frozen=True, eq=False)
class ReducedHeat:
    """A heat system in a few modes; marched in time like the full one.

    system    : HeatSystem, full
    basis     : (N, m + d): the m modes, zero on held boundaries, then one column a held boundary, one on it
    equations : DenseEquations of the m + d unknowns
    energies  : (m,), singular values of the modes (the uniform one is first and nan)
    """

    system: HeatSystem
    basis: Floats = field(repr=False)
    equations: DenseEquations = field(repr=False)
    energies: Floats = field(repr=False)

    @property
    def n_modes(self) -> int:
        """Number of modes, held boundaries not counted."""
        return len(self.energies)

    def moment(self, time: float) -> Moment:
        """Return what the conditions are at a time, s."""
        return self.system.moment(time)

    def with_system(self, system: HeatSystem) -> ReducedHeat:
        """Return the same modes under other histories; system is from `HeatSystem.with_conditions`.

        raises ValueError : a system with other matrices
        """
        if system.equations is not self.system.equations:
            raise ValueError("modes fit only the system they were made of; allowed: one from with_conditions")
        return ReducedHeat(system, self.basis, self.equations, self.energies)

    def start(self, initial: ArrayLike) -> Floats:
        """Return the unknowns nearest to a field (N,), degC, in the sense of its heat."""
        full = self.system.start(initial)
        groups = self.system.equations.held
        held = np.array([full[group].mean() for group in groups])
        rest = full - self.basis[:, self.n_modes :] @ held
        inner = self.equations.capacity[: self.n_modes, : self.n_modes]
        load = self.basis[:, : self.n_modes].T @ (self.system.equations.capacity @ rest)
        return np.concatenate([np.linalg.solve(inner, load), held])

    def expand(self, unknowns: Floats) -> Floats:
        """Return nodal temperatures (..., N) of unknowns (..., m + d)."""
        return np.asarray(unknowns @ self.basis.T)

    def functional(self, rows: Any) -> Any:
        """Return functionals (k, N) of nodal temperatures as functionals of the unknowns, (k, m + d)."""
        return np.asarray(rows @ self.basis)


@dataclass(frozen=True)
class ReductionError:
    """How far a reduced model is off a full solution.

    modes            : int
    largest          : K, at any node and instant;  rms : K, root mean square over nodes and instants
    time             : s, when it is largest
    relative         : largest over the range of temperatures of the full solution
    functionals      : largest error of the functionals over the largest of their changes; nan without any
    """

    modes: int
    largest: float
    rms: float
    time: float
    relative: float
    functionals: float


def reduce_heat(system: HeatSystem, snapshots: ArrayLike, modes: int = 12) -> ReducedHeat:
    """Return the system in the modes that hold most of some fields' heat (proper orthogonal decomposition).

    The uniform field is always a mode, so that heat still balances exactly.

    system            : HeatSystem
    snapshots         : (n, N), degC, fields to learn from: a full solution's temperatures, `krylov_fields`, or both
    modes             : int, number of modes with the uniform one; fewer if the fields hold fewer
    raises ValueError : fields of another shape or not finite, or no modes

    Source: Sirovich, Quarterly of Applied Mathematics 45 (1987) 561-571 (reference from memory).
    """
    fields = np.asarray(snapshots, float)
    full = system.equations
    if fields.ndim != 2 or fields.shape[1] != system.n_nodes or not np.isfinite(fields).all():
        raise ValueError(f"snapshots of shape {fields.shape}; allowed: (n, {system.n_nodes}), finite")
    if modes < 1:
        raise ValueError(f"{modes} modes; allowed: 1 or more")
    held = np.zeros((system.n_nodes, len(full.held)))
    for number, group in enumerate(full.held):
        held[group, number] = 1.0
    inside = np.zeros(system.n_nodes)
    inside[full.free] = 1.0
    weight = np.sqrt(full.capacity.diagonal())
    uniform = inside * weight / np.linalg.norm(inside * weight)
    parts = fields * (inside * weight)
    parts = parts - np.outer(parts @ uniform, uniform)
    squares, mixes = np.linalg.eigh(parts @ parts.T)
    values = np.sqrt(np.clip(squares[::-1], 0.0, None))
    count = min(modes - 1, int((values > NEGLIGIBLE * max(values.max(), 1e-300)).sum()))
    shapes, _ = np.linalg.qr(parts.T @ mixes[:, ::-1][:, :count])
    basis = np.column_stack([uniform, shapes]) / weight[:, None]
    return _project(system, np.column_stack([basis, held]), np.concatenate([[np.nan], values[:count]]))


def _project(system: HeatSystem, basis: Floats, energies: Floats) -> ReducedHeat:
    full, m = system.equations, len(energies)
    n = basis.shape[1]
    bulk = basis.T @ (full.conductance(np.zeros(len(full.piece_labels))) @ basis)
    pieces = full.reduced_pieces(basis)
    equations = DenseEquations(
        capacity=basis.T @ (full.capacity @ basis),
        loads=np.asarray(full.loads.T @ basis).T,
        load_sums=full.load_sums,
        flows=np.asarray(full.flows @ basis),
        load_labels=full.load_labels,
        piece_labels=full.piece_labels,
        held_labels=full.held_labels,
        held=[np.array([m + group]) for group in range(n - m)],
        free=np.arange(m),
        held_sums=np.array([sums.sum() for sums in np.split(full.held_sums, _ends(full.held))]),
        stored=np.asarray(full.stored @ basis),
    ).with_conduction(0.5 * (bulk + bulk.T), pieces)
    return ReducedHeat(system, basis, equations, energies)


def _ends(groups: Sequence[Floats] | Sequence[Any]) -> list[int]:
    return np.cumsum([len(group) for group in groups])[:-1].tolist()


def krylov_fields(
    system: HeatSystem,
    initial: ArrayLike,
    time_scales: Sequence[float],
    moments: int = 2,
    times: Sequence[float] = (0.0,),
) -> Floats:
    """Return fields that a system's conditions make within some time scales, (n, N); no history is solved.

    For each time scale s and each load, held boundary and the initial field the fields are moments of
    (capacity + s conductance)^-1, the first ones a step of that length would make.

    initial           : (N,), degC
    time_scales       : s, positive, such as the thermal shock's, the warm-up's and the cycle's
    moments           : int, applications of the inverse a time scale
    times             : s, instants whose film coefficients and contact scales are used
    raises ValueError : a time scale that is not positive, or no moments

    Source: rational Krylov spaces as in model
    order reduction, e.g. Antoulas, Approximation of Large-Scale Dynamical Systems (2005; from memory).
    """
    if moments < 1 or not all(np.isfinite(s) and s > 0 for s in time_scales):
        raise ValueError("allowed: time scales above zero and 1 or more moments")
    full, begin = system.equations, system.start(initial)
    lifts = np.zeros((len(full.held), system.n_nodes))
    for lift, group in zip(lifts, full.held, strict=True):
        lift[group] = 1.0
    fields = [begin]
    for time in times:
        scales = system.moment(time).scales
        conductance = full.conductance(scales)
        sources = [*full.loads.T.toarray()]
        sources += [-(conductance @ shape) for shape in (*lifts, begin - begin.mean())]
        for scale in time_scales:
            for load in sources:
                for _ in range(moments):
                    answer = np.zeros(system.n_nodes)
                    answer[full.free] = full.solve(1.0, scale, scales, load[full.free])
                    size = np.abs(answer).max()
                    if not size > 0:
                        break
                    fields.append(answer / size)
                    load = full.capacity @ fields[-1]
    return np.array(fields)


def reduction_error(reduced: ReducedHeat, full: HeatHistory, rows: Any = None) -> ReductionError:
    """Return how far a reduced model is off a full solution when marched over the very same steps.

    reduced           : ReducedHeat of the full solution's system
    full              : HeatHistory with its start kept
    rows              : functionals (k, N) to compare; default: none
    raises ValueError : a full solution whose start was not kept
    """
    if full.times[0] != full.step_times[0]:
        raise ValueError("the full solution has to keep its first instant")
    few = solve_transient(reduced, full.temperature[0], full.step_times, keep=_kept(full))
    places = np.isin(full.times, few.times)
    gap = np.abs(few.temperature - full.temperature[places])
    worst = gap.max(axis=1)
    functionals = np.nan
    if rows is not None:
        exact = np.asarray(rows @ full.temperature[places].T)
        close = np.asarray(rows @ few.temperature.T)
        change = np.abs(exact - exact[:, :1]).max()
        functionals = float(np.abs(close - exact).max() / max(change, np.finfo(float).tiny))
    return ReductionError(
        modes=reduced.n_modes,
        largest=float(worst.max()),
        rms=float(np.sqrt((gap**2).mean())),
        time=float(few.times[worst.argmax()]),
        relative=float(worst.max() / max(np.ptp(full.temperature), np.finfo(float).tiny)),
        functionals=functionals,
    )


def _kept(full: HeatHistory) -> Floats:
    return full.times[np.isin(full.times, full.step_times)]
