"""Second view of cracking: a starting flaw by fracture mechanics; static, against the threshold, and its growth life."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from studwell.crack.records import KCurve
from studwell.joint.build import BuiltJoint
from studwell.joint.crack_paths import BORE
from studwell.parts.bore_crack import bore_crack_intensity, bore_crack_places
from studwell.parts.crack import edge_crack_intensity
from studwell.parts.crack_size import growth_scale_size, intensity_between, interpolation_errors, small_scale_size
from studwell.parts.growth import MOST_RATIO, GrowthLaw, GrowthLife, growth_life, stress_ratio, walker_range
from studwell.parts.material import Material
from studwell.strength.distances import (
    body_node_temperatures,
    cycle_states,
    material_of,
    path_distance,
    paths_of,
    residual_pull,
)
from studwell.strength.ligament import Ligament
from studwell.strength.strip import shear_strength
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
    chosen : how its direction was chosen, in plain words;  ligament: what it leaves whole, None where that is not known
    """

    place: str
    body: str
    wall: float
    method: str
    sizes: Array = field(repr=False)
    intensity: Array = field(repr=False)
    curve: KCurve | None = field(default=None, repr=False)
    chosen: str = ""
    ligament: Ligament | None = field(default=None, repr=False)

    def at(self, size: float) -> Array:
        """Return the intensity (states,) at a size, mm, by `parts.crack_size.intensity_between`.

        raises ValueError : a size beyond the last
        """
        if size > self.sizes[-1] * (1.0 + 1e-9):
            raise ValueError(f"the stress intensity is known to {self.sizes[-1]:.3g} mm only, not at {size:.3g} mm")
        return intensity_between(self.sizes, self.intensity, size)[:, 0]


@dataclass(frozen=True)
class FlawView:
    """One crack. Numbers at the starting flaw are None without one, or where the material is not known.

    largest, ranges  : (n,) MPa m^0.5 over the sizes: of all states, of those that come back
    flaw             : mm;  intensity, swing: MPa m^0.5 at it;  index: the state of the largest
    once, repeated   : the larger of intensity over toughness and of the ligament's share; range over threshold; reasons
    critical         : mm, where it breaks at once: the smaller of the size that reaches the toughness and of that whose
                       ligament gives way; None where neither does, or nothing is known
    life, inspected  : histories from flaw and from inspection_size to break-through; None with life_reason
    net              : mean shear straight down from the flaw's tip over what the metal stands, None where it is not known
    gives_way        : mm, the size at which that is 1; 0: without a flaw
    ratio            : least over largest intensity of what comes back, at the flaw; equivalent: MPa m^0.5, the range at the
                       ratio of the threshold, by Walker's law where the material has its exponent
    ratio_problem, life_problem : why threshold and growth law, as they were measured, are not on the safe side: at the flaw,
                       and anywhere from it on (a life is then an upper bound); ""
    zone, growth_zone: mm, crack and ligament from which on the intensity rules: once, and while growing; None: no yield
                       strength.  room: mm, the smaller of flaw and ligament
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
    net: float | None = None
    gives_way: float | None = None
    ratio: float | None = None
    equivalent: float | None = None
    ratio_problem: str = ""
    life_problem: str = ""
    zone: float | None = None
    growth_zone: float | None = None
    room: float | None = None

    @cached_property
    def error(self) -> float:
        """Error of the interpolation between sizes, share of the largest intensity there, from sizes left out in turn."""
        opened = np.maximum(self.history.intensity, 0.0)
        return float(interpolation_errors(self.history.sizes, opened).max(initial=0.0))

    @property
    def by_ligament(self) -> bool:
        """True if what the flaw leaves is nearer to its limit than the intensity is to the toughness."""
        return self.net is not None and self.once is not None and self.net >= self.once


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
        named = [size for size in _named_sizes(built) if sizes[0] < size < sizes[-1]]
        sizes = np.unique(np.append(sizes, named))
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


def _named_sizes(built: BuiltJoint) -> list[float]:
    """The sizes that the case names, each of which is solved itself."""
    crack = built.setup.crack
    return [] if crack is None else [size for size in (crack.flaw, crack.inspection_size) if size is not None]


def growth_law(material: Material) -> GrowthLaw | None:
    """Return a material's law of growth, None if it is not known."""
    numbers = (material.growth_coefficient, material.growth_exponent, material.growth_low, material.growth_high)
    if any(number is None for number in numbers):
        return None
    return GrowthLaw(
        *numbers,  # type: ignore[arg-type]
        threshold=material.threshold,
        ratio=material.growth_ratio,
        walker=material.walker_exponent,
    )


def ratio_problem(material: Material, ratio: float) -> str:
    """Return why threshold and growth law do not hold on the safe side at a stress ratio; "" if they do.

    They do where they were measured at this ratio or a larger one, or where Walker's exponent carries them over.
    """
    if material.threshold is None and material.growth_coefficient is None:
        return ""
    if material.growth_ratio is None:
        return (
            f"the stress ratio at which threshold and growth of {material.name} were measured is not stated, and here it is "
            f"{ratio:.2f}: measured at less they are not on the safe side; [material] growth_ratio states it"
        )
    if ratio <= material.growth_ratio + SAME_RATIO or material.walker_exponent is not None:
        return ""
    return (
        f"threshold and growth of {material.name} were measured at a stress ratio of {material.growth_ratio:g}, and here it is "
        f"{ratio:.2f}: not on the safe side; data measured there, or [material] walker_exponent, carry them over"
    )


SAME_RATIO = 0.02
"""Difference of stress ratios that counts as none. Our own choice."""


