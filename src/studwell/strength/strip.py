"""What strips: every engaged thread by several routes, what governs, and the margins that follow."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.data import assumption
from studwell.joint.build import BuiltJoint
from studwell.joint.laws import LinearCompliance
from studwell.parts.fastener import property_class
from studwell.parts.insert import assembled_length
from studwell.parts.material import Material
from studwell.parts.strip import (
    PitchLoads,
    ShearAreas,
    capacity_per_pitch,
    hole_areas,
    insert_hole_areas,
    loads_per_pitch,
    points_per_pitch,
    stud_areas,
    stud_first_length,
)
from studwell.parts.thread import Thread, stress_area
from studwell.strength.margin import Margin, absent_margin, node_temperatures, ratio_margin, unknown_margin
from studwell.strength.timeline import Timeline

Array = np.ndarray

THREADS = ("boss thread", "insert thread", "nut thread")
"""The stud's thread in what it engages, an insert's outside in the boss, the stud's thread in the nut."""

MOST_LOADED = "most loaded pitch"
TENSION_ALONE = "stud tension alone"


@dataclass(frozen=True)
class Route:
    """One way to judge a thread: worst load over capacity, N. ratio None: not known, for the reason; when: its moment."""

    name: str
    load: float | None
    capacity: float | None
    ratio: float | None
    when: str
    basis: str
    reason: str = ""


@dataclass(frozen=True)
class StudFirst:
    """Engaged length, mm, from which the stud breaks before either side strips: at basic and limit sizes at room
    temperature, and hot, by the smaller areas at the hottest each side gets. None where an area has no limits."""

    basic: float
    limits: float | None
    hot: float


@dataclass(frozen=True)
class ThreadStrip:
    """One engaged thread.

    engaged    : mm
    routes     : the two sides at basic and at limit sizes, the most loaded pitch, the stud's tension alone
    governing  : name of the route of least capacity among the sides, None if a side's strength is not known
    load       : (states,) N, and capacity (states,) N of the governing route, None if that is not known
    pitches    : what each pitch carries in every state, None where no interface tells
    assembled, worst : indices of states: assembled, and with the largest ratio of the governing route (or load)
    stud_first : None if a side's strength is not known
    """

    name: str
    words: str
    engaged: float
    routes: tuple[Route, ...]
    governing: str | None
    reason: str
    load: Array = field(repr=False)
    capacity: Array | None = field(repr=False)
    pitches: PitchLoads | None = field(repr=False)
    assembled: int = 0
    worst: int = 0
    stud_first: StudFirst | None = None

    def route(self, name: str) -> Route:
        """Return a route by its name. Raises KeyError: no such route."""
        for route in self.routes:
            if route.name == name:
                return route
        raise KeyError(name)


@dataclass(frozen=True)
class _Side:
    """One side that may shear: areas (mm2) over the engaged length; shear strength (states,) MPa, and at room
    temperature, or None."""

    name: str
    areas: ShearAreas
    strength: Array | None
    room: float | None
    unknown: str


