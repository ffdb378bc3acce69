"""One setup's rows explained: counted, rare modes searched, what rules, levers, checks and the other thread model."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from studwell.case.records import Case, Setup
from studwell.errors import StudwellError
from studwell.odds.combined import ANY, STAYING, any_damage, counted_in_part, while_staying
from studwell.odds.levers import SAMPLES, Wanted, cheapest
from studwell.odds.limits import COLUMNS, MODES, apart
from studwell.odds.model import SetupModel
from studwell.odds.plan import APART, CHECKED, CheckPlan, alone_case
from studwell.odds.probability import Probability, counted, rare
from studwell.odds.records import Checks, SetupOdds
from studwell.odds.sensitivity import Indices, narrows_most
from studwell.odds.stages import RarePlan, RulingPlan
from studwell.odds.tally import LARGEST, Tally, tally
from studwell.odds.thread_models import PAIRED, BandPlan, ThreadBand, banded, fits_of
from studwell.runs import LedgerRows, Pace, Plan, Run, execute
from studwell.strength.timeline import timeline_of
from studwell.strength.verdict import judge

Array = np.ndarray

FEW = 10
"""Failures below which a probability is looked for by subset simulation too."""

NEAR = 160
"""Bin of the histogram, a margin of 0.8, which some sample must reach before a rare failure is looked for."""

SENSITIVITY_ROWS = 512
LEVEL = 1000
MANY = 2000
"""Effort of the sensitivities and of each level of a rare search from MANY samples on; less below."""

CHECKS_WITH_SIZES = 12
"""Most checked samples where each needs a section of its own."""

INSIDE_BLOCK = 25
"""Checked samples a block."""

BEYOND = "not in the samples' model: checked samples alone are judged by it"
"""Why a mode outside of MODES has no probability where no sample was checked."""

Progress = Callable[[str, Pace], None]


class Stopped(Exception):
    """Ctrl-C in the middle of a stage; what is finished lies in its ledger."""


@dataclass
class Stages:
    """How the stages of one setup are carried out.

    ledger : name of a setup or of one of its stages -> file;  check: samples solved again;  want: (mode, probability)
    """

    ledger: Callable[[str], Path]
    seed: int
    resume: bool
    workers: int | None
    scheduler: str | None
    check: int
    want: tuple[tuple[str, float], ...]
    sensitivity: bool
    progress: Progress | None
    stopped: bool = field(default=False)

    def run(self, plan: Plan, name: str) -> Run:
        """Carry out a plan under a name that the user sees. Sets `stopped` where it was."""

        def tell(pace: Pace) -> None:
            if self.progress is not None:
                self.progress(name, pace)

        self.begin(name, plan.count)
        run = execute(
            plan, self.ledger(name), workers=self.workers, scheduler=self.scheduler, resume=self.resume, progress=tell
        )
        self.stopped = run.stopped
        return run

    def begin(self, name: str, total: int = 1) -> None:
        """Tell that a stage begins, so that the user sees what goes on before its first samples are done."""
        if self.progress is not None:
            self.progress(name, Pace(0, total, 0.0, None))

    def whole(self, plan: Plan, name: str) -> Array:
        """Carry out a plan and return all its rows. Raises Stopped."""
        run = self.run(plan, name)
        if not run.rows.complete:
            raise Stopped
        return run.rows.array()


def explained(
    case: Case, setup: Setup, model: SetupModel, rows: LedgerRows, stages: Stages, began: float, solving: float
) -> SetupOdds:
    """Return the odds of one setup from its rows; stages that Ctrl-C stops are left out, and `stages.stopped` is set.

    began : time.perf_counter() when the setup was begun;  solving: seconds that the rows took
    """
    kinds, reasons, unknown = _kinds(model)
    known = [mode for mode in MODES if mode not in reasons]
    damage = tuple(mode for mode in known if kinds[mode] == "damage")
    width = len(model.names)
    summed = tally((part for _, part in rows.chunks()), width, damage)
    solved = summed.samples - summed.no_solution
    probabilities = {
        mode: counted_in_part(summed.failed[mode], summed.judged[mode], solved) for mode in known if summed.judged[mode]
    }
    whole = any_damage(summed, probabilities, damage)
    staying = while_staying(summed, whole)
    fast = not model.base.why_alone
    indices: Indices | None = None
    groups: tuple[tuple[str, ...], ...] = ()
    narrows: dict[str, tuple[tuple[str, ...], float]] = {}
    quantities = tuple(mode for mode in known if summed.judged[mode] and _varies(summed, mode))
    wanted: list[Wanted] = []
    checks = band = None
    try:
        if stages.stopped:
            raise Stopped
        if fast and stages.sensitivity:
            searched = _rare(case, model, summed, damage, stages)
            probabilities |= {mode: each for mode, each in searched.items() if mode in MODES}
            whole = any_damage(summed, probabilities, damage, searched.get(ANY))
            staying = while_staying(summed, whole, searched.get(STAYING))
            if quantities:
                indices, groups, narrows = _ruling(case, model, quantities, summed.samples, stages)
        if fast:
            for mode, share in stages.want:
                if mode in known:
                    stages.begin(f"{setup.name}, levers for {mode}")
                    few = min(SAMPLES, summed.samples)
                    bounds = None if model.resized else case.bounds
                    wanted.append(cheapest(model, mode, share, stages.seed, damage, few, bounds))
        if stages.check:
            checks = _checked(case, setup, model, rows, stages)
            for mode, probability in checks.judged_alone.items():
                probabilities[mode] = probability
                reasons.pop(mode, None)
            if fast:
                band = _band(case, model, rows, summed, probabilities, stages)
        if model.resized and not stages.stopped:
            stages.begin(f"{setup.name}, sections between")
    except (Stopped, KeyboardInterrupt):
        stages.stopped = True
    notices = (*model.sampler.notices, *_unsought(stages.want, known, reasons, fast))
    return SetupOdds(
        setup, model.names, notices, model.sampler.left_out, rows, summed, probabilities, whole, damage,
        reasons, quantities, indices, groups, narrows, tuple(wanted), checks, band,
        model.errors(stages.seed) if not stages.stopped else (), model.base.why_alone, stages.stopped,
        time.perf_counter() - began, solving, unknown, model.sections.counts, staying,
    )  # fmt: skip


def _unsought(
    want: tuple[tuple[str, float], ...], known: Sequence[str], reasons: Mapping[str, str], fast: bool
) -> list[str]:
    """Why no lever was looked for, where one was asked for."""
    if not fast:
        return ["no levers were looked for: its samples are solved one by one"] if want else []
    return [f"no levers for {mode}: {reasons[mode]}" for mode, _ in want if mode not in known]


def _kinds(model: SetupModel) -> tuple[dict[str, str], dict[str, str], tuple[str, ...]]:
    """Kind of every mode of a setup, why a mode has no probability, and the damage modes that are not known."""
    lives = model.base.lives
    if lives is None:
        return (
            dict.fromkeys(MODES, "damage") | dict.fromkeys(("tip crushing", "washer flat", "hold"), "function"),
            {},
            (),
        )
    margins = judge(model.base.built, lives.nominal, timeline_of(lives.nominal)).margins
    kinds: dict[str, str] = {mode: margin.kind for mode, margin in margins.items()}
    reasons = {
        mode: margin.reason for mode, margin in margins.items() if margin.value is None and mode != "tip crushing"
    }
    for mode, margin in margins.items():
        if mode not in MODES and margin.value is not None:
            reasons[mode] = BEYOND
    return kinds, reasons, tuple(m.mode for m in margins.values() if m.unknown and m.kind == "damage")


def _varies(summed: Tally, mode: str) -> bool:
    """True if a mode's margin is not the same in all samples."""
    return int(np.count_nonzero(summed.histogram[mode])) > 1


