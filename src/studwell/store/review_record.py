"""summary.json and sweep.csv of a review of the back-off rule: tidy records, no time, date or path."""

from __future__ import annotations

import csv
import io
from typing import Any

from studwell.case.fingerprint import inputs_sha256
from studwell.review.beside import SEAT_MODES
from studwell.review.codes import Flips
from studwell.review.mechanisms import MECHANISMS, QUANTITIES, Apart
from studwell.review.need import Need
from studwell.review.run import Review
from studwell.review.shapley import Shares
from studwell.review.sweep import Row
from studwell.review.trials import BOSS_MODES, Trial
from studwell.store.cycle_records import rounded
from studwell.store.summary import libraries

SCHEMA = 1

COLUMNS = (
    ("family", "family"), ("history", "history"), ("boss", "boss"), ("thread_model", "thread_model"), ("seat", "seat"),
    ("floor_mm", "floor"), ("pocket", "pocket"), ("seating_torque_Nmm", "torque"), ("backoff_turns", "turns"),
    ("lift_mm", "lift"), ("wedge_N", "wedge"), ("tip_force_run_max_N", "tip_run"), ("tip_gap_min_mm", "gap_min"),
    ("floor_stress_max_MPa", "floor_stress"), ("thread_load_max_N", "thread_load"), ("clamp_max_N", "clamp_max"),
    ("clamp_min_N", "clamp_min"), ("engaged_mm", "engaged"), ("hold", "hold"), ("pocket_pressure_max_MPa", "pressure"),
)  # fmt: skip
"""Column of sweep.csv -> field of a row."""

MARGINS = {mode: f"margin_{mode.replace(' ', '_')}" for mode in (*BOSS_MODES, *SEAT_MODES)}
"""Mode -> column of sweep.csv."""


def review_record(review: Review) -> dict[str, Any]:
    """Return the record that summary.json holds; what is not known is null with its reason under `unknown`."""
    unknown: dict[str, str] = {}
    record: dict[str, Any] = {
        "schema": SCHEMA,
        "case": review.case.title,
        "inputs_sha256": inputs_sha256(review.case),
        "versions": libraries(),
        "seed": None,
        "mesh_refinement": review.refinement,
        "setup": review.setup.name,
        "seat": review.driven.built.seat.name,
        "inputs": {
            key: {"value": rounded(one.value), "unit": one.unit, "source": one.source, "status": one.status}
            for key, one in review.inputs.items()
        },
        "verdict": {
            "code": review.verdict.code,
            "confidence": review.verdict.confidence,
            "why": review.verdict.why,
            "text": review.verdict.text,
            "sentences": [
                {
                    "subject": each.subject,
                    "code": each.code,
                    "text": each.text,
                    "rule": each.rule,
                    "numbers": {name: rounded(value) for name, value in each.numbers.items()},
                }
                for each in review.verdict.sentences
            ],
        },
        "drive": {
            "torque_Nmm": rounded(review.drive.torque),
            "wedge_N": rounded(review.drive.wedge),
            "approach_mm": rounded(review.drive.approach),
            "wind_up_turns": rounded(review.drive.wind_up),
            "to_first_contact_turns": rounded(review.drive.turns),
        },
        "driven": _trial(review.driven, "driven", unknown),
        "turned_back": _trial(review.back, "turned_back", unknown),
        "with_own_pocket": None
        if review.own_pair is None
        else {
            name: _trial(each, f"with_own_pocket.{name}", unknown)
            for name, each in zip(("driven", "turned_back"), review.own_pair, strict=True)
        },
        "need": None if review.need is None else _need(review.need, unknown),
        "mechanisms": [_apart(one, k == review.stated, unknown) for k, one in enumerate(review.apart)],
        "mechanisms_with_teeth": None if review.teeth is None else _apart(review.teeth, True, unknown),
        "views": [
            {
                "name": view.name,
                "own": view.own,
                "margin_driven": rounded(view.driven),
                "margin_turned_back": rounded(view.turned_back),
                "governing": view.mode or None,
                "code": view.code,
                "wedge_N": rounded(view.wedge),
                "note": view.note,
            }
            for view in (*review.views, *(each for each in (review.own_pocket, review.other) if each is not None))
        ],
        "thresholds": [_flips(each) for each in review.flips],
        "measurements": [
            {
                "name": each.name,
                "how": each.how,
                "quantity": each.quantity,
                "kind": each.kind,
                "predicted": rounded(each.predicted),
                "refuting": rounded(each.refuting),
                "refuted_by": each.refuted_by,
                "refuting_low": rounded(each.refuting_low),
                "note": each.note,
            }
            for each in review.measurements
        ],
        "sweep": [sweep_row(row) for row in review.rows],
        "notes": list(review.notes),
        "stopped": review.stopped,
    }
    if review.need is None:
        unknown["need"] = "; ".join(review.notes) or "not solved"
    record["unknown"] = unknown
    return record


