"""Checks of probabilities and sensitivities: a limit state whose answer is exact, and a function with published indices."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from studwell.odds.probability import counted, rare, subset_simulation
from studwell.odds.sensitivity import sobol_indices
from studwell.odds.spread import sobol
from studwell.verify.registry import Row, check

Array = np.ndarray

BETA = 3.5
"""Reliability index of the linear limit state."""


@check(
    "linear-limit-state",
    subject="odds",
    title="Rare failure of a linear limit state with normal inputs",
    source="Hasofer & Lind 1974: the probability is Phi(-beta), exactly",
    status="confirmed",
    tolerance="0.05 in log10 of the probability; 0.003 counted",
)
def linear_limit_state() -> list[Row]:
    """Eight normal inputs, sum over root eight against beta: by subset simulation, and beta = 1 by counting."""

    def margin(normal: Array) -> Array:
        return np.asarray(normal.sum(axis=1) / np.sqrt(normal.shape[1]) / BETA)

    runs = [subset_simulation(margin, 8, samples=4000, seed=seed) for seed in range(6)]
    found = rare(runs, 0, 1)
    exact = float(ndtr(-BETA))
    points = sobol(4, 1, 0, 8192)
    hits = ndtri(np.clip(points, 1e-12, 1 - 1e-12)).sum(axis=1) / 2.0 > 1.0
    often = counted(int(hits.sum()), len(hits))
    return [
        Row("log10 of P at beta 3.5", float(np.log10(exact)), float(np.log10(found.value)), 0.05, ""),
        Row("P at beta 1, counted", float(ndtr(-1.0)), often.value, 0.003, ""),
    ]


@check(
    "ishigami-indices",
    subject="odds",
    title="First-order and total sensitivity of the Ishigami function",
    source="Ishigami & Homma 1990; closed form of the indices for a = 7, b = 0.1, Saltelli et al. 2008",
    status="confirmed",
    tolerance="0.01 of the variance",
)
def ishigami_indices() -> list[Row]:
    """Three uniform inputs on -pi to pi."""
    a, b = 7.0, 0.1

    def function(uniform: Array) -> Array:
        x = np.pi * (2.0 * uniform - 1.0)
        return np.asarray(np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0]))

    variance = a**2 / 8 + b * np.pi**4 / 5 + b**2 * np.pi**8 / 18 + 0.5
    first = np.array([0.5 * (1 + b * np.pi**4 / 5) ** 2, a**2 / 8, 0.0]) / variance
    both = b**2 * np.pi**8 * (1 / 18 - 1 / 50) / variance
    total = first + np.array([both, 0.0, both])
    found = sobol_indices(function, 3, rows=4096, repeats=4, seed=3)
    rows = []
    for i in range(3):
        rows.append(Row(f"first order of x{i + 1}", float(first[i]), float(found.first[i, 0]), 0.01, ""))
        rows.append(Row(f"total of x{i + 1}", float(total[i]), float(found.total[i, 0]), 0.01, ""))
    return rows
