"""Which view of a cracking boss to trust: how long its flaw is, and whether a stress intensity describes it at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.parts.crack import critical_distance, short_crack_length
from studwell.parts.fatigue import pulsating_range
from studwell.strength.crack_said import CYCLE, DISTANCE, FLAW, Said
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


def breaks_at_once(views: Sequence[FlawView]) -> FlawView | None:
    """Return the crack of the boss that is furthest beyond what it stands at once, None where none breaks."""
    broken = [view for view in views if view.history.body == "boss" and view.once is not None and view.once >= 1.0]
    return max(broken, key=lambda view: view.once or 0.0, default=None)


def trust_once(
    built: BuiltJoint, distances: Sequence[DistanceView], views: Sequence[FlawView], said: Sequence[Said] = ()
) -> str:
    """Return which view to trust of one heat, and why. said: what each view says, so that none unknown is called trusted."""
    crack, by_view = built.setup.crack, {each.view: each for each in said}
    if crack is None or crack.flaw is None:
        return _named("the critical distance", "a notch without a flaw", by_view.get(DISTANCE))
    sheared = _by_shear(distances, views)
    if sheared:
        return sheared
    short = short_once(built, distances)
    if short is None:
        return "no view can be trusted above another: the toughness is not known"
    return _by_length(crack.flaw, short, "static", beyond_small_scale(views, growing=False), by_view, DISTANCE)


def trust_repeated(
    built: BuiltJoint, distances: Sequence[DistanceView], views: Sequence[FlawView], said: Sequence[Said] = ()
) -> str:
    """Return which view to trust of repeated heat, and why; said: as in `trust_once`."""
    crack, by_view = built.setup.crack, {each.view: each for each in said}
    if crack is None or crack.flaw is None:
        return _named("the multiaxial cycle", "no flaw is stated", by_view.get(CYCLE))
    broken = breaks_at_once(views)
    if broken is not None:
        return (
            f"the flaw breaks at once at the {broken.history.place}: boss crack (once) rules, no range and no life does"
        )
    short = short_repeated(built, distances)
    if short is None:
        material = built.setup.boss.material
        needs = {"threshold": material.threshold, "fatigue strength": material.fatigue_strength}
        lacking = [name for name, value in needs.items() if value is None] or ["tensile strength"]
        told = f"the {' and the '.join(lacking)}, which {'is' if len(lacking) == 1 else 'are'} not known"
        return f"which view to trust depends on {told}"
    return _by_length(crack.flaw, short, "fatigue", beyond_small_scale(views, growing=True), by_view, CYCLE)


def _by_shear(distances: Sequence[DistanceView], views: Sequence[FlawView]) -> str:
    """That the shear below a flaw's tip is to be trusted, where it governs all that is known; else ""."""
    own = [view for view in views if view.history.body == "boss" and view.once is not None]
    worst = max(own, key=lambda view: view.once or 0.0, default=None)
    plain = max((v.once.value for v in distances if v.body == "boss" and v.once is not None), default=0.0)
    gone = [view for view in own if view.net is not None and view.net >= 1.0]
    if gone:
        most = max(gone, key=lambda view: view.net or 0.0)
        return f"what the flaw leaves at the {most.history.place} does not carry the shear on it: trust that"
    if worst is None or not worst.by_ligament or (worst.once or 0.0) < plain:
        return ""
    return (
        f"the shear on what the flaw leaves at the {worst.history.place} governs, {worst.net:.2f} of what is stood: it follows "
        "from equilibrium, for a short flaw as for a long one, trust that"
    )


def _named(view: str, why: str, said: Said | None) -> str:
    if said is None or said.value is not None:
        return f"trust {view} here: {why}"
    return f"{view} would be the one to trust, {why}, but it is not known: {said.reason}"


def _by_length(flaw: float, short: float, kind: str, beyond: str, said: Mapping[str, Said], plain: str) -> str:
    """By the flaw's length against the short one, mm; plain: the view without a flaw that is asked first."""
    if flaw < short:
        text = (
            f"the flaw is shorter than {short:.2g} mm, below which a crack is short ({kind}; El Haddad, Smith & Topper 1979): "
            "its stress intensity says too little, "
        )
        flawless = [each for each in said.values() if each.view != FLAW]
        if flawless and all(each.value is None for each in flawless):
            return f"{text}and no view without a flaw is known; {plain}: {said[plain].reason}"
        return f"{text}trust the view without a flaw"
    if beyond:
        return (
            f"the flaw is longer than {short:.2g} mm, from which a crack is long ({kind}), but {beyond}: no view is to be "
            "trusted alone, the largest counts"
        )
    text = f"the flaw is longer than {short:.2g} mm, from which a crack is long ({kind}): "
    if FLAW in said and said[FLAW].value is None:
        return f"{text}fracture mechanics would be the one to trust, but it is not known: {said[FLAW].reason}"
    return f"{text}trust fracture mechanics"
