"""summary.json, history.csv and run.json of a comparison."""

from __future__ import annotations

import csv
import io
import math
import re
from importlib.metadata import version
from typing import Any

import numpy as np

from studwell.case.fingerprint import inputs_sha256
from studwell.strength.margins import Margin
from studwell.strength.outcomes import tip_gaps
from studwell.strength.timeline import first_principal, stresses
from studwell.study.results import Comparison, FailedSetup, SetupResult

SCHEMA = 1
DIGITS = 9
"""Significant digits of numbers in summary.json: fewer than rounding noise reaches, so that bytes repeat."""

FIELDS = {
    "preload_N": "preload",
    "clamp_assembled_N": "clamp_assembled",
    "clamp_max_N": "clamp_max",
    "clamp_min_N": "clamp_min",
    "clamp_end_N": "clamp_end",
    "stud_tension_max_N": "stud_tension_max",
    "tip_force_assembled_N": "tip_force_assembled",
    "tip_force_max_N": "tip_force_max",
    "tip_gap_min_mm": "tip_gap_min",
    "thread_load_max_N": "thread_load_max",
    "floor_stress_max_MPa": "floor_stress_max",
    "thread_stress_max_MPa": "thread_stress_max",
    "washer_flat_share_max": "washer_flat_share_max",
    "washer_travel_max_mm": "washer_travel_max",
    "stud_stretch_max_mm": "stud_stretch_max",
}
"""Key of summary.json -> outcome."""


def rounded(value: float | None) -> float | None:
    """Return a number at DIGITS significant digits; forces and lengths below rounding noise as 0; None stays."""
    if value is None:
        return None
    if abs(value) < 1e-7:
        return 0.0
    return float(f"{value:.{DIGITS}g}")


def libraries() -> dict[str, str]:
    """Return the versions that numbers depend on."""
    return {name: version(name) for name in ("studwell", "numpy", "scipy", "scikit-fem")}


def summary(comparison: Comparison, seed: int | None = None) -> dict[str, Any]:
    """Return summary.json's record: no time, date or path; same inputs, same bytes."""
    return {
        "schema": SCHEMA,
        "case": comparison.case.title,
        "inputs_sha256": inputs_sha256(comparison.case),
        "versions": libraries(),
        "seed": seed,
        "mesh_refinement": comparison.refinement,
        "setups": [
            *[setup_record(result, rank) for rank, result in enumerate(comparison.results, start=1)],
            *[failed_record(failed) for failed in comparison.failed],
        ],
    }


def setup_record(result: SetupResult, rank: int | None = None) -> dict[str, Any]:
    """Return one solved setup's record."""
    unknown: dict[str, str] = {}
    record: dict[str, Any] = _head(result.setup)
    record["rank"] = rank
    times: dict[str, dict[str, Any]] = {}
    for key, name in FIELDS.items():
        outcome = result.outcomes[name]
        record[key] = rounded(outcome.value)
        if outcome.value is None:
            unknown[key] = outcome.reason
        elif outcome.index is not None:
            times[key] = {"time_s": rounded(outcome.time), "when": outcome.when}
    record["equilibrium_residual"] = float(f"{result.equilibrium_residual:.1g}")
    record["law_residual"] = float(f"{result.law_residual:.1g}")
    record["times"] = times
    record["seat"] = result.history.seat.name
    record["seating_approach_mm"] = rounded(result.history.seating.drive_approach)
    record["wedge_force_driven_N"] = rounded(result.history.seating.drive_wedge)
    margins: dict[str, Any] = {}
    for mode, margin in result.verdict.margins.items():
        margins[mode] = margin_value(margin)
        if margin.value is None:
            unknown[mode] = margin.reason
    record["margins"] = margins
    record["model_band"] = {
        key: [rounded(result.band[name][0]), rounded(result.band[name][1])]
        for key, name in FIELDS.items()
        if name in result.band
    }
    record["band_models"] = list(result.band_models)
    record["unknown"] = unknown
    record["governing"] = result.verdict.governing
    record["safe"] = result.verdict.safe
    return record


def failed_record(failed: FailedSetup) -> dict[str, Any]:
    """Return the record of a setup that could not be solved: null everywhere, with the reason."""
    record = _head(failed.setup)
    record["rank"] = None
    record.update(dict.fromkeys(FIELDS))
    record["equilibrium_residual"] = None
    record["times"] = {}
    record["seat"] = None
    record["margins"] = {}
    record["model_band"] = {}
    record["unknown"] = {"setup": failed.reason, **dict.fromkeys(FIELDS, "the setup could not be solved")}
    record["governing"] = None
    record["safe"] = None
    record["failed"] = failed.reason
    return record


def margin_value(margin: Margin) -> float | str | None:
    """Return a margin for JSON: a number, "unbounded", or None."""
    if margin.value is None:
        return None
    return "unbounded" if math.isinf(margin.value) else rounded(margin.value)


def _head(setup) -> dict[str, Any]:
    return {
        "name": setup.name,
        "seating": setup.seating.mode,
        "backoff_turns": rounded(setup.seating.turns),
        "nut": setup.nut.kind,
        "washer": "spring" if setup.springs else "plain",
    }


def history_csv(result: SetupResult) -> str:
    """Return history.csv: every state from the seated stud to the end, one row each."""
    timeline, joint = result.timeline, result.built.joint
    forces = timeline.forces
    floor = first_principal(stresses(joint, timeline, "boss", "floor corner")).max(axis=1)
    gaps = tip_gaps(result.built, result.timeline)
    nodes = result.history.node_names
    temperatures = np.full((len(timeline.states), len(nodes)), result.setup.history.assembly_temperature)
    temperatures[timeline.run] = result.history.temperatures
    after = timeline.run[-1] + 1
    if after < len(timeline.states):
        temperatures[after:] = result.history.temperatures
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(
        [
            "time_s",
            "phase",
            *[f"{node}_degC" for node in nodes],
            "clamp_N",
            "stud_tension_N",
            "tip_force_N",
            "thread_load_N",
            "nut_thread_load_N",
            "dome_force_N",
            "outside_load_N",
            "tip_gap_mm",
            "floor_stress_MPa",
            "stud_stretch_mm",
            "equilibrium_residual",
        ]
    )
    labels = dict(timeline.labels)
    for i, state in enumerate(timeline.states):
        row = [
            timeline.times[i],
            labels.get(i, timeline.phases[i]),
            *temperatures[i],
            forces.clamp[i],
            forces.tension[i],
            forces.tip[i],
            forces.thread[i],
            forces.nut_thread[i],
            forces.dome[i],
            forces.outside[i],
            gaps[i],
            floor[i],
            state.stretch,
        ]
        writer.writerow(
            [item if isinstance(item, str) else f"{_quiet(float(item)):.7g}" for item in row]
            + [f"{forces.balance[i]:.1e}"]
        )
    return text.getvalue()


def _quiet(value: float) -> float:
    return 0.0 if abs(value) < 1e-7 else value


def slug(name: str) -> str:
    """Return a setup's or case's name as a file name: letters, digits and dashes."""
    return re.sub(r"-+", "-", re.sub(r"[^a-z0-9]+", "-", name.lower())).strip("-") or "setup"