def _rare(
    case: Case, model: SetupModel, summed: Tally, damage: tuple[str, ...], stages: Stages
) -> dict[str, Probability]:
    """Modes that failed seldom, but come near their limit, by subset simulation; the largest margin of all too: ANY, and
    STAYING where some studs follow the nut and others not."""
    solved, held = summed.samples - summed.no_solution, summed.staying
    seen = {mode: (summed.failed[mode], summed.judged[mode]) for mode in damage if _near(summed, mode)}
    if seen and _near(summed, LARGEST):
        seen[ANY] = (summed.any_failed, solved)
        if summed.follows:
            seen[STAYING] = (held.any_failed, held.samples)
    modes = tuple(mode for mode, (failed, judged) in seen.items() if failed < FEW and judged >= 100)
    if not modes:
        return {}
    level = LEVEL if summed.samples >= MANY else LEVEL // 5
    plan = RarePlan(alone_case(case, model.setup), stages.seed, model.refinement, modes, damage, level)
    plan.take(model)
    found = stages.whole(plan, f"{model.setup.name}, rare failures")
    return {mode: rare(plan.subsets(row), *seen[mode]) for mode, row in zip(modes, found, strict=True)}


def _near(summed: Tally, mode: str) -> bool:
    """True if a margin comes near its limit, and is not the same in all samples."""
    filled = np.flatnonzero(summed.histogram[mode])
    return len(filled) > 1 and bool(filled[-1] >= NEAR)


