"""Results as tidy rows: one dict a setup, mode or solved row, the unit in each name; written as CSV or Parquet."""

from __future__ import annotations

import csv
import importlib.util
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from studwell.case.records import Case
from studwell.case.spread_keys import spread_keys
from studwell.choose.objectives import OBJECTIVES, objectives
from studwell.choose.reasons import standing
from studwell.choose.search import ABSENT, OUTCOMES
from studwell.choose.study import Choice
from studwell.errors import CannotWrite
from studwell.odds.study import Odds, SetupOdds
from studwell.review.run import Review
from studwell.store.review_record import sweep_row
from studwell.store.summary import FIELDS, history_csv
from studwell.store.writing import write_bytes, write_text
from studwell.strength.margins import Margin
from studwell.strength.verdict import mode_names
from studwell.study.results import Comparison, SetupResult

Value = float | int | str | bool | None
Record = dict[str, Value]


DRAWN_UNIT = {
    "length": "_mm", "force": "_N", "torque": "_Nmm", "pressure": "_MPa", "temperature": "_degC", "turn": "_turn",
    "temperature_difference": "_K", "toughness": "_MPa_m05", "time": "_s", "angle": "_deg", "expansion": "_per_K",
}  # fmt: skip
"""Kind of what is drawn -> ending of its column."""


def column(mode: str, before: str = "margin") -> str:
    """Return a mode's name as that of a column: margin_boss_thread_strip."""
    return f"{before}_{re.sub(r'[^a-z0-9]+', '_', mode.lower()).strip('_')}"


def comparison_records(comparison: Comparison) -> list[Record]:
    """Return one row a setup, best first, then those not solved; all rows have the same columns.

    Outcomes in N, mm, MPa; KEY_low and KEY_high are the band over the thread models. A margin is load over capacity:
    inf without bound, None where it is unknown (then named in unknown_margins) or the setup has no such part.
    """
    banded = [key for key, name in FIELDS.items() if any(name in result.band for result in comparison.results)]
    modes = mode_names()
    rows = []
    for rank, result in enumerate(comparison.results, start=1):
        verdict = result.verdict
        governing = None if verdict.governing is None else verdict.margins[verdict.governing]
        row = _head(result.setup) | {
            "rank": rank,
            "safe": verdict.safe,
            "governing": verdict.governing,
            "governing_margin": None if governing is None else governing.value,
        }
        row |= {key: result.outcomes[name].value for key, name in FIELDS.items()}
        for key in banded:
            low, high = result.band.get(FIELDS[key], (None, None))
            row |= {f"{key}_low": low, f"{key}_high": high}
        row |= {column(mode): verdict.margins[mode].value if mode in verdict.margins else None for mode in modes}
        row["unknown_margins"] = _unknown(verdict.margins)
        row["not_solved_because"] = None
        rows.append(row)
    names = list(rows[0]) if rows else [*_HEAD, "not_solved_because"]
    for failed in comparison.failed:
        rows.append(dict.fromkeys(names) | _head(failed.setup) | {"not_solved_because": failed.reason})
    return rows


_HEAD = ("setup", "seating", "backoff_turns", "nut", "washer")


def _head(setup: Any) -> Record:
    washer = "spring" if setup.springs else "plain"
    values = (setup.name, setup.seating.mode, setup.seating.turns, setup.nut.kind, washer)
    return dict(zip(_HEAD, values, strict=True))


def _unknown(margins: Mapping[str, Margin]) -> str:
    return "; ".join(mode for mode, margin in margins.items() if margin.unknown)


def history_records(result: SetupResult) -> list[Record]:
    """Return one row a state of a setup's history: time_s, phase, temperatures, forces, gap, stresses; as history.csv."""
    return [
        {name: text if name == "phase" else (float(text) if text else None) for name, text in row.items()}
        for row in csv.DictReader(io.StringIO(history_csv(result)))
    ]


def review_records(review: Review) -> list[Record]:
    """Return one row a history of the sweep; what is not known is None, with the reason in the last column."""
    return [sweep_row(row) for row in review.rows]


def probability_records(odds: Odds) -> list[Record]:
    """Return one row a setup and mode; probability None where the mode is not known or has no part, `reason` says why.

    low, high : 95 % interval;  governs_share : of the samples that the mode governs
    """
    rows: list[Record] = []
    for item in odds.setups:
        found = {"any damage mode": item.any_damage, **item.probabilities}
        for mode in (*found, *(each for each in item.reasons if each not in found)):
            one = found.get(mode)
            share = item.tally.governs.get(mode, 0) / max(item.tally.samples, 1)
            rows.append(
                {
                    "setup": item.setup.name,
                    "mode": mode,
                    "damage": mode == "any damage mode" or mode in item.damage,
                    "probability": None if one is None else one.value,
                    "low": None if one is None else one.low,
                    "high": None if one is None else one.high,
                    "failed": None if one is None else one.failed,
                    "judged": None if one is None else one.judged,
                    "method": None if one is None else one.method,
                    "governs_share": None if mode == "any damage mode" else share,
                    "reason": "" if one is not None else item.reasons[mode],
                }
            )
    return rows


