"""What the live page says: a reading, a picture and the controls as plain texts and numbers in the units shown."""

from __future__ import annotations

import base64
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from studwell.live.controls import Control
from studwell.live.picture import Picture
from studwell.live.reading import Reading
from studwell.show.both_units import in_system
from studwell.show.page_content import quantity_text
from studwell.study.finding import margin_words
from studwell.units import in_unit, label

KIND_OF_UNIT = {"turn": "turn", "N*m": "torque", "kN": "force", "mm": "length", "degC": "temperature"}
"""Unit of a control -> kind of quantity; its numbers are inside ones: turn, N mm, N, mm, degC."""

FULL_BAR = 1.5
"""A margin's bar is full here; its limit, 1, stands at two thirds."""

KEY_OUTCOMES = (
    ("clamp_min", "clamp, least"),
    ("clamp_max", "clamp, most"),
    ("tip_force_max", "tip force, most"),
    ("tip_gap_min", "tip gap, least"),
)
"""Figures that stand in the verdict's band."""


def key_outcomes(reading: Reading) -> list[tuple[str, str]]:
    """Return KEY_OUTCOMES, with the force on the seat in the place of the tip's where the stud stands on another seat."""
    force = reading.outcomes.get("seat_force_max", (None,))[0]
    if reading.by_tip or force is None or force <= 1.0:
        return list(KEY_OUTCOMES)
    seated = ("seat_force_max", f"force on the {reading.seat}, most")
    return [seated if name == "tip_force_max" else (name, words) for name, words in KEY_OUTCOMES]


def verdict_word(reading: Reading) -> str:
    """Return 'safe', 'fails' or 'unknown'; unknown: nothing known fails, something is not known."""
    return "unknown" if reading.safe is None else "safe" if reading.safe else "fails"


def margin_state(value: float | None) -> tuple[str, str]:
    """Return a margin's state (holds, fails, unknown) and its number as text."""
    state = "unknown" if value is None else "fails" if value >= 1.0 else "holds"
    return state, margin_words(value)


def verdict_sentence(reading: Reading, units: str = "metric") -> str:
    """Return the verdict in a few sentences; units: those shown."""
    damage = {mode: row for mode, row in reading.margins.items() if row[1] == "damage"}
    failing = [mode for mode, row in damage.items() if row[0] is not None and row[0] >= 1.0]
    unknown = [mode for mode, row in damage.items() if row[0] is None]
    said = []
    if failing:
        told = [f"{mode} ({margin_words(reading.margins[mode][0])})" for mode in failing]
        said.append(f"Fails: {_listed(told)}; 1 is the limit.")
    elif reading.governing is not None:
        nearest = margin_words(reading.margins[reading.governing][0])
        most = f"nearest is {reading.governing} at {nearest} of its limit."
        said.append(f"No known damage limit is reached in this model; {most}")
    else:
        said.append("No damage margin is known.")
    missed = misses(reading)
    if missed:
        said.append(f"Does not work as meant: {_listed(missed)}.")
    said += [in_system(text, units) for text in reading.beside]
    if unknown:
        said.append(f"Not known: {_listed(unknown)}.")
    doubtful = [mode for mode, row in reading.margins.items() if row[1] != "damage" and row[0] is None]
    if doubtful:
        said.append(f"Not known whether it works as meant: {_listed(doubtful)}.")
    return " ".join(said)


def misses(reading: Reading) -> list[str]:
    """Return the function margins that fail, each with its number."""
    return [
        f"{mode} ({margin_words(value)})"
        for mode, (value, kind, _) in reading.margins.items()
        if kind != "damage" and value is not None and value >= 1.0
    ]


def nearest_words(reading: Reading) -> str:
    """Return what stands beside the verdict's word: the margin that governs and how many are not known."""
    governs = reading.governing
    said = f"{governs} {margin_words(reading.margins[governs][0])}" if governs else "no damage margin is known"
    unknown = sum(value is None for value, kind, _ in reading.margins.values() if kind == "damage")
    return f"{said}; {unknown} not known" if unknown and governs else said


def reading_words(reading: Reading, units: str, names: re.Pattern[str] | None = None) -> dict[str, Any]:
    """Return everything that the page shows of a reading, as JSON values in the units shown.

    names : words of the case's user, in which no quantity is converted
    """
    margins = []
    for mode, (value, kind, reason) in reading.margins.items():
        state, text = margin_state(value)
        share = None if value is None else min(max(value, 0.0) / FULL_BAR, 1.0)
        margins.append(
            {
                "mode": mode,
                "kind": kind,
                "state": state,
                "text": text,
                "share": share,
                "reason": in_system(reason, units, names),
                "governs": mode == reading.governing,
            }
        )
    outcomes = [
        {
            "key": name,
            "name": name.replace("_", " "),
            "text": quantity_text(value, unit, units) if value is not None else "unknown",
            "known": value is not None,
            "when": in_system(when, units, names),
            "reason": in_system(reason, units, names),
        }
        for name, (value, unit, when, reason) in reading.outcomes.items()
    ]
    by_key = {row["key"]: row for row in outcomes}
    key = [
        {"name": words, "text": by_key[name]["text"], "known": by_key[name]["known"]}
        for name, words in key_outcomes(reading)
        if name in by_key
    ]
    return {
        "word": verdict_word(reading),
        "sentence": verdict_sentence(reading, units),
        "nearest": nearest_words(reading),
        "misses": f"not as meant: {_listed(misses(reading))}" if misses(reading) else "",
        "key": key,
        "margins": margins,
        "outcomes": outcomes,
        "notes": [in_system(text, units, names) for text in reading.notes],
        "plots": plot_words(reading, units),
        "seat": reading.seat,
        "trust": f"forces out of balance: {reading.residual:.0e} of the largest; solved in {1000.0 * reading.seconds:.0f} ms",
    }


