"""Checks of probabilities and sensitivities: an exact limit state, published indices, and a small joint by brute force."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from studwell.case.reading import case_from_text
from studwell.case.spread_keys import spread_keys
from studwell.case.starter import starter_case
from studwell.odds.limits import COLUMNS
from studwell.odds.lives import short
from studwell.odds.model import SetupModel
from studwell.odds.probability import counted, rare, subset_simulation
from studwell.odds.scalar import solved_alone, varied
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


SMALL_JOINT = """
[spread]
"tightening.torque" = { distribution = "normal", sd = "0.6 N*m" }
"tightening.thread_friction" = { distribution = "lognormal", sd = 0.015 }
"tightening.bearing_friction" = { distribution = "lognormal", sd = 0.012 }
"history.scale" = { distribution = "normal", sd = 0.08 }
"""
"""Spread of the small joint: four independent inputs, invented."""

BRUTE = 20_000
"""Independent pseudo-random samples of the brute force."""


@check(
    "odds-by-brute-force",
    subject="odds",
    title="Probabilities and sensitivities of a small joint against brute force",
    source="plain Monte Carlo with independent pseudo-random draws by numpy; first-order shares as the variance of means in "
    "slices of each input (law of total variance); 12 of the samples solved one by one",
    status="computed",
    tolerance="probabilities: 4 standard errors of the brute force (of both for the rare one); shares: 0.03 of the variance",
    slow=True,
)
def odds_by_brute_force() -> list[Row]:
    """The starter case on a coarse mesh: its stud's yield margin by both ways."""
    case = case_from_text(starter_case("M8", "hex") + SMALL_JOINT)
    assert case.spread is not None
    model = SetupModel(case.setups[0], case.spread, spread_keys(case), 0.4)
    column = COLUMNS.index("stud yield")
    inputs = _plain_draws(model, np.random.default_rng(12), BRUTE)
    table = np.concatenate([model.rows(part)[0] for part in np.array_split(inputs, 20)])
    brute = table[:, column]
    rows = []
    worst = 0.0
    for sample in range(12):
        setup = varied(model.setup, model.keys, dict(zip(model.names, inputs[sample], strict=True)))
        assert model.base.lives is not None
        alone = solved_alone(model.base.built, short(setup, model.base.lives.instants), cracks=False)
        worst = max(worst, abs(alone["stud yield"] - brute[sample]))
    rows.append(Row("margin side by side less alone, largest of 12", 0.0, worst, 1e-7, ""))

    often = float(np.quantile(brute, 0.9))
    sobol_table, _ = model.rows(model.sampler.draw(5, 0, 4096))
    share = float(np.mean(sobol_table[:, column] >= often))
    rows.append(
        Row("probability of a margin that one in ten passes", 0.1, share, 4.0 * np.sqrt(0.09 / BRUTE) + 0.003, "")
    )
    limit = float(np.quantile(brute, 1.0 - 2e-3))

    def margin(normal: Array) -> Array:
        return np.asarray(model.rows(model.sampler.from_normal(normal))[0][:, column])

    runs = [
        subset_simulation(margin, len(model.names), limit=limit, samples=1000, share=0.25, seed=s) for s in range(3)
    ]
    found = rare(runs, 0, 1)
    scatter = np.hypot(np.sqrt(1.0 / (2e-3 * BRUTE)), np.log(found.high / found.value) / 1.96)
    rows.append(
        Row("log of the probability of one in five hundred", np.log(2e-3), np.log(found.value), 4.0 * scatter, "")
    )

    def uniform_margin(uniform: Array) -> Array:
        return np.asarray(model.rows(model.sampler.from_uniform(uniform))[0][:, column])

    indices = sobol_indices(uniform_margin, len(model.names), rows=512, repeats=4, seed=2)
    for place, name in enumerate(model.names):
        rows.append(
            Row(
                f"first-order share of {name}",
                _sliced(inputs[:, place], brute),
                float(indices.first[place, 0]),
                0.03,
                "",
            )
        )
    return rows


def _plain_draws(model: SetupModel, random: np.random.Generator, count: int) -> Array:
    """Independent draws (count, d) by numpy's own generators, from each key's mean and deviation."""
    columns = []
    for each in model.sampler.marginals:
        sd = each.distribution.sd
        assert sd is not None
        if each.distribution.kind == "normal":
            columns.append(random.normal(each.own, sd, count))
        else:
            width = np.sqrt(np.log1p((sd / each.own) ** 2))
            columns.append(random.lognormal(np.log(each.own) - 0.5 * width**2, width, count))
    return np.stack(columns, axis=1)


def _sliced(given: Array, found: Array, slices: int = 40) -> float:
    """Share of the variance of `found` that the means in slices of `given` have, less what chance alone gives them."""
    parts = np.array_split(found[np.argsort(given)], slices)
    means = np.array([part.mean() for part in parts])
    chance = float(np.mean([part.var(ddof=1) / len(part) for part in parts]))
    return float((means.var(ddof=1) - chance) / found.var())
