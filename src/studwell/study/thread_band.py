"""A setup solved again with the other models of its threads: how far its outcomes differ, and what only teeth know."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from studwell.case.records import Setup
from studwell.errors import BadMesh, NotConverged, Unknown
from studwell.history.conduction import SolvedHeat
from studwell.joint.build import BuiltJoint
from studwell.joint.forces import LEAST_FORCE
from studwell.strength.outcomes import Outcome, Outcomes
from studwell.strength.strip import THREADS, pitch_loads
from studwell.study.results import SetupResult

Array = np.ndarray
Solve = Callable[..., SetupResult]

BANDED = (
    "preload",
    "clamp_assembled",
    "clamp_max",
    "clamp_min",
    "clamp_end",
    "stud_tension_max",
    "tip_force_assembled",
    "tip_force_max",
    "tip_gap_min",
    "thread_load_max",
    "floor_stress_max",
    "floor_split_max",
    "seat_hoop_max",
    "washer_flat_share_max",
    "pocket_pressure_max",
    "pocket_force_max",
    "boss_first_thread_share",
    "nut_first_thread_share",
)
THREAD_MODELS = ("layer", "grooves")
"""Models of the threads that every band compares; "bonded" stands in where teeth cannot be meshed or solved."""


@dataclass(frozen=True)
class OtherModels:
    """A setup's outcomes by the other models of its threads, in the order solved; small enough to pass between processes.

    outcomes : model -> outcomes
    note     : what stands in for a model that could not be solved, and why
    shares   : thread -> (pitches,) share of its load that each whole thread of the meshed teeth carries when assembled
    """

    outcomes: Mapping[str, Outcomes]
    note: str
    shares: Mapping[str, Array] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class ModelBand:
    """How far the models of the threads lie apart.

    values      : outcome -> (low, high) over all models;  models: in the order solved, the setup's own first
    note        : what stands in for a model that could not be solved, and why
    root_stress : the outcome that only meshed teeth know, None without them
    shares      : as in OtherModels
    """

    values: dict[str, tuple[float, float]]
    models: tuple[str, ...]
    note: str
    root_stress: Outcome | None
    shares: Mapping[str, Array] = field(default_factory=dict, repr=False)


def other_models(
    solve: Solve, setup: Setup, own: tuple[BuiltJoint, SolvedHeat | None] | None, options: dict[str, Any]
) -> OtherModels:
    """Solve a setup again with the other models of its threads.

    solve : solve_setup, and its options;  own : the setup's own joint and heat, None if they are not at hand
    """
    notes: list[str] = []
    found: dict[str, Outcomes] = {}
    shares: dict[str, Array] = {}
    for model in THREAD_MODELS:
        if model == setup.stud.thread_model:
            continue
        try:
            other = _with_threads(solve, setup, model, own, options)
        except (Unknown, NotConverged, BadMesh) as problem:
            notes.append(f"{model}: {problem.line}")
            if model != "grooves" or setup.stud.thread_model == "bonded":
                continue
            model = "bonded"
            other = _with_threads(solve, setup, model, own, options)
        found[model] = other.outcomes
        if model == "grooves":
            shares = _shares(other)
    return OtherModels(found, "; ".join(notes), shares)


def band_over(setup: Setup, outcomes: Outcomes, others: OtherModels) -> ModelBand:
    """Return how far a setup's outcomes and those of the other models lie apart."""
    values = {}
    for name in BANDED:
        known = [value for each in (outcomes, *others.outcomes.values()) if (value := each[name].value) is not None]
        if len(known) > 1:
            values[name] = (min(known), max(known))
    root_stress = others.outcomes["grooves"]["thread_stress_max"] if "grooves" in others.outcomes else None
    if root_stress is not None and root_stress.value is not None:
        values["thread_stress_max"] = (root_stress.value, root_stress.value)
    return ModelBand(values, (setup.stud.thread_model, *others.outcomes), others.note, root_stress, others.shares)


def with_band(result: SetupResult, others: OtherModels) -> SetupResult:
    """Return a solved setup with the band over the other models of its threads."""
    band = band_over(result.setup, result.outcomes, others)
    return replace(
        result,
        outcomes=_with_root_stress(result.outcomes, band),
        band=band.values,
        band_models=band.models,
        band_note=band.note,
        band_shares=band.shares,
    )


def _shares(item: SetupResult) -> dict[str, Array]:
    """Shares of every thread's pitches when assembled; threads that carry nothing are left out."""
    stud, found = item.setup.stud, {}
    for name in THREADS:
        pitches = pitch_loads(name, item.built, item.timeline, stud.nut_thread if name == "nut thread" else stud.thread)
        if pitches is None:
            continue
        loads = pitches.loads[item.timeline.assembled]
        if abs(float(loads.sum())) > LEAST_FORCE:
            found[name] = loads / loads.sum()
    return found


def _with_threads(
    solve: Solve, setup: Setup, model: str, own: tuple[BuiltJoint, SolvedHeat | None] | None, options: dict[str, Any]
) -> SetupResult:
    """The same setup with another thread model; smooth threads share their bodies, teeth need their own.

    Without [crack]: its outcomes alone are asked for, and a flaw costs as much as all the rest.
    """
    stud = replace(setup.stud, thread_model=model, nut_thread_model=model)
    smooth = "grooves" not in (model, setup.stud.thread_model, setup.stud.nut_thread_model)
    return solve(
        replace(setup, stud=stud, crack=None), band=False, like=own if smooth else None, fields=False, **options
    )


def _with_root_stress(outcomes: Outcomes, band: ModelBand) -> Outcomes:
    """Return outcomes whose unknown root stress says what the grooves model found."""
    own, other = outcomes["thread_stress_max"], band.root_stress
    if own.value is not None or other is None or other.value is None:
        return outcomes
    told = f"{own.reason}; the grooves model of this setup gives {other.value:.0f} MPa ({other.reason}; {other.when})"
    return {**outcomes, "thread_stress_max": replace(own, reason=told)}
