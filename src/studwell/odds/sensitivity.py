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
    firsts, totals, variances, used = [], [], [], 0
    for repeat in range(repeats):
        points = sobol(2 * dimensions, seed + 7919 * (repeat + 1), 0, rows)
        a, b = points[:, :dimensions], points[:, dimensions:]
        mixed = [a, b]
        for group in sets:
            other = a.copy()
            other[:, list(group)] = b[:, list(group)]
            mixed.append(other)
        values = np.asarray(function(np.concatenate(mixed)), dtype=float)
        used += len(values)
        values = values.reshape(len(mixed), rows, -1)
        usable = np.all(np.isfinite(values), axis=(0,))
        count = np.maximum(usable.sum(axis=0), 1)
        fa, fb = values[0], values[1]
        both = np.where(np.concatenate([usable, usable]), np.concatenate([fa, fb]), np.nan)
        with np.errstate(invalid="ignore"):
            variance = np.nanvar(both, axis=0) if usable.any() else np.zeros(values.shape[2])
        variance = np.nan_to_num(variance)
        scale = np.where(variance > 0.0, variance, 1.0)
        first, total = [], []
        for mixture in values[2:]:
            near = np.where(usable, (fb - mixture) ** 2, 0.0).sum(axis=0) / count
            far = np.where(usable, (fa - mixture) ** 2, 0.0).sum(axis=0) / count
            first.append(np.where(variance > 0.0, 1.0 - near / (2.0 * scale), 0.0))
            total.append(np.where(variance > 0.0, far / (2.0 * scale), 0.0))
        firsts.append(first)
        totals.append(total)
        variances.append(variance)
    one: Array = np.array(firsts)
    all_: Array = np.array(totals)

    return Indices(
        sets,
        one.mean(axis=0),
        all_.mean(axis=0),
        _error(one),
        _error(all_),
        np.mean(variances, axis=0),
        used,
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
