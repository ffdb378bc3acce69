"""The samples of a setup as a plan in blocks: what runs, resumes and goes to other processes."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

import numpy as np

from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case, Setup
from studwell.case.spread_keys import spread_keys
from studwell.odds.limits import COLUMNS, OUTCOMES
from studwell.odds.model import SetupModel
from studwell.odds.scalar import solved_alone, varied
from studwell.strength.verdict import mode_names
from studwell.study.compare import built_joint

Array = np.ndarray

BLOCK = 1000
"""Samples a block: enough to keep the processor busy, few enough to keep memory flat."""

NUMBERS = "samples-1"
"""Changes when the same inputs would give other numbers, so that no ledger is taken up that does not fit."""


def alone_case(case: Case, setup: Setup) -> Case:
    """Return a case with one of its setups."""
    return replace(case, setups=(setup,))


class _SetupPlan:
    """What both plans share: a case of one setup, a seed, and a model that each process makes for itself."""

    kind = ""

    def __init__(self, case: Case, count: int, seed: int, refinement: float, block: int) -> None:
        (self.setup,) = case.setups
        assert case.spread is not None
        self.case, self.spread = case, case.spread
        self.count, self.seed, self.refinement, self.block = count, seed, refinement, block
        told = f"{self.kind} {NUMBERS} {inputs_sha256(case)} {seed} {refinement!r} {block}"
        self.hash = hashlib.sha256(told.encode()).hexdigest()
        self._model: SetupModel | None = None

    def __getstate__(self) -> dict[str, Any]:
        return {**self.__dict__, "_model": None}

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


class SamplePlan(_SetupPlan):
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


class CheckPlan(_SetupPlan):
    """The first samples again, each by the path of a single setup with all steps of its history and its own section."""

    kind = "checks"

    @property
    def columns(self) -> tuple[str, ...]:
        """As CHECKED."""
        return CHECKED

    def evaluate(self, block: int) -> Array:
        """Return the rows (samples of the block, CHECKED)."""
        model = self.model
        rows = []
        for inputs in self.inputs(block):
            setup = varied(self.setup, model.keys, dict(zip(model.names, inputs, strict=True)))
            built = model.base.built
            if model.sized:
                built = built_joint(setup, refinement=self.refinement, cache=dict(model.cache), fields=False)
            found = solved_alone(built, setup)
            rows.append([found.get(name, float("nan")) for name in CHECKED])
        return np.array(rows)
