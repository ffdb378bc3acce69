"""Growth of a crack by repeated load: cycles counted by rainflow, a power law between threshold and toughness."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import rainflow
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, finite
from studwell.parts.crack_size import intensity_between

METRE = 1000.0  # mm
GRID = 120
"""Sizes between a start and an end at which growth is summed."""


@dataclass(frozen=True)
class GrowthLaw:
    """da/dN = coefficient * range^exponent, nothing below the threshold.

    coefficient : m per cycle at a range of 1 MPa m^0.5
    exponent    : -
    low, high   : MPa m^0.5, the ranges between which it was measured
    threshold   : MPa m^0.5, None if unknown: every range then grows the crack, the careful side
    ratio       : least over largest intensity at which law and threshold were measured; None: not stated
    walker      : exponent of Walker's law, 0 to 1, by which a range at a larger ratio is made one at `ratio`; None: unknown

    raises ValueError : not above zero, or a range that does not rise. Source: Paris & Erdogan 1963.
    """

    coefficient: float
    exponent: float
    low: float
    high: float
    threshold: float | None = None
    ratio: float | None = None
    walker: float | None = None

    def __post_init__(self) -> None:
        if not (self.coefficient > 0.0 and self.exponent > 0.0 and 0.0 < self.low < self.high):
            raise ValueError("coefficient, exponent and range of a growth law must be above zero, and the range rise")

    def rate(self, ranges: ArrayLike) -> Array:
        """Return the growth of a cycle.

        ranges            : array, MPa m^0.5, at the ratio of the law: `walker_range` makes them so
        returns           : array, m per cycle
        raises ValueError : not finite

        Source: Paris & Erdogan 1963.
        """
        given = finite("ranges", ranges)
        grown = self.coefficient * np.maximum(given, 0.0) ** self.exponent
        return np.where(given > (self.threshold or 0.0), grown, 0.0)


def stress_ratio(ranges: ArrayLike, means: ArrayLike) -> Array:
    """Return the least over the largest intensity of cycles, a pressed crack's counted as 0.

    ranges, means     : float or array, MPa m^0.5
    returns           : float or array, 0 to below 1; 0 where nothing opens the crack
    raises ValueError : not finite

    Source: definition (ASTM E647).
    """
    half, middle = 0.5 * finite("ranges", ranges), finite("means", means)
    high, low = middle + half, np.maximum(middle - half, 0.0)
    return np.where(high > 0.0, low / np.where(high > 0.0, high, 1.0), 0.0)


def walker_range(ranges: ArrayLike, ratio: ArrayLike, measured_ratio: ArrayLike, exponent: ArrayLike) -> Array:
    """Return the range at the stress ratio of a test that does what a range at another ratio does.

    dK [(1 - R0)/(1 - R)]^(1 - g); a ratio below that of the test is not credited.

    ranges            : float or array, dK, MPa m^0.5
    ratio             : float or array, R, of the load, below 1;  measured_ratio: R0, of the test, below 1
    exponent          : float or array, g, 0 to 1; 1: the ratio does not matter
    returns           : float or array, MPa m^0.5
    raises ValueError : a ratio of 1 or more, an exponent outside 0 to 1

    Source: Walker 1970.
    """
    at, test, power = finite("ratio", ratio), finite("measured_ratio", measured_ratio), finite("exponent", exponent)
    if np.any(at >= 1.0) or np.any(test >= 1.0):
        raise ValueError("a stress ratio must be below 1")
    if np.any(power < 0.0) or np.any(power > 1.0):
        raise ValueError("Walker's exponent lies between 0 and 1")
    return finite("ranges", ranges) * np.maximum((1.0 - test) / (1.0 - at), 1.0) ** (1.0 - power)


MOST_RATIO = 0.999
"""Ratio above which a cycle counts as this one: its range is then rounding."""


def law_ranges(law: GrowthLaw, ranges: ArrayLike, means: ArrayLike) -> Array:
    """Return the ranges of cycles as a law's own ratio has them; as they are where ratio or exponent are not stated.

    law               : GrowthLaw
    ranges, means     : array, MPa m^0.5
    returns           : array, MPa m^0.5
    raises ValueError : not finite

    Source: Walker 1970.
    """
    if law.ratio is None or law.walker is None:
        return finite("ranges", ranges)
    at = np.minimum(stress_ratio(ranges, means), MOST_RATIO)
    return walker_range(ranges, at, law.ratio, law.walker)


@dataclass(frozen=True)
class Cycles:
    """Counted cycles: range, mean and how many (0.5 or 1) of each, (n,)."""

    ranges: Array = field(repr=False)
    means: Array = field(repr=False)
    counts: Array = field(repr=False)


def count_cycles(history: ArrayLike, repeated: bool = False) -> Cycles:
    """Return the cycles of a history by rainflow counting.

    history  : array (n,), any unit
    repeated : the history is one of many, end to end: it is turned to begin and end at its largest value, so that halves
               add up to whole cycles of every range
    returns  : Cycles
    raises ValueError : fewer than two values, not finite

    Source: ASTM E1049-85, rainflow counting and its form for repeating histories (package rainflow).
    """
    values = finite("history", history)
    if values.ndim != 1 or values.size < 2:
        raise ValueError("a history needs two values or more")
    if repeated:
        start = int(np.argmax(values))
        values = np.concatenate([values[start:], values[: start + 1]])
    if np.ptp(values) <= 0.0:
        return Cycles(*np.zeros((3, 0)))
    found = np.array([cycle[:3] for cycle in rainflow.extract_cycles(values)], dtype=float).reshape(-1, 3)
    return Cycles(*found.T)


@dataclass(frozen=True)
class GrowthLife:
    """How often a history may be repeated until a crack has grown from one size to another.

    histories : inf where it stops growing, None where the law does not hold; arrested: mm, where it stops, else None
    end       : mm, where it breaks: at the toughness or where its ligament gives way, or the last size that was followed;
                breaks: False if it is that
    sizes, left : (n,) mm and (n,) histories from each size to the end
    reason    : why it is not known, or what is to be known of it
    """

    histories: float | None
    end: float
    breaks: bool
    arrested: float | None
    reason: str
    sizes: Array = field(repr=False)
    left: Array = field(repr=False)


def growth_life(
    law: GrowthLaw,
    sizes: ArrayLike,
    intensity: ArrayLike,
    start: float,
    toughness: float | None = None,
    gives_way: float | None = None,
) -> GrowthLife:
    """Return the life of a crack from a starting size to break-through.

    Faces that are pressed together transmit no opening: negative intensities count as none.

    law       : GrowthLaw
    sizes     : (n,) mm, rising
    intensity : (states, n) MPa m^0.5, of one history
    returns   : GrowthLife
    start     : mm
    toughness : MPa m^0.5; the crack runs away where the largest intensity reaches it; None: to the last size
    gives_way : mm, where what is left breaks by its mean stress; None: nowhere
    raises ValueError : shapes that do not fit, a start outside the sizes

    Source: Paris & Erdogan 1963, summed over the cycles of ASTM E1049-85; crack closure at zero load; Walker 1970.
    """
    places, k = finite("sizes", sizes), np.maximum(finite("intensity", intensity), 0.0)
    if places.ndim != 1 or k.ndim != 2 or k.shape[1] != places.size or np.any(np.diff(places) <= 0.0):
        raise ValueError("intensity must be (states, sizes) and the sizes rise")
    if not places[0] <= start < places[-1]:
        raise ValueError(f"the start, {start:g} mm, must lie within {places[0]:g} to {places[-1]:g} mm")
    if gives_way is not None and gives_way <= start:
        return GrowthLife(0.0, start, True, None, "what the flaw leaves gives way at once", places[:1], np.zeros(1))
    open_end = gives_way is None or gives_way >= places[-1]
    furthest = float(places[-1]) if gives_way is None or open_end else gives_way
    grid = np.geomspace(start, furthest, GRID)
    grid[0], grid[-1] = start, furthest
    between = np.maximum(intensity_between(places, k, grid), 0.0)
    top = between.max(axis=0)
    breaks = toughness is not None and bool(np.any(top >= toughness))
    last = len(grid)
    if breaks:
        assert toughness is not None
        last = int(np.argmax(top >= toughness)) + 1
    if last == 1:
        return GrowthLife(0.0, start, True, None, "the starting flaw is already critical", grid[:1], np.zeros(1))
    per_history, high, low = np.zeros(last), 0.0, np.inf
    for i in range(last):
        cycles = count_cycles(between[:, i], repeated=True)
        ranges = law_ranges(law, cycles.ranges, cycles.means)
        per_history[i] = float(np.sum(cycles.counts * law.rate(ranges))) * METRE
        if ranges.size:
            high, low = max(high, float(ranges.max())), min(low, float(ranges.max()))
    grid, end = grid[:last], float(grid[last - 1])
    still = per_history <= 0.0
    if np.any(still):
        stop = float(grid[int(np.argmax(still))])
        reason = f"stops growing at {stop:.3g} mm: its range there is below the threshold"
        if stop > start:
            reason += "; a short crack may grow below a threshold measured on long ones"
        return GrowthLife(np.inf, end, breaks, stop, reason, grid, np.full(last, np.inf))
    breaks = breaks or not open_end
    steps = np.diff(grid) * 0.5 * (1.0 / per_history[1:] + 1.0 / per_history[:-1])
    left = np.append(np.cumsum(steps[::-1])[::-1], 0.0)
    if high > law.high:
        reason = f"its range reaches {high:.3g} MPa m^0.5, beyond the {law.high:g} to which the law was measured"
        return GrowthLife(None, end, breaks, None, reason, grid, left)
    reason = ""
    if low < law.low:
        reason = (
            f"ranges from {low:.3g} MPa m^0.5 lie below the {law.low:g} from which the law was measured: extrapolated"
        )
    return GrowthLife(float(left[0]), end, breaks, None, reason, grid, left)
