"""The odds of a case as plain records: each setup's probabilities, what rules them, and how far they are checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Case, Setup
from studwell.odds.levers import Wanted
from studwell.odds.model import InterpolationError
from studwell.odds.probability import Probability
from studwell.odds.sections import TOLERANCE
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

    damage : modes that count as damage;  any_damage: that at least one of them fails, as if every stud stayed put
    staying: the same of studs that do not follow the nut; None where none follows it, or all do
    unknown: damage modes of parts that the setup has, which are not known and so not in any_damage
    ruling : group of inputs (keys), for `indices`, whose columns are `quantities`
    narrows: quantity -> (keys, share by which its standard deviation falls)
    band   : how far the probabilities go by another model of the threads
    sections: other sections than its own, at the ends of spread dimensions, between them and at corners of two
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
    sections: tuple[int, int, int] = (0, 0, 0)
    staying: Probability | None = None

    @property
    def sections_words(self) -> str:
        """Which sections besides its own its samples are interpolated between, in words."""
        ends, between, corners = self.sections
        return (
            f"sections of other sizes: {ends} at the ends of spread dimensions, {between} between them and {corners} at "
            f"corners of two, taken where interpolation was off by more than {TOLERANCE:.2g}"
        )

    @property
    def governing(self) -> str | None:
        """The damage mode that governs most samples."""
        return (
            max(self.tally.governs, key=lambda m: self.tally.governs[m]) if any(self.tally.governs.values()) else None
        )


@dataclass(frozen=True)
class Pair:
    """Two setups, by their places in the odds, in the samples in which both are known to fail or not.

    judged, both : such samples, and those in which both fail;  first_alone, second_alone: in which only one does
    chance : probability of so uneven a split, or a worse one, if both failed equally often
    apart  : they can be told apart, by these samples or by intervals that do not meet
    needed : samples that would tell them apart if they differ as much as it seems; None: it cannot be said, or damage is not
             known in more samples than that
    """

    first: int
    second: int
    judged: int
    both: int
    first_alone: int
    second_alone: int
    chance: float
    apart: bool
    needed: int | None


@dataclass(frozen=True)
class Odds:
    """The odds of a case; setups in the order of the file, and those that could not be sampled with the reason.

    pairs : every two setups, by their places in `setups`: whether they can be told apart
    """

    case: Case
    setups: tuple[SetupOdds, ...]
    failed: tuple[tuple[str, str], ...]
    samples: int
    seed: int
    refinement: float
    seconds: float
    stopped: bool
    pairs: tuple[Pair, ...] = ()

    def pair(self, one: int, other: int) -> Pair | None:
        """Return what two setups, by their places, say together; None: they were not compared."""
        ends = {one, other}
        return next((each for each in self.pairs if {each.first, each.second} == ends), None)
