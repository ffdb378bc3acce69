"""What each view of cracking says of the boss: the largest of its places, or why it is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studwell.joint.build import BuiltJoint
from studwell.strength.distances import Distance, DistanceView, wanted_cycles
from studwell.strength.fatigue import SINES, FatigueView
from studwell.strength.flaws import FlawView, growth_law
from studwell.strength.weakest import CUT, FOLLOWED, WeakestLink

DISTANCE, FLAW, LINK, CYCLE = "critical distance", "fracture mechanics", "weakest link", "multiaxial cycle"


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


def largest_said(found: list[Said], view: str, reasons: list[str]) -> Said:
    """Return the largest of a view's places; unknown with the reasons where none is known."""
    known = [(said.value, said) for said in found if said.value is not None]
    if known:
        return max(known, key=lambda pair: pair[0])[1]
    return Said(
        view,
        "boss",
        None,
        reason="; ".join(dict.fromkeys(reason for reason in reasons if reason)) or "nothing to judge",
    )


def distance_once(views: Sequence[DistanceView], pull: float = 0.0) -> Said:
    """Return what the critical distances say of one heat; pull: MPa of a residual stress that is in them."""
    found = []
    for view in views:
        if view.body == "boss" and view.once is not None:
            one = view.once
            told = (
                f"L = {one.length:.2f} mm from toughness and tensile strength {one.strength:.0f} MPa; {_methods(one)}"
                f"{_with_pull(pull)}"
            )
            found.append(
                Said(DISTANCE, view.place, one.value, one.index, one.value * one.strength, one.strength, "MPa", told)
            )
    worst = largest_said(found, DISTANCE, [_asks_most(views, "once_reason", "needed_toughness")])
    return uncovered(worst, _corner_gap(views, "once"))


def distance_repeated(views: Sequence[DistanceView], pull: float = 0.0) -> Said:
    """Return what the critical distances say of repeated heat; pull: as in distance_once."""
    found = []
    for view in views:
        if view.body == "boss" and view.repeated is not None:
            one = view.repeated
            told = f"L = {one.length:.2f} mm from threshold and pulsating fatigue range; {_methods(one)}"
            told += _with_pull(pull)
            found.append(
                Said(DISTANCE, view.place, one.value, one.index, one.value * one.strength, one.strength, "MPa", told)
            )
    worst = largest_said(found, DISTANCE, [_asks_most(views, "repeated_reason", "needed_threshold")])
    worst = uncovered(worst, _corner_gap(views, "repeated"))
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


def _with_pull(pull: float) -> str:
    return f"; {pull:.0f} MPa of residual stress added all along" if pull else ""


def flaw_once(views: Sequence[FlawView]) -> Said:
    """Return what fracture mechanics says of one heat: the intensity of the flaw, or the mean stress of what it leaves."""
    found = []
    for view in views:
        if view.history.body != "boss" or view.once is None:
            continue
        if view.by_ligament or view.intensity is None:
            found.append(Said(FLAW, view.history.place, view.once, view.index, method=_ligament_told(view)))
            continue
        tough = view.intensity / view.once if view.once > 0.0 else None
        told = f"flaw of {view.flaw:g} mm, {view.history.method}{_direction(view)}"
        found.append(Said(FLAW, view.history.place, view.once, view.index, view.intensity, tough, "MPa m^0.5", told))
    return uncovered(largest_said(found, FLAW, [_worst_reason(views, "once_reason", "intensity")]), _not_reached(views))


def _ligament_told(view: FlawView) -> str:
    return (
        f"flaw of {view.flaw:g} mm: the metal straight down from its tip bears {view.net:.2f} of the shear that it stands, by "
        f"equilibrium{_direction(view)}"
    )


def _direction(view: FlawView) -> str:
    return f"; direction: {view.history.chosen}" if view.history.chosen else ""


def _not_reached(views: Sequence[FlawView]) -> str:
    """Why a crack of the boss is not known at the flaw, "" if all are."""
    lacking = [
        f"{view.history.place}: {view.once_reason}"
        for view in views
        if view.history.body == "boss" and view.flaw is not None and view.intensity is None
    ]
    return "; ".join(lacking)