def sensitivity_records(odds: Odds) -> list[Record]:
    """Return one row a setup, quantity and group of inputs: shares of the quantity's variance with their errors."""
    rows: list[Record] = []
    for item in odds.setups:
        indices = item.indices
        if indices is None:
            continue
        for place, quantity in enumerate(item.quantities):
            for group, inputs in enumerate(item.groups):
                rows.append(
                    {
                        "setup": item.setup.name,
                        "quantity": quantity,
                        "inputs": " with ".join(inputs),
                        "first_order": float(indices.first[group, place]),
                        "first_order_error": float(indices.error_first[group, place]),
                        "total": float(indices.total[group, place]),
                        "total_error": float(indices.error_total[group, place]),
                    }
                )
    return rows


def sample_records(item: SetupOdds, case: Case) -> Iterator[Record]:
    """Yield one row a sample of one setup: its number, what was drawn, outcomes, and margins; None where not known.

    what was drawn : by key of the case file, in N, mm, MPa, degC, s and their products
    raises BadCase : the file of rows was changed since
    """
    modes, keys = set(mode_names()), spread_keys(case)

    def named(name: str) -> str:
        if name in keys:
            return name + DRAWN_UNIT.get(keys[name].kind, "")
        return column(name) if name in modes else name + _unit(name)

    names = [named(name) for name in item.rows.columns]
    for samples, part in item.rows.chunks():
        for number, row in zip(samples, part, strict=True):
            values = (None if math.isnan(value) else float(value) for value in row)
            yield {"setup": item.setup.name, "sample": number, **dict(zip(names, values, strict=True))}


def _unit(outcome: str) -> str:
    key = next((key for key, name in FIELDS.items() if name == outcome), outcome)
    return key[len(outcome) :]


def choice_records(choice: Choice) -> list[Record]:
    """Return one row a solved setup of the search, on its coarse mesh: parts, settings, objectives, margins, outcomes.

    not_beaten : nothing else is as good in all objectives and ranks, and better in one;  margins as in `comparison_records`
    """
    rows, modes, kept = choice.rows, mode_names(), {int(row) for row in choice.front}
    aims = objectives(rows.margins)
    places = {name: [modes.index(mode) for mode in some] for name, some in OBJECTIVES.items()}
    records = []
    for row in range(len(rows)):
        chosen = rows.where(row)[0].combination
        settings, here = rows.settings(row), standing(rows.margins[row])
        margins = dict(zip(modes, rows.margins[row], strict=True))
        record: Record = {
            "recommended": row == choice.recommended,
            "not_beaten": row in kept,
            "seating": chosen.mode or None,
            "washers": chosen.washer.text if chosen.washer else None,
            "nut": chosen.nut,
            "insert": None if chosen.insert is None else str(chosen.insert),
            "protrusion_mm": chosen.protrusion,
            "torque": settings.get("torque"),
            "seating_torque": settings.get("seating_torque"),
            "back_off": settings.get("back_off"),
            "governing": here.mode or None,
            "governing_margin": _margin(here.value),
        }
        for name, value in zip(OBJECTIVES, aims[row], strict=True):
            own = rows.margins[row][places[name]]
            told = not np.isnan(own).any() and not np.all(own == ABSENT)
            record[column(name, "objective")] = float(value) if told else None
        record |= {column(mode): _margin(value) for mode, value in margins.items()}
        record["unknown_margins"] = "; ".join(mode for mode, value in margins.items() if math.isnan(value))
        record |= {
            name + _unit(name): None if math.isnan(value) else float(value)
            for name, value in zip(OUTCOMES, rows.outcomes[row], strict=True)
        }
        records.append(record)
    return records


def _margin(value: float) -> float | None:
    return None if math.isnan(value) or value == ABSENT else float(value)


def write_records(records: Sequence[Record], path: Path) -> Path:
    """Write rows that all have the same columns to a file by its ending: .csv, or .parquet where pyarrow is installed.

    In CSV an empty cell is None, inf a margin without bound, True and False a truth value; numbers keep all their digits.
    raises CannotWrite : another ending, no pyarrow, or the place cannot be written
    """
    path = Path(path)
    ending = path.suffix.lower()
    if ending == ".csv":
        text = io.StringIO()
        writer = csv.DictWriter(text, list(records[0]) if records else [], lineterminator="\n")
        writer.writeheader()
        writer.writerows(records)
        return write_text(path, text.getvalue())
    if ending != ".parquet":
        raise CannotWrite(f"{path}: no ending that says how to write it; allowed: .csv, .parquet")
    if importlib.util.find_spec("pyarrow") is None:
        raise CannotWrite(f"{path}: Parquet needs the package pyarrow, which is not installed; .csv needs nothing")
    import pyarrow as pa  # type: ignore[import-not-found]
    import pyarrow.parquet as pq  # type: ignore[import-not-found]

    held = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(list(records)), held)
    return write_bytes(path, held.getvalue())
