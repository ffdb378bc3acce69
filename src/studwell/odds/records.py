"""The odds of a case as plain records: each setup's probabilities, what rules them, and how far they are checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Case, Setup
from studwell.odds.levers import Wanted
from studwell.odds.model import InterpolationError
from studwell.odds.probability import Probability
from studwell.odds.sensitivity import Indices
from studwell.odds.tally import Tally
from studwell.odds.thread_models import ThreadBand
from studwell.runs import LedgerRows

Array = np.ndarray


@dataclass(frozen=True)
class Checks:
    """The first samples with all steps of the history, judged by the path of a single setup.

    difference : column -> largest difference from the fast rows, as share of the largest value, or of the limit
    flipped    : mode -> samples on the other side of the limit;  samples
    alone      : how many of them were solved alone throughout;  apart: by how much the others' way differs there, as share
                 of the value, nan if there are no others
    """

    samples: int
    difference: Mapping[str, float]
    flipped: Mapping[str, int]
    alone: int
    apart: float
    judged_alone: Mapping[str, Probability] = field(repr=False)


@dataclass(frozen=True)
class SetupOdds:
    """One setup. probabilities: mode -> Probability, reasons: mode -> why there is none or it has no part.

    damage : modes that count as damage;  any_damage: that at least one of them fails
    unknown: damage modes of parts that the setup has, which are not known and so not in any_damage
    ruling : group of inputs (keys), for `indices`, whose columns are `quantities`
    narrows: quantity -> (keys, share by which its standard deviation falls)
    band   : how far the probabilities go by another model of the threads
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
    band: ThreadBand | None
    errors: tuple[InterpolationError, ...]
    why_alone: str
    stopped: bool
    seconds: float
    solving_seconds: float
    unknown: tuple[str, ...] = ()

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
