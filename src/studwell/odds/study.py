"""The odds of a case: each setup's samples run, counted, explained and checked."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from studwell.case.records import Case, Setup
from studwell.errors import StudwellError
from studwell.odds.levers import SAMPLES, Wanted, cheapest
from studwell.odds.limits import COLUMNS, MODES, apart
from studwell.odds.model import InterpolationError, SetupModel
from studwell.odds.plan import BLOCK, CHECKED, CheckPlan, SamplePlan, alone_case
from studwell.odds.probability import Probability, counted, rare, subset_simulation
from studwell.odds.sensitivity import Indices, narrows_most, sobol_indices
from studwell.odds.tally import Tally, tally
from studwell.runs import LedgerRows, Pace, execute
from studwell.strength.timeline import timeline_of
from studwell.strength.verdict import judge

Array = np.ndarray

FEW = 10
"""Failures below which a probability is looked for by subset simulation too."""

NEAR = 160
"""Bin of the histogram, a margin of 0.8, which some sample must reach before a rare failure is looked for."""

SENSITIVITY_ROWS, REPEATS = 512, 3
LEVEL = 1000
MANY = 2000
"""Effort of the sensitivities and of each level of a rare search from MANY samples on; a quarter of it below."""

CHECKS_WITH_SIZES = 12
"""Most checked samples where each needs a section of its own."""

INSIDE_BLOCK = 20
"""Checked samples a block."""


@dataclass(frozen=True)
class Checks:
    """The first samples by the path of a single setup, with all steps of the history.

    difference : column -> largest difference from the fast rows, as share of the largest value, or of the limit
    flipped    : mode -> samples on the other side of the limit;  samples
    """

    samples: int
    difference: Mapping[str, float]
    flipped: Mapping[str, int]
    judged_alone: Mapping[str, Probability] = field(repr=False)


@dataclass(frozen=True)
class SetupOdds:
    """One setup. probabilities: mode -> Probability, reasons: mode -> why there is none or it has no part.

    damage : modes that count as damage;  any_damage: that at least one of them fails
    ruling : group of inputs (keys), for `indices`, whose columns are `quantities`
    narrows: quantity -> (keys, share by which its standard deviation falls)
    """

    setup: Setup
    names: tuple[str, ...]
    notices: tuple[str, ...]
    left_out: tuple[str, ...]
    rows: LedgerRows = field(repr=False)
    tally: Tally = field(repr=False)
    probabilities: Mapping[str, Probability]
    any_damage: Probability
    damage: tuple[str, ...]
    reasons: Mapping[str, str] = field(repr=False)
    quantities: tuple[str, ...]
    indices: Indices | None = field(repr=False)
    groups: tuple[tuple[str, ...], ...]
    narrows: Mapping[str, tuple[tuple[str, ...], float]]
    wanted: tuple[Wanted, ...]
    checks: Checks | None
    errors: tuple[InterpolationError, ...]
    why_alone: str
    stopped: bool
    seconds: float
    solving_seconds: float

    @property
    def governing(self) -> str | None:
        """The damage mode that governs most samples."""
        return (
            max(self.tally.governs, key=lambda m: self.tally.governs[m]) if any(self.tally.governs.values()) else None
        )


@dataclass(frozen=True)
class Odds:
    """The odds of a case; setups in the order of the file, and those that could not be sampled with the reason."""

    case: Case
    setups: tuple[SetupOdds, ...]
    failed: tuple[tuple[str, str], ...]
    samples: int
    seed: int
    refinement: float
    seconds: float
    stopped: bool


Progress = Callable[[str, Pace], None]


def odds(
    case: Case,
    samples: int,
    ledger: Callable[[str], Path],
    *,
    seed: int = 1,
    resume: bool = False,
    workers: int | None = None,
    scheduler: str | None = None,
    check: int = 200,
    want: tuple[tuple[str, float], ...] = (),
    sensitivity: bool = True,
    refinement: float = 1.0,
    progress: Progress | None = None,
) -> Odds:
    """Return the odds of every setup of a case.

    samples : of each setup;  ledger: name of a setup or of its checks -> file that keeps rows
    seed    : of all draws;  resume, workers, scheduler: as `runs.execute`
    check   : samples that are solved again by the dearer path;  want: (mode, probability) to be reached by the levers
    sensitivity : also find which inputs rule
    progress : called with a setup's name and its pace
    raises StudwellError : no [spread], no samples, or what `runs.execute` raises
    """
    if case.spread is None:
        raise StudwellError(f"{case.file}: no [spread] table: nothing is spread", "missing-key")
    if samples < 1:
        raise StudwellError(f"{samples} samples: at least 1 is needed", "out-of-range")
    start = time.perf_counter()
    found, failed, stopped = [], [], False
    for setup in case.setups:
        if stopped:
            failed.append((setup.name, "stopped before it was sampled"))
            continue
        plan = SamplePlan(alone_case(case, setup), samples, seed, refinement, min(BLOCK, max(1, samples // 2)))
        try:
            model = plan.model
        except (StudwellError, ValueError) as problem:
            failed.append((setup.name, getattr(problem, "line", str(problem))))
            continue
        began = time.perf_counter()

        def tell(pace: Pace, name: str = setup.name) -> None:
            if progress is not None:
                progress(name, pace)

        run = execute(plan, ledger(setup.name), workers=workers, scheduler=scheduler, resume=resume, progress=tell)
        solving = time.perf_counter() - began
        stopped = run.stopped
        if not run.rows.done:
            failed.append((setup.name, "stopped before a block was done"))
            continue
        found.append(
            _explained(
                case,
                setup,
                model,
                run.rows,
                seed,
                0 if stopped else check,
                () if stopped else want,
                sensitivity and not stopped,
                ledger,
                resume,
                workers,
                stopped,
                solving,
                began,
            )
        )
    return Odds(case, tuple(found), tuple(failed), samples, seed, refinement, time.perf_counter() - start, stopped)


def _explained(
    case: Case, setup: Setup, model: SetupModel, rows: LedgerRows, seed: int, check: int,
    want: tuple[tuple[str, float], ...], sensitivity: bool, ledger: Callable[[str], Path], resume: bool,
    workers: int | None, stopped: bool, solving: float, began: float,
) -> SetupOdds:  # fmt: skip
    kinds, reasons = _kinds(model)
    known = [mode for mode in MODES if mode not in reasons]
    damage = tuple(mode for mode in known if kinds[mode] == "damage")
    width = len(model.names)
    summed = tally((part for _, part in rows.chunks()), width, damage)
    probabilities = {}
    for mode in known:
        if summed.judged[mode]:
            probabilities[mode] = counted(summed.failed[mode], summed.judged[mode])
    solved = summed.samples - summed.no_solution
    any_damage = counted(summed.any_failed, max(solved, 1))
    fast = not model.base.why_alone
    if fast and sensitivity:
        probabilities |= _rare(model, summed, damage, seed)
    indices: Indices | None = None
    groups: tuple[tuple[str, ...], ...] = ()
    narrows: dict[str, tuple[tuple[str, ...], float]] = {}
    quantities = tuple(mode for mode in known if summed.judged[mode] and _varies(summed, mode))
    if fast and sensitivity and quantities:
        indices, groups, narrows = _ruling(
            model, quantities, seed, SENSITIVITY_ROWS if summed.samples >= MANY else SENSITIVITY_ROWS // 4
        )
    wanted = tuple(
        cheapest(model, mode, p, seed, damage, min(SAMPLES, summed.samples))
        for mode, p in want
        if mode in known and fast
    )
    checks = None
    if check:
        checks = _checked(case, setup, model, rows, seed, check, ledger, resume, workers)
        for mode, probability in checks.judged_alone.items():
            probabilities[mode] = probability
            reasons.pop(mode, None)
    return SetupOdds(
        setup, model.names, model.sampler.notices, model.sampler.left_out, rows, summed, probabilities, any_damage, damage,
        reasons, quantities, indices, groups, narrows, wanted, checks, model.errors(seed) if model.sized else (),
        model.base.why_alone, stopped, time.perf_counter() - began, solving,
    )  # fmt: skip


def _kinds(model: SetupModel) -> tuple[dict[str, str], dict[str, str]]:
    """Kind of every mode of a setup, and why a mode has no probability."""
    lives = model.base.lives
    if lives is None:
        return dict.fromkeys(MODES, "damage") | dict.fromkeys(("tip crushing", "washer flat", "hold"), "function"), {}
    margins = judge(model.base.built, lives.nominal, timeline_of(lives.nominal)).margins
    kinds: dict[str, str] = {mode: margin.kind for mode, margin in margins.items()}
    reasons = {
        mode: margin.reason for mode, margin in margins.items() if margin.value is None and mode != "tip crushing"
    }
    for mode, margin in margins.items():
        if mode not in MODES and margin.value is not None:
            reasons[mode] = "not in the samples' model: see the checked samples"
    return kinds, reasons


def _varies(summed: Tally, mode: str) -> bool:
    """True if a mode's margin is not the same in all samples."""
    return int(np.count_nonzero(summed.histogram[mode])) > 1


