"""summary.json and samples.csv of the odds of a case."""

from __future__ import annotations

import csv
import importlib.util
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case
from studwell.case.spread_keys import spread_keys
from studwell.odds.limits import OUTCOMES
from studwell.odds.probability import CONFIDENCE, Probability
from studwell.odds.records import Pair
from studwell.odds.study import Odds, SetupOdds
from studwell.odds.tally import BINS, LARGEST
from studwell.runs import LedgerRows
from studwell.store.records import DRAWN_UNIT
from studwell.store.summary import SCHEMA, libraries, rounded

MODEL = (
    "condensed joint; each history at its points, the middles between them and the instants where the setup's own has its "
    "extremes; thread model of the case"
)
"""What the samples are solved by, in words."""

UNIT_OF_OUTCOME = {
    "floor_stress_max": "MPa",
    "tip_gap_min": "mm",
    "stud_stretch_max": "mm",
    "washer_flat_share_max": "",
}
"""Units inside of the samples' outcomes; all others are loads, N."""

DRAWN = "scrambled Sobol points through the marginals and a Gaussian copula"


def odds_record(odds: Odds) -> dict[str, Any]:
    """Return summary.json's record of the odds of a case: no times, no paths."""
    spread = odds.case.spread
    assert spread is not None
    return {
        "schema": SCHEMA,
        "case": odds.case.title,
        "inputs_sha256": inputs_sha256(odds.case),
        "versions": libraries(),
        "seed": odds.seed,
        "samples": odds.samples,
        "drawn": DRAWN,
        "model": MODEL,
        "mesh_refinement": odds.refinement,
        "confidence": CONFIDENCE,
        "setups": [setup_odds(item) for item in odds.setups],
        "pairs": [_pair(odds, each) for each in odds.pairs],
        "failed": [{"name": name, "reason": reason} for name, reason in odds.failed],
    }


def _pair(odds: Odds, pair: Pair) -> dict[str, Any]:
    """Return whether two setups can be told apart by their samples, which share their draws, or by their intervals."""
    return {
        "setups": [odds.setups[place].setup.name for place in (pair.first, pair.second)],
        "judged": pair.judged,
        "both_fail": pair.both,
        "first_alone_fails": pair.first_alone,
        "second_alone_fails": pair.second_alone,
        "by_chance": rounded(pair.chance),
        "told_apart": pair.apart,
        "samples_needed": pair.needed,
    }


def probability_record(found: Probability) -> dict[str, Any]:
    """Return one probability with its interval."""
    return {
        "probability": rounded(found.value), "low": rounded(found.low), "high": rounded(found.high),
        "failed": found.failed, "judged": found.judged, "method": found.method,
    }  # fmt: skip


def setup_odds(item: SetupOdds) -> dict[str, Any]:
    """Return one setup's record."""
    tallied = item.tally
    return {
        "name": item.setup.name,
        "inputs": list(item.names),
        "inputs_without_value_here": list(item.left_out),
        "notices": list(item.notices),
        "samples": tallied.samples,
        "solved_one_by_one": tallied.alone,
        "without_solution": tallied.no_solution,
        "why_one_by_one": item.why_alone or None,
        "rows_sha256": item.rows.digest(),
        "governing": item.governing,
        "any_damage": probability_record(item.any_damage),
        "any_damage_if_the_stud_stays": None if item.staying is None else probability_record(item.staying),
        "stud_follows_the_nut": tallied.follows,
        "probabilities": {mode: probability_record(p) for mode, p in item.probabilities.items()},
        "unknown": {mode: reason for mode, reason in item.reasons.items() if mode not in item.probabilities},
        "governs_share": {
            mode: rounded(count / max(tallied.samples, 1)) for mode, count in tallied.governs.items() if count
        },
        "failing_samples_shift": {
            mode: {name: rounded(float(v)) for name, v in zip(item.names, shift, strict=True)}
            for mode, shift in tallied.shift.items()
        },
        "outcomes": {
            name + unit_of_outcome(name): {
                "mean": rounded(tallied.mean[name]), "low": rounded(tallied.low[name]), "high": rounded(tallied.high[name])
            }
            for name in tallied.mean
        },
        "largest_margin": quantiles(tallied.histogram[LARGEST]),
        "sensitivity": _sensitivity(item),
        "measure_first": {
            name: {"inputs": list(keys), "narrows_by": rounded(share)} for name, (keys, share) in item.narrows.items()
        },
        "wanted": [_wanted(each) for each in item.wanted],
        "checks": _checks(item),
        "thread_models": _band(item),
        "interpolation": [
            {
                "where": each.where, "worst": each.largest[0] or None,
                "error": None if each.off is None else rounded(each.largest[1]),
                "flipped": None if each.off is None else each.off.flipped,
                "judged": None if each.off is None else each.off.judged,
            }
            for each in item.errors
        ],
    }  # fmt: skip


