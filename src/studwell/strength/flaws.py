"""Second view of cracking: a starting flaw by fracture mechanics; static, against the threshold, and its growth life."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from studwell.crack.records import KCurve
from studwell.joint.build import BuiltJoint
from studwell.joint.crack_paths import BORE
from studwell.parts.bore_crack import bore_crack_intensity, bore_crack_places
from studwell.parts.crack import edge_crack_intensity
from studwell.parts.growth import GrowthLaw, GrowthLife, growth_life
from studwell.parts.material import Material
from studwell.strength.distances import cycle_states, material_of, path_distance, paths_of
from studwell.strength.timeline import Timeline, stresses

Array = np.ndarray

BORE_WALL_SHARE = 0.25
"""Share of the wall to which the weight function of a plate without end is taken: beyond, the outer wall counts."""

BORE_SIZES = 14
SMALLEST = 0.02
"""mm, the smallest radial crack on a curve."""

NO_FLAW = "the case states no [crack] flaw"


@dataclass(frozen=True)
class CrackHistory:
    """Stress intensity of one crack: sizes (n,) mm, intensity (states, n) MPa m^0.5, over the whole timeline.

    place : in plain words;  body;  wall: mm to break-through;  method: plain words
    curve : what it was taken from, None for a weight function
    """

    place: str
    body: str
    wall: float
    method: str
    sizes: Array = field(repr=False)
    intensity: Array = field(repr=False)
    curve: KCurve | None = field(default=None, repr=False)

    def at(self, size: float) -> Array:
        """Return the intensity (states,) at a size, mm: K over sqrt(a) straight between sizes and held below the first.

        raises ValueError : a size beyond the last
        """
        if size > self.sizes[-1]:
            raise ValueError(f"the stress intensity is known to {self.sizes[-1]:.3g} mm only, not at {size:.3g} mm")
        root = np.sqrt(self.sizes)
        return along_rows(np.array([size]), self.sizes, self.intensity / root)[:, 0] * np.sqrt(size)


@dataclass(frozen=True)
class FlawView:
    """One crack. Numbers at the starting flaw are None without one, or where the material is not known.

    largest, ranges  : (n,) MPa m^0.5 over the sizes: of all states, of those that come back
    flaw             : mm;  intensity, swing: MPa m^0.5 at it;  index: the state of the largest
    once, repeated   : over toughness, over threshold;  reasons say why they are None
    critical         : mm, where the largest intensity reaches the toughness; None where it does not, or none is known
    life, inspected  : histories from flaw and from inspection_size to break-through; None with life_reason
    """

    history: CrackHistory
    largest: Array = field(repr=False)
    ranges: Array = field(repr=False)
    flaw: float | None = None
    intensity: float | None = None
    swing: float | None = None
    index: int | None = None
    once: float | None = None
    once_reason: str = ""
    repeated: float | None = None
    repeated_reason: str = ""
    critical: float | None = None
    life: GrowthLife | None = None
    inspected: GrowthLife | None = None
    life_reason: str = ""


def bore_histories(built: BuiltJoint, timeline: Timeline) -> tuple[CrackHistory, ...]:
    """Return two opposite radial cracks from the hole's wall, opened by the hoop stress, at every level path.

    They run the hole's whole length, which a flaw at one level does not: K is on the careful side. Sizes end at a quarter of
    the wall, where the outer wall begins to count. Source: weight function of parts.bore_crack.
    """
    found = []
    for name in paths_of(built, "boss", BORE):
        where = built.joint.bodies[built.joint.body_index("boss")].stress[name].where
        radius, outer = float(where[0, 0]), built.layout.boss.outer_radius
        distance = path_distance(built, "boss", name)
        hoop = stresses(built.joint, timeline, "boss", name)[..., 1]
        sizes = np.geomspace(SMALLEST, BORE_WALL_SHARE * (outer - radius), BORE_SIZES)
        columns = []
        for size in sizes:
            places = bore_crack_places(radius, float(size))
            at = along_rows(places, distance, hoop)
            columns.append(bore_crack_intensity(radius, float(size), at.T))
        found.append(
            CrackHistory(
                f"radial crack at the {name.removeprefix(BORE).strip()} of the hole".replace(
                    "the floor of the hole", "the hole's floor"
                ),
                "boss",
                outer - radius,
                "weight function of two radial cracks at a hole in a wide plate, on the hoop stress",
                sizes,
                np.column_stack(columns),
            )
        )
    return tuple(found)


def along_rows(places: Array, distance: Array, rows: Array) -> Array:
    """Return rows (states, n) given at rising distances (n,) at other places (p,), (states, p): straight between, held
    beyond the ends, as np.interp does one row."""
    left = np.clip(np.searchsorted(distance, places, side="right") - 1, 0, len(distance) - 2)
    inside = np.clip(places, distance[0], distance[-1]) - distance[left]
    slopes = np.diff(rows, axis=1) / np.diff(distance)
    return rows[:, left] + slopes[:, left] * inside


def growth_law(material: Material) -> GrowthLaw | None:
    """Return a material's law of growth, None if it is not known."""
    numbers = (material.growth_coefficient, material.growth_exponent, material.growth_low, material.growth_high)
    if any(number is None for number in numbers):
        return None
    return GrowthLaw(*numbers, threshold=material.threshold)  # type: ignore[arg-type]