def flaw_repeated(built: BuiltJoint, views: Sequence[FlawView]) -> Said:
    """Return what fracture mechanics says of repeated heat: the flaw's range, or the histories that it lives.

    Where threshold or law were measured at another stress ratio that is not on the safe side, nothing below the limit. A
    flaw that breaks at once fails by as much as at once: its range has no meaning.
    """
    broken = [
        Said(
            FLAW,
            view.history.place,
            view.once,
            view.index,
            method=f"flaw of {view.flaw:g} mm breaks at once{_direction(view)}",
        )
        for view in views
        if view.history.body == "boss" and view.once is not None and view.once >= 1.0
    ]
    if broken:
        return largest_said(broken, FLAW, [])
    found, unsafe, most = [], [_not_reached(views)], 0.0
    for view in views:
        if view.history.body != "boss" or view.swing is None:
            continue
        value, told, capacity, problem = _repeated_of(built, view)
        if value is None:
            continue
        if value < 1.0 and problem and (view.ratio or 0.0) >= most:
            most, unsafe[1:] = view.ratio or 0.0, [problem]
        found.append(Said(FLAW, view.history.place, value, view.index, view.equivalent, capacity, "MPa m^0.5", told))
    worst = largest_said(found, FLAW, [_worst_reason(views, "repeated_reason", "swing")])
    return uncovered(worst, "; ".join(dict.fromkeys(text for text in unsafe if text)))


def _repeated_of(built: BuiltJoint, view: FlawView) -> tuple[float | None, str, float | None, str]:
    """Value, words, capacity, and why it is not on the safe side, of one crack."""
    law, wanted = growth_law(built.setup.boss.material), wanted_cycles(built)
    value, load = view.repeated, view.equivalent or 0.0
    ranged = f"its range {view.swing:.3g} MPa m^0.5 at a stress ratio of {view.ratio or 0.0:.2f}"
    if load > (view.swing or 0.0) * (1.0 + 1e-9):
        ranged += f", as {load:.3g} at that of the threshold by Walker 1970,"
    told = f"flaw of {view.flaw:g} mm, {ranged} against the threshold, {view.history.method}{_direction(view)}"
    if (value is None or value >= 1.0) and wanted and law and view.life and view.life.histories:
        value = float((wanted / view.life.histories) ** (1.0 / law.exponent))
        told = (
            f"flaw of {view.flaw:g} mm lives {view.life.histories:.3g} histories of the {wanted:g} asked for; as a ratio "
            f"of ranges, {ranged}; {view.history.method}{_direction(view)}"
        )
        return value, told, load / value if value > 0.0 else None, view.life_problem
    return value, told, None if not value else load / value, view.ratio_problem


def uncovered(said: Said, gap: str) -> Said:
    """Return what a view says where the place that matters most, the floor's corner, is not in it: nothing below the limit."""
    if not gap or said.value is None or said.value >= 1.0:
        return said
    return Said(said.view, said.where, None, reason=f"{gap}; {said.value:.2f} at the {said.where}")


def _worst_reason(views: Sequence[FlawView], reason: str, size: str) -> str:
    """The reason of the crack that asks most, so that the value that it needs is enough for all."""
    own = [view for view in views if view.history.body == "boss" and getattr(view, reason)]
    if not own:
        return ""
    return str(getattr(max(own, key=lambda view: getattr(view, size) or 0.0), reason))


def weakest_once(link: WeakestLink, limit: float | None, pull: float = 0.0) -> Said:
    """Return what the weakest link says; limit: yield strength, MPa; pull: MPa of a residual stress, which it leaves out."""
    if link.ratio is None:
        return Said(LINK, "whole boss", None, link.index, reason=link.reason)
    told = f"probability {link.probability:.2g}, effective volume {link.effective:.3g} mm3 at {link.largest:.0f} MPa"
    if pull:
        told += f"; the residual stress of {pull:.0f} MPa is left out: the volume that it fills is not stated"
    if link.yielding == FOLLOWED:
        told += "; stress that yielding leaves"
    elif limit is not None and (link.largest or 0.0) > limit:
        over = f"elastic peaks above the yield strength, {limit:.0f} MPa, overstate it"
        follow = "[inelastic] gives the stress that yielding leaves"
        if link.yielding == CUT:
            over = f"beyond the zone that may yield {over}"
            follow = 'zone = "boss" gives the stress that yielding leaves everywhere'
        if link.ratio >= 1.0:
            return Said(
                LINK,
                "whole boss",
                None,
                link.index,
                reason=f"{link.ratio:.2f}, an upper bound ({told}): {over}; {follow}",
            )
        told += f"; {over}"
    return Said(LINK, "whole boss", link.ratio, link.index, None, None, "", told)


def fatigue_repeated(views: Sequence[FatigueView]) -> Said:
    """Return what the multiaxial cycle says of the boss."""
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
    worst = largest_said(found, CYCLE, [view.reason for view in views if view.body == "boss"][:1])
    return uncovered(worst, "" if corner.ratio is not None else corner.reason)


FEWER = "for fewer cycles than the 5e8 of the data more is stood, how much is not known"


def _upper_bound(view: FatigueView) -> str:
    """What a ratio above 1 means, which is no proof of failure, and what would make it safe."""
    text = f"{view.ratio:.2f} at the {view.place}, an upper bound"
    if not view.averaged:
        text += " at the surface, the depth over which to average not being known"
    if view.needed is not None:
        text += f"; a fatigue strength of {view.needed:.0f} MPa would make it safe"
    return text
