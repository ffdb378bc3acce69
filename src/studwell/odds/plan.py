"""The samples of a setup as a plan in blocks: what runs, resumes and goes to other processes."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

import numpy as np

from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case, Setup
from studwell.case.spread_keys import spread_keys
from studwell.errors import NotConverged, StudwellError
from studwell.odds.limits import COLUMNS, OUTCOMES
from studwell.odds.lives import Lives
from studwell.odds.model import SetupModel
from studwell.odds.scalar import solved_alone, varied
from studwell.odds.served import served_alone
from studwell.odds.springs import adapted
from studwell.parts.fastener import property_class
from studwell.strength.verdict import mode_names
from studwell.study.compare import built_joint

Array = np.ndarray

BLOCK = 1000
"""Samples a block: enough to keep the processor busy, few enough to keep memory flat."""

NUMBERS = "samples-4"
"""Changes when the same inputs would give other numbers, so that no ledger is taken up that does not fit."""


def alone_case(case: Case, setup: Setup) -> Case:
    """Return a case with one of its setups."""
    return replace(case, setups=(setup,))


class SetupPlan:
    """What all plans share: a case of one setup, a seed, and a model that each process makes for itself."""

    kind = ""
    remade: tuple[str, ...] = ("_model",)
    """Attributes that do not travel to another process: it makes them for itself."""

    def __init__(self, case: Case, count: int, seed: int, refinement: float, block: int, options: str = "") -> None:
        (self.setup,) = case.setups
        assert case.spread is not None
        self.case, self.spread = case, case.spread
        self.count, self.seed, self.refinement, self.block = count, seed, refinement, block
        told = f"{self.kind} {NUMBERS} {inputs_sha256(case)} {seed} {refinement!r} {block} {options}"
        self.hash = hashlib.sha256(told.encode()).hexdigest()
        self._model: SetupModel | None = None

    def __getstate__(self) -> dict[str, Any]:
        return {**self.__dict__, **dict.fromkeys(self.remade)}

    @property
    def model(self) -> SetupModel:
        """The condensed sections, made when they are first needed."""
        if self._model is None:
            self._model = SetupModel(self.setup, self.spread, spread_keys(self.case), self.refinement)
        return self._model

    def take(self, model: SetupModel) -> None:
        """Use a model that was made already for the same setup, spread and mesh."""
        self._model = model

    def inputs(self, block: int) -> Array:
        """Return the inputs (samples of the block, d)."""
        start = block * self.block
        return self.model.sampler.draw(self.seed, start, min(self.block, self.count - start))


class SamplePlan(SetupPlan):
    """All samples of one setup: inputs, outcomes and margins, and how each row was found."""

    kind = "samples"

    @property
    def columns(self) -> tuple[str, ...]:
        """Inputs by key, outcomes and margins by name, `found`."""
        return (*self.model.names, *COLUMNS, "found")

    def evaluate(self, block: int) -> Array:
        """Return the rows of a block."""
        inputs = self.inputs(block)
        rows, how = self.model.rows(inputs)
        return np.concatenate([inputs, rows, how[:, None]], axis=1)


CHECKED = (*OUTCOMES, *mode_names())
"""Columns of the checked samples: outcomes, and every mode that a single setup is judged by."""

APART = "side by side less alone"
"""Column of the checked samples: largest difference of the two ways of solving, in those that are solved in both."""


class CheckPlan(SetupPlan):
    """The first samples again with all steps of the history, judged by the path of a single setup in every mode.

    Sections and laws that samples share are solved side by side, and the first sample of each block alone as well; all
    samples alone where dimensions are spread (each has its own section) or the setup cannot be solved side by side.
    """

    kind = "checks"
    remade = ("_model", "_lives")

    def __init__(self, case: Case, count: int, seed: int, refinement: float, block: int, options: str = "") -> None:
        super().__init__(case, count, seed, refinement, block, options)
        self._lives: Lives | None = None

    @property
    def columns(self) -> tuple[str, ...]:
        """As CHECKED, and APART."""
        return (*CHECKED, APART)

    @property
    def lives(self) -> Lives | None:
        """The setup with every step of its history, made when it is first needed; None where samples are solved alone."""
        if self._lives is None and not self.model.resized and not self.model.base.why_alone:
            setup = self.setup
            strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter).yield_strength
            try:
                self._lives = Lives(self.model.base.built, strength, every_step=True)
            except NotConverged:
                return None
        return self._lives

    def evaluate(self, block: int) -> Array:
        """Return the rows (samples of the block, CHECKED and APART)."""
        model, lives = self.model, self.lives
        inputs = self.inputs(block)
        lived = None if lives is None else lives.live(model.loads(inputs), len(inputs), keep=True)
        rows = []
        for number, row in enumerate(inputs):
            setup = varied(self.setup, model.keys, dict(zip(model.names, row, strict=True)))
            built, apart = adapted(model.base.built, setup), float("nan")
            if model.resized:
                try:
                    built = built_joint(setup, refinement=self.refinement, cache=dict(model.cache), fields=False)
                except (StudwellError, ValueError):  # a draw whose parts do not go together
                    rows.append([float("nan")] * len(self.columns))
                    continue
            if lived is not None and lived.solved[number]:
                found = served_alone(built, setup, lived, number)
                if number == 0:
                    found, near = solved_alone(built, setup), found
                    apart = max(_difference(found[name], near[name]) for name in CHECKED)
            else:
                found = solved_alone(built, setup)
            rows.append([*(found.get(name, float("nan")) for name in CHECKED), apart])
        return np.array(rows)


def _difference(one: float, other: float) -> float:
    """Difference of two values as share of the larger, or of 1."""
    if (np.isnan(one) and np.isnan(other)) or one == other:
        return 0.0
    gap = abs(one - other) / max(1.0, abs(one), abs(other))
    return gap if np.isfinite(gap) else float("inf")