def flaw_view(built: BuiltJoint, timeline: Timeline, history: CrackHistory) -> FlawView:
    """Return what one crack's stress intensity means for the case's flaw, toughness, threshold and law of growth.

    A residual stress of the case adds 1.1215 s sqrt(pi a), of a shallow edge crack (Tada, Paris & Irwin), to every state.
    """
    crack, material = built.setup.crack, material_of(built, history.body)
    residual = 0.0 if crack is None or history.body != "boss" else (crack.residual_stress or 0.0)
    added = edge_crack_intensity(residual, history.sizes)
    history = replace(history, intensity=history.intensity + added)
    opened = np.maximum(history.intensity, 0.0)
    cycle = cycle_states(timeline)
    largest, ranges = opened.max(axis=0), np.ptp(opened[cycle], axis=0)
    critical = _critical(history.sizes, largest, material.fracture_toughness)
    flaw = None if crack is None else crack.flaw
    base = {"history": history, "largest": largest, "ranges": ranges, "flaw": flaw, "critical": critical}
    inspected, inspected_reason = _life(built, history, cycle, None if crack is None else crack.inspection_size)
    if flaw is None:
        return FlawView(
            **base,
            once_reason=NO_FLAW,
            repeated_reason=NO_FLAW,
            inspected=inspected,
            life_reason=inspected_reason or NO_FLAW,
        )
    try:
        at = np.maximum(history.at(flaw), 0.0)
    except ValueError as problem:
        told = str(problem)
        return FlawView(**base, once_reason=told, repeated_reason=told, inspected=inspected, life_reason=told)
    index = int(np.argmax(at))
    most, swing = float(at[index]), float(np.ptp(at[cycle]))
    tough, threshold = material.fracture_toughness, material.threshold
    once_reason = repeated_reason = ""
    if tough is None:
        once_reason = f"fracture toughness of {material.name} is not known; above {most:.3g} MPa m^0.5 it is safe"
    if threshold is None:
        repeated_reason = (
            f"threshold of crack growth of {material.name} is not known; above {swing:.3g} MPa m^0.5 it is safe"
        )
    life, life_reason = _life(built, history, cycle, flaw)
    return FlawView(
        **base,
        intensity=most,
        swing=swing,
        index=index,
        once=None if tough is None else most / tough,
        once_reason=once_reason,
        repeated=None if threshold is None else swing / threshold,
        repeated_reason=repeated_reason,
        life=life,
        inspected=inspected,
        life_reason=life_reason,
    )


def _critical(sizes: Array, largest: Array, toughness: float | None) -> float | None:
    if toughness is None or not np.any(largest >= toughness):
        return None
    first = int(np.argmax(largest >= toughness))
    if first == 0:
        return float(sizes[0] * (toughness / largest[0]) ** 2)  # K as sqrt(a) below the first size
    share = (toughness - largest[first - 1]) / (largest[first] - largest[first - 1])
    return float(sizes[first - 1] + share * (sizes[first] - sizes[first - 1]))


def _life(built: BuiltJoint, history: CrackHistory, cycle: Array, start: float | None) -> tuple[GrowthLife | None, str]:
    if start is None:
        return None, ""
    material = material_of(built, history.body)
    law = growth_law(material)
    if law is None:
        return None, f"law of crack growth of {material.name} is not known (no source found)"
    sizes, intensity = history.sizes, history.intensity[cycle]
    if start < sizes[0]:
        intensity = np.column_stack([intensity[:, 0] * np.sqrt(start / sizes[0]), intensity])
        sizes = np.append(start, sizes)
    try:
        life = growth_life(law, sizes, intensity, start, material.fracture_toughness)
    except ValueError as problem:
        return None, str(problem)
    return life, life.reason
