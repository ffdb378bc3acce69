"""Shares of a total among causes: what each does alone, last in, and on average over every order."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Shares:
    """A value with no cause and with all of them, and what each cause makes of the difference.

    alone, last, share : cause -> change when it comes first, last, and averaged over every order; shares sum to the total
    pairs              : (cause, cause) -> what the two make together beyond one at a time, averaged over every order
    """

    nothing: float
    everything: float
    alone: dict[str, float]
    last: dict[str, float]
    share: dict[str, float]
    pairs: dict[tuple[str, str], float]

    @property
    def total(self) -> float:
        """What all causes together add."""
        return self.everything - self.nothing


def shapley(causes: Sequence[str], value: Callable[[frozenset[str]], float]) -> Shares:
    """Return the shares of a value among its causes, exact over all subsets.

    value : subset of causes -> value
    Source: Shapley 1953; interaction of pairs Owen 1972, Grabisch & Roubens 1999.
    """
    n = len(causes)
    subsets = {frozenset(s): value(frozenset(s)) for k in range(n + 1) for s in itertools.combinations(causes, k)}
    full, nothing = frozenset(causes), frozenset[str]()

    def mean(others: Sequence[str], change: Callable[[frozenset[str]], float], held: int) -> float:
        m = n - held
        terms = []
        for k in range(len(others) + 1):
            weight = math.factorial(k) * math.factorial(m - k) / math.factorial(m + 1)
            terms += [weight * change(frozenset(some)) for some in itertools.combinations(others, k)]
        return math.fsum(terms)

    share = {}
    for cause in causes:
        rest = [other for other in causes if other != cause]
        share[cause] = mean(rest, lambda s, c=cause: subsets[s | {c}] - subsets[s], 1)  # type: ignore[misc]
    pairs = {}
    for a, b in itertools.combinations(causes, 2):
        rest = [other for other in causes if other not in (a, b)]
        pairs[a, b] = mean(
            rest,
            lambda s, a=a, b=b: (subsets[s | {a, b}] - subsets[s | {a}]) - (subsets[s | {b}] - subsets[s]),  # type: ignore[misc]
            2,
        )
    return Shares(
        nothing=subsets[nothing],
        everything=subsets[full],
        alone={cause: subsets[frozenset({cause})] - subsets[nothing] for cause in causes},
        last={cause: subsets[full] - subsets[full - {cause}] for cause in causes},
        share=share,
        pairs=pairs,
    )
