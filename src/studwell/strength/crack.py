"""Cracks in boss and stud by four views side by side, and the margins that follow: once, repeated, stud fatigue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.parts.crack import short_crack_length
from studwell.strength.distances import Distance, DistanceView, distance_views, wanted_cycles
from studwell.strength.fatigue import SINES, FatigueView, fatigue_views, stud_fatigue
from studwell.strength.flaws import CrackHistory, FlawView, bore_histories, flaw_view, growth_law
from studwell.strength.margin import Margin, unknown_margin
from studwell.strength.recovery import SpaceCache
from studwell.strength.timeline import Timeline
from studwell.strength.weakest import WeakestLink, weakest_link

Array = np.ndarray

ONCE, REPEATED, STUD = "boss crack (once)", "boss crack (repeated)", "stud fatigue"
CRACK_MODES = (ONCE, REPEATED, STUD)


@dataclass(frozen=True)
class Said:
    """What one view says of one mode: view and where in words, load over capacity (None: unknown, with the reason)."""

    view: str
    where: str
    value: float | None
    index: int | None = None
    load: float | None = None
    capacity: float | None = None
    unit: str = ""
    method: str = ""
    reason: str = ""


@dataclass(frozen=True)
class CrackViews:
    """All four views of a setup. once, repeated: what each view says of the boss, the largest of its places.

    disagreement : mode -> largest over smallest known view; trust: mode -> which view to trust here, and why
    """

    distances: tuple[DistanceView, ...] = field(repr=False)
    flaws: tuple[FlawView, ...] = field(repr=False)
    weakest: WeakestLink = field(repr=False)
    fatigue: tuple[FatigueView, ...] = field(repr=False)
    once: tuple[Said, ...]
    repeated: tuple[Said, ...]
    disagreement: dict[str, float | None]
    trust: dict[str, str]

    def distance(self, place: str, body: str = "boss") -> DistanceView:
        """Return the critical distances of a place. Raises KeyError: no such place."""
        for view in self.distances:
            if (view.place, view.body) == (place, body):
                return view
        raise KeyError(f"no place {place!r} in {body}")


def crack_views(
    built: BuiltJoint,
    timeline: Timeline,
    temperatures: Array,
    cracks: Sequence[CrackHistory] = (),
    missing: str = "",
    spaces: SpaceCache | None = None,
) -> CrackViews:
    """Return the four views of a setup.

    cracks  : stress intensities of cracks put into the bodies; those of radial cracks by weight function are added here
    missing : why some of the former could not be had
    spaces  : of bodies, shared between calls
    """
    distances = distance_views(built, timeline, temperatures)
    flaws = tuple(flaw_view(built, timeline, each) for each in (*cracks, *bore_histories(built, timeline)))
    weakest = weakest_link(built, timeline, spaces)
    fatigue = fatigue_views(built, timeline, temperatures)
    yields = built.setup.boss.material.yield_strength
    limit = None if yields is None else float(yields.at(20.0))
    gap = "" if covers_corner(flaws) else missing or "no crack at the floor's corner was solved"
    once = (_distance_once(distances), _uncovered(_flaw_once(flaws), gap), _weakest_once(weakest, limit))
    repeated = (
        _distance_repeated(distances),
        _uncovered(_flaw_repeated(built, flaws), gap),
        _fatigue_repeated(fatigue),
    )
    apart = {ONCE: _apart(once), REPEATED: _apart(repeated)}
    trust = {ONCE: _trust_once(built, distances), REPEATED: _trust_repeated(built)}
    return CrackViews(distances, flaws, weakest, fatigue, once, repeated, apart, trust)


def crack_margins(built: BuiltJoint, timeline: Timeline, temperatures: Array, views: CrackViews) -> dict[str, Margin]:
    """Return the margins CRACK_MODES, each with the view that governs it and why."""
    return {
        ONCE: _once(built, timeline, views),
        REPEATED: _repeated(built, timeline, views),
        STUD: stud_fatigue(built, timeline, temperatures),
    }


def _once(built: BuiltJoint, timeline: Timeline, views: CrackViews) -> Margin:
    crack = built.setup.crack
    by_distance, by_flaw, by_link = views.once
    asked = [by_distance]
    if crack is not None and crack.flaw is not None:
        asked.append(by_flaw)
    if crack is not None and crack.failure_probability is not None:
        asked.append(by_link)
    corner = views.distance("floor corner").once
    floor = built.setup.boss.floor_thickness
    if corner is not None and floor < 2.0 * corner.length and by_distance.value is not None and by_distance.value < 1.0:
        if by_flaw.value is None or crack is None or crack.flaw is None:
            return unknown_margin(
                ONCE,
                "damage",
                f"the floor, {floor:g} mm, is thinner than twice the critical distance, {2 * corner.length:.2f} mm: the "
                f"methods do not hold there (they would say {by_distance.value:.2f}, which may be too low); a thicker "
                "floor, or a flaw in [crack] for fracture mechanics of the ligament, is needed to know",
            )
        asked.remove(by_distance)
    flowed = any(state.flow is not None and "boss" in state.flow.strain for state in timeline.states)
    notes = ["stress that yielding leaves, by a method made for elastic stress" if flowed else "elastic stress"]
    if crack is None or crack.flaw is None:
        notes.append("no flaw: [crack] flaw states one")
    return _governed(ONCE, asked, timeline, notes, views.trust[ONCE])


def _repeated(built: BuiltJoint, timeline: Timeline, views: CrackViews) -> Margin:
    crack, wanted = built.setup.crack, wanted_cycles(built)
    by_distance, by_flaw, by_cycle = views.repeated
    asked = [by_cycle]
    if built.setup.boss.material.threshold is not None:
        asked.append(by_distance)
    if crack is not None and crack.flaw is not None:
        asked.append(by_flaw)
        whole = all(view.swing is not None for view in views.flaws if view.history.body == "boss")
        if by_flaw.value is not None and whole and covers_corner(views.flaws) and is_long(built):
            asked = [by_flaw]  # what does not let a long crack grow stops one that begins without a flaw too
    often = "without end" if wanted is None else f"for {wanted:g} histories"
    notes = [f"{often}; fatigue strength of the data is that of 5e8 cycles of bars, the careful side for fewer"]
    if crack is None or crack.flaw is None:
        notes.append("no flaw beyond what those bars had: [crack] flaw states one")
    return _governed(REPEATED, asked, timeline, notes, views.trust[REPEATED])


def _governed(mode: str, asked: list[Said], timeline: Timeline, notes: list[str], trust: str) -> Margin:
    """The largest known of the views asked; unknown if one of them is and none of the known fails."""
    known = [(said.value, said) for said in asked if said.value is not None]
    unknown = [said for said in asked if said.value is None]
    worst = max(known, key=lambda pair: pair[0])[1] if known else None
    if unknown and (worst is None or (worst.value or 0.0) < 1.0):
        told = [f"{said.view}: {said.reason}" for said in unknown]
        told += [f"{value:.2f} by {said.view} at the {said.where}" for value, said in known]
        return unknown_margin(mode, "damage", "; ".join(told))
    assert worst is not None
    others = [f"{value:.2f} by {said.view} at the {said.where}" for value, said in known if said is not worst]
    others += [f"{said.view} unknown: {said.reason}" for said in unknown]
    if others:
        notes.append("beside it " + ", ".join(others))
    notes.append(trust)
    return Margin(
        mode,
        "damage",
        worst.value,
        load=worst.load,
        capacity=worst.capacity,
        unit=worst.unit,
        when="" if worst.index is None else timeline.when(worst.index),
        reason="; ".join(notes),
        method=f"{worst.view} governs, at the {worst.where}: {worst.method}",
    )


def _largest(found: list[Said], view: str, reasons: list[str]) -> Said:
    known = [(said.value, said) for said in found if said.value is not None]
    if known:
        return max(known, key=lambda pair: pair[0])[1]
    return Said(
        view,
        "boss",
        None,
        reason="; ".join(dict.fromkeys(reason for reason in reasons if reason)) or "nothing to judge",
    )


DISTANCE, FLAW, LINK, CYCLE = "critical distance", "fracture mechanics", "weakest link", "multiaxial cycle"


def _distance_once(views: Sequence[DistanceView]) -> Said:
    found = []
    for view in views:
        if view.body == "boss" and view.once is not None:
            one = view.once
            told = (
                f"L = {one.length:.2f} mm from toughness and tensile strength {one.strength:.0f} MPa; {_methods(one)}"
            )
            found.append(
                Said(DISTANCE, view.place, one.value, one.index, one.value * one.strength, one.strength, "MPa", told)
            )
    worst = _largest(found, DISTANCE, [_asks_most(views, "once_reason", "needed_toughness")])
    return _uncovered(worst, _corner_gap(views, "once"))


def _distance_repeated(views: Sequence[DistanceView]) -> Said:
    found = []
    for view in views:
        if view.body == "boss" and view.repeated is not None:
            one = view.repeated
            told = f"L = {one.length:.2f} mm from threshold and pulsating fatigue range; {_methods(one)}"
            found.append(
                Said(DISTANCE, view.place, one.value, one.index, one.value * one.strength, one.strength, "MPa", told)
            )
    worst = _largest(found, DISTANCE, [_asks_most(views, "repeated_reason", "needed_threshold")])
    worst = _uncovered(worst, _corner_gap(views, "repeated"))
    if worst.value is None or worst.value < 1.0:
        return worst
    return Said(DISTANCE, worst.where, None, reason=f"{worst.value:.2f} at the {worst.where}, an upper bound; {FEWER}")


def _corner_gap(views: Sequence[DistanceView], way: str) -> str:
    """Why the floor's corner is not judged, "" if it is."""
    corner = next(view for view in views if view.place == "floor corner")
    return "" if getattr(corner, way) is not None else str(getattr(corner, f"{way}_reason"))


