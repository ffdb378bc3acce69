"""Fatigue without a crack: a multiaxial cycle with mean stress by Sines, and the endurance of a stud's thread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, finite, positive


@dataclass(frozen=True)
class Swing:
    """The pair of instants that a criterion finds worst.

    ratio     : load over capacity;  amplitude: MPa, equivalent;  mean: MPa, sum of the mean normal stresses
    first, second : places of the two instants
    """

    ratio: float
    amplitude: float
    mean: float
    first: int
    second: int


def pulsating_range(fatigue_strength: ArrayLike, ultimate_strength: ArrayLike) -> Array:
    """Return the range between no stress and its largest that is stood as long as an amplitude without mean.

    2 f / (1 + f/u): amplitude and mean are equal, on the straight line of Goodman.

    fatigue_strength  : float or array, f, MPa, amplitude at no mean;  ultimate_strength: u, MPa
    returns           : float or array, MPa
    raises ValueError : not above zero

    Source: Goodman 1899.
    """
    limit, break_at = positive("fatigue_strength", fatigue_strength), positive("ultimate_strength", ultimate_strength)
    return 2.0 * limit / (1.0 + limit / break_at)


def sines_ratio(
    amplitude: ArrayLike, mean_sum: ArrayLike, fatigue_strength: ArrayLike, ultimate_strength: ArrayLike
) -> Array:
    """Return (amplitude + f/u * mean) / f: 1 at the limit.

    amplitude         : MPa, von Mises equivalent of the stress amplitudes
    returns           : float or array, 1
    mean_sum          : MPa, sum of the three mean normal stresses; compression is not credited
    fatigue_strength  : f, MPa, amplitude at no mean;  ultimate_strength: u, MPa
    raises ValueError : amplitude not finite, strengths not above zero

    Source: Sines 1955; his coefficient of the mean such that a bar in tension follows Goodman 1899: a limit in pulsating
    tension, which he takes, is not known of the alloys in stock.
    """
    limit, break_at = positive("fatigue_strength", fatigue_strength), positive("ultimate_strength", ultimate_strength)
    mean = np.maximum(finite("mean_sum", mean_sum), 0.0)
    return finite("amplitude", amplitude) / limit + mean / break_at


def sines_swing(
    stress: ArrayLike, fatigue_strength: ArrayLike, ultimate_strength: ArrayLike, residual: float = 0.0
) -> Swing:
    """Return the worst pair of instants of a stress history at one place, by Sines.

    stress            : (n, 4) MPa: rr, hoop, zz, rz. The path may turn: every pair of instants is tried, its amplitude
                        half of their difference, its mean half of their sum
    fatigue_strength, ultimate_strength : float or (n,) MPa, at each instant; of a pair the lower
    residual          : MPa, equal in both directions of the surface
    returns           : Swing
    raises ValueError : fewer than one instant, strengths not above zero

    Source: sines_ratio (Sines 1955).
    """
    s = finite("stress", stress)
    if s.ndim != 2 or s.shape[1] != 4 or not len(s):
        raise ValueError("stress must be (instants, 4)")
    limit = np.broadcast_to(positive("fatigue_strength", fatigue_strength), len(s))
    break_at = np.broadcast_to(positive("ultimate_strength", ultimate_strength), len(s))
    half = 0.5 * (s[:, None] - s[None, :])
    a, b, c, d = np.moveaxis(half, -1, 0)
    amplitude = np.sqrt(0.5 * ((a - b) ** 2 + (b - c) ** 2 + (c - a) ** 2) + 3.0 * d**2)
    mean = 0.5 * (s[:, None, :3] + s[None, :, :3]).sum(axis=-1) + 2.0 * residual
    ratio = sines_ratio(
        amplitude, mean, np.minimum(limit[:, None], limit[None, :]), np.minimum(break_at[:, None], break_at[None, :])
    )
    i, j = np.unravel_index(int(np.argmax(ratio)), ratio.shape)
    return Swing(float(ratio[i, j]), float(amplitude[i, j]), float(mean[i, j]), int(i), int(j))


@dataclass(frozen=True)
class ThreadEndurance:
    """What amplitude a rolled thread stands, MPa on the stress area.

    long_life : at the knee and beyond;  at_cycles: at the cycles asked for;  knee, least: cycles between which the amplitude
                falls as cycles to the power -exponent;  source, status
    """

    long_life: float
    at_cycles: float
    knee: float
    least: float
    exponent: float
    source: str
    status: str

    def cycles(self, amplitude: float) -> float:
        """Return how many cycles of an amplitude it stands.

        amplitude : float, MPa
        returns   : float, inf below the endurance, 0 where fewer than `least`

        Source: VDI 2230, as the data state.
        """
        if amplitude <= self.long_life:
            return np.inf
        found = self.knee * (self.long_life / amplitude) ** (1.0 / self.exponent)
        return float(found) if found >= self.least else 0.0


THREADS_MADE = ("rolled before heat treatment", "rolled after heat treatment")


def thread_made(class_name: str) -> str | None:
    """Return how threads of a class are commonly made.

    class_name : str, a property class
    returns    : str, one of THREADS_MADE; None for a class whose endurance has no source here

    Source: property_classes.toml of this package.
    """
    endurance = table("property_classes")["endurance"]
    return str(endurance["made"]) if class_name in endurance["classes"] else None


def thread_endurance(
    class_name: str, diameter: float, mean_share: float, made: str | None = None, cycles: float | None = None
) -> ThreadEndurance:
    """Return the endurance of a stud's thread; the stress concentration of its root is in it.

    class_name : str, a property class
    diameter   : mm, nominal
    mean_share : mean load over the load at the yield strength; only threads rolled after heat treatment know it
    made       : one of THREADS_MADE, None: as the class's data say
    cycles     : wanted, None: no end. From the knee down the amplitude rises; fewer than the data's least count as those
    returns    : ThreadEndurance
    raises ValueError : a class without data, another make, mean share outside what the data hold for

    Source: VDI 2230, as the data state.
    """
    data: Any = table("property_classes")["endurance"]
    if class_name not in data["classes"]:
        raise ValueError(f"the endurance of threads of class {class_name} has no source here")
    made = made or str(data["made"])
    if made not in THREADS_MADE:
        raise ValueError(f"a thread is {' or '.join(THREADS_MADE)}, not {made}")
    base = data["factor"] * (data["diameter_term"] / float(positive("diameter", diameter)) + data["constant_term"])
    exponent = data["finite_exponent_before"]
    if made == THREADS_MADE[1]:
        low, high = data["mean_share"]
        if not mean_share < high:
            raise ValueError(
                f"a mean load of {mean_share:.2f} of the yield load is beyond the {high:g} that the data hold for"
            )
        base *= 2.0 - max(mean_share, low)
        exponent = data["finite_exponent_after"]
    knee, least = float(data["knee"]), float(data["least_cycles"])
    wanted = knee if cycles is None else max(float(cycles), least)
    longer = (knee / min(wanted, knee)) ** exponent
    return ThreadEndurance(float(base), float(base * longer), knee, least, float(exponent), *source_of(data))