def flaw_view(
    built: BuiltJoint, timeline: Timeline, history: CrackHistory, temperatures: Array | None = None
) -> FlawView:
    """Return what one crack's stress intensity means for the case's flaw, toughness, threshold and law of growth.

    A residual pull of the case adds 1.1215 s sqrt(pi a), of a shallow edge crack (Tada, Paris & Irwin), to every state.

    temperatures : of the nodes in the run's states; None: strengths at 20 degC
    """
    crack, material = built.setup.crack, material_of(built, history.body)
    added = edge_crack_intensity(residual_pull(built, history.body), history.sizes)
    history = replace(history, intensity=history.intensity + added)
    opened = np.maximum(history.intensity, 0.0)
    cycle = cycle_states(timeline)
    largest, ranges = opened.max(axis=0), np.ptp(opened[cycle], axis=0)
    warm = (
        np.full(len(timeline.states), 20.0)
        if temperatures is None
        else body_node_temperatures(built, timeline, temperatures, history.body)
    )
    strengths = None if history.ligament is None else shear_strength(material, warm)
    gives_way = None
    if history.ligament is not None and strengths is not None:
        gives_way = history.ligament.gives_way(strengths)
    runs = _critical(history.sizes, history.intensity, material.fracture_toughness)
    flaw = None if crack is None else crack.flaw
    base = {
        "history": history,
        "largest": largest,
        "ranges": ranges,
        "flaw": flaw,
        "critical": min((size for size in (runs, gives_way) if size is not None), default=None),
        "gives_way": gives_way,
    }
    seen = None if crack is None else crack.inspection_size
    inspected, inspected_reason = _life(built, history, cycle, seen, gives_way)
    if flaw is None:
        return FlawView(
            **base,
            once_reason=NO_FLAW,
            repeated_reason=NO_FLAW,
            inspected=inspected,
            life_reason=inspected_reason or NO_FLAW,
        )
    net = None
    if history.ligament is not None and strengths is not None:
        net = float(history.ligament.share(flaw, strengths).max())
    try:
        at = np.maximum(history.at(flaw), 0.0)
    except ValueError as problem:
        told = str(problem)
        fails = net if net is not None and net >= 1.0 else None
        return FlawView(
            **base, once=fails, once_reason=told, repeated_reason=told, inspected=inspected, life_reason=told, net=net
        )
    index = int(np.argmax(at))
    most, swing = float(at[index]), float(np.ptp(at[cycle]))
    tough, threshold = material.fracture_toughness, material.threshold
    once_reason = repeated_reason = ""
    once = None if tough is None else most / tough
    if net is not None and (net >= 1.0 or (once is not None and net > once)):
        once = net
    if once is None:
        once_reason = f"fracture toughness of {material.name} is not known; above {most:.3g} MPa m^0.5 it is safe"
    ratio = min(float(stress_ratio(swing, 0.5 * (at[cycle].max() + at[cycle].min()))), MOST_RATIO)
    unsafe = ratio_problem(material, ratio) if swing > 0.0 else ""
    onward = opened[cycle][:, history.sizes >= flaw]
    ratios = stress_ratio(np.ptp(onward, axis=0), 0.5 * (onward.max(axis=0) + onward.min(axis=0)))
    later = ratio_problem(material, min(max(ratio, float(ratios.max(initial=0.0))), MOST_RATIO)) if swing > 0.0 else ""
    equivalent = swing
    if material.growth_ratio is not None and material.walker_exponent is not None:
        equivalent = float(walker_range(swing, ratio, material.growth_ratio, material.walker_exponent))
    if threshold is None:
        repeated_reason = (
            f"threshold of crack growth of {material.name} is not known; above {swing:.3g} MPa m^0.5 it is safe, measured "
            f"at a stress ratio of {ratio:.2f} or more"
        )
    life, life_reason = _life(built, history, cycle, flaw, gives_way)
    yields = None if material.yield_strength is None else np.asarray(material.yield_strength.at(warm))
    turning = cycle[int(np.argmax(at[cycle]))]
    return FlawView(
        **base,
        intensity=most,
        swing=swing,
        index=index,
        once=once,
        once_reason=once_reason,
        repeated=None if threshold is None else equivalent / threshold,
        repeated_reason=repeated_reason,
        life=life,
        inspected=inspected,
        life_reason="; ".join(part for part in (life_reason, later if life is not None else "") if part),
        net=net,
        ratio=ratio,
        equivalent=equivalent,
        ratio_problem=unsafe,
        life_problem=later,
        zone=None if yields is None else float(small_scale_size(most, yields[index])),
        growth_zone=None if yields is None else float(growth_scale_size(at[turning], yields[turning])),
        room=min(flaw, max(history.wall - flaw, 0.0)),
    )


FINE = 400
"""Sizes at which a curve is looked at for the one that reaches the toughness."""


def _critical(sizes: Array, intensity: Array, toughness: float | None) -> float | None:
    """The smallest size, mm, of which the largest intensity reaches the toughness; None where none does."""
    if toughness is None:
        return None
    fine = np.union1d(np.geomspace(sizes[0], sizes[-1], FINE), sizes)
    largest = intensity_between(sizes, intensity, fine).max(axis=0)
    if not np.any(largest >= toughness):
        return None
    first = int(np.argmax(largest >= toughness))
    if first == 0:
        return float(sizes[0] * (toughness / largest[0]) ** 2)  # K as sqrt(a) below the first size
    share = (toughness - largest[first - 1]) / (largest[first] - largest[first - 1])
    return float(fine[first - 1] + share * (fine[first] - fine[first - 1]))


def _life(
    built: BuiltJoint, history: CrackHistory, cycle: Array, start: float | None, gives_way: float | None
) -> tuple[GrowthLife | None, str]:
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
        life = growth_life(law, sizes, intensity, start, material.fracture_toughness, gives_way)
    except ValueError as problem:
        return None, str(problem)
    return life, life.reason
