"""The block "cracks" of summary.json: the four views of a setup, each number with its place, or null with its reason."""

from __future__ import annotations

import math
from typing import Any

from studwell.parts.growth import GrowthLife
from studwell.store.cycle_records import rounded
from studwell.strength.crack_said import Said
from studwell.strength.distances import Distance, DistanceView
from studwell.strength.fatigue import SINES, FatigueView
from studwell.strength.flaws import FlawView
from studwell.strength.weakest import WeakestLink
from studwell.study.results import SetupResult

CRACK_FIELD = "cracks"


def crack_record(result: SetupResult) -> dict[str, Any]:
    """Return the block of a solved setup. Lengths mm, stress MPa, intensities MPa m^0.5, lives in histories."""
    views = result.verdict.cracks
    return {
        "critical_distance": [_distance(view, result) for view in views.distances],
        "fracture_mechanics": [_flaw(view, result) for view in views.flaws],
        "weakest_link": _link(views.weakest, result),
        "multiaxial_cycle": {"criterion": SINES, "places": [_cycle(view, result) for view in views.fatigue]},
        "compared": {
            "boss crack (once)": [_said(said) for said in views.once],
            "boss crack (repeated)": [_said(said) for said in views.repeated],
            "largest_over_smallest": {mode: rounded(value) for mode, value in views.disagreement.items()},
            "trust": views.trust,
        },
    }


def _when(result: SetupResult, index: int | None) -> str | None:
    return None if index is None else result.timeline.when(index)


def _distance(view: DistanceView, result: SetupResult) -> dict[str, Any]:
    return {
        "place": view.place,
        "body": view.body,
        "once": _one(view.once, view.once_reason, result),
        "repeated": _one(view.repeated, view.repeated_reason, result),
        "toughness_needed": rounded(view.needed_toughness),
        "threshold_needed": rounded(view.needed_threshold),
    }


def _one(one: Distance | None, reason: str, result: SetupResult) -> dict[str, Any]:
    if one is None:
        return {"margin": None, "reason": reason}
    return {
        "margin": rounded(one.value),
        "point": rounded(one.point),
        "line": rounded(one.line),
        "critical_distance_mm": rounded(one.length),
        "strength_MPa": rounded(one.strength),
        "path": one.path,
        "when": _when(result, one.index),
    }


def _flaw(view: FlawView, result: SetupResult) -> dict[str, Any]:
    reasons = {"once": view.once_reason, "repeated": view.repeated_reason, "life": view.life_reason}
    reasons["stress_ratio"] = view.ratio_problem
    return {
        "place": view.history.place,
        "body": view.history.body,
        "wall_mm": rounded(view.history.wall),
        "method": view.history.method,
        "size_mm": [rounded(float(size)) for size in view.history.sizes],
        "largest": [rounded(float(k)) for k in view.largest],
        "range": [rounded(float(k)) for k in view.ranges],
        "flaw_mm": rounded(view.flaw),
        "at_flaw": rounded(view.intensity),
        "range_at_flaw": rounded(view.swing),
        "when": _when(result, view.index),
        "once": rounded(view.once),
        "repeated": rounded(view.repeated),
        "critical_size_mm": rounded(view.critical),
        "direction": view.history.chosen or None,
        "shear_below_tip": rounded(view.net),
        "gives_way_mm": rounded(view.gives_way),
        "stress_ratio": rounded(view.ratio),
        "range_at_threshold_ratio": rounded(view.equivalent),
        "small_scale_needs_mm": rounded(view.zone),
        "small_scale_growth_needs_mm": rounded(view.growth_zone),
        "small_scale_has_mm": rounded(view.room),
        "interpolation_error": rounded(view.error),
        "life": None if view.life_problem and _life(view.life) == "unbounded" else _life(view.life),
        "life_is_upper_bound": bool(view.life_problem),
        "life_from_inspection": _life(view.inspected),
        "reasons": {key: reason for key, reason in reasons.items() if reason},
    }


def _life(life: GrowthLife | None) -> float | str | None:
    if life is None or life.histories is None:
        return None
    return "unbounded" if math.isinf(life.histories) else rounded(life.histories)


def _link(link: WeakestLink, result: SetupResult) -> dict[str, Any]:
    return {
        "probability": rounded(link.probability),
        "margin": rounded(link.ratio),
        "effective_volume_mm3": rounded(link.effective),
        "largest_MPa": rounded(link.largest),
        "modulus": rounded(link.modulus),
        "strength_needed_MPa": rounded(link.needed),
        "needed_for_volume_mm3": rounded(link.volume),
        "needed_for_probability": rounded(link.allowed),
        "when": _when(result, link.index),
        "reason": link.reason or None,
    }


def _cycle(view: FatigueView, result: SetupResult) -> dict[str, Any]:
    return {
        "place": view.place,
        "body": view.body,
        "margin": rounded(view.ratio),
        "amplitude_MPa": rounded(view.amplitude),
        "mean_sum_MPa": rounded(view.mean),
        "strength_MPa": rounded(view.strength),
        "averaged_over_mm": rounded(view.averaged),
        "mean_held_by_yielding": view.held,
        "fatigue_strength_needed_MPa": rounded(view.needed),
        "path": view.path or None,
        "when": _when(result, view.index),
        "reason": view.reason or None,
    }


def _said(said: Said) -> dict[str, Any]:
    return {
        "view": said.view,
        "where": said.where,
        "margin": rounded(said.value),
        "method": said.method or None,
        "reason": said.reason or None,
    }
