"""Gaskets: stocked kinds and the pressure they carry in loading, unloading and reloading."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, finite, not_negative, positive, unknown_name


@dataclass(frozen=True)
class Gasket:
    """One gasket.

    thickness                : float, mm, free
    compression, pressure    : tuples, first loading: relative compression (closure over thickness)
                               and pressure in MPa; straight between, the last slope beyond
    unloading_pressure, unloading_modulus : tuples, MPa: slope of unloading and reloading (pressure per
                               unit of relative compression) against the largest pressure seen before
    minimum_sealing_pressure : float, MPa
    maximum_pressure         : float, MPa, above it the sheet is crushed
    expansion                : float, 1/K, through the thickness
    relaxation               : float, share of the pressure lost in each tenfold of time from one hour
    conductivity             : float or None, W/(m K) through the thickness, the same number in N/(s K); None: unknown
    """

    name: str
    thickness: float
    compression: tuple[float, ...]
    pressure: tuple[float, ...]
    unloading_pressure: tuple[float, ...]
    unloading_modulus: tuple[float, ...]
    minimum_sealing_pressure: float
    maximum_pressure: float
    expansion: float
    relaxation: float
    source: str
    status: str
    conductivity: float | None = field(default=None, metadata={"only_with": "thermal"})
    conductivity_source: str = field(default="", metadata={"only_with": "thermal"})

    def __post_init__(self) -> None:
        for name in ("compression", "pressure", "unloading_pressure"):
            values = getattr(self, name)
            if len(values) < 2 or values[0] != 0.0 or np.any(np.diff(values) <= 0.0):
                raise ValueError(f"gasket {self.name!r}: {name} must start at 0 and rise")
        if len(self.compression) != len(self.pressure):
            raise ValueError(f"gasket {self.name!r}: as many pressures as compressions are needed")
        if len(self.unloading_pressure) != len(self.unloading_modulus):
            raise ValueError(f"gasket {self.name!r}: as many unloading moduli as pressures are needed")
        slope = np.diff(self.pressure) / np.diff(self.compression)
        start = np.asarray(self.pressure[:-1])
        moduli = np.interp(start, self.unloading_pressure, self.unloading_modulus)
        if np.any(moduli < slope * (1.0 - 1e-9)):
            raise ValueError(f"gasket {self.name!r}: unloading is softer than loading")


@dataclass(frozen=True)
class GasketResponse:
    """What a gasket answers to a closure.

    pressure        : array, MPa, zero where the faces are apart
    tangent         : array, MPa/mm, derivative of pressure by closure
    largest_closure : array, mm, the state to hand in next time
    """

    pressure: Array
    tangent: Array
    largest_closure: Array


def stock_gasket_names() -> tuple[str, ...]:
    """Return the names of the gaskets in stock.

    returns : tuple of str ("fibre sheet 0.5", ...)

    Source: gaskets.toml of this package.
    """
    return tuple(table("gaskets"))


def stock_gasket(name: str) -> Gasket:
    """Return one gasket.

    name              : str, one of stock_gasket_names()
    returns           : Gasket
    raises ValueError : not in stock; the message lists what is

    Source: gaskets.toml of this package; all of it typical figures from memory.
    """
    entries = table("gaskets")
    if name not in entries:
        raise ValueError(unknown_name("gasket", name, entries))
    entry = entries[name]
    source, status = source_of(entry)

    def curve(key: str) -> tuple[float, ...]:
        return tuple(map(float, entry[key]))

    return Gasket(
        name=name,
        thickness=float(entry["thickness"]),
        compression=curve("compression"),
        pressure=curve("pressure"),
        unloading_pressure=curve("unloading_pressure"),
        unloading_modulus=curve("unloading_modulus"),
        minimum_sealing_pressure=float(entry["minimum_sealing_pressure"]),
        maximum_pressure=float(entry["maximum_pressure"]),
        expansion=float(entry["expansion"]),
        relaxation=float(entry["relaxation"]),
        source=source,
        status=status,
        conductivity=float(entry["conductivity"]) if "conductivity" in entry else None,
        conductivity_source=str(entry.get("conductivity_source", "")),
    )


def with_thickness(gasket: Gasket, thickness: float) -> Gasket:
    """Return the same gasket material in another thickness.

    gasket            : Gasket
    thickness         : float, mm
    returns           : Gasket; its relative curves are kept
    raises ValueError : thickness not above zero

    Source: the curves are relative to thickness (common practice, no source: thin sheets stand more
    pressure than thick ones of the same material).
    """
    return replace(gasket, thickness=float(positive("thickness", thickness)))


def with_conductivity(gasket: Gasket, conductivity: float) -> Gasket:
    """Return the same gasket with another conductivity.

    gasket            : Gasket
    conductivity      : float, W/(m K), through the thickness
    returns           : Gasket
    raises ValueError : conductivity not above zero

    Source: the user's own figure.
    """
    own = float(positive("conductivity", conductivity))
    return replace(gasket, conductivity=own, conductivity_source="the case")


def gasket_conductance(gasket: Gasket, contact_conductance: float) -> float:
    """Return the conductance from the body under a gasket to the body on it: both contacts and the sheet in series.

    1/h = 1/h_c + t/k + 1/h_c, with the free thickness (pressed, it is up to a sixth thinner)

    gasket              : Gasket
    contact_conductance : float, N/(mm s K), of each of its two faces
    returns             : float, N/(mm s K)
    raises ValueError   : the gasket's conductivity is not known, or the contact conductance not above zero

    Source: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, plane wall with contact resistances.
    """
    if gasket.conductivity is None:
        raise ValueError(f"the conductivity of gasket {gasket.name!r} is not known")
    contact = float(positive("contact_conductance", contact_conductance))
    return 1.0 / (2.0 / contact + gasket.thickness / gasket.conductivity)


def loading_pressure(gasket: Gasket, closure: ArrayLike) -> Array:
    """Return the pressure on first loading.

    gasket            : Gasket
    closure           : float or array, mm; zero or below: no contact
    returns           : float or array, MPa
    raises ValueError : closure not finite

    Source: the gasket's own curve.
    """
    return GasketCurve(gasket).loading(finite("closure", closure) / gasket.thickness)[0]


def loading_closure(gasket: Gasket, pressure: ArrayLike) -> Array:
    """Return the closure at a pressure on first loading, the inverse of loading_pressure.

    gasket            : Gasket
    pressure          : float or array, MPa, not negative
    returns           : float or array, mm
    raises ValueError : pressure negative or not finite

    Source: the gasket's own curve.
    """
    wanted = not_negative("pressure", pressure)
    slope = (gasket.pressure[-1] - gasket.pressure[-2]) / (gasket.compression[-1] - gasket.compression[-2])
    inside = np.interp(wanted, gasket.pressure, gasket.compression)
    beyond = np.maximum(wanted - gasket.pressure[-1], 0.0) / slope
    return gasket.thickness * (inside + beyond)


class GasketCurve:
    """A gasket's curves as arrays, for solvers that ask them many times; arguments are not checked.

    gasket : Gasket
    """

    def __init__(self, gasket: Gasket) -> None:
        self.thickness = gasket.thickness
        self.compression = np.asarray(gasket.compression)
        self.level = np.asarray(gasket.pressure)
        self.slope = np.diff(self.level) / np.diff(self.compression)
        self.unloading_pressure = np.asarray(gasket.unloading_pressure)
        self.unloading_modulus = np.asarray(gasket.unloading_modulus)
        self._known: tuple[Array, Array, Array] | None = None

    def loading(self, compression: Array) -> tuple[Array, Array]:
        """Return first-loading pressure and its slope by relative compression; none below zero.

        compression : array (n,), closure over thickness
        returns     : (array (n,) MPa, array (n,) MPa)

        Source: the gasket's own curve.
        """
        index = np.searchsorted(self.compression, compression, side="right") - 1
        index = np.minimum(np.maximum(index, 0), len(self.slope) - 1)
        slope = self.slope[index]
        touching = compression >= 0.0
        pressure = np.where(touching, self.level[index] + slope * (compression - self.compression[index]), 0.0)
        return pressure, np.where(touching, slope, 0.0)

    def response(self, closure: Array, largest_closure: Array) -> tuple[Array, Array]:
        """Return pressure and its slope by closure, as gasket_pressure does.

        closure, largest_closure : arrays (n,), mm, of one shape; the largest not below zero
        returns                  : (array (n,) MPa, array (n,) MPa/mm)

        Source: shape of the loading and unloading lines of EN 13555 tests (from memory).
        """
        now, before = closure / self.thickness, largest_closure / self.thickness
        pressure, slope = self.loading(now)
        loading = now >= before
        if not loading.all():
            known = self._known  # a step asks many times about the same past
            if known is None or known[0] is not largest_closure:
                peak, _ = self.loading(before)
                known = largest_closure, peak, np.interp(peak, self.unloading_pressure, self.unloading_modulus)
                self._known = known
            _, peak, modulus = known
            back = peak - modulus * (before - now)
            gone = back <= 0.0
            pressure = np.where(loading, pressure, np.where(gone, 0.0, back))
            slope = np.where(loading, slope, np.where(gone, 0.0, modulus))
        return pressure, slope / self.thickness


def gasket_pressure(gasket: Gasket, closure: ArrayLike, largest_closure: ArrayLike) -> GasketResponse:
    """Return the pressure, its tangent and the new state of a gasket.

    Beyond the largest closure so far the first-loading curve holds. Below it the gasket springs back
    along a straight line whose slope belongs to the largest pressure seen, down to zero, and comes
    back up the same line. No tension.

    gasket            : Gasket
    closure           : float or array, mm: free thickness less the present distance of the faces
    largest_closure   : float or array, mm: the state, zero for a new gasket; broadcast with closure
    returns           : GasketResponse
    raises ValueError : not finite, or largest_closure below zero

    Source: shape of the loading and unloading lines of EN 13555 tests (from memory).
    """
    now, before = np.broadcast_arrays(finite("closure", closure), not_negative("largest_closure", largest_closure))
    pressure, tangent = GasketCurve(gasket).response(now, before)
    return GasketResponse(pressure, tangent, np.maximum(now, before))
