"""Probabilities of failure with their intervals: counted, and rare ones by subset simulation."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import beta

Array = np.ndarray
Steps = Generator[np.ndarray, np.ndarray, "Subset"]

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Probability:
    """A probability with its interval at CONFIDENCE, and how it was found; failed of judged samples."""

    value: float
    low: float
    high: float
    failed: int
    judged: int
    method: str


def counted(failed: int, judged: int, method: str = "counted") -> Probability:
    """Return the share of samples that fail with its Clopper-Pearson interval.

    raises ValueError : no sample, or more failed than judged

    Source: Clopper & Pearson 1934, exact for independent samples. Samples of a scrambled Sobol sequence fill the space
    more evenly than independent ones, so that the interval is wider than they need.
    """
    if judged < 1 or not 0 <= failed <= judged:
        raise ValueError(f"{failed} of {judged} samples")
    tail = 0.5 * (1.0 - CONFIDENCE)
    low = 0.0 if failed == 0 else float(beta.ppf(tail, failed, judged - failed + 1))
    high = 1.0 if failed == judged else float(beta.ppf(1.0 - tail, failed + 1, judged - failed))
    return Probability(failed / judged, low, high, failed, judged, method)


@dataclass(frozen=True)
class Subset:
    """One run of subset simulation: the probability, its coefficient of variation, the levels, and samples used."""

    value: float
    variation: float
    levels: tuple[float, ...] = field(repr=False)
    samples: int


def subset_simulation(
    margin: Callable[[Array], Array],
    dimensions: int,
    *,
    limit: float = 1.0,
    samples: int = 2000,
    share: float = 0.1,
    most_levels: int = 8,
    seed: int = 0,
) -> Subset:
    """Return the probability that a margin of independent standard normal inputs reaches a limit.

    margin  : (n, dimensions) -> (n,), larger is worse;  others: as `subset_steps`
    """
    steps = subset_steps(dimensions, limit=limit, samples=samples, share=share, most_levels=most_levels, seed=seed)
    return side_by_side([steps], margin)[0]


def side_by_side(runs: Sequence[Steps], margin: Callable[[Array], Array]) -> list[Subset]:
    """Return what runs of `subset_steps` find, the points of all of them given to the margin together."""
    found: dict[int, Subset] = {}
    asked = {number: next(run) for number, run in enumerate(runs)}
    while asked:
        values = np.asarray(margin(np.concatenate(list(asked.values()))))
        at, following = 0, {}
        for number, points in asked.items():
            own = values[at : at + len(points)]
            at += len(points)
            try:
                following[number] = runs[number].send(own)
            except StopIteration as end:
                found[number] = end.value
        asked = following
    return [found[number] for number in range(len(runs))]


def subset_steps(
    dimensions: int,
    *,
    limit: float = 1.0,
    samples: int = 2000,
    share: float = 0.1,
    most_levels: int = 8,
    seed: int = 0,
) -> Steps:
    """Yield points (n, dimensions) at which a margin is wanted, take its values (n,), and return a Subset at the end.

    samples : a level;  share: conditional probability of a level;  the margin's inputs are independent standard normal ones,
              and larger is worse
    returns : Subset; value 0 if the last level does not reach the limit
    raises ValueError : share does not divide into samples

    Source: Au & Beck 2001, with the conditional sampling of Papaioannou, Betz, Zwirglmaier & Straub 2015 (normal
    candidates correlated with the chain's state); coefficient of variation by Au & Beck's formula with the chains'
    correlation measured.
    """
    seeds = round(share * samples)
    if seeds < 2 or samples % seeds:
        raise ValueError(f"a level of {samples} samples does not divide into chains of {share:g}")
    random = np.random.default_rng(seed)
    points = random.standard_normal((samples, dimensions))
    values = _finite((yield points))
    used, square, log = samples, 0.0, 0.0
    levels: list[float] = []
    chains: Array | None = None
    spread = 0.6
    for _ in range(most_levels):
        order = np.argsort(-values)
        level = float(values[order[seeds - 1]])
        done = level >= limit
        hit = values >= (limit if done else level)
        part = float(hit.mean())
        square += _variation(hit, chains, part)
        log += np.log(part)
        if done:
            return Subset(float(np.exp(log)), float(np.sqrt(square)), tuple(levels), used)
        levels.append(level)
        left = most_levels - len(levels)
        if len(levels) > 1 and level + left * (levels[-1] - levels[-2]) < limit:
            break  # levels rise ever less: the limit is out of reach of those that are left
        keep = order[:seeds]
        state, now = points[keep], values[keep]
        length = samples // seeds
        kept_points, kept_values, accepted = [state], [now], 0.0
        for _ in range(length - 1):
            tried = np.sqrt(1.0 - spread**2) * state + spread * random.standard_normal(state.shape)
            found = _finite((yield tried))
            used += len(found)
            yes = found >= level
            accepted = float(yes.mean())
            state, now = np.where(yes[:, None], tried, state), np.where(yes, found, now)
            kept_points.append(state)
            kept_values.append(now)
            spread = float(np.clip(spread * np.exp(0.5 * (accepted - 0.44)), 0.1, 0.98))
        points, values = np.concatenate(kept_points), np.concatenate(kept_values)
        chains = np.tile(np.arange(seeds), length)
    return Subset(0.0, float("inf"), tuple(levels), used)


def _finite(values: Array) -> Array:
    """Unbounded is the largest, unknown the least."""
    return np.nan_to_num(np.asarray(values, dtype=float), nan=-1e300, posinf=1e300, neginf=-1e300)


def _variation(hit: Array, chains: Array | None, part: float) -> float:
    """Squared coefficient of variation of one level's share."""
    if part >= 1.0:
        return 0.0
    alone = (1.0 - part) / (part * len(hit))
    if chains is None:
        return alone
    lines = hit.reshape(-1, len(np.unique(chains))).T.astype(float) - part  # chains, steps
    variance = part * (1.0 - part)
    length = lines.shape[1]
    grown = 0.0
    for lag in range(1, length):
        rho = float((lines[:, :-lag] * lines[:, lag:]).mean()) / variance
        grown += 2.0 * (1.0 - lag / length) * max(rho, 0.0)
    return alone * (1.0 + grown)


def rare(runs: list[Subset], failed: int, judged: int) -> Probability:
    """Return a rare probability from independent runs of subset simulation, with an interval on its logarithm.

    runs : at least two. If none reached the limit the counted interval stands
    """
    values = np.array([run.value for run in runs])
    if np.all(values == 0.0):
        return counted(failed, judged, "counted; subset simulation did not reach the limit")
    mean = float(values.mean())
    inside = float(np.sqrt(np.mean([run.variation**2 for run in runs if run.value > 0.0]) / len(runs)))
    between = float(values.std(ddof=1) / mean / np.sqrt(len(runs)))
    wide = 1.96 * np.sqrt(np.log1p(max(inside, between) ** 2))
    method = f"subset simulation, {len(runs)} runs of together {sum(run.samples for run in runs)} samples"
    return Probability(mean, float(mean * np.exp(-wide)), float(min(1.0, mean * np.exp(wide))), failed, judged, method)
