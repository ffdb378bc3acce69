"""Fourth view of cracking: fatigue of boss and stud by the multiaxial cycle with its mean, no flaw assumed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.fem.elasticity import von_mises
from studwell.joint.build import BuiltJoint
from studwell.parts.crack import critical_distance
from studwell.parts.fastener import property_class
from studwell.parts.fatigue import Swing, pulsating_range, sines_ratio, sines_swing, thread_endurance, thread_made
from studwell.parts.thread import stress_area
from studwell.strength.distances import (
    NO_PATH,
    NO_TEETH,
    PLACES,
    body_node_temperatures,
    cycle_states,
    endurance_at,
    extreme_states,
    material_of,
    path_distance,
    paths_of,
    residual_pull,
    wanted_cycles,
)
from studwell.strength.margin import Margin, unknown_margin
from studwell.strength.timeline import Timeline, stresses
from studwell.units import count_text

Array = np.ndarray

SINES = "Sines 1955, mean by Goodman 1899"
"""The criterion, and why this one: heat adds a small swing to a large steady stress in all directions, so what counts is the
steady normal stress on every plane; it needs two numbers that the alloys in stock have, and any pair of instants has it."""


@dataclass(frozen=True)
class FatigueView:
    """One place of boss or stud by the Sines criterion, in the states that come back.

    ratio     : load over capacity, None with the reason;  amplitude, mean: MPa (mean: sum of three), of the worst pair
    strength  : MPa, amplitude that it stands without mean stress
    averaged  : mm over which the stress was averaged from the surface; 0 at the surface itself
    held      : True if yielding holds the mean down
    needed    : MPa, the fatigue strength (rotating bending, room) from which on it holds
    """

    place: str
    body: str
    ratio: float | None
    amplitude: float | None = None
    mean: float | None = None
    strength: float | None = None
    averaged: float = 0.0
    held: bool = False
    needed: float | None = None
    path: str = ""
    index: int | None = None
    reason: str = ""


def fatigue_views(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> tuple[FatigueView, ...]:
    """Return the Sines criterion at every place of PLACES, on the worst of its paths.

    Averaged over twice the critical distance of fatigue where the threshold is known (line method, Taylor 2007); else at
    the surface, the careful side. Where elastic stress passes the yield strength, yielding holds the mean down: it is scaled
    so that the peak's von Mises stress is the yield strength; common practice, no source.
    """
    return tuple(_view(built, timeline, temperatures, *place) for place in PLACES)


def _view(
    built: BuiltJoint, timeline: Timeline, temperatures: Array, place: str, body: str, begins: str
) -> FatigueView:
    names = paths_of(built, body, begins)
    if not names:
        return FatigueView(place, body, None, reason=NO_PATH.get(place, NO_TEETH))
    material, crack = material_of(built, body), built.setup.crack
    at = body_node_temperatures(built, timeline, temperatures, body)
    factor = None if crack is None or body != "boss" else crack.surface_factor
    limit = endurance_at(material, at, factor)
    if limit is None or material.ultimate_strength is None:
        missing = "fatigue strength" if material.fatigue_strength is None else "tensile strength"
        return FatigueView(place, body, None, reason=f"{missing} of {material.name} is not known (no source found)")
    cycle = cycle_states(timeline)
    f, u = limit[cycle], np.asarray(material.ultimate_strength.at(at))[cycle]
    y = None if material.yield_strength is None else np.asarray(material.yield_strength.at(at))[cycle]
    residual = residual_pull(built, body)
    worst: FatigueView | None = None
    for name in names:
        distance = path_distance(built, body, name)
        stress = stresses(built.joint, timeline, body, name)[cycle]
        over = _averaged_over(material.threshold, float(f.min()), float(u.min()), float(distance[-1]))
        here = stress[:, 0] if over == 0.0 else line_average(distance, stress, over)
        chosen = extreme_states(here)
        swing = sines_swing(here[chosen], f[chosen], u[chosen], residual)
        strength, break_at = float(f[chosen].min()), float(u[chosen].min())
        ratio, mean, held = swing.ratio, swing.mean, False
        if y is not None:
            ratio, mean, held = _held(here[chosen], swing, strength, break_at, float(y[chosen].min()))
        if worst is None or worst.ratio is None or ratio > worst.ratio:
            room = float(material.fatigue_strength or 0.0)
            left = 1.0 - max(mean, 0.0) / break_at
            least = None if left <= 0.0 else swing.amplitude / left * room / strength
            worst = FatigueView(
                place, body, ratio, swing.amplitude, mean, strength, over, held, least, name,
                int(cycle[chosen[swing.first]]),
            )  # fmt: skip
    assert worst is not None
    return worst


def _held(stress: Array, swing: Swing, strength: float, break_at: float, limit: float) -> tuple[float, float, bool]:
    """Ratio and mean once yielding has taken the peak down to the yield strength, and whether it does."""
    mean = 0.5 * (stress[swing.first] + stress[swing.second])
    steady = float(von_mises(mean))
    room = max(limit - swing.amplitude, 0.0)
    if steady <= room or steady <= 0.0:
        return swing.ratio, swing.mean, False
    lowered = swing.mean * room / steady
    return float(sines_ratio(swing.amplitude, lowered, strength, break_at)), lowered, True


def _averaged_over(threshold: float | None, f: float, u: float, reach: float) -> float:
    if threshold is None:
        return 0.0
    over = 2.0 * float(critical_distance(threshold, pulsating_range(f, u)))
    return over if over <= reach else 0.0


def line_average(distance: Array, stress: Array, over: float) -> Array:
    """Return the mean (states, 4) MPa of a stress (states, n, 4) along a path over its first `over` mm."""
    cut = np.append(distance[distance < over], over)
    at = np.array([[np.interp(cut, distance, row[:, c]) for c in range(4)] for row in stress])
    return np.asarray(np.trapezoid(at, cut, axis=-1) / (cut[-1] - cut[0]))


def stud_fatigue(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Half the range of the stud's tension over its stress area against the endurance of its thread.

    Range over heat and cylinder pressure together: heat may swing as far as the wanted number of histories allows, unknown
    where the case states none; cylinder pressure, which comes back without end, must stay below the endurance. Stress
    concentration of the root is in the endurance. Source: VDI 2230, as property_classes.toml states.
    """
    mode = "stud fatigue"
    stud, crack, forces = built.setup.stud, built.setup.crack, timeline.forces
    made = None if crack is None else crack.stud_thread
    if thread_made(stud.property_class) is None:
        return unknown_margin(
            mode, "damage", f"endurance of threads of class {stud.property_class} is not known (no source)"
        )
    thread = min((stud.thread, stud.nut_thread), key=stress_area)
    area = float(stress_area(thread))
    cycle = cycle_states(timeline)
    tension = forces.tension[cycle]
    amplitude, mean = 0.5 * float(np.ptp(tension)) / area, 0.5 * float(tension.max() + tension.min())
    strength = property_class(stud.property_class, thread.nominal_diameter)
    share = mean / (strength.yield_strength * area)
    wanted = wanted_cycles(built)
    try:
        end = thread_endurance(stud.property_class, thread.nominal_diameter, share, made, wanted)
    except ValueError as problem:
        return unknown_margin(mode, "damage", str(problem))
    load, capacity, what = amplitude, end.at_cycles, "heat"
    steps = len(timeline.run)
    if len(cycle) > steps:  # under cylinder pressure the same times again
        beat = 0.5 * float(np.max(np.abs(tension[steps:] - tension[:steps]))) / area
        what = "heat and cylinder pressure"
        if beat / end.long_life > load / capacity:
            load, capacity, what = beat, end.long_life, "cylinder pressure"
    stands = end.cycles(load)
    if wanted is None and load >= capacity and what != "cylinder pressure":
        least = f"{count_text(stands)} histories" if stands else f"fewer than {count_text(end.least)} histories"
        return unknown_margin(
            mode,
            "damage",
            f"how often the history comes back is not stated: an amplitude of {load:.0f} MPa, {load / capacity:.2f} of the "
            f"endurance ({end.status}), is stood for {least}; [crack] cycles states how many are wanted",
        )
    made = made or thread_made(stud.property_class)
    often = "without end" if wanted is None or what == "cylinder pressure" else f"for {count_text(wanted, 6)} histories"
    hot = float(np.max(body_node_temperatures(built, timeline, temperatures, "stud")))
    return Margin(
        mode,
        "damage",
        load / capacity,
        load=load,
        capacity=capacity,
        unit="MPa",
        when=timeline.when(int(cycle[int(np.argmax(tension))])),
        reason=f"amplitude of {what} {often}; endurance at room temperature, the stud reaches {hot:.0f} degC",
        method=f"nominal amplitude on the {area:.1f} mm2 of {thread.name}, thread {made}; {end.source} ({end.status})",
    )
