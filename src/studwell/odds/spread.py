"""Draws of a setup's spread inputs: scrambled Sobol points through marginals and a Gaussian copula, block by block."""

from __future__ import annotations

import json
import warnings
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

from studwell.case.records import Setup
from studwell.case.spread_keys import SpreadKey, own_value
from studwell.case.spread_record import Distribution, Spread
from studwell.errors import BadCase, StudwellError
from studwell.units import as_text, number_text

Array = np.ndarray

MOST_CUT = 1e-3
"""Largest share of draws beyond what a key may be that is cut off with a notice; more is refused. Our own choice."""

INSIDE = 1e-12
"""Probabilities are kept this far inside 0 to 1."""


@dataclass(frozen=True)
class Marginal:
    """One input of one setup: its key, the distribution with its mean or mode filled in, the probabilities between
    which it is cut off, and what the user should know of that."""

    key: SpreadKey
    distribution: Distribution
    own: float
    cut: tuple[float, float] = (0.0, 1.0)
    notice: str = ""

    def at(self, probability: Array) -> Array:
        """Return the values (...) at probabilities (...) in 0 to 1."""
        d = self.distribution
        p = np.clip(self.cut[0] + probability * (self.cut[1] - self.cut[0]), INSIDE, 1.0 - INSIDE)
        if d.kind == "data":
            values = np.sort(np.asarray(d.values))
            return np.asarray(values[np.minimum((p * len(values)).astype(int), len(values) - 1)])
        if d.kind in ("uniform", "triangular"):
            assert d.low is not None and d.high is not None
            width = d.high - d.low
            if d.kind == "uniform":
                return np.asarray(d.low + p * width)
            assert d.mode is not None
            share = (d.mode - d.low) / width
            rising = d.low + np.sqrt(p * share) * width
            return np.where(p < share, rising, d.high - np.sqrt((1.0 - p) * (1.0 - share)) * width)
        middle, scale = _normal(d)
        value = middle + scale * ndtri(p)
        return np.asarray(np.exp(value) if d.kind == "lognormal" else value)


def _normal(d: Distribution) -> tuple[float, float]:
    """Mean and standard deviation of the normal variable behind a normal or lognormal one."""
    assert d.mean is not None and d.sd is not None
    if d.kind == "normal":
        return d.mean, d.sd
    width = float(np.sqrt(np.log1p((d.sd / d.mean) ** 2)))
    return float(np.log(d.mean)) - 0.5 * width**2, width


def marginal(key: SpreadKey, given: Distribution, setup: Setup) -> Marginal | None:
    """Return an input of a setup, None if the setup has no such value.

    raises BadCase : the distribution does not fit the setup's own value, or too many draws would be impossible; it names
                     no file
    """
    own = own_value(key, setup)
    if own is None:
        return None
    fields = dict(given.__dict__)
    if given.kind in ("normal", "lognormal") and given.mean is None:
        fields["mean"] = own
    if given.kind == "triangular" and given.mode is None:
        fields["mode"] = own
    d = Distribution(**fields)
    if d.kind == "lognormal" and d.mean is not None and d.mean <= 0.0:
        raise _unfit(key, setup, "mean", d.mean, "a lognormal value is above zero", "above 0")
    if d.kind == "triangular" and d.mode is not None and not (d.low or 0.0) <= d.mode <= (d.high or 0.0):
        ends = f"mode, from {_said(key, d.low or 0.0)} to {_said(key, d.high or 0.0)}"
        raise _unfit(key, setup, "mode", d.mode, "the setup's own value lies outside low to high", ends)
    if d.kind not in ("normal", "lognormal"):
        return Marginal(key, d, own)
    middle, scale = _normal(d)

    def below(value: float) -> float:
        if d.kind == "lognormal":
            return 0.0 if value <= 0.0 else float(ndtr((np.log(value) - middle) / scale))
        return float(ndtr((value - middle) / scale))

    low, high = 0.0 if d.low is None else below(d.low), 1.0 if d.high is None else below(d.high)
    if high - low < 1e-6:
        name, end = ("low", d.low) if high < 0.5 or d.high is None else ("high", d.high)
        where = f"a range round its mean, {_said(key, d.mean or 0.0)}"
        raise _unfit(key, setup, name, end or 0.0, "next to no draw lies between low and high", where)
    notices = []
    least = 0.0 if key.least is None else below(key.least)
    most = 1.0 if key.most is None else below(key.most)
    for share, limit, word in ((least - low, key.least, "below"), (high - most, key.most, "above")):
        if share > MOST_CUT:
            assert d.sd is not None and limit is not None and d.mean is not None
            problem = (
                f"{number_text(100 * share, 2)} % of its draws round the mean {_said(key, d.mean)} would be {word} "
                f"{_said(key, limit)}, which cannot be"
            )
            raise _unfit(key, setup, "sd", d.sd, problem, _remedy(key, d, limit, word))
        if share > 1e-12:
            notices.append(f"{key.name}: cut off at {limit:g}, which {share:.1g} of the draws would pass")
    return Marginal(key, d, own, (max(low, least), min(high, most)), "; ".join(notices))


