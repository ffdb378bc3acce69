"""summary.json, history.csv and run.json of a comparison."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from importlib.metadata import version
from typing import Any

import numpy as np

from studwell.case.fingerprint import inputs_sha256
from studwell.history.pocket import pressures
from studwell.store.crack_record import CRACK_FIELD, crack_record
from studwell.store.cycle_records import cycle_record, rounded, zone_records
from studwell.store.pocket_record import POCKET_FIELD, pocket_record
from studwell.store.workshop import WORKSHOP_FIELDS, workshop_record
from studwell.strength.margins import Margin
from studwell.strength.outcomes import floor_stress, plastic_strains, tip_gaps
from studwell.strength.pocket import no_liquid
from studwell.strength.teeth import MODEL_REASONS
from studwell.study.heat_numbers import (
    GIVEN_HEAT,
    clamp_by_cycle,
    largest_difference,
    retightening,
    spring_set_loss,
    worst_phases,
)
from studwell.study.results import Comparison, FailedSetup, SetupResult

SCHEMA = 1

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
    "insert_load_max_N": "insert_load_max",
    "insert_pitch_share_max": "insert_pitch_share_max",
    "floor_stress_max_MPa": "floor_stress_max",
    "floor_punch_max_MPa": "floor_punch_max",
    "floor_split_max_MPa": "floor_split_max",
    "seat_force_assembled_N": "seat_force_assembled",
    "seat_force_max_N": "seat_force_max",
    "seat_hoop_max_MPa": "seat_hoop_max",
    "thread_stress_max_MPa": "thread_stress_max",
    "boss_first_thread_share": "boss_first_thread_share",
    "nut_first_thread_share": "nut_first_thread_share",
    "washer_flat_share_max": "washer_flat_share_max",
    "washer_travel_max_mm": "washer_travel_max",
    "stud_stretch_max_mm": "stud_stretch_max",
    "floor_plastic_strain_max": "floor_plastic_strain_max",
    "layer_plastic_strain_max": "layer_plastic_strain_max",
    "wedge_force_lost_N": "wedge_force_lost",
    "pocket_pressure_max_MPa": "pocket_pressure_max",
    "pocket_force_max_N": "pocket_force_max",
    "pocket_pressure_driven_MPa": "pocket_pressure_driven",
    "pocket_ice_share_max": "pocket_ice_share_max",
}
"""Key of summary.json -> outcome."""

HEAT_FIELDS = (
    "heat_cycles",
    "heat_change_K",
    "heat_imbalance",
    "heat_reduction_error_K",
    "heat_step_error_K",
    "stud_boss_difference_max_K",
    "clamp_retightened_N",
    "clamp_by_cycle_N",
    "worst_phase",
    "many_cycles",
    "zones",
    "spring_set_clamp_lost_N",
)
"""Keys of summary.json on cycles: solved heat, re-tightening, clamp at the end of each cycle, phases of the worst,
what many cycles leave, of bodies that yield too, and what springs that set cost."""

OF_SOLVED_HEAT = tuple(key for key in HEAT_FIELDS if key.startswith(("heat", "stud", "worst")))
"""Those of HEAT_FIELDS that are null where temperatures are given."""


BODIES_FIELD = "inelastic_bodies"
"""Key of summary.json on the bodies that may yield: for each its largest plastic and creep strain, where and when."""


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
    record[POCKET_FIELD] = pocket_record(result)
    if record[POCKET_FIELD] is None:
        unknown[POCKET_FIELD] = no_liquid(result.setup.pocket)
    record[BODIES_FIELD] = inelastic_bodies(result)
    if record[BODIES_FIELD] is None:
        unknown[BODIES_FIELD] = "every body is elastic in this setup: it has no [inelastic] table"
    heat, reasons = heat_record(result)
    record.update(heat)
    unknown.update(reasons)
    if result.heat is not None:
        apart = largest_difference(result)
        when = apart.moment.text(result.heat.cycles)
        times["stud_boss_difference_max_K"] = {"time_s": rounded(apart.time), "when": when}
    workshop, reasons = workshop_record(result)
    record.update(workshop)
    unknown.update(reasons)
    record["equilibrium_residual"] = float(f"{result.equilibrium_residual:.1g}")
    record["law_residual"] = float(f"{result.law_residual:.1g}")
    record["times"] = times
    record["seat"] = "liquid under the tip" if result.history.seating.on_liquid else result.history.seat.name
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
    record[CRACK_FIELD] = crack_record(result)
    record["thread_model"] = {
        "boss": result.setup.stud.thread_model,
        "nut": result.setup.stud.nut_thread_model,
        "why": MODEL_REASONS[result.setup.stud.thread_model],
        "stands_in": result.band_note or None,
    }
    if result.verdict.doubt:
        unknown["safe"] = result.verdict.doubt
    record["unknown"] = unknown
    record["governing"] = result.verdict.governing
    record["safe"] = result.verdict.safe
    return record


def inelastic_bodies(result: SetupResult) -> dict[str, Any] | None:
    """Return for every body that may yield what it has been through, None if all is elastic."""
    found = plastic_strains(result.timeline)
    last = result.history.run[-1].flow
    if last is None:
        return None
    record = {}
    for name, outcome in found.items():
        assert outcome.index is not None
        flow = result.timeline.states[outcome.index].flow
        where = None if flow is None or not outcome.value else [rounded(float(x)) for x in flow.where[name]]
        record[name] = {
            "plastic_strain_max": rounded(outcome.value),
            "where_mm": where,
            "time_s": rounded(outcome.time),
            "when": outcome.when,
            "creep_strain_end": rounded(float(last.zones[name].creep_strain.max())),
        }
    return record


def heat_record(result: SetupResult) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the fields of HEAT_FIELDS and the reasons of those that are null."""
    heat, again = result.heat, retightening(result)
    record: dict[str, Any] = dict.fromkeys(HEAT_FIELDS)
    reasons = {
        "heat_change_K": "there was one cycle only",
        "clamp_retightened_N": "this setup is not re-tightened",
        "zones": "every body is elastic in this setup: it has no [inelastic] table",
        "spring_set_clamp_lost_N": _no_set(result),
    }
    record["clamp_by_cycle_N"] = [rounded(clamp) for clamp in clamp_by_cycle(result)]
    if result.cycles is None:
        reasons["many_cycles"] = "the case runs through one cycle only"
        if result.setup.inelastic is not None:
            reasons["zones"] = reasons["many_cycles"]
    else:
        if result.cycles.as_given.zones:
            record["zones"] = zone_records(result.cycles.as_given)
        record["many_cycles"] = {
            "as_given": cycle_record(result.cycles.as_given),
            "never_retightened": cycle_record(result.cycles.untouched),
            "retightened_after_first_heat": cycle_record(result.cycles.retightened),
        }
    if again is not None:
        record["clamp_retightened_N"] = rounded(again.after)
    loss = spring_set_loss(result)
    if loss is not None:
        record["spring_set_clamp_lost_N"] = rounded(loss.lost)
    if heat is None:
        reasons.update(dict.fromkeys(OF_SOLVED_HEAT, GIVEN_HEAT))
    else:
        record["heat_cycles"] = heat.cycles
        record["heat_change_K"] = rounded(heat.change)
        record["heat_imbalance"] = float(f"{heat.imbalance:.1g}")
        record["heat_reduction_error_K"] = float(f"{heat.reduction:.1g}")
        record["heat_step_error_K"] = float(f"{heat.step_error:.1g}")
        record["stud_boss_difference_max_K"] = rounded(largest_difference(result).value)
        record["worst_phase"] = {
            name: None if moment is None else {"phase": moment.phase, "cycle": moment.cycle}
            for name, moment in worst_phases(result).items()
        }
        if record["worst_phase"]["tip_force_max"] is None:
            reasons["worst_phase.tip_force_max"] = "the tip carries nothing"
        if record["worst_phase"]["governing"] is None:
            reasons["worst_phase.governing"] = "no damage margin is known, or its moment is not one of the history"
    return record, {key: why for key, why in reasons.items() if "." in key or record[key] is None}


