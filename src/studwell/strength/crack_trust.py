"""Which view of a cracking boss to trust: how long its flaw is, and whether a stress intensity describes it at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.parts.crack import critical_distance, short_crack_length
from studwell.parts.fatigue import pulsating_range
from studwell.strength.distances import DistanceView
from studwell.strength.flaws import FlawView

EDGE = 1.1215
"""Shape factor of a shallow edge crack (Koiter 1965)."""


def short_once(built: BuiltJoint, distances: Sequence[DistanceView]) -> float | None:
    """Return the length, mm, below which a crack that breaks at once is short; None if the material does not say.

    The critical distance over the shape factor squared: by the same strength, at heat, as the view by critical distances.
    Source: El Haddad, Smith & Topper 1979.
    """
    known = [view.once.length for view in distances if view.body == "boss" and view.once is not None]
    material = built.setup.boss.material
    if known:
        return max(known) / EDGE**2
    if material.fracture_toughness is None or material.ultimate_strength is None:
        return None
    return float(short_crack_length(material.fracture_toughness, float(material.ultimate_strength.at(20.0)), EDGE))


def short_repeated(built: BuiltJoint, distances: Sequence[DistanceView]) -> float | None:
    """Return the length, mm, below which a fatigue crack in the boss is short; None if the material does not say.

    By the same range, of pulsating load (Goodman 1899), with surface factor and at heat, as the view by critical distances.
    Source: El Haddad, Smith & Topper 1979.
    """
    known = [view.repeated.length for view in distances if view.body == "boss" and view.repeated is not None]
    if known:
        return max(known) / EDGE**2
    material, crack = built.setup.boss.material, built.setup.crack
    if material.threshold is None or material.fatigue_strength is None or material.ultimate_strength is None:
        return None
    factor = 1.0 if crack is None or crack.surface_factor is None else crack.surface_factor
    f, u = material.fatigue_strength * factor, float(material.ultimate_strength.at(20.0))
    return float(critical_distance(material.threshold, EDGE * pulsating_range(f, u)))


def is_long(built: BuiltJoint, distances: Sequence[DistanceView]) -> bool:
    """Return True if the case's flaw is so long that long-crack growth is what counts."""
    crack, short = built.setup.crack, short_repeated(built, distances)
    return crack is not None and crack.flaw is not None and short is not None and crack.flaw >= short


def beyond_small_scale(views: Sequence[FlawView], growing: bool) -> str:
    """Return where and by how much the metal yields too far for a stress intensity to rule, "" where it does not.

    growing : by the rule for growth, of the states that come back; else by that for a crack that breaks
    Source: ASTM E399 and ASTM E647 (from memory): crack and ligament against 2.5 (K/Re)^2, or 4/pi (K/Re)^2.
    """
    worst, most = None, 1.0
    for view in views:
        zone = view.growth_zone if growing else view.zone
        if view.history.body != "boss" or view.intensity is None or view.room is None:
            continue
        if zone is None:
            return "the yield strength is not known, so that small-scale yielding cannot be checked"
        over = zone / view.room if view.room > 0.0 else np.inf
        if over > most:
            worst, most = view, over
    if worst is None:
        return ""
    zone = worst.growth_zone if growing else worst.zone
    rule = "4/pi (K/Re)^2" if growing else "2.5 (K/Re)^2"
    left = worst.history.wall - (worst.flaw or 0.0)
    return (
        f"small-scale yielding does not hold at the {worst.history.place}: {rule} is {zone:.2g} mm, the flaw "
        f"{worst.flaw:.3g} mm and what it leaves {left:.3g} mm (ASTM {'E647' if growing else 'E399'})"
    )


def trust_once(built: BuiltJoint, distances: Sequence[DistanceView], views: Sequence[FlawView]) -> str:
    """Return which view to trust of one heat, and why."""
    crack = built.setup.crack
    if crack is None or crack.flaw is None:
        return "trust the critical distance here: a notch without a flaw"
    gone = [view for view in views if view.history.body == "boss" and view.net is not None and view.net >= 1.0]
    if gone:
        return f"what the flaw leaves at the {gone[0].history.place} does not carry the shear on it: trust that"
    short = short_once(built, distances)
    if short is None:
        return "no view can be trusted above another: the toughness is not known"
    return _by_length(crack.flaw, short, "static", beyond_small_scale(views, growing=False))


def trust_repeated(built: BuiltJoint, distances: Sequence[DistanceView], views: Sequence[FlawView]) -> str:
    """Return which view to trust of repeated heat, and why."""
    crack, short = built.setup.crack, short_repeated(built, distances)
    if crack is None or crack.flaw is None:
        return "trust the multiaxial cycle here: no flaw is stated"
    if short is None:
        return "which view to trust depends on the threshold, which is not known"
    return _by_length(crack.flaw, short, "fatigue", beyond_small_scale(views, growing=True))


def _by_length(flaw: float, short: float, kind: str, beyond: str) -> str:
    if flaw < short:
        return (
            f"the flaw is shorter than {short:.2g} mm, below which a crack is short ({kind}; El Haddad, Smith & Topper 1979): "
            "its stress intensity says too little, trust the view without a flaw"
        )
    if beyond:
        return (
            f"the flaw is longer than {short:.2g} mm, from which a crack is long ({kind}), but {beyond}: no view is to be "
            "trusted alone, the largest counts"
        )
    return f"the flaw is longer than {short:.2g} mm, from which a crack is long ({kind}): trust fracture mechanics"