def plot_words(reading: Reading, units: str) -> dict[str, Any]:
    """Return the lines over time in the units shown, rounded to what a screen can show.

    Seating and tightening have no time of their own; they stand before the run's start.
    """
    end = float(reading.minutes[-1])
    return {
        "places": _rounded(reading.minutes),
        "labels": [[name, at] for name, at in reading.labels],
        "end": f"{end / 60.0:.3g} h" if end > 300.0 else f"{end:.3g} min",
        "lines": {
            name: {"values": _rounded(in_unit(_clean(values), kind, units)), "unit": label(kind, units)}
            for name, values, kind in (
                ("clamp", reading.clamp, "force"),
                ("tension", reading.stud_tension, "force"),
                ("tip", reading.tip_force, "force"),
                ("gap", reading.tip_gap, "length"),
            )
        },
    }


def picture_words(picture: Picture, units: str, names: re.Pattern[str] | None = None) -> dict[str, Any]:
    """Return the stress picture: PNG as base64, its frame in mm, its scale in the units shown, outlines, its words."""
    return {
        "png": base64.b64encode(picture.png).decode("ascii"),
        "extent": [float(value) for value in picture.extent],
        "low": quantity_text(picture.low, "MPa", units, 3),
        "high": quantity_text(picture.high, "MPa", units, 3),
        "colours": list(picture.colours),
        "outlines": [
            {"part": part, "points": [[round(float(r), 3), round(float(z), 3)] for r, z in line]}
            for part, line in picture.outlines
        ],
        "moment": picture.moment,
        "when": in_system(picture.when, units, names),
        "told": in_system(picture.told, units, names),
    }


def control_words(controls: Sequence[Control], units: str) -> list[dict[str, Any]]:
    """Return the controls as the page builds them; sliders keep numbers inside and are shown as scale * number + shift."""
    return [
        {
            "name": control.name,
            "label": control.label,
            "group": control.group,
            "kind": control.kind,
            "low": control.low,
            "high": control.high,
            "step": control.step,
            "options": list(control.options),
            "start": control.start,
            "remesh": control.remesh,
            "applies": control.applies,
            "note": control.note,
            "known": control.known,
            **_shown(control, units),
        }
        for control in controls
    ]


def value_text(control: Control, value: float | str, units: str) -> str:
    """Return a control's value as text with its unit."""
    if isinstance(value, str):
        return value
    shown = _shown(control, units)
    number = shown["scale"] * value + shown["shift"]
    return f"{number:.{shown['places']}f}{' ' if shown['unit'] else ''}{shown['unit']}"


def change_words(changes: Mapping[str, float | str], controls: Sequence[Control], units: str) -> str:
    """Return what a state changes in the setup as written, in words; '' if nothing."""
    by_name = {control.name: control for control in controls}
    return ", ".join(
        f"{by_name[name].label.lower()} {value_text(by_name[name], value, units)}"
        for name, value in changes.items()
        if name in by_name
    )


def _shown(control: Control, units: str) -> dict[str, Any]:
    if control.kind == "choice":
        return {"unit": "", "scale": 1.0, "shift": 0.0, "places": 0}
    kind = KIND_OF_UNIT.get(control.unit)
    if kind is None:
        return {"unit": control.unit, "scale": 1.0, "shift": 0.0, "places": _places(control.step)}
    shift = float(in_unit(0.0, kind, units))
    scale = float(in_unit(1.0, kind, units)) - shift
    return {"unit": label(kind, units), "scale": scale, "shift": shift, "places": _places(abs(scale) * control.step)}


def _places(step: float) -> int:
    """Return the decimals that tell two neighbours on a slider apart, one more where a step of 0.25 needs it."""
    if step <= 0.0:
        return 2
    places = min(4, max(0, math.ceil(-math.log10(step) - 1e-9)))
    finer = step * 10.0 ** (places + 1)
    exact = abs(finer - round(finer)) < 1e-9 and abs(finer / 10.0 - round(finer / 10.0)) > 1e-9
    return places + 1 if exact else places


def _clean(values: Any) -> np.ndarray:
    array = np.asarray(values, dtype=float)
    return np.where(np.abs(array) < 1e-6, 0.0, array)


def _rounded(values: Any) -> list[float | None]:
    return [float(f"{value:.5g}") if math.isfinite(value) else None for value in np.asarray(values, dtype=float)]


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