def _said(key: SpreadKey, value: float) -> str:
    """A value of a key as the case file writes it."""
    return number_text(value, 4) if key.kind == "number" else as_text(value, key.kind)


def _unfit(key: SpreadKey, setup: Setup, name: str, value: float, problem: str, allowed: str) -> BadCase:
    where = f"[spread] {key.name} {name}"
    told: object = float(number_text(value, 4)) if key.kind == "number" else as_text(value, key.kind)
    return BadCase(
        "", where, told, allowed, "out-of-range", f"{problem} (setup {json.dumps(setup.name, ensure_ascii=False)})"
    )


def _remedy(key: SpreadKey, d: Distribution, limit: float, word: str) -> str:
    """What would be taken instead of a spread that reaches where the key cannot be."""
    end = "low" if word == "below" else "high"
    ways = [f"{end} = {_quoted(key, limit)} or {'more' if end == 'low' else 'less'}", "another distribution"]
    assert d.mean is not None
    most = abs(d.mean - limit) / float(ndtri(1.0 - MOST_CUT))
    if d.kind == "normal" and most > 0.0:
        ways.insert(0, f"at most {_said(key, float(f'{0.995 * most:.2g}'))}")
    return ", ".join(ways[:-1]) + f", or {ways[-1]}"


def _quoted(key: SpreadKey, value: float) -> str:
    return _said(key, value) if key.kind == "number" else f'"{_said(key, value)}"'


@dataclass(frozen=True)
class Sampler:
    """All inputs of one setup that are spread, and how they hang together.

    factor : (d, d) lower triangle that makes independent normal variables correlated; groups: inputs that hang together
    left_out : keys that the setup has no value for
    whole  : (k, k) as `factor`, of all keys of the case;  places: of its k keys, those that this setup has
    """

    marginals: tuple[Marginal, ...]
    factor: Array = field(repr=False)
    groups: tuple[tuple[int, ...], ...]
    left_out: tuple[str, ...]
    whole: Array = field(repr=False)
    places: tuple[int, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Keys of the inputs."""
        return tuple(each.key.name for each in self.marginals)

    @property
    def notices(self) -> tuple[str, ...]:
        """What was cut off."""
        return tuple(each.notice for each in self.marginals if each.notice)

    def from_normal(self, normal: Array) -> Array:
        """Return inputs (n, d) from independent standard normal variables (n, d)."""
        return self._at(ndtr(normal @ self.factor.T))

    def _at(self, probability: Array) -> Array:
        return np.stack([each.at(probability[:, i]) for i, each in enumerate(self.marginals)], axis=1)

    def from_uniform(self, uniform: Array) -> Array:
        """Return inputs (n, d) from independent uniform variables (n, d)."""
        return self.from_normal(ndtri(np.clip(uniform, INSIDE, 1.0 - INSIDE)))

    def draw(self, seed: int, start: int, count: int) -> Array:
        """Return inputs (count, d) of samples start, start + 1 ... of the sequence of a seed.

        A key has the same draws in every setup of the case, also beside setups that lack some keys, so that they compare.
        """
        uniform = sobol(len(self.whole), seed, start, count)
        probability = ndtr(ndtri(np.clip(uniform, INSIDE, 1.0 - INSIDE)) @ self.whole.T)
        return self._at(probability[:, list(self.places)])


def sobol(dimensions: int, seed: int, start: int, count: int) -> Array:
    """Return points (count, dimensions) of a scrambled Sobol sequence from number `start` on: a slice, whoever asks.

    Source: Owen scrambling of Sobol's sequence, scipy.stats.qmc.
    """
    engine = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed))
    if start:
        engine.fast_forward(start)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a count that is no power of 2 costs balance, nothing else
        return np.asarray(engine.random(count))


def sampler(spread: Spread, setup: Setup, keys: dict[str, SpreadKey]) -> Sampler:
    """Return what draws the inputs of a setup.

    raises StudwellError : as `marginal`; nothing of the spread belongs to this setup
    """
    found = [(name, marginal(keys[name], given, setup)) for name, given in spread.inputs]
    kept = [each for _, each in found if each is not None]
    if not kept:
        raise StudwellError(f"[spread]: setup {setup.name!r} has none of its keys", "missing-key")
    names = [each.key.name for each in kept]
    every = list(spread.names)
    whole = np.eye(len(every))
    for a, b, value in spread.correlations:
        whole[every.index(a), every.index(b)] = whole[every.index(b), every.index(a)] = value
    places = tuple(every.index(name) for name in names)
    matrix = whole[np.ix_(places, places)]
    groups: list[set[int]] = []
    for i in range(len(names)):
        joined = {i} | {j for j in range(len(names)) if matrix[i, j] != 0.0}
        apart = [group for group in groups if not group & joined]
        groups = [*apart, joined.union(*(group for group in groups if group & joined))]
    ordered = tuple(sorted((tuple(sorted(group)) for group in groups), key=lambda group: group[0]))
    left = tuple(name for name, each in found if each is None)
    return Sampler(tuple(kept), np.linalg.cholesky(matrix), ordered, left, np.linalg.cholesky(whole), places)
