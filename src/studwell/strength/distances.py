"""First view of cracking: critical distances at the floor's corner, the mouth and the thread roots, once and repeated."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.fem.elasticity import principal_stresses
from studwell.joint.build import BuiltJoint
from studwell.parts.crack import critical_distance, line_method, point_method
from studwell.parts.fatigue import pulsating_range
from studwell.parts.material import Material
from studwell.strength.margin import node_temperatures
from studwell.strength.timeline import Timeline, first_principal, stresses

Array = np.ndarray

PLACES: tuple[tuple[str, str, str], ...] = (
    ("floor corner", "boss", "floor path"),
    ("mouth", "boss", "bore path mouth"),
    ("first thread root", "boss", "root path first"),
    ("last thread root", "boss", "root path last"),
    ("first thread root", "stud", "root path first"),
    ("last thread root", "stud", "root path last"),
)
"""Place, body, and how the names of its stress paths begin."""

NO_PATH = {
    "floor corner": 'the boss mesh of the case has no boundary "fillet" from which a path could start',
    "mouth": "the hole's wall has no level line at the mouth in this mesh",
}
NO_TEETH = "the thread is a smooth layer in this model: only the grooves model has roots"

TRIED = np.geomspace(0.2, 200.0, 90)
"""Toughnesses, MPa m^0.5, tried for the least that would do."""


@dataclass(frozen=True)
class Distance:
    """One judgement by critical distance: load over capacity by point and line, None where the path is too short.

    length : L, mm;  strength: MPa, what the stress is held against;  path;  distance, stress: (n,) along it
    index  : the state, of a range its higher one
    """

    length: float
    strength: float
    path: str
    point: float | None
    line: float | None
    index: int
    distance: Array = field(repr=False)
    stress: Array = field(repr=False)

    @property
    def value(self) -> float:
        """The larger of both methods."""
        return max(v for v in (self.point, self.line) if v is not None)


@dataclass(frozen=True)
class DistanceView:
    """One place. once, repeated: None with the reason; needed_*: toughness or threshold, MPa m^0.5, from which on it holds."""

    place: str
    body: str
    once: Distance | None
    repeated: Distance | None
    once_reason: str = ""
    repeated_reason: str = ""
    needed_toughness: float | None = None
    needed_threshold: float | None = None


def cycle_states(timeline: Timeline) -> Array:
    """Return the indices of the states that come back: the run, and it under cylinder pressure; not the assembly."""
    return np.arange(int(timeline.run[0]), len(timeline.states))


def wanted_cycles(built: BuiltJoint) -> float | None:
    """Return how often the history is to be borne: [crack] cycles, else the cycles of a history of many, else None."""
    crack, cycles = built.setup.crack, built.setup.history.cycles
    if crack is not None and crack.cycles is not None:
        return crack.cycles
    return float(cycles) if cycles > 1 else None


def body_node_temperatures(built: BuiltJoint, timeline: Timeline, temperatures: Array, body: str) -> Array:
    """Return a body's temperature (states,) degC; the hotter end of the stud."""
    if body == "stud":
        ends = [node_temperatures(built, timeline, temperatures, node) for node in ("stud_tip", "stud_top")]
        return np.maximum(*ends)
    return node_temperatures(built, timeline, temperatures, body)


def material_of(built: BuiltJoint, body: str) -> Material:
    """Return the material of boss or stud."""
    return built.setup.boss.material if body == "boss" else built.setup.stud.material


def residual_pull(built: BuiltJoint, body: str = "boss") -> float:
    """Return the pull, MPa, that a residual stress of the case adds to the boss's surface.

    A residual pressure is not credited: how deep it goes is not stated. 0 in the stud.
    """
    crack = built.setup.crack
    return 0.0 if crack is None or body != "boss" else max(crack.residual_stress or 0.0, 0.0)


def endurance_at(material: Material, temperature: Array, factor: float | None) -> Array | None:
    """Return the fatigue strength (...) MPa at temperatures (...) degC: the room value falls as the tensile strength does.

    factor : of the surface; None: as the data. None if fatigue or tensile strength is unknown
    """
    if material.fatigue_strength is None or material.ultimate_strength is None:
        return None
    ultimate = material.ultimate_strength
    falls = np.minimum(np.asarray(ultimate.at(temperature)) / float(ultimate.at(20.0)), 1.0)
    return material.fatigue_strength * (1.0 if factor is None else factor) * falls