def _rare(model: SetupModel, summed: Tally, damage: tuple[str, ...], seed: int) -> dict[str, Probability]:
    """Modes that failed seldom, but come near their limit, by subset simulation."""
    found = {}
    for mode in damage:
        failed, judged = summed.failed[mode], summed.judged[mode]
        nearest = np.flatnonzero(summed.histogram[mode])
        if judged < 100 or failed >= FEW or not len(nearest) or nearest[-1] < NEAR or not _varies(summed, mode):
            continue
        column = COLUMNS.index(mode)

        def margin(normal: Array, column: int = column) -> Array:
            table, _ = model.rows(model.sampler.from_normal(normal))
            return np.asarray(table[:, column])

        runs = [
            subset_simulation(
                margin,
                len(model.names),
                samples=LEVEL if summed.samples >= MANY else LEVEL // 5,
                share=0.25,
                most_levels=12,
                seed=seed + 31 * k,
            )
            for k in range(2)
        ]
        found[mode] = rare(runs, failed, judged)
    return found


def _ruling(
    model: SetupModel, quantities: tuple[str, ...], seed: int, rows: int
) -> tuple[Indices, tuple[tuple[str, ...], ...], dict[str, tuple[tuple[str, ...], float]]]:
    columns = [COLUMNS.index(name) for name in quantities]

    def function(uniform: Array) -> Array:
        parts = []
        for start in range(0, len(uniform), BLOCK):
            table, _ = model.rows(model.sampler.from_uniform(uniform[start : start + BLOCK]))
            parts.append(table[:, columns])
        return np.concatenate(parts)

    indices = sobol_indices(
        function, len(model.names), groups=model.sampler.groups, rows=rows, repeats=REPEATS, seed=seed
    )
    groups = tuple(tuple(model.names[i] for i in group) for group in model.sampler.groups)
    narrows = {}
    for place, name in enumerate(quantities):
        if indices.variance[place] > 0.0:
            best, share = narrows_most(indices, place)
            narrows[name] = (groups[best], share)
    return indices, groups, narrows