def _ruling(
    case: Case, model: SetupModel, quantities: tuple[str, ...], samples: int, stages: Stages
) -> tuple[Indices, tuple[tuple[str, ...], ...], dict[str, tuple[tuple[str, ...], float]]]:
    rows = SENSITIVITY_ROWS if samples >= MANY else SENSITIVITY_ROWS // 4
    plan = RulingPlan(
        alone_case(case, model.setup), stages.seed, model.refinement, quantities, rows, len(model.sampler.groups)
    )
    plan.take(model)
    indices = plan.indices(stages.whole(plan, f"{model.setup.name}, what rules"))
    groups = tuple(tuple(model.names[i] for i in group) for group in model.sampler.groups)
    narrows = {}
    for place, name in enumerate(quantities):
        if indices.variance[place] > 0.0:
            best, share = narrows_most(indices, place)
            narrows[name] = (groups[best], share)
    return indices, groups, narrows


def _checked(case: Case, setup: Setup, model: SetupModel, rows: LedgerRows, stages: Stages) -> Checks:
    """The first samples again with every step of the history, beside their rows."""
    count = min(stages.check, rows.count, CHECKS_WITH_SIZES if model.resized else stages.check)
    block = max(1, min(INSIDE_BLOCK, count // 2))
    plan = CheckPlan(alone_case(case, setup), count, stages.seed, model.refinement, block)
    plan.take(model)
    stages.begin(f"{setup.name}, checks", count)
    side_by_side = plan.lives is not None  # made here, so that workers that are forked have it
    dear = stages.whole(plan, f"{setup.name}, checks")
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
    away = dear[:, plan.columns.index(APART)]
    known = away[~np.isnan(away)]
    return Checks(
        len(dear), difference, flipped, len(known) if side_by_side else len(dear),
        float(known.max()) if len(known) else float("nan"), alone,
    )  # fmt: skip


def _first(rows: LedgerRows, count: int) -> Iterator[tuple[range, Array]]:
    """The first blocks that hold so many samples."""
    seen = 0
    for samples, part in rows.chunks():
        yield samples, part
        seen += len(samples)
        if seen >= count:
            return


def _band(
    case: Case, model: SetupModel, rows: LedgerRows, summed: Tally, found: dict[str, Probability], stages: Stages
) -> ThreadBand | None:
    """The probabilities by the other model of the threads, as `studwell compare` takes it; None if there is none."""
    own = model.setup.stud.thread_model
    count = min(PAIRED, stages.check, rows.count)
    note = ""
    for other in ("grooves", "bonded") if own != "bonded" else ("grooves", "layer"):
        began = time.perf_counter()
        plan = BandPlan(alone_case(case, model.setup), count, stages.seed, model.refinement, other)
        plan.take(model)
        stages.begin(f"{model.setup.name}, {other} threads", count)
        try:
            plan.other  # noqa: B018 - made here, so that workers that are forked have it, and its errors come here
            pairs = stages.whole(plan, f"{model.setup.name}, {other} threads")
        except (StudwellError, ValueError) as problem:
            note = f"{other}: {getattr(problem, 'line', problem)}"
            continue
        fits = fits_of(pairs)
        if not fits:
            note = f"{other}: too few of its samples have a solution"
            continue
        values = banded(rows, len(model.names), summed, fits, found)
        return ThreadBand(own, other, note, len(pairs), values, fits, time.perf_counter() - began)
    return None