def paths_of(built: BuiltJoint, body: str, begins: str) -> list[str]:
    """Return the names of a body's stress paths that begin so."""
    return [name for name in built.joint.bodies[built.joint.body_index(body)].stress if name.startswith(begins)]


def distance_views(built: BuiltJoint, timeline: Timeline, temperatures: Array) -> tuple[DistanceView, ...]:
    """Return the view of every place of PLACES.

    Once: first principal stress against the tensile strength at temperature, L from the toughness. Repeated: half the range
    of the normal stress on the plane where it swings most, against the fatigue strength lowered by that plane's mean
    (Goodman 1899), L from threshold and pulsating fatigue range. A residual pull is added to the first principal stress and
    to the mean, all along. Source: Taylor 2007; Whitney & Nuismer 1974.
    """
    return tuple(_view(built, timeline, temperatures, *place) for place in PLACES)


def _view(
    built: BuiltJoint, timeline: Timeline, temperatures: Array, place: str, body: str, begins: str
) -> DistanceView:
    names = paths_of(built, body, begins)
    if not names:
        reason = NO_PATH.get(place, NO_TEETH)
        return DistanceView(place, body, None, None, reason, reason)
    material = material_of(built, body)
    at = body_node_temperatures(built, timeline, temperatures, body)
    once, once_reason, tough = _once(built, timeline, material, at, body, names)
    repeated, repeated_reason, threshold = _repeated(built, timeline, material, at, body, names)
    return DistanceView(place, body, once, repeated, once_reason, repeated_reason, tough, threshold)


def path_distance(built: BuiltJoint, body: str, name: str) -> Array:
    """Return the distances (n,) mm along a stress path from its start."""
    where = built.joint.bodies[built.joint.body_index(body)].stress[name].where
    return np.linalg.norm(where - where[0], axis=1)


def judged(
    path: str, distance: Array, stress: Array, toughness: float, strength: float, inherent: float, index: int
) -> Distance | None:
    """Return both methods on one path; None where it is too short for both.

    inherent : MPa, makes L with the toughness (or threshold);  strength: MPa, what the stress is held against
    """
    length = float(critical_distance(toughness, inherent))
    point = line = None
    if distance[-1] >= 0.5 * length:
        point = float(point_method(distance, stress, length)) / strength
    if distance[-1] >= 2.0 * length:
        line = float(line_method(distance, stress, length)) / strength
    if point is None and line is None:
        return None
    return Distance(length, strength, path, point, line, index, distance, stress)


def needed(curves: list[tuple[Array, Array, float, float]]) -> float | None:
    """Return the least toughness of TRIED from which on every (distance, stress, strength, inherent) holds.

    None where even the largest for which the paths are long enough does not.
    """
    fails, reached = np.zeros(len(TRIED), bool), np.ones(len(TRIED), bool)
    for distance, stress, strength, inherent in curves:
        lengths = np.asarray(critical_distance(TRIED, inherent))
        spans = np.minimum(2.0 * lengths, distance[-1])
        area = np.append(0.0, np.cumsum(0.5 * (stress[1:] + stress[:-1]) * np.diff(distance)))
        line = np.where(2.0 * lengths <= distance[-1], np.interp(spans, distance, area) / spans, -np.inf)
        point = np.where(0.5 * lengths <= distance[-1], np.interp(0.5 * lengths, distance, stress), -np.inf)
        reached &= 0.5 * lengths <= distance[-1]
        fails |= np.maximum(line, point) >= strength
    first = 0 if not np.any(fails & reached) else int(np.flatnonzero(fails & reached)[-1]) + 1
    return float(TRIED[first]) if first < len(TRIED) and reached[first] else None


