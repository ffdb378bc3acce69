"""Cracks in boss and stud by four views side by side, and the margins that follow: once, repeated, stud fatigue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.strength.crack_said import (
    Said,
    distance_once,
    distance_repeated,
    fatigue_repeated,
    flaw_once,
    flaw_repeated,
    uncovered,
    weakest_once,
)
from studwell.strength.crack_trust import beyond_small_scale, breaks_at_once, is_long, trust_once, trust_repeated
from studwell.strength.distances import DistanceView, distance_views, residual_pull, wanted_cycles
from studwell.strength.fatigue import FatigueView, fatigue_views, stud_fatigue
from studwell.strength.flaws import CrackHistory, FlawView, bore_histories, flaw_view
from studwell.strength.margin import Margin, unknown_margin
from studwell.strength.recovery import SpaceCache
from studwell.strength.timeline import Timeline
from studwell.strength.weakest import WeakestLink, weakest_link

Array = np.ndarray

ONCE, REPEATED, STUD = "boss crack (once)", "boss crack (repeated)", "stud fatigue"
CRACK_MODES = (ONCE, REPEATED, STUD)


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
    followed = (*cracks, *bore_histories(built, timeline))
    flaws = tuple(flaw_view(built, timeline, each, temperatures) for each in followed)
    weakest = weakest_link(built, timeline, spaces)
    fatigue = fatigue_views(built, timeline, temperatures)
    yields = built.setup.boss.material.yield_strength
    limit = None if yields is None else float(yields.at(20.0))
    pull = residual_pull(built)
    gap = missing or ("" if covers_corner(flaws) else "no crack at the floor's corner was solved")
    once = (distance_once(distances, pull), uncovered(flaw_once(flaws), gap), weakest_once(weakest, limit, pull))
    repeated = (
        distance_repeated(distances, pull),
        uncovered(flaw_repeated(built, flaws), gap),
        fatigue_repeated(fatigue),
    )
    apart = {ONCE: _apart(once), REPEATED: _apart(repeated)}
    trust = {
        ONCE: trust_once(built, distances, flaws, once),
        REPEATED: trust_repeated(built, distances, flaws, repeated),
    }
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
    if breaks_at_once(views.flaws) is not None:
        return Margin(
            REPEATED,
            "damage",
            by_flaw.value,
            when="" if by_flaw.index is None else timeline.when(by_flaw.index),
            reason=f"that of {ONCE}: a flaw that breaks at once has no range to hold against the threshold",
            method=f"{by_flaw.view} governs, at the {by_flaw.where}: {by_flaw.method}",
        )
    settled = ""
    asked = [by_cycle]
    if built.setup.boss.material.threshold is not None:
        asked.append(by_distance)
    if crack is not None and crack.flaw is not None:
        asked.append(by_flaw)
        whole = all(view.swing is not None for view in views.flaws if view.history.body == "boss")
        long = is_long(built, views.distances) and not beyond_small_scale(views.flaws, growing=True)
        if by_flaw.value is not None and whole and covers_corner(views.flaws) and long:
            # what does not let a long crack grow stops one that begins without a flaw too
            settled = "; ".join(
                f"{said.view} {said.reason if said.value is None else f'{said.value:.2f}'}" for said in asked
            )
            asked = [by_flaw]
    often = "without end" if wanted is None else f"for {wanted:g} histories"
    notes = [f"{often}; fatigue strength of the data is that of 5e8 cycles of bars, the careful side for fewer"]
    if crack is None or crack.flaw is None:
        notes.append("no flaw beyond what those bars had: [crack] flaw states one")
    if settled:
        notes.append(f"the views without a flaw are not asked, the long flaw settles what grows; they say: {settled}")
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


def _apart(said: Sequence[Said]) -> float | None:
    known = [s.value for s in said if s.value]
    return max(known) / min(known) if len(known) > 1 else None


def covers_corner(views: Sequence[FlawView]) -> bool:
    """True if one of the cracks starts at the floor's corner."""
    return any("fillet" in view.history.place or "corner" in view.history.place for view in views)
