"""What strips a thread: loads of both sides by basic and by limit sizes, the length that breaks the stud first, pitches."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite, not_negative, positive
from studwell.parts.fastener import strip_load
from studwell.parts.insert import insert_hole
from studwell.parts.limits import (
    ThreadLimits,
    least_external_shear_area,
    least_internal_shear_area,
    thread_limits,
)
from studwell.parts.thread import (
    Thread,
    basic_external_shear_area,
    basic_internal_shear_area,
    internal_shear_area,
)


@dataclass(frozen=True)
class ShearAreas:
    """Areas that shear when one side of an engaged thread strips, mm^2.

    basic  : at basic sizes
    limits : at the worst sizes that the tolerance class allows, None where its limits are not in the tables
    fit    : the limits' tolerance class, such as "M8x1.25 6g/6H"; where there are none, why
    """

    basic: float
    limits: float | None
    fit: str

    @property
    def smaller(self) -> float:
        """The smaller area of the known ones, mm^2."""
        return self.basic if self.limits is None else min(self.basic, self.limits)


def hole_areas(thread: Thread, length: float) -> ShearAreas:
    """Return the areas of the internal thread (hole or nut) that a stud strips.

    thread            : Thread
    length            : float, engaged length, mm
    returns           : ShearAreas, mm^2
    raises ValueError : length negative

    Source: FED-STD-H28 / ASME B1.1 appendix B; limits: smallest major diameter of the stud, largest pitch diameter
    of the hole.
    """
    basic = float(basic_internal_shear_area(thread.nominal_diameter, thread.pitch, length))
    limits, fit = _at_limits(thread)
    return ShearAreas(basic, least_internal_shear_area(thread, length) if limits else None, fit)


def stud_areas(thread: Thread, length: float) -> ShearAreas:
    """Return the areas of the external thread (stud) that strips in a hole, a nut or an insert.

    thread            : Thread
    length            : float, engaged length, mm
    returns           : ShearAreas, mm^2
    raises ValueError : length negative

    Source: FED-STD-H28 / ASME B1.1 appendix B; limits: largest minor diameter of the hole, smallest pitch diameter
    of the stud.
    """
    basic = float(basic_external_shear_area(thread.nominal_diameter, thread.pitch, length))
    limits, fit = _at_limits(thread)
    return ShearAreas(basic, least_external_shear_area(thread, length) if limits else None, fit)


def insert_hole_areas(thread: Thread, length: float) -> ShearAreas:
    """Return the areas of the parent metal round a wire thread insert, the oversize internal thread.

    The insert's wire springs out to the hole, so that its outside is the hole's own; the worst hole has its pitch
    diameter larger by the tolerance of the stud's thread.

    thread            : Thread of the stud
    length            : float, length of the insert in the hole, mm
    returns           : ShearAreas, mm^2
    raises ValueError : length negative

    Source: FED-STD-H28 at the sizes of insert_hole; tolerance of the pitch diameter as for the nominal thread (from
    memory: insert taps are sold to that class).
    """
    hole = insert_hole(thread.nominal_diameter, thread.pitch)
    basic = float(internal_shear_area(length, thread.pitch, hole.major_diameter, hole.pitch_diameter))
    limits, fit = _at_limits(thread)
    if limits is None:
        return ShearAreas(basic, None, fit)
    wider = hole.pitch_diameter + (limits.internal_pitch[1] - limits.internal_pitch[0])
    return ShearAreas(basic, float(internal_shear_area(length, thread.pitch, hole.major_diameter, wider)), fit)


def _at_limits(thread: Thread) -> tuple[ThreadLimits | None, str]:
    try:
        found = thread_limits(thread)
    except ValueError as problem:
        return None, str(problem)
    return found, found.name


def stud_first_length(
    break_load: ArrayLike, area_per_length: ArrayLike, ultimate_strength: ArrayLike, shear_ratio: ArrayLike
) -> Array:
    """Return the engaged length from which the stud breaks before the thread strips: A_s R_m over the strip load per mm.

    break_load        : float or array, N, stress area times tensile strength of the stud
    area_per_length   : float or array, mm^2 per mm engaged, of the thread that strips
    ultimate_strength : float or array, MPa, of its material
    shear_ratio       : float or array, shear strength over tensile strength, 1
    returns           : float or array, mm
    raises ValueError : an argument not above zero

    Source: equal loads, ISO 898-1 and FED-STD-H28; no allowance for uneven sharing, which a ductile thread evens out.
    >>> from studwell.parts.thread import parse_thread
    >>> per_mm = hole_areas(parse_thread("M8"), 1.0).limits
    >>> round(float(stud_first_length(36.609 * 800.0, per_mm, 230.0, 0.6)), 2)
    12.61
    """
    per_length = strip_load(positive("area_per_length", area_per_length), ultimate_strength, shear_ratio)
    return positive("break_load", break_load) / per_length


@dataclass(frozen=True)
class PitchLoads:
    """An engaged thread cut into pitches, the first at the end that is loaded.

    lengths : (n,) mm of thread in each; the last may be shorter than a pitch
    loads   : (..., n) N that each carries
    """

    lengths: Array
    loads: Array

    @property
    def shares(self) -> Array:
        """(..., n) share of each in the sum; zero where nothing is carried."""
        total = self.loads.sum(axis=-1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(np.abs(total) > 0.0, self.loads / np.where(total == 0.0, 1.0, total), 0.0)


def loads_per_pitch(edges: ArrayLike, loads: ArrayLike, pitch: float, loaded_end: str = "top") -> PitchLoads:
    """Return what each pitch of an engaged thread carries, from loads spread evenly over short lengths of it.

    edges             : (m + 1,) mm, rising heights at which the short lengths meet
    loads             : (..., m) N on each
    pitch             : float, mm
    loaded_end        : "top" or "bottom": from where the pitches are counted
    returns           : PitchLoads, mm and N; their sum is the sum of the loads
    raises ValueError : heights that do not rise, another number of loads, pitch not above zero, another end

    A rest of less than a twentieth of a pitch is left with the pitch before it. Source: the loads are integrated over
    each pitch as they stand.
    """
    heights, given = finite("edges", edges), finite("loads", loads)
    step = float(positive("pitch", pitch))
    if np.any(np.diff(heights) <= 0.0) or given.shape[-1] != len(heights) - 1:
        raise ValueError("edges must rise and be one more than the loads")
    if loaded_end not in ("top", "bottom"):
        raise ValueError(f'loaded_end is "top" or "bottom", not {loaded_end!r}')
    if loaded_end == "top":
        heights, given = -heights[::-1], given[..., ::-1]
    cuts = _cuts(heights[0], heights[-1], step)
    summed = np.concatenate([np.zeros((*given.shape[:-1], 1)), np.cumsum(given, axis=-1)], axis=-1)
    place = np.clip(np.searchsorted(heights, cuts, side="right") - 1, 0, len(heights) - 2)
    part = (cuts - heights[place]) / (heights[place + 1] - heights[place])
    at_cuts = summed[..., place] + part * (summed[..., place + 1] - summed[..., place])
    return PitchLoads(np.diff(cuts), np.diff(at_cuts, axis=-1))


def points_per_pitch(
    low: float, high: float, heights: ArrayLike, loads: ArrayLike, pitch: float, loaded_end: str = "top"
) -> PitchLoads:
    """Return what each pitch of an engaged thread carries, from loads at heights of their own, such as single flanks.

    low, high         : float, mm, ends of the engaged thread
    heights           : (m,) mm of each load
    loads             : (..., m) N
    pitch, loaded_end : as loads_per_pitch
    returns           : PitchLoads, mm and N; a load beyond an end counts to the nearest pitch
    raises ValueError : high not above low, another number of loads, pitch not above zero, another end

    Source: sums of the loads as they stand.
    """
    where, given = finite("heights", heights), finite("loads", loads)
    step = float(positive("pitch", pitch))
    if high <= low or given.shape[-1] != len(where):
        raise ValueError("high must be above low, and every load needs its height")
    if loaded_end not in ("top", "bottom"):
        raise ValueError(f'loaded_end is "top" or "bottom", not {loaded_end!r}')
    from_end = high - where if loaded_end == "top" else where - low
    cuts = _cuts(0.0, high - low, step)
    place = np.clip(np.searchsorted(cuts, from_end + 1e-9, side="right") - 1, 0, len(cuts) - 2)
    belongs = place[:, None] == np.arange(len(cuts) - 1)
    return PitchLoads(np.diff(cuts), given @ belongs.astype(float))


def _cuts(start: float, end: float, step: float) -> Array:
    count = max(1, int(np.ceil((end - start) / step - 0.05)))
    return np.append(start + step * np.arange(count), end)


def capacity_per_pitch(lengths: ArrayLike, area_per_length: ArrayLike, shear_strength: ArrayLike) -> Array:
    """Return what each pitch stands before it shears on its own: its length times area per length times strength.

    lengths           : (n,) mm
    area_per_length   : float, mm^2 per mm
    shear_strength    : float or (...,) MPa
    returns           : (..., n) N
    raises ValueError : an argument below zero

    Source: FED-STD-H28 area, taken pitch by pitch.
    """
    area = not_negative("lengths", lengths) * not_negative("area_per_length", area_per_length)
    return np.multiply.outer(not_negative("shear_strength", shear_strength), area)
