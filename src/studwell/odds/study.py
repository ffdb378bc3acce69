"""The odds of a case: each setup's samples run, counted, explained and checked."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from studwell.case.records import Case
from studwell.case.spread_keys import spread_keys
from studwell.errors import BadCase, StudwellError
from studwell.odds.explained import Progress, Stages, explained
from studwell.odds.paired import paired
from studwell.odds.plan import BLOCK, SamplePlan, alone_case
from studwell.odds.records import Checks, Odds, SetupOdds
from studwell.odds.spread import sampler

MOST_SAMPLES = 2**30
"""Points of a Sobol sequence of 30 bits, as scipy makes it."""

__all__ = ["Checks", "Odds", "SetupOdds", "odds"]


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

    samples : of each setup;  ledger: name of a setup or of one of its stages -> file that keeps rows
    seed    : of all draws;  resume, workers, scheduler: as `runs.execute`
    check   : samples that are solved again by the dearer path;  want: (mode, probability) to be reached by the levers
    sensitivity : also find which inputs rule
    progress : called with the name of a setup or of one of its stages, and its pace; at its beginning too, 0 done
    raises BadCase : a distribution that some setup cannot be drawn from; no setup has any of the keys
    raises StudwellError : no [spread], no samples, or what `runs.execute` raises
    """
    if case.spread is None:
        raise StudwellError(f"{case.file}: no [spread] table: nothing is spread", "missing-key")
    if samples < 1:
        raise StudwellError(f"{samples} samples: at least 1 is needed", "out-of-range")
    if samples > MOST_SAMPLES:
        raise StudwellError(
            f"{samples} samples: at most {MOST_SAMPLES}, the length of the Sobol sequence", "out-of-range"
        )
    _check_spread(case)
    start = time.perf_counter()
    found, failed, stopped = [], [], False
    for setup in case.setups:
        if stopped:
            failed.append((setup.name, "stopped before it was sampled"))
            continue
        stages = Stages(ledger, seed, resume, workers, scheduler, check, want, sensitivity, progress)
        stages.begin(f"{setup.name}, sections")
        plan = SamplePlan(alone_case(case, setup), samples, seed, refinement, min(BLOCK, max(1, samples // 2)))
        try:
            model = plan.model
        except (StudwellError, ValueError) as problem:
            failed.append((setup.name, getattr(problem, "line", str(problem))))
            continue
        except KeyboardInterrupt:
            stopped = True
            failed.append((setup.name, "stopped before it was sampled"))
            continue
        began = time.perf_counter()
        run = stages.run(plan, setup.name)
        solving = time.perf_counter() - began
        if run.rows.done:
            found.append(explained(case, setup, model, run.rows, stages, began, solving))
        else:
            failed.append((setup.name, "stopped before a block was done"))
        stopped = stages.stopped
    pairs, seconds = paired(found), time.perf_counter() - start
    return Odds(case, tuple(found), tuple(failed), samples, seed, refinement, seconds, stopped, pairs)


def _check_spread(case: Case) -> None:
    """Raise BadCase, before anything is solved, unless every setup can be drawn from, but for those that have no key."""
    assert case.spread is not None
    keys, without = spread_keys(case), []
    for setup in case.setups:
        try:
            sampler(case.spread, setup, keys)
        except BadCase as problem:
            raise BadCase(
                case.file, problem.key, problem.value, problem.allowed, problem.slug, problem.problem
            ) from None
        except StudwellError:
            without.append(setup.name)
    if len(without) == len(case.setups):
        listed = ", ".join(name for name, _ in case.spread.inputs)
        raise BadCase(
            case.file, "[spread]", None, f"keys that it has; spread are {listed}", "missing-key",
            f"setup {', '.join(map(repr, without))} has none of its keys",
        )  # fmt: skip