def thread_strips(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> tuple[ThreadStrip, ...]:
    """Return every engaged thread of a setup with its routes, the boss's first.

    temperatures : (run, nodes) degC
    Source: FED-STD-H28 / ASME B1.1 appendix B areas; shear strength 0.6 of tensile strength (Alexander 1977), of the
    boss, nut and insert hole at temperature, of the stud by its class at room temperature.
    """
    found = [boss_thread(built, timeline, temperatures)]
    if built.setup.boss.insert is not None:
        found.append(insert_thread(built, timeline, temperatures))
    return (*found, nut_thread(built, timeline, temperatures))


def engaged_length(built: BuiltJoint) -> float:
    """Return the engaged length of thread in the boss, mm: less what the turns back off, the drive's approach left out."""
    length = built.setup.engaged_thread
    if built.layout.tip_lift:  # a seat that is not the tip holds the stud higher: the mouth may cut thread off
        lines = built.layout.stud.thread_lines
        length = min(length, max(float(lines[-1] - lines[0]) - built.setup.tip_gap, 0.0))
    return length


def shear_strength(material: Material, temperatures: Array) -> Array | None:
    """Return the shear strength (n,) MPa at temperatures (n,) degC, None if the tensile strength is not known.

    Source: share of the tensile strength in assumptions.toml (Alexander 1977 uses 0.6).
    """
    if material.ultimate_strength is None:
        return None
    return assumption("shear_strength_ratio") * np.asarray(material.ultimate_strength.at(temperatures))


def boss_thread(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> ThreadStrip:
    """Return the stud's thread in the boss, or in its insert, whose wire is no thread that shears."""
    setup, length = built.setup, engaged_length(built)
    thread = setup.stud.thread
    sides = []
    if setup.boss.insert is None:
        material = setup.boss.material
        strength = shear_strength(material, node_temperatures(built, timeline, temperatures, "boss"))
        sides.append(_Side("hole", hole_areas(thread, length), strength, _room(material), _no_strength(material)))
    else:
        length = _shortest_insert(built)
    sides.append(_stud_side(built, thread, length, timeline))
    words = "stud in the boss" if setup.boss.insert is None else "stud in its insert"
    return _judged("boss thread", words, built, timeline, thread, length, tuple(sides), timeline.forces.thread)


def insert_thread(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> ThreadStrip:
    """Return the parent metal round the insert; raises ValueError without an insert."""
    setup = built.setup
    if setup.boss.insert is None:
        raise ValueError(f"{setup.name} has no insert")
    material, length = setup.boss.material, _shortest_insert(built)
    strength = shear_strength(material, node_temperatures(built, timeline, temperatures, "boss"))
    side = _Side(
        "hole", insert_hole_areas(setup.stud.thread, length), strength, _room(material), _no_strength(material)
    )
    load = timeline.forces.thread
    if built.joint.has("insert thread"):
        load = built.joint.axial_load("insert thread", np.stack([s.forces for s in timeline.states]))
    return _judged("insert thread", "insert in the boss", built, timeline, setup.stud.thread, length, (side,), load)


def nut_thread(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> ThreadStrip:
    """Return the stud's thread in the nut."""
    setup = built.setup
    thread = setup.stud.nut_thread
    length = float(built.layout.nut.thread_lines[-1] - built.layout.nut.thread_lines[0])
    strength = shear_strength(setup.nut.material, node_temperatures(built, timeline, temperatures, "nut"))
    sides = (
        _Side("nut", hole_areas(thread, length), strength, _room(setup.nut.material), _no_strength(setup.nut.material)),
        _stud_side(built, thread, length, timeline),
    )
    return _judged("nut thread", "stud in the nut", built, timeline, thread, length, sides, timeline.forces.nut_thread)


def _shortest_insert(built: BuiltJoint) -> float:
    """The engaged length in an insert, mm: no more than the shortest that it may be once screwed in."""
    insert = built.setup.boss.insert
    assert insert is not None
    shortest = float(assembled_length(insert.length, built.setup.stud.thread.pitch)[0])
    return min(engaged_length(built), shortest)


def _room(material: Material) -> float | None:
    strength = shear_strength(material, np.array([20.0]))
    return None if strength is None else float(strength[0])


def _no_strength(material: Material) -> str:
    return f"tensile strength of {material.name} is not known"


def _stud_side(built: BuiltJoint, thread: Thread, length: float, timeline: Timeline) -> _Side:
    strength = assumption("shear_strength_ratio") * _stud_strength(built, thread)
    return _Side("stud", stud_areas(thread, length), np.full(len(timeline.states), strength), strength, "")


def _stud_strength(built: BuiltJoint, thread: Thread) -> float:
    return property_class(built.setup.stud.property_class, thread.nominal_diameter).ultimate_strength


def _judged(
    name: str,
    words: str,
    built: BuiltJoint,
    timeline: Timeline,
    thread: Thread,
    length: float,
    sides: tuple[_Side, ...],
    load: Array,
) -> ThreadStrip:
    """All routes of one thread; load (states,) N."""
    routes: list[Route] = []
    known: list[tuple[str, float, Array]] = []
    for side in sides:
        for sizes, area in (("basic", side.areas.basic), ("limit", side.areas.limits)):
            title = f"{side.name}, {sizes} sizes"
            if area is None or side.strength is None:
                reason = side.unknown if side.strength is None else side.areas.fit
                routes.append(Route(title, None, None, None, "", "", reason))
                continue
            fit = f" ({side.areas.fit})" if sizes == "limit" else ""
            basis = f"{area:.1f} mm2 over {length:.2f} mm engaged at {sizes} sizes{fit}, all pitches at their limit together"
            routes.append(_route(title, timeline, load, area * side.strength, basis))
            known.append((title, area, side.strength))
    reason = next((side.unknown for side in sides if side.strength is None), "")
    capacity, governing, strength, area_per_mm = None, None, None, 0.0
    if known and not reason:
        title, area, strength = min(known, key=lambda each: float(np.min(each[1] * each[2])))
        capacity, governing, area_per_mm = area * strength, title, area / length
    pitches = pitch_loads(name, built, timeline, thread)
    worst = int(np.argmax(load if capacity is None else load / capacity))
    if capacity is not None and strength is not None:
        basis = (
            f"against the capacity by {governing}; forces of tip, dome and fluid left out, as yielding releases them"
        )
        routes.append(_route(TENSION_ALONE, timeline, np.minimum(timeline.forces.tension, load), capacity, basis))
        if pitches is not None:
            alone = capacity_per_pitch(pitches.lengths, area_per_mm, strength)
            ratio = pitches.loads / alone
            state, pitch = np.unravel_index(int(np.argmax(ratio)), ratio.shape)
            routes.append(
                Route(
                    MOST_LOADED,
                    float(pitches.loads[state, pitch]),
                    float(alone[state, pitch]),
                    float(ratio[state, pitch]),
                    timeline.when(int(state)),
                    f"pitch {pitch + 1} of {len(pitches.lengths)} against its own part of that area, nothing redistributed",
                )
            )
    return ThreadStrip(
        name,
        words,
        length,
        tuple(routes),
        governing,
        reason,
        load,
        capacity,
        pitches,
        timeline.assembled,
        worst,
        _stud_first(built, thread, length, sides),
    )


def _route(name: str, timeline: Timeline, load: Array, capacity: Array, basis: str) -> Route:
    worst = int(np.argmax(load / capacity))
    own, most = float(load[worst]), float(capacity[worst])
    return Route(name, own, most, own / most, timeline.when(worst), basis)


def _stud_first(built: BuiltJoint, thread: Thread, length: float, sides: tuple[_Side, ...]) -> StudFirst | None:
    """Where the weakest length of the stud breaks before any side strips; None if a side's strength is not known."""
    load = min(stress_area(thread), built.layout.stretch_area) * _stud_strength(built, thread)

    def needed(area: float, shear: float) -> float:
        return float(stud_first_length(load, area / length, shear, 1.0))

    basic, limits, hot = [], [], []
    for side in sides:
        if side.strength is None or side.room is None:
            return None
        basic.append(needed(side.areas.basic, side.room))
        if side.areas.limits is not None:
            limits.append(needed(side.areas.limits, side.room))
        hot.append(needed(side.areas.smaller, float(side.strength.min())))
    return StudFirst(max(basic), max(limits) if len(limits) == len(sides) else None, max(hot))


def pitch_loads(name: str, built: BuiltJoint, timeline: Timeline, thread: Thread) -> PitchLoads | None:
    """Return what each pitch of an engaged thread carries in every state, from the forces of its interface.

    None if the joint has no such interface, or one whose heights are not known. Pitches count from the mouth in the
    boss, from the bearing face in the nut.
    """
    if not built.joint.has(name):
        return None
    face = built.joint.interface(name)
    carries = face.axial != 0.0
    forces = np.stack([state.forces[built.joint.slices[name]] for state in timeline.states])
    loads = (forces * face.axial)[:, carries]
    lines = {"boss thread": built.layout.stud.thread_lines, "nut thread": built.layout.nut.thread_lines}.get(name)
    end = "bottom" if name == "nut thread" else "top"
    even = isinstance(face.law, LinearCompliance)
    if lines is not None and even and len(lines) == loads.shape[1] + 1:
        return loads_per_pitch(lines, loads, thread.pitch, end)
    if face.heights is None:
        return None
    heights = np.asarray(face.heights)[carries]
    if even and len(heights) > 1:
        middles = 0.5 * (heights[1:] + heights[:-1])
        edges = np.concatenate([[2 * heights[0] - middles[0]], middles, [2 * heights[-1] - middles[-1]]])
        return loads_per_pitch(edges, loads, thread.pitch, end)
    # flanks of their own: a pitch begins just beyond the outermost one that carries, so that none is cut in two
    own = heights[face.axial[carries] > 0.0]
    edge = 1e-3 * thread.pitch
    found = points_per_pitch(float(own.min()) - edge, float(own.max()) + edge, heights, loads, thread.pitch, end)
    count = len(found.lengths)
    whole = thread.pitch * count if lines is None else float(lines[-1] - lines[0])
    return PitchLoads(np.full(count, whole / count), found.loads)


def _margin(mode: str, strip: ThreadStrip, timeline: Timeline) -> Margin:
    if strip.capacity is None or strip.governing is None:
        return unknown_margin(mode, "damage", strip.reason)
    tension = strip.route(TENSION_ALONE)
    load, pull = float(strip.load[strip.worst]), float(timeline.forces.tension[strip.worst])
    told = f"of the load {min(pull, load):.0f} N is force-controlled (stud tension) and {max(load - pull, 0.0):.0f} N "
    told += f"displacement-controlled (local yielding releases it); stud tension alone: {tension.ratio:.2f}"
    if strip.pitches is not None:
        told += f". Most loaded pitch alone, all elastic: {strip.route(MOST_LOADED).ratio:.2f}; a ductile strip lies between"
    route = strip.route(strip.governing)
    method = f"{strip.governing}: {route.basis}; 0.6 of tensile strength"
    return ratio_margin(mode, "damage", timeline, strip.load, strip.capacity, "N", method, told)


def boss_thread_strip(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Load of the stud's thread in the boss (or its insert) over the least stripping load of either side.

    Source: see thread_strips.
    """
    return _margin("boss thread strip", boss_thread(built, timeline, temperatures), timeline)


def insert_thread_strip(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Load of an insert over the stripping load of the parent metal round it. Source: see thread_strips."""
    if built.setup.boss.insert is None:
        return absent_margin("insert thread strip", "damage", "no insert in this setup")
    return _margin("insert thread strip", insert_thread(built, timeline, temperatures), timeline)


def nut_thread_strip(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> Margin:
    """Nut thread load over the least stripping load of nut and stud thread in the nut. Source: see thread_strips."""
    return _margin("nut thread strip", nut_thread(built, timeline, temperatures), timeline)
