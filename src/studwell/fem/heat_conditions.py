"""What heats and cools bodies, as data: histories in time, films, fluxes, held temperatures, contacts, gaps, bridges."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from studwell.fem.edges import Amount
from studwell.mesh.mesh import Floats, Mesh

History = float | Callable[[float], float]
"""A number, or a function of time (s) that returns one."""

EdgeHistory = float | Callable[[float], ArrayLike]
"""A number, or a function of time (s) that returns a number or one number an edge."""

Side = tuple[str, str]
"""Names of a body and of one of its boundaries."""


@dataclass(frozen=True, eq=False)
class PointHistory:
    """A value in time, straight between points and held beyond them; a repeated time is a jump.

    times             : (n,), s, not falling
    values            : (n,)
    repeats           : True runs from the first to the last point over and over
    raises ValueError : times that fall or are not finite, or not as many times as values

    At the time of a jump itself the value is the later one. Time steps end at every point.
    """

    times: ArrayLike
    values: ArrayLike
    repeats: bool = False
    _times: Floats = field(init=False, repr=False)
    _values: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        times, values = np.atleast_1d(np.asarray(self.times, float)), np.atleast_1d(np.asarray(self.values, float))
        if times.ndim != 1 or times.shape != values.shape:
            raise ValueError(f"a history needs one value a time, not {times.shape} times and {values.shape} values")
        if not (np.isfinite(times).all() and np.isfinite(values).all()) or (np.diff(times) < 0).any():
            raise ValueError("a history needs finite values and finite times that do not fall")
        if self.repeats and not times[-1] > times[0]:
            raise ValueError("a history that repeats needs a last time after its first")
        object.__setattr__(self, "_times", times)
        object.__setattr__(self, "_values", values)

    def __call__(self, time: float) -> float:
        """Return the value at a time, s."""
        t, v = self._times, self._values
        if self.repeats:
            time = float(t[0] + (time - t[0]) % (t[-1] - t[0]))
        after = int(np.searchsorted(t, time, side="right"))
        if after in (0, len(t)):
            return float(v[0] if after == 0 else v[-1])
        share = (time - t[after - 1]) / (t[after] - t[after - 1])
        return float(v[after - 1] + share * (v[after] - v[after - 1]))

    def breaks(self, start: float, end: float) -> Floats:
        """Return the times of points between start and end (s), where time steps have to end."""
        t = self._times
        if self.repeats:
            period = t[-1] - t[0]
            first, last = np.floor((start - t[0]) / period), np.ceil((end - t[0]) / period)
            t = (t[None, :] + period * np.arange(first, last + 1)[:, None]).ravel()
        return np.unique(t[(t > start) & (t < end)])


@dataclass(frozen=True, eq=False)
class ThermalBody:
    """One body as heat sees it.

    name              : str
    mesh              : Mesh, mm
    conductivity      : region -> N/(s K), the same number as in W/(m K)
    heat_capacity     : region -> MPa/K: density times specific heat, J/(m^3 K) times 1e-6
    raises ValueError : a region without one of them, or a value that is not positive
    """

    name: str
    mesh: Mesh
    conductivity: Mapping[str, float]
    heat_capacity: Mapping[str, float]

    def __post_init__(self) -> None:
        for what, values in (("conductivity", self.conductivity), ("heat capacity", self.heat_capacity)):
            require_positive(what, values, self.mesh, self.name)


def require_positive(what: str, values: Mapping[str, float], mesh: Mesh, body: str = "") -> None:
    """Do nothing if every region of a mesh has a positive value.

    raises ValueError : a region without value, or a value not positive or not finite
    """
    of = f" of body {body!r}" if body else ""
    for region in mesh.regions:
        if region not in values:
            raise ValueError(f"region {region!r}{of} has no {what}")
    for region, value in values.items():
        if not (np.isfinite(value) and value > 0):
            raise ValueError(f"{what} of region {region!r}{of} is {value}; allowed: a finite number above zero")


@dataclass(frozen=True, eq=False)
class Film:
    """Convection on a boundary: heat into the body is coefficient x profile x (ambient - surface temperature).

    body, boundary    : str
    coefficient       : N/(mm s K): W/(m^2 K) times 1e-3; number or function of time
    ambient           : degC of the fluid; number or function of time
    profile           : 1, a number or a function of r and z that multiplies the coefficient
    name              : str, in the ledger; default "body/boundary"
    raises ValueError : no ambient
    """

    body: str
    boundary: str
    coefficient: History
    ambient: History | None = None
    profile: Amount = 1.0
    name: str = ""

    def __post_init__(self) -> None:
        if self.ambient is None:
            raise ValueError(f"the film on {label(self)} has no ambient temperature")


@dataclass(frozen=True, eq=False)
class Flux:
    """Heat given to a boundary per area.

    flux    : N/(mm s), into the body: W/m^2 times 1e-3; number or function of time
    profile : 1, a number or a function of r and z that multiplies it;  others as in `Film`
    """

    body: str
    boundary: str
    flux: History
    profile: Amount = 1.0
    name: str = ""


@dataclass(frozen=True, eq=False)
class Source:
    """Heat made in a region per volume.

    region : str;  source : MPa/s: W/m^3 times 1e-6; number or function of time;  others as in `Film`
    """

    body: str
    region: str
    source: History
    name: str = ""


@dataclass(frozen=True, eq=False)
class Held:
    """A boundary held at a temperature.

    temperature : degC; number or function of time;  others as in `Film`

    A node on two held boundaries follows the one listed last.
    """

    body: str
    boundary: str
    temperature: History
    name: str = ""


@dataclass(frozen=True, eq=False)
class Contact:
    """Heat between two boundaries whose edges match: the same up to one shift.

    first, second : (body, boundary)
    conductance   : N/(mm s K): W/(m^2 K) times 1e-3; one number or one an edge
    scale         : factor on it, number or function of time that returns a number or one an edge; 0 is open
    name          : str, in the ledger; default "body/boundary - body/boundary"
    """

    first: Side
    second: Side
    conductance: ArrayLike
    scale: EdgeHistory = 1.0
    name: str = ""


@dataclass(frozen=True, eq=False)
class AirGap:
    """Heat across the gap between two surfaces of revolution that need not match: each point of one side meets
    the point of the other at the same z; where only one side has a surface, nothing crosses.

    first, second : (body, boundary)
    conductance   : N/(mm s K) on the mean of both sides' areas; see `air_gap_conductance`
    scale, name   : as in `Contact`, one scale for all
    """

    first: Side
    second: Side
    conductance: float
    scale: History = 1.0
    name: str = ""


@dataclass(frozen=True, eq=False)
class Bridge:
    """Heat between the mean temperatures of two boundaries by a part that has no mesh, such as a spring washer.

    first, second : (body, boundary), which need not match
    conductance   : mW/K, of the whole part
    scale, name   : as in `Contact`, one scale for all
    """

    first: Side
    second: Side
    conductance: float
    scale: History = 1.0
    name: str = ""


Condition = Film | Flux | Source | Held | Contact | AirGap | Bridge


def label(condition: Condition) -> str:
    """Return the name of a condition in the ledger."""
    if condition.name:
        return condition.name
    if isinstance(condition, Contact | AirGap | Bridge):
        return f"{'/'.join(condition.first)} - {'/'.join(condition.second)}"
    place = condition.region if isinstance(condition, Source) else condition.boundary
    return f"{condition.body}/{place}"


def air_gap_conductance(conductivity: float, inner_radius: float, outer_radius: float) -> float:
    """Return the conductance of a still gas between two cylinders on the mean of their areas, N/(mm s K).

    h = k / (r_m ln(r_o / r_i)), r_m = (r_i + r_o) / 2, so that 2 pi r_m h is the exact 2 pi k / ln(r_o / r_i).

    conductivity              : N/(s K), of the gas, the same number as in W/(m K)
    inner_radius, outer_radius: mm
    raises ValueError         : conductivity not positive, or radii that do not rise from above zero

    Source: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, radial conduction through a hollow cylinder.
    >>> round(air_gap_conductance(0.03, 4.0, 4.5), 4)
    0.0599
    """
    if not conductivity > 0 or not 0 < inner_radius < outer_radius:
        raise ValueError("allowed: conductivity > 0 and 0 < inner radius < outer radius")
    mean = 0.5 * (inner_radius + outer_radius)
    return float(conductivity / (mean * np.log(outer_radius / inner_radius)))


def breaks_of(history: object, start: float, end: float) -> Floats:
    """Return the times between start and end (s) at which a history bends or jumps, if it tells them."""
    tell = getattr(history, "breaks", None)
    return np.asarray(tell(start, end), float) if callable(tell) else np.zeros(0)
