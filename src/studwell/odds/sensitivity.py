"""Which inputs rule: first-order and total shares of a quantity's variance, and what one measurement would narrow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.odds.spread import sobol

Array = np.ndarray


@dataclass(frozen=True)
class Indices:
    """Shares of variance of quantities (q,) by groups of inputs (g,).

    first (g, q): what knowing this group alone would take off the variance; total (g, q): what stays if all others were known
    error_first, error_total (g, q): standard errors over independent scramblings;  variance (q,);  samples: evaluations
    """

    groups: tuple[tuple[int, ...], ...]
    first: Array = field(repr=False)
    total: Array = field(repr=False)
    error_first: Array = field(repr=False)
    error_total: Array = field(repr=False)
    variance: Array = field(repr=False)
    samples: int


def sobol_indices(
    function: Callable[[Array], Array],
    dimensions: int,
    *,
    groups: Sequence[Sequence[int]] | None = None,
    rows: int = 1024,
    repeats: int = 4,
    seed: int = 0,
) -> Indices:
    """Return first-order and total indices of a function of independent uniform inputs.

    function : (n, dimensions) in 0 to 1 -> (n, q) or (n,)
    groups   : inputs that are taken together, such as correlated ones; None: each on its own
    rows     : of each of the two matrices, a power of 2;  repeats: independent scramblings, for the errors

    Source: Saltelli et al. 2010, estimators of Jansen 1999, on scrambled Sobol points.
    """
    sets = tuple(tuple(group) for group in (groups or [[i] for i in range(dimensions)]))
    points = design(dimensions, sets, rows, repeats, seed)
    values = np.asarray(function(points.reshape(-1, dimensions)), dtype=float)
    return indices_of(values.reshape(*points.shape[:3], -1), sets)


def design(dimensions: int, groups: Sequence[Sequence[int]], rows: int, repeats: int, seed: int) -> Array:
    """Return the points (repeats, 2 + groups, rows, dimensions) in 0 to 1: matrices A, B, and A with each group from B.

    Source: Saltelli et al. 2010, on scrambled Sobol points.
    """
    every = []
    for repeat in range(repeats):
        points = sobol(2 * dimensions, seed + 7919 * (repeat + 1), 0, rows)
        a, b = points[:, :dimensions], points[:, dimensions:]
        mixed = [a, b]
        for group in groups:
            other = a.copy()
            other[:, list(group)] = b[:, list(group)]
            mixed.append(other)
        every.append(np.stack(mixed))
    return np.stack(every)


def indices_of(values: Array, groups: tuple[tuple[int, ...], ...]) -> Indices:
    """Return the indices of values (repeats, 2 + groups, rows, q) at the points of `design`.

    Rows in which some value is unknown or unbounded are left out of that quantity. Source: estimators of Jansen 1999.
    """
    firsts, totals, variances = [], [], []
    for one in values:
        usable = np.all(np.isfinite(one), axis=0)
        count = np.maximum(usable.sum(axis=0), 1)
        fa, fb = one[0], one[1]
        both = np.where(np.concatenate([usable, usable]), np.concatenate([fa, fb]), np.nan)
        with np.errstate(invalid="ignore"):
            variance = np.nanvar(both, axis=0) if usable.any() else np.zeros(values.shape[3])
        variance = np.nan_to_num(variance)
        scale = np.where(variance > 0.0, variance, 1.0)
        first, total = [], []
        for mixture in one[2:]:
            near = np.where(usable, fb - mixture, 0.0)
            far = np.where(usable, fa - mixture, 0.0)
            first.append(np.where(variance > 0.0, 1.0 - (near**2).sum(axis=0) / count / (2.0 * scale), 0.0))
            total.append(np.where(variance > 0.0, (far**2).sum(axis=0) / count / (2.0 * scale), 0.0))
        firsts.append(first)
        totals.append(total)
        variances.append(variance)
    alone: Array = np.array(firsts)
    together: Array = np.array(totals)
    return Indices(
        groups,
        alone.mean(axis=0),
        together.mean(axis=0),
        _error(alone),
        _error(together),
        np.mean(variances, axis=0),
        int(np.prod(values.shape[:3])),
    )


def narrows_most(indices: Indices, quantity: int) -> tuple[int, float]:
    """Return the group whose measurement would narrow a quantity most, and by how much its standard deviation falls.

    Source: the law of total variance: knowing the group leaves on average 1 - first of the variance.
    """
    best = int(np.argmax(indices.first[:, quantity]))
    share = float(np.clip(indices.first[best, quantity], 0.0, 1.0))
    return best, 1.0 - float(np.sqrt(1.0 - share))


def _error(values: Array) -> Array:
    """Standard error of the mean over repeats (r, ...); unknown of one."""
    if len(values) < 2:
        return np.full(values.shape[1:], np.nan)
    return np.asarray(values.std(axis=0, ddof=1) / np.sqrt(len(values)))