def _asks_most(views: Sequence[DistanceView], reason: str, needs: str) -> str:
    own = [view for view in views if view.body == "boss" and getattr(view, reason)]
    return str(getattr(max(own, key=lambda view: getattr(view, needs) or 0.0), reason)) if own else ""


def _methods(one: Distance) -> str:
    point, line = ("unknown" if v is None else f"{v:.2f}" for v in (one.point, one.line))
    angle = f" on {one.path} degrees from straight down" if one.path.startswith("floor path") else ""
    return f"point {point}, line {line}{angle}"


def _flaw_once(views: Sequence[FlawView]) -> Said:
    found = []
    for view in views:
        if view.history.body == "boss" and view.once is not None and view.intensity is not None:
            tough = view.intensity / view.once if view.once > 0.0 else None
            told = f"flaw of {view.flaw:g} mm, {view.history.method}"
            found.append(
                Said(FLAW, view.history.place, view.once, view.index, view.intensity, tough, "MPa m^0.5", told)
            )
    return _largest(found, FLAW, [_worst_reason(views, "once_reason", "intensity")])


def _flaw_repeated(built: BuiltJoint, views: Sequence[FlawView]) -> Said:
    found = []
    for view in views:
        if view.history.body != "boss" or view.swing is None:
            continue
        law = growth_law(built.setup.boss.material)
        value = view.repeated
        told = f"flaw of {view.flaw:g} mm, its range {view.swing:.3g} MPa m^0.5 against the threshold, {view.history.method}"
        load, capacity = view.swing, None if not value else view.swing / value
        wanted = wanted_cycles(built)
        if (value is None or value >= 1.0) and wanted and law and view.life and view.life.histories:
            value = float((wanted / view.life.histories) ** (1.0 / law.exponent))
            told = (
                f"flaw of {view.flaw:g} mm lives {view.life.histories:.3g} histories of the {wanted:g} asked for; as a ratio "
                f"of ranges, {view.history.method}"
            )
            load, capacity = view.swing, view.swing / value if value > 0.0 else None
        if value is not None:
            found.append(Said(FLAW, view.history.place, value, view.index, load, capacity, "MPa m^0.5", told))
    return _largest(found, FLAW, [_worst_reason(views, "repeated_reason", "swing")])