def _trial(trial: Trial, name: str, unknown: dict[str, str]) -> dict[str, Any]:
    unknown |= {f"{name}.margins.{mode}": reason for mode, reason in trial.reasons.items()}
    unknown |= {f"{name}.beside.{mode}": reason for mode, reason in trial.beside_reasons.items()}
    if trial.corner is None:
        unknown[f"{name}.floor_stress_max_MPa"] = "the boss mesh has no bands over which to average"
    return {
        "backoff_turns": rounded(trial.turns),
        "lift_mm": rounded(trial.lift),
        "wedge_N": rounded(trial.wedge),
        "tip_force_max_N": rounded(trial.tip_max),
        "tip_gap_min_mm": rounded(trial.gap_min),
        "floor_stress_max_MPa": rounded(trial.corner),
        "thread_load_max_N": rounded(trial.thread),
        "engaged_mm": rounded(trial.engaged),
        "strip_capacity_N": rounded(trial.strip_capacity),
        "strip_by_tension_alone": rounded(trial.tension_alone),
        "hold": rounded(trial.hold),
        "margins": {mode: rounded(trial.margins[mode]) for mode in BOSS_MODES},
        "beside": {mode: rounded(trial.beside[mode]) for mode in SEAT_MODES},
        "governing": trial.governing,
    }


def _need(need: Need, unknown: dict[str, str]) -> dict[str, Any]:
    items = []
    for item in need.items:
        turns = None if item.mm is None else need.turns(item.mm)
        if item.mm is None:
            unknown[f"need.budget.{item.name}"] = item.note
        items.append(
            {
                "name": item.name,
                "mm": rounded(item.mm),
                "turns": rounded(turns),
                "degrees": rounded(None if turns is None else 360.0 * turns),
                "note": item.note,
                "source": item.source,
                "status": item.status,
            }
        )
    result: dict[str, Any] = {"budget": items}
    for name, lift in (("heat", need.heat), ("likely", need.likely), ("worst", need.worst)):
        for driven in (False, True):
            turns = need.turns(lift, driven)
            counted = "driven_seat" if driven else "first_contact"
            result[f"{name}_from_{counted}"] = {
                "mm": rounded(turns * need.pitch),
                "turns": rounded(turns),
                "degrees": rounded(360.0 * turns),
            }
    result |= {
        "rule_turns": [rounded(each) for each in need.rule],
        "rule_gap_mm": rounded(need.lift(need.rule[1], driven=True)),
        "closing_at_rule_mm": rounded(need.closing),
        "word": need.word,
        "hold": rounded(need.hold),
        "hold_worst": rounded(need.hold_worst),
    }
    return result


def _apart(one: Apart, stated: bool, unknown: dict[str, str]) -> dict[str, Any]:
    shares: dict[str, Any] = {}
    relieved: dict[str, Any] = {}
    for quantity, unit in QUANTITIES.items():
        if quantity not in one.shares:
            shares[quantity] = None
            unknown[f"mechanisms.{one.when}.{quantity}"] = one.reasons.get(quantity, "not solved")
            continue
        shares[quantity] = _shares(one.shares[quantity], unit) | {"in_history": rounded(one.lived.get(quantity))}
        if quantity in one.relieved:
            relieved[quantity] = _shares(one.relieved[quantity], unit)
    return {
        "when": one.when,
        "time_s": rounded(one.time),
        "stated": stated,
        "boss_degC": rounded(one.boss),
        "stud_above_boss_K": rounded(one.above),
        "stack_above_boss_K": rounded(one.stack),
        "present": one.amplitudes,
        "flaw_mm": rounded(one.flaw),
        "thread_model": one.model,
        "solves": one.solves,
        "quantities": shares,
        "relieved_by_turning_back": relieved,
    }


def _shares(found: Shares, unit: str) -> dict[str, Any]:
    return {
        "unit": unit,
        "without": rounded(found.nothing),
        "with_all": rounded(found.everything),
        "alone": {name: rounded(found.alone[name]) for name in MECHANISMS},
        "last": {name: rounded(found.last[name]) for name in MECHANISMS},
        "share": {name: rounded(found.share[name]) for name in MECHANISMS},
        "interactions": [[a, b, rounded(value)] for (a, b), value in found.pairs.items() if value != 0.0],
    }


def _flips(each: Flips) -> dict[str, Any]:
    return {
        "quantity": each.quantity,
        "unit": each.unit,
        "now": rounded(each.now),
        "within": rounded(each.within),
        "flips": [{"value": rounded(value), "below": below, "above": above} for value, below, above in each.flips],
        "tried": [
            {
                "value": rounded(one.value),
                "margin_driven": rounded(one.driven),
                "margin_turned_back": rounded(one.turned_back),
                "code": one.code,
                "reason": one.reason,
            }
            for one in each.tried
        ],
        "note": each.note,
    }


def sweep_row(row: Row) -> dict[str, Any]:
    """Return one history of the sweep by column; what is not known is None, with the reason in the last one."""
    values = {column: getattr(row, name) for column, name in COLUMNS}
    record: dict[str, Any] = {key: rounded(v) if isinstance(v, float) else v for key, v in values.items()}
    margins = dict((*row.margins, *row.beside))
    record |= {column: rounded(margins.get(mode)) for mode, column in MARGINS.items()}
    return record | {"margin_worst": rounded(row.worst), "governing": row.governing, "reason": row.reason}


def sweep_csv(review: Review) -> str:
    """Return the sweep as CSV, one history a row; what is not known is empty, with the reason in the last column."""
    out = io.StringIO()
    names = [*(column for column, _ in COLUMNS), *MARGINS.values()]
    writer = csv.DictWriter(out, [*names, "margin_worst", "governing", "reason"], lineterminator="\n")
    writer.writeheader()
    writer.writerows(sweep_row(row) for row in review.rows)
    return out.getvalue()