def _checked(
    case: Case, setup: Setup, model: SetupModel, rows: LedgerRows, seed: int, check: int,
    ledger: Callable[[str], Path], resume: bool, workers: int | None,
) -> Checks:  # fmt: skip
    """The first samples again by the dearer path, beside their rows."""
    count = min(check, rows.count, CHECKS_WITH_SIZES if model.sized else check)
    block = max(1, min(INSIDE_BLOCK, count // 2))
    plan = CheckPlan(alone_case(case, setup), count, seed, model.refinement, block)
    plan.take(model)
    run = execute(plan, ledger(f"{setup.name} checks"), workers=workers, resume=resume)
    dear = run.rows.array()
    width = len(model.names)
    near = np.concatenate([part for _, part in _first(rows, len(dear))])[: len(dear)]
    difference, flipped, alone = {}, {}, {}
    for place, name in enumerate(CHECKED):
        there = dear[:, place]
        if name in COLUMNS:
            here = near[:, width + COLUMNS.index(name)]
            both = np.isfinite(here) & np.isfinite(there)
            if both.any():
                difference[name] = apart(name, here[both], there[both])
            if name in MODES:
                flipped[name] = int(np.count_nonzero((here >= 1.0) != (there >= 1.0)))
        else:
            judged = there[~np.isnan(there)]
            if len(judged):
                alone[name] = counted(int((judged >= 1.0).sum()), len(judged), "counted among the checked samples")
    return Checks(len(dear), difference, flipped, alone)


def _first(rows: LedgerRows, count: int) -> Iterator[tuple[range, Array]]:
    """The first blocks that hold so many samples."""
    seen = 0
    for samples, part in rows.chunks():
        yield samples, part
        seen += len(samples)
        if seen >= count:
            return