def _once(
    built: BuiltJoint, timeline: Timeline, material: Material, at: Array, body: str, names: list[str]
) -> tuple[Distance | None, str, float | None]:
    if material.ultimate_strength is None:
        return None, f"tensile strength of {material.name} is not known", None
    strengths = np.asarray(material.ultimate_strength.at(at))
    residual = residual_pull(built, body)
    found, curves = [], []
    for name in names:
        distance = path_distance(built, body, name)
        along = np.maximum(first_principal(stresses(built.joint, timeline, body, name)) + residual, 0.0)
        # the path's shape changes little: judge the states whose stress near its start is largest
        near = [int(np.searchsorted(distance, share * distance[-1])) for share in (0.12, 0.37)]
        for index in np.unique([int(np.argmax(along[:, k] / strengths)) for k in near]):
            strength = float(strengths[index])
            curves.append((distance, along[index], strength, strength))
            if material.fracture_toughness is not None:
                found.append(
                    judged(name, distance, along[index], material.fracture_toughness, strength, strength, int(index))
                )
    least = needed(curves)
    if material.fracture_toughness is None:
        reason = f"fracture toughness of {material.name} is not known (no source found)"
        return None, reason + _would_do(least), least
    known = [each for each in found if each is not None]
    if not known:
        return None, "the metal is thinner than the critical distance: neither method holds there", least
    return max(known, key=lambda each: each.value), "", least


def _would_do(least: float | None) -> str:
    if least is None:
        return ""
    return (
        "; any toughness would make it safe"
        if least <= TRIED[0]
        else f"; {least:.3g} MPa m^0.5 or more would make it safe"
    )


def _repeated(
    built: BuiltJoint, timeline: Timeline, material: Material, at: Array, body: str, names: list[str]
) -> tuple[Distance | None, str, float | None]:
    crack = built.setup.crack
    limit = endurance_at(material, at, None if crack is None or body != "boss" else crack.surface_factor)
    if limit is None or material.ultimate_strength is None:
        missing = "fatigue strength" if material.fatigue_strength is None else "tensile strength"
        return None, f"{missing} of {material.name} is not known (no source found)", None
    ultimate = np.asarray(material.ultimate_strength.at(at))
    cycle = cycle_states(timeline)
    residual = residual_pull(built, body)
    found, curves = [], []
    for name in names:
        distance = path_distance(built, body, name)
        stress = stresses(built.joint, timeline, body, name)[cycle]
        swing, mean, high, low = largest_range(stress, int(np.searchsorted(distance, 0.12 * distance[-1])))
        state = int(cycle[high])
        f = float(min(limit[cycle[high]], limit[cycle[low]]))
        u = float(min(ultimate[cycle[high]], ultimate[cycle[low]]))
        # amplitude over f(1 - mean/u) rewritten, so that the stress along the path is what is held against f
        along = 0.5 * swing + f / u * np.maximum(mean + residual, 0.0)
        pulsating = float(pulsating_range(f, u))
        curves.append((distance, along, f, pulsating))
        if material.threshold is not None:
            found.append(judged(name, distance, along, material.threshold, f, pulsating, state))
    least = needed(curves)
    if material.threshold is None:
        reason = f"threshold of crack growth of {material.name} is not known (no source found)"
        return None, reason + _would_do(least), least
    known = [each for each in found if each is not None]
    if not known:
        return None, "the metal is thinner than the critical distance: neither method holds there", least
    return max(known, key=lambda each: each.value), "", least


def largest_range(stress: Array, place: int) -> tuple[Array, Array, int, int]:
    """Return how far the normal stress swings along a path between the two instants that differ most at one place.

    stress  : (states, n, 4) MPa
    returns : range (n,) and mean (n,) MPa on the plane of the largest range at each point, and the two instants, the higher
              first. The range on that plane is the first principal of the difference; its mean is bounded by that of the
              mean stress, which is taken
    """
    chosen = extreme_states(stress[:, place])
    here = stress[chosen][:, place]
    pairs = principal_stresses(here[:, None] - here[None, :])[..., 0]
    i, j = np.unravel_index(int(np.argmax(pairs)), pairs.shape)
    high, low = int(chosen[i]), int(chosen[j])
    swing = np.maximum(first_principal(stress[high] - stress[low]), 0.0)
    return swing, np.asarray(first_principal(0.5 * (stress[high] + stress[low]))), high, low


def extreme_states(stress: Array) -> Array:
    """Return the states (k,) at which a component, a principal or the sum of stresses (states, 4) is extreme."""
    parts = np.column_stack([stress, principal_stresses(stress), stress[:, :3].sum(axis=1)])
    return np.unique([*np.argmax(parts, axis=0), *np.argmin(parts, axis=0)])