def _uncovered(said: Said, gap: str) -> Said:
    """What a view says where the place that matters most, the floor's corner, is not in it: nothing below the limit."""
    if not gap or said.value is None or said.value >= 1.0:
        return said
    return Said(said.view, said.where, None, reason=f"{gap}; {said.value:.2f} at the {said.where}")


def _worst_reason(views: Sequence[FlawView], reason: str, size: str) -> str:
    """The reason of the crack that asks most, so that the value that it needs is enough for all."""
    own = [view for view in views if view.history.body == "boss" and getattr(view, reason)]
    if not own:
        return ""
    return str(getattr(max(own, key=lambda view: getattr(view, size) or 0.0), reason))


def _weakest_once(link: WeakestLink, limit: float | None) -> Said:
    if link.ratio is None:
        return Said(LINK, "whole boss", None, link.index, reason=link.reason)
    told = f"probability {link.probability:.2g}, effective volume {link.effective:.3g} mm3 at {link.largest:.0f} MPa"
    if limit is not None and (link.largest or 0.0) > limit:
        over = f"elastic peaks above the yield strength, {limit:.0f} MPa, overstate it"
        if link.ratio >= 1.0:
            told = (
                f"{link.ratio:.2f}, an upper bound ({told}): {over}; [inelastic] gives the stress that yielding leaves"
            )
            return Said(LINK, "whole boss", None, link.index, reason=told)
        told += f"; {over}"
    return Said(LINK, "whole boss", link.ratio, link.index, None, None, "", told)