def _no_set(result: SetupResult) -> str:
    """Why nothing is known of springs that set."""
    settling = result.setup.settling
    if not result.setup.springs:
        return "no spring washer in this setup"
    if settling is None:
        return "nothing settles in this setup: it has no [settling] table"
    if settling.spring_set is None:
        return "[settling] spring_set is not given"
    if settling.spring_set == 0.0:
        return "[settling] spring_set is 0"
    return "the run with springs that do not set was not solved"


def failed_record(failed: FailedSetup) -> dict[str, Any]:
    """Return the record of a setup that could not be solved: null everywhere, with the reason."""
    record = _head(failed.setup)
    record["rank"] = None
    record.update(dict.fromkeys((*FIELDS, POCKET_FIELD, BODIES_FIELD, *HEAT_FIELDS, *WORKSHOP_FIELDS)))
    record["equilibrium_residual"] = None
    record["times"] = {}
    record["seat"] = None
    record[CRACK_FIELD] = None
    record["margins"] = {}
    record["model_band"] = {}
    record["unknown"] = {
        "setup": failed.reason,
        **dict.fromkeys(
            (*FIELDS, POCKET_FIELD, BODIES_FIELD, *HEAT_FIELDS, *WORKSHOP_FIELDS), "the setup could not be solved"
        ),
    }
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
    timeline = result.timeline
    forces = timeline.forces
    floor = floor_stress(result.built, timeline)
    gaps = tip_gaps(result.built, result.timeline)
    pocket = pressures(result.built.joint, timeline.states)
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
            "seat_force_N",
            "outside_load_N",
            "tip_gap_mm",
            "floor_stress_MPa",
            "pocket_pressure_MPa",
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
            forces.seat[i],
            forces.outside[i],
            gaps[i],
            "" if floor is None else floor[i],
            pocket[i],
            state.stretch,
        ]
        writer.writerow(
            [item if isinstance(item, str) else f"{_quiet(float(item)):.7g}" for item in row]
            + [f"{forces.balance[i]:.1e}"]
        )
    return text.getvalue()


def _quiet(value: float) -> float:
    return 0.0 if abs(value) < 1e-7 else value


def folder_names(names: Sequence[str]) -> dict[str, str]:
    """Return a folder for each setup: its slug, numbered where two setups' slugs are alike."""
    taken: dict[str, str] = {}
    for name in names:
        folder, number = slug(name), 1
        while folder in taken.values():
            number += 1
            folder = f"{slug(name)}-{number}"
        taken[name] = folder
    return taken


def slug(name: str) -> str:
    """Return a setup's or case's name as a file name: letters, digits and dashes."""
    return re.sub(r"-+", "-", re.sub(r"[^a-z0-9]+", "-", name.lower())).strip("-") or "setup"
