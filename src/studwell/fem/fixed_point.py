"""Anderson's acceleration of an iteration x -> x + change(x), with the record of how it went."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from studwell.errors import NotConverged
from studwell.mesh.mesh import Floats

DEPTH = 12
"""Earlier iterates that take part; more costs memory and gains nothing on the bodies measured."""

WORSE = 1e4
"""A misfit this many times the best one ends the iteration."""

DEPENDENT = 1e-11
"""Share of the largest singular value below which earlier changes count as repeats of each other."""


@dataclass(frozen=True)
class IterationRecord:
    """How a fixed point was found: iterations, relative misfit at the end and after each iteration, restarts."""

    iterations: int
    misfit: float
    misfits: tuple[float, ...]
    restarts: int = 0

    def __str__(self) -> str:
        last = ", ".join(f"{one:.2e}" for one in self.misfits[-3:])
        return f"after {self.iterations} iterations the last relative misfits were {last}"


def fixed_point(
    change: Callable[[Floats], tuple[Floats, float]],
    start: Floats,
    tolerance: float,
    most: int,
    depth: int = DEPTH,
) -> tuple[Floats, IterationRecord]:
    """Return x with a small change, from repeated x <- x + change, accelerated.

    change    : x (n,) -> its change (n,) and a relative misfit that judges x
    start     : (n,);  tolerance : largest misfit that counts as found;  most : iterations;  depth : earlier iterates
    returns   : x (n,), record
    raises NotConverged : with the record

    Source: Anderson 1965; Walker & Ni 2011 (least squares over differences). The history is thrown away when a
    misfit rises a hundredfold over the best.
    """
    x = np.array(start, float)
    points: list[Floats] = []
    changes: list[Floats] = []
    old_x = old_f = np.zeros(0)
    misfits: list[float] = []
    best, restarts = np.inf, 0
    for iteration in range(1, most + 1):
        f, misfit = change(x)
        misfits.append(float(misfit))
        if misfit <= tolerance:
            return x, IterationRecord(iteration, float(misfit), tuple(misfits), restarts)
        if not np.isfinite(misfit) or misfit > WORSE * best:
            break
        if misfit > 100 * best and points:
            points, changes = [], []
            restarts += 1
        elif len(old_x):
            points = [*points, x - old_x][-depth:]
            changes = [*changes, f - old_f][-depth:]
        best = min(best, float(misfit))
        old_x, old_f = x, f
        x = x + f
        if changes:
            matrix = np.array(changes).T
            orthogonal, triangle = np.linalg.qr(matrix)
            weights = np.linalg.lstsq(triangle, orthogonal.T @ f, rcond=DEPENDENT)[0]
            x = x - np.array(points).T @ weights - matrix @ weights
    raise NotConverged(IterationRecord(len(misfits), misfits[-1], tuple(misfits), restarts))
