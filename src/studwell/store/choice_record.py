"""summary.json, compromises.csv and the pasteable setup of a choice."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from studwell.case.fingerprint import inputs_sha256
from studwell.case.overrides import quoted
from studwell.choose.chances import Chance
from studwell.choose.objectives import OBJECTIVES, objectives
from studwell.choose.reasons import standing
from studwell.choose.search import ABSENT, OUTCOMES
from studwell.choose.study import ODDS_SEED, Choice
from studwell.store.summary import SCHEMA, rounded, setup_record
from studwell.strength.verdict import mode_names

PARTS = ("seating", "washers", "nut", "insert", "protrusion_mm")
RANKED = (
    "damage_at_limit", "unknown_damage_modes", "lost_functions", "stud_ends_inside_nut", "too_little_room_under_tip",
)  # fmt: skip
"""What weighs beside the objectives, as the search ranks it."""

ODDS = ("any_damage_probability", "any_damage_low", "any_damage_high")
SETTINGS = ("torque", "seating_torque", "back_off")


def choice_record(choice: Choice) -> dict[str, Any]:
    """Return summary.json's record: the recommended setup as `compare` tells it, and what it was chosen from."""
    rows = choice.rows
    unknown = {}
    if choice.odds is None:
        unknown["odds"] = choice.odds_note
    return {
        "schema": SCHEMA,
        "case": choice.case.title,
        "inputs_sha256": inputs_sha256(choice.case),
        "versions": choice.versions,
        "seed": None if choice.odds is None else ODDS_SEED,
        "mesh_refinement": choice.refinement,
        "search_mesh_refinement": choice.search_refinement,
        "setups": [setup_record(choice.result, 1)],
        "recommended": row_record(choice, choice.recommended)
        | {
            "setup": choice.name,
            "reasons": list(choice.reasons),
            "search_error": rounded(choice.search_error),
            "case_text": setup_text(choice.name, choice.overrides),
        },
        "compromises": [row_record(choice, row) for row in choice.shown],
        "searched": {
            "combinations": len(rows.candidates),
            "complete": choice.complete,
            "settings": rows.asked,
            "solved": len(rows),
            "not_beaten": len(choice.front),
            "settings_that_do_not_fit": rows.misfits,
            "settings_without_solution": rows.unsolved,
            "combinations_that_do_not_fit": choice.refused,
            "protrusions_tried_after_mm": [rounded(each) for each in choice.lengths],
            "solved_again_with_own_heat": len(choice.own_heat),
            "margin_moved_by_own_heat": rounded(choice.heat_error) if choice.own_heat else None,
        },
        "odds": odds_record(choice),
        "odds_compared": None
        if choice.chances is None
        else {
            "samples": choice.chances.samples,
            "own_setups": {name: _probability(chance.probability) for name, chance in choice.chances.own.items()},
            "moved_with_the_setting": list(choice.chances.moved),
        },
        "unknown": unknown,
    }


def row_record(choice: Choice, row: int) -> dict[str, Any]:
    """Return what is known of one row of the search, on its coarse mesh."""
    rows = choice.rows
    candidate, _ = rows.where(row)
    here = standing(rows.margins[row])
    values = dict(zip(OUTCOMES, rows.outcomes[row], strict=True))
    return {
        "combination": candidate.combination.text,
        **rows.settings(row),
        "governing": here.mode or None,
        "margin": _number(here.value),
        "unknown_damage": list(here.unknown),
        "objectives": {
            name: _number(value) for name, value in zip(OBJECTIVES, objectives(rows.margins[[row]])[0], strict=True)
        },
        "clamp_min_N": _number(values["clamp_min"]),
        "clamp_max_N": _number(values["clamp_max"]),
        "room_under_tip_mm": _number(values["tip_gap_min"]),
        "any_damage": chance_record(choice, row),
    }


def chance_record(choice: Choice, row: int) -> dict[str, Any] | None:
    """Return how likely a row of the search fails, None where that was not compared."""
    chance = None if choice.chances is None else choice.chances.rows.get(row)
    return None if chance is None else _probability(chance.probability)


def odds_record(choice: Choice) -> dict[str, Any] | None:
    """Return how likely the recommended setup fails, by mode with a 95 % band; None without [spread]."""
    if choice.odds is None:
        return None
    return {
        "samples": choice.odds.tally.samples,
        "any_damage": _probability(choice.odds.any_damage),
        "modes": {mode: _probability(found) for mode, found in choice.odds.probabilities.items()},
    }


def _probability(found: Any) -> dict[str, Any]:
    return {"probability": rounded(found.value), "low": rounded(found.low), "high": rounded(found.high)}


def compromises_csv(choice: Choice) -> str:
    """Return every solved row as CSV: parts, settings, whether nothing beats it, what ranks, odds, margins, outcomes.

    Odds are empty where they were not compared.
    A margin is a number, "unbounded", "unknown", or empty where the setup has no such part.
    """
    rows = choice.rows
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    units = ["" if name.endswith("share_max") else "_mm" if name == "tip_gap_min" else "_N" for name in OUTCOMES]
    head = [*PARTS, *SETTINGS, "not_beaten", "recommended", *RANKED, *ODDS, *mode_names()]
    writer.writerow([*head, *(name + unit for name, unit in zip(OUTCOMES, units, strict=True))])
    kept = {int(row) for row in choice.front}
    for row in range(len(rows)):
        chosen = rows.where(row)[0].combination
        settings = rows.settings(row)
        chance = None if choice.chances is None else choice.chances.rows.get(row)
        writer.writerow(
            [
                chosen.mode, chosen.washer.text if chosen.washer else "", chosen.nut or "",
                "" if chosen.insert is None else chosen.insert,
                "" if chosen.protrusion is None else f"{chosen.protrusion:.4g}",
                *(settings.get(name, "") for name in SETTINGS),
                int(row in kept), int(row == choice.recommended),
                *(f"{value:.6g}" for value in (*rows.ranks[row][1:5], rows.ranks[row].short)),
                *("" if chance is None else f"{value:.6g}" for value in _three(chance)),
                *(_margin(value) for value in rows.margins[row]),
                *("" if math.isnan(value) else f"{value:.6g}" for value in rows.outcomes[row]),
            ]
        )  # fmt: skip
    return text.getvalue()


def _three(chance: Chance | None) -> tuple[float, float, float]:
    """A probability and its interval; zeros for none, which nobody sees."""
    if chance is None:
        return 0.0, 0.0, 0.0
    found = chance.probability
    return found.value, found.low, found.high


def _margin(value: float) -> str:
    if math.isnan(value):
        return "unknown"
    if value == ABSENT:
        return ""
    return "unbounded" if math.isinf(value) else f"{value:.6g}"


def _number(value: float) -> float | str | None:
    if math.isnan(value) or value == -np.inf:
        return None
    return "unbounded" if math.isinf(value) else rounded(float(value))


def setup_text(name: str, overrides: Mapping[str, Any]) -> str:
    """Return a [setup.NAME] table as a case file has it, to paste at the end of one."""
    lines = [f"[setup.{quoted(name)}]"]
    lines += [f"{quoted(key)} = {_toml(value)}" for key, value in overrides.items()]
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{quoted(key)} = {_toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(inner) for inner in value) + "]"
    return json.dumps(value, ensure_ascii=False)  # texts, numbers and truth values read the same in both