def quantiles(histogram: np.ndarray) -> dict[str, float | None]:
    """Return quantiles of a margin from its histogram, to the width of its bins; None beyond the last bin."""
    total = int(histogram.sum())
    if not total:
        return {}
    heights = np.cumsum(histogram) / total
    found: dict[str, float | None] = {}
    for share in (0.05, 0.5, 0.95, 0.99):
        place = int(np.searchsorted(heights, share - 1e-12))
        found[f"{share:g}"] = None if place >= len(BINS) - 2 else rounded(float(BINS[place + 1]))
    return found


def _sensitivity(item: SetupOdds) -> dict[str, Any] | None:
    if item.indices is None:
        return None
    names = [" with ".join(group) for group in item.groups]
    found: dict[str, Any] = {"samples": item.indices.samples, "groups": names, "of": {}}
    for place, quantity in enumerate(item.quantities):
        columns = (item.indices.first, item.indices.total, item.indices.error_first, item.indices.error_total)
        first, total, e_first, e_total = ([rounded(float(v)) for v in column[:, place]] for column in columns)
        found["of"][quantity] = {
            "first": first, "total": total, "first_error": e_first, "total_error": e_total,
        }  # fmt: skip
    return found


def _wanted(each: Any) -> dict[str, Any]:
    return {
        "mode": each.mode,
        "wanted": each.wanted,
        "now": probability_record(each.now),
        "tried": list(each.tried),
        "note": each.note or None,
        "changes": [
            {
                "key": change.key,
                "from": rounded(change.before) if change.words is None else change.words[0],
                "to": rounded(change.after) if change.words is None else change.words[1],
                "then": probability_record(change.probability),
                "fails_more_often": {mode: rounded(value) for mode, value in change.worse},
            }
            for change in each.changes
        ],
    }  # fmt: skip


def _checks(item: SetupOdds) -> dict[str, Any] | None:
    if item.checks is None:
        return None
    return {
        "samples": item.checks.samples,
        "difference": {name: rounded(value) for name, value in item.checks.difference.items()},
        "on_the_other_side": {mode: count for mode, count in item.checks.flipped.items() if count},
        "solved_alone": item.checks.alone,
        "side_by_side_less_alone": rounded(item.checks.apart) if math.isfinite(item.checks.apart) else None,
    }


def _band(item: SetupOdds) -> dict[str, Any] | None:
    """The probabilities by the other model of the threads; each mode's low and high are the two models'."""
    if item.band is None:
        return None
    return {
        "own": item.band.own,
        "other": item.band.other,
        "note": item.band.note or None,
        "samples_by_both": item.band.paired,
        "probabilities": {
            mode: {
                "own": rounded(own), "other": rounded(other), "low": rounded(min(own, other)),
                "high": rounded(max(own, other)), "scatter_of_margin": rounded(item.band.fits[mode].scatter),
            }
            for mode, (own, other) in item.band.values.items()
        },
    }  # fmt: skip


def unit_of_outcome(name: str) -> str:
    """Return the ending that tells an outcome's unit, such as "_N"."""
    unit = UNIT_OF_OUTCOME.get(name, "N")
    return f"_{unit}" if unit else ""


def sample_heads(rows: LedgerRows, case: Case) -> list[str]:
    """Return the heads of the columns of samples: drawn keys and outcomes with their units, margins by mode, `found`."""
    keys = spread_keys(case)

    def head(name: str) -> str:
        if name in keys:
            return name + DRAWN_UNIT.get(keys[name].kind, "")
        return name + unit_of_outcome(name) if name in OUTCOMES else name

    return [head(name) for name in rows.columns]


def write_samples(rows: LedgerRows, case: Case, path: Path) -> list[Path]:
    """Write all rows as CSV (and Parquet where pyarrow is installed), block by block; returns the files."""
    path.parent.mkdir(parents=True, exist_ok=True)
    heads = sample_heads(rows, case)
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["sample", *heads])
        for samples, part in rows.chunks():
            for number, row in zip(samples, part, strict=True):
                writer.writerow([number, *("" if math.isnan(v) else f"{v:.9g}" for v in row)])
    written = [path]
    if importlib.util.find_spec("pyarrow") is not None:
        written.append(_parquet(rows, heads, path.with_suffix(".parquet")))
    return written


def _parquet(rows: LedgerRows, heads: list[str], path: Path) -> Path:
    import pyarrow as pa  # type: ignore[import-not-found]
    import pyarrow.parquet as pq  # type: ignore[import-not-found]

    schema = pa.schema([(name, pa.float64()) for name in heads])
    with pq.ParquetWriter(path, schema) as writer:
        for _, part in rows.chunks():
            columns: Mapping[str, Any] = {name: part[:, i] for i, name in enumerate(heads)}
            writer.write_table(pa.table(columns, schema=schema))
    return path