def _fatigue_repeated(views: Sequence[FatigueView]) -> Said:
    found, bound = [], []
    for view in views:
        if view.body != "boss" or view.ratio is None or view.strength is None:
            continue
        where = f"averaged over {view.averaged:.2f} mm" if view.averaged else "at the surface"
        told = f"{SINES}: amplitude {view.amplitude:.0f} MPa with mean stresses of {view.mean:.0f} MPa in sum, {where}"
        told += ", the mean held down by yielding" if view.held else ""
        if view.ratio >= 1.0:
            bound.append(_upper_bound(view))
            continue
        found.append(
            Said(CYCLE, view.place, view.ratio, view.index, view.ratio * view.strength, view.strength, "MPa", told)
        )
    if bound:
        return Said(CYCLE, "boss", None, reason=f"{'; '.join(bound)}; {FEWER}")
    corner = next(view for view in views if view.place == "floor corner")
    worst = _largest(found, CYCLE, [view.reason for view in views if view.body == "boss"][:1])
    return _uncovered(worst, "" if corner.ratio is not None else corner.reason)


FEWER = "for fewer cycles than the 5e8 of the data more is stood, how much is not known"


def _upper_bound(view: FatigueView) -> str:
    """What a ratio above 1 means, which is no proof of failure, and what would make it safe."""
    text = f"{view.ratio:.2f} at the {view.place}, an upper bound"
    if not view.averaged:
        text += " at the surface, the depth over which to average not being known"
    if view.needed is not None:
        text += f"; a fatigue strength of {view.needed:.0f} MPa would make it safe"
    return text


def _apart(said: Sequence[Said]) -> float | None:
    known = [s.value for s in said if s.value]
    return max(known) / min(known) if len(known) > 1 else None


def _trust_once(built: BuiltJoint, distances: Sequence[DistanceView]) -> str:
    crack, material = built.setup.crack, built.setup.boss.material
    if crack is None or crack.flaw is None:
        return "trust the critical distance here: a notch without a flaw"
    if material.fracture_toughness is None or material.ultimate_strength is None:
        return "no view can be trusted above another: the toughness is not known"
    strength = float(material.ultimate_strength.at(20.0))
    short = float(short_crack_length(material.fracture_toughness, strength, 1.1215))
    return _by_length(crack.flaw, short, "static")


def covers_corner(views: Sequence[FlawView]) -> bool:
    """True if one of the cracks starts at the floor's corner."""
    return any("fillet" in view.history.place or "corner" in view.history.place for view in views)


def _short(built: BuiltJoint) -> float | None:
    """Length, mm, below which a fatigue crack in the boss is short; None if the material does not say."""
    material = built.setup.boss.material
    if material.threshold is None or material.fatigue_strength is None or material.ultimate_strength is None:
        return None
    f, u = material.fatigue_strength, float(material.ultimate_strength.at(20.0))
    return float(short_crack_length(material.threshold, 2.0 * f / (1.0 + f / u), 1.1215))


def is_long(built: BuiltJoint) -> bool:
    """True if the case's flaw is so long that long-crack growth is what counts. Source: El Haddad, Smith & Topper 1979."""
    crack, short = built.setup.crack, _short(built)
    return crack is not None and crack.flaw is not None and short is not None and crack.flaw >= short


def _trust_repeated(built: BuiltJoint) -> str:
    crack, short = built.setup.crack, _short(built)
    if crack is None or crack.flaw is None:
        return "trust the multiaxial cycle here: no flaw is stated"
    if short is None:
        return "which view to trust depends on the threshold, which is not known"
    return _by_length(crack.flaw, short, "fatigue")


def _by_length(flaw: float, short: float, kind: str) -> str:
    if flaw < short:
        return (
            f"the flaw is shorter than {short:.2g} mm, below which a crack is short ({kind}; El Haddad, Smith & Topper 1979): "
            "its stress intensity says too little, trust the view without a flaw"
        )
    return f"the flaw is longer than {short:.2g} mm, from which a crack is long ({kind}): trust fracture mechanics"
