"""What a study of setups returns: one record a setup, ranked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Case, Setup
from studwell.history.conduction import SolvedHeat
from studwell.history.stages import HistoryResult
from studwell.joint.build import BuiltJoint
from studwell.strength.outcomes import Outcomes
from studwell.strength.timeline import Timeline
from studwell.strength.verdict import Verdict
from studwell.study.cycles import CycleStudy


@dataclass(frozen=True)
class SetupResult:
    """One solved setup.

    band : outcome -> (low, high) over the thread models in band_models, the setup's own first; band_note: what stands in
           for a model that could not be solved, and why
    band_shares : thread -> (pitches,) shares of its load by meshed teeth, assembled; empty without them
    equilibrium_residual, law_residual : largest over all states, relative to the largest force
    cycles : what many cycles leave, None for a single cycle
    heat : the solved heat, None where temperatures are given
    emptied : outcomes of the same setup with an empty pocket, None where no liquid is shut in under the tip
    on_tip : outcomes of OF_SEAT had the drive ended on the tip; None where it did, or where nothing was driven
    unset_clamp : (steps,) N of clamp in the same run with springs that do not set; None where none sets, or unsolved
    """

    setup: Setup
    built: BuiltJoint = field(repr=False)
    history: HistoryResult = field(repr=False)
    timeline: Timeline = field(repr=False)
    outcomes: Outcomes = field(repr=False)
    verdict: Verdict = field(repr=False)
    band: dict[str, tuple[float, float]] = field(repr=False)
    band_models: tuple[str, ...]
    equilibrium_residual: float
    law_residual: float
    seconds: float
    heat: SolvedHeat | None = field(default=None, repr=False)
    emptied: Outcomes | None = field(default=None, repr=False)
    cycles: CycleStudy | None = field(default=None, repr=False)
    unset_clamp: np.ndarray | None = field(default=None, repr=False)
    on_tip: dict[str, float | None] | None = field(default=None, repr=False)
    band_note: str = ""
    band_shares: Mapping[str, np.ndarray] = field(default_factory=dict, repr=False)

    @property
    def name(self) -> str:
        return self.setup.name

    def value(self, outcome: str) -> float | None:
        """Return an outcome's value in N, mm, MPa, or None if it is not known."""
        return self.outcomes[outcome].value


@dataclass(frozen=True)
class FailedSetup:
    """A setup that could not be solved, and why."""

    setup: Setup
    reason: str
    slug: str

    @property
    def name(self) -> str:
        return self.setup.name


@dataclass(frozen=True)
class Comparison:
    """All setups of a case: solved ones ranked from best to worst, then those that could not be solved.

    stopped : True if the user stopped it; setups not reached are among the failed ones
    """

    case: Case
    results: tuple[SetupResult, ...]
    failed: tuple[FailedSetup, ...]
    refinement: float
    seconds: float
    stopped: bool = False

    def __getitem__(self, name: str) -> SetupResult:
        for result in self.results:
            if result.name == name:
                return result
        raise KeyError(f"no solved setup {name!r}; solved: {', '.join(r.name for r in self.results)}")


def rank_key(result: SetupResult) -> tuple[float, ...]:
    """Sort key: the largest known damage margin as printed, then how many damage modes are unknown, then known damage
    margins from the largest down, then function margins likewise; smaller is better.

    Values are compared to four decimals, so that rounding noise decides no rank.
    """
    margins = result.verdict.margins.values()
    unknown = sum(m.unknown for m in margins if m.kind == "damage")

    def falling(kind: str) -> list[float]:
        values = [m.value for m in result.verdict.margins.values() if m.kind == kind and m.value is not None]
        return sorted((round(float(np.nan_to_num(v, posinf=1e300)), 4) for v in values), reverse=True)

    damage = falling("damage")
    return (*[round(v, 2) for v in damage[:1]], unknown, *damage, -1.0, *falling("function"))
