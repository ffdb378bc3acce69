"""Disc springs and conical spring washers: stocked sizes, force, stiffness, stresses, stacks, friction."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, finite, not_negative, positive, unknown_name


@dataclass(frozen=True)
class SpringRow:
    """One stocked spring, mm and N.

    kind             : "disc" (DIN 2093) or "conical" (DIN 6796)
    cone_height      : free height of the cone h0, used for the force; for a conical washer the mean of
                       cone_height_min (after the setting test) and cone_height_max (as delivered)
    cone_height_min, cone_height_max : the band; equal to cone_height for a disc spring
    table_load       : force printed at a travel of 0.75 cone_height, N; None where none is printed
    material         : name of the stock material
    """

    name: str
    kind: str
    outer_diameter: float
    inner_diameter: float
    thickness: float
    cone_height: float
    cone_height_min: float
    cone_height_max: float
    table_load: float | None
    material: str
    source: str
    status: str


@dataclass(frozen=True)
class SpringConstants:
    """The three shape constants of a disc spring, dimensionless."""

    K1: Array
    K2: Array
    K3: Array


@dataclass(frozen=True)
class SpringStresses:
    """Stresses of a disc spring at the four corners of its section and at the centre of rotation, MPa.

    Tension > 0. I: inner edge, upper face; II: inner edge, lower face; III: outer edge, lower face;
    IV: outer edge, upper face; centre: upper face at the centre of rotation.
    """

    inner_upper: Array
    inner_lower: Array
    outer_lower: Array
    outer_upper: Array
    centre: Array


def stock_spring_names() -> tuple[str, ...]:
    """Return the names of the springs in stock.

    returns : tuple of str ("DIN 2093 A 16x8.2x0.9", "DIN 6796 M8", ...)

    Source: springs.toml of this package.
    """
    kinds = table("springs")
    return tuple(name for kind in kinds for name in kinds[kind]["rows"])


def stock_spring(name: str) -> SpringRow:
    """Return one spring.

    name              : str, one of stock_spring_names()
    returns           : SpringRow, mm and N
    raises ValueError : not in stock; the message lists what is

    Source: DIN 2093 / EN 16983 and DIN 6796, row by row in springs.toml.
    """
    for kind, owner in table("springs").items():
        row = owner["rows"].get(name)
        if row is None:
            continue
        thickness = float(row["thickness"])
        low = float(row["height_min"]) - thickness if kind == "conical" else float(row["cone_height"])
        high = float(row["height_max"]) - thickness if kind == "conical" else low
        source, status = source_of(row, owner)
        return SpringRow(
            name=name,
            kind=kind,
            outer_diameter=float(row["outer_diameter"]),
            inner_diameter=float(row["inner_diameter"]),
            thickness=thickness,
            cone_height=(low + high) / 2.0,
            cone_height_min=low,
            cone_height_max=high,
            table_load=float(row["table_load"]) if "table_load" in row else None,
            material=owner["material"],
            source=source,
            status=status,
        )
    raise ValueError(unknown_name("spring", name, stock_spring_names()))


def spring_constants(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> SpringConstants:
    """Return the shape constants of a disc spring from its ratio of diameters delta = De/Di.

    K1 = (1/pi) ((delta-1)/delta)^2 / [(delta+1)/(delta-1) - 2/ln delta],
    K2 = (6/pi) [(delta-1)/ln delta - 1]/ln delta, K3 = (3/pi) (delta-1)/ln delta.

    outer_diameter, inner_diameter : float or array, mm; broadcast together
    returns                        : SpringConstants
    raises ValueError              : not above zero, or outer not larger than inner

    Source: Almen & Laszlo 1936; DIN 2092 / EN 16984.
    """
    outer, inner = positive("outer_diameter", outer_diameter), positive("inner_diameter", inner_diameter)
    delta = outer / inner
    if np.any(delta <= 1.0):
        raise ValueError(f"the outer diameter {outer} must exceed the inner {inner}")
    log = np.log(delta)
    return SpringConstants(
        ((delta - 1.0) / delta) ** 2 / ((delta + 1.0) / (delta - 1.0) - 2.0 / log) / np.pi,
        6.0 / np.pi * ((delta - 1.0) / log - 1.0) / log,
        3.0 / np.pi * (delta - 1.0) / log,
    )


def _scale(
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    youngs_modulus: ArrayLike,
    poisson: ArrayLike,
) -> Array:
    modulus = positive("youngs_modulus", youngs_modulus) / (1.0 - finite("poisson", poisson) ** 2)
    k1 = spring_constants(outer_diameter, inner_diameter).K1
    return 4.0 * modulus / (k1 * np.asarray(outer_diameter, dtype=float) ** 2)


def spring_force(
    travel: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    thickness: ArrayLike,
    cone_height: ArrayLike,
    youngs_modulus: ArrayLike,
    poisson: ArrayLike,
) -> Array:
    """Return the force of one disc spring without contact flats, without friction.

    F = 4E/(1-nu^2) t^4/(K1 De^2) (s/t) [(h0/t - s/t)(h0/t - s/2t) + 1]

    travel                                   : float or array, s, mm, from the free height
    outer_diameter, inner_diameter, thickness, cone_height : float or array, mm
    youngs_modulus, poisson                  : float or array, MPa and 1
    returns                                  : float or array, N; beyond flat (s > h0) the formula goes
                                               on, the stop is for the caller
    raises ValueError                        : a size not above zero, or outer not larger than inner

    Source: Almen & Laszlo 1936; DIN 2092 / EN 16984.
    """
    t = positive("thickness", thickness)
    x, h = finite("travel", travel) / t, positive("cone_height", cone_height) / t
    scale = _scale(outer_diameter, inner_diameter, youngs_modulus, poisson)
    return scale * t**4 * x * ((h - x) * (h - x / 2.0) + 1.0)


def spring_stiffness(
    travel: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    thickness: ArrayLike,
    cone_height: ArrayLike,
    youngs_modulus: ArrayLike,
    poisson: ArrayLike,
) -> Array:
    """Return the tangent stiffness of one disc spring, the derivative of spring_force by travel.

    k = 4E/(1-nu^2) t^3/(K1 De^2) [(h0/t)^2 - 3 (h0/t)(s/t) + 3/2 (s/t)^2 + 1]; it vanishes at flat for
    h0 = sqrt(2) t and is negative there for a taller cone.

    arguments         : as spring_force
    returns           : float or array, N/mm
    raises ValueError : as spring_force

    Source: DIN 2092 / EN 16984 (differentiated).
    """
    t = positive("thickness", thickness)
    x, h = finite("travel", travel) / t, positive("cone_height", cone_height) / t
    scale = _scale(outer_diameter, inner_diameter, youngs_modulus, poisson)
    return scale * t**3 * (h**2 - 3.0 * h * x + 1.5 * x**2 + 1.0)


def flat_load(
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    thickness: ArrayLike,
    cone_height: ArrayLike,
    youngs_modulus: ArrayLike,
    poisson: ArrayLike,
) -> Array:
    """Return the force that presses one disc spring flat, 4E/(1-nu^2) t^3 h0/(K1 De^2).

    arguments         : as spring_force, without travel
    returns           : float or array, N
    raises ValueError : as spring_force

    Source: DIN 2092 / EN 16984 (spring_force at a travel of h0).
    """
    return spring_force(cone_height, outer_diameter, inner_diameter, thickness, cone_height, youngs_modulus, poisson)


def spring_travel(
    force: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    thickness: ArrayLike,
    cone_height: ArrayLike,
    youngs_modulus: ArrayLike,
    poisson: ArrayLike,
) -> Array:
    """Return the travel of one disc spring under a force; the cone height (flat) from the flat load on.

    Halving the interval from free to flat; the force must rise all the way, h0 <= sqrt(2) t.

    force             : float or array, N, not negative
    other arguments   : as spring_force
    returns           : float or array, mm, from 0 to cone_height
    raises ValueError : as spring_force, force negative, or a cone so tall that the force falls again

    Source: DIN 2092 / EN 16984 (spring_force inverted).
    """
    load, tall = not_negative("force", force), positive("cone_height", cone_height)
    if np.any(tall > np.sqrt(2.0) * positive("thickness", thickness)):
        raise ValueError("cone_height above 1.414 thickness: one force can have two travels")
    shape = (outer_diameter, inner_diameter, thickness, cone_height, youngs_modulus, poisson)
    below, above = np.zeros(np.broadcast(load, *map(np.asarray, shape)).shape), tall
    for _ in range(60):
        middle = (below + above) / 2.0
        short = spring_force(middle, *shape) < load
        below, above = np.where(short, middle, below), np.where(short, above, middle)
    return (below + above) / 2.0


def flat_share(force: ArrayLike, flat: ArrayLike) -> Array:
    """Return the force on a spring over its flat load; above 1 it is a plain washer, no more.

    force             : float or array, N
    flat              : float or array, flat load, N
    returns           : float or array, 1
    raises ValueError : flat load not above zero

    Source: definition.
    """
    return finite("force", force) / positive("flat", flat)


def spring_stresses(
    travel: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    thickness: ArrayLike,
    cone_height: ArrayLike,
    youngs_modulus: ArrayLike,
    poisson: ArrayLike,
) -> SpringStresses:
    """Return the stresses of one disc spring at its four corners and at the centre of rotation.

    With A = 4E/(1-nu^2) t^2/(K1 De^2) (s/t) and c = h0/t - s/2t: sigma_I = -A (K2 c + K3),
    II = -A (K2 c - K3), III = -A/delta [(K2 - 2 K3) c - K3], IV = -A/delta [(K2 - 2 K3) c + K3],
    centre = -A 3/pi.

    arguments         : as spring_force
    returns           : SpringStresses, MPa
    raises ValueError : as spring_force

    Source: Almen & Laszlo 1936; DIN 2092 / EN 16984.
    """
    t = positive("thickness", thickness)
    x, h = finite("travel", travel) / t, positive("cone_height", cone_height) / t
    constants = spring_constants(outer_diameter, inner_diameter)
    delta = np.asarray(outer_diameter, dtype=float) / np.asarray(inner_diameter, dtype=float)
    a = _scale(outer_diameter, inner_diameter, youngs_modulus, poisson) * t**2 * x
    c = h - x / 2.0
    outer = constants.K2 - 2.0 * constants.K3
    return SpringStresses(
        inner_upper=-a * (constants.K2 * c + constants.K3),
        inner_lower=-a * (constants.K2 * c - constants.K3),
        outer_lower=-a / delta * (outer * c - constants.K3),
        outer_upper=-a / delta * (outer * c + constants.K3),
        centre=-a * 3.0 / np.pi,
    )


def stack_force(single_force: ArrayLike, parallel: int) -> Array:
    """Return the force of springs nested in parallel at the travel of one, without friction.

    single_force      : float or array, force of one spring at that travel, N
    parallel          : int, springs nested in one another, at least 1
    returns           : float or array, N; springs in series share this same force
    raises ValueError : parallel below 1

    Source: DIN 2092 / EN 16984.
    """
    return _count("parallel", parallel) * finite("single_force", single_force)


def stack_travel(single_travel: ArrayLike, series: int) -> Array:
    """Return the travel of springs in series at the force of one.

    single_travel     : float or array, travel of one spring (or nest), mm
    series            : int, springs or nests facing one another, at least 1
    returns           : float or array, mm
    raises ValueError : series below 1

    Source: DIN 2092 / EN 16984.
    """
    return _count("series", series) * finite("single_travel", single_travel)


def stack_stiffness(single_stiffness: ArrayLike, parallel: int, series: int) -> Array:
    """Return the stiffness of a stack of equal springs: n/i of one.

    single_stiffness  : float or array, N/mm
    parallel, series  : int, at least 1
    returns           : float or array, N/mm
    raises ValueError : parallel or series below 1

    Source: DIN 2092 / EN 16984.
    """
    stiffness = finite("single_stiffness", single_stiffness)
    return stiffness * _count("parallel", parallel) / _count("series", series)


def _count(name: str, number: int) -> int:
    if number != int(number) or number < 1:
        raise ValueError(f"{name} must be a whole number of at least 1, not {number}")
    return int(number)


def friction_factor(parallel: int, surface_friction: float, edge_friction: float, loading: bool) -> float:
    """Return the force of a nest of springs with friction over its force without.

    1/(1 -+ w_M (n - 1) -+ w_R), minus while loading, plus while unloading.

    parallel          : int, springs nested, at least 1
    surface_friction  : float, w_M, share lost at each face between nested springs
    edge_friction     : float, w_R, share lost at the edges
    loading           : bool, whether the travel grows
    returns           : float, above 1 loading, below 1 unloading
    raises ValueError : a friction below zero, or so large that the spring locks

    Source: DIN 2092 / EN 16984.
    """
    for name, value in (("surface_friction", surface_friction), ("edge_friction", edge_friction)):
        not_negative(name, value)
    lost = surface_friction * (_count("parallel", parallel) - 1) + edge_friction
    if lost >= 1.0:
        raise ValueError(f"friction takes the whole force of {parallel} parallel springs")
    return 1.0 / (1.0 - lost if loading else 1.0 + lost)


def spring_heat_conductance(
    outer: ArrayLike,
    inner: ArrayLike,
    thickness: ArrayLike,
    conductivity: ArrayLike,
    edge_conductance: ArrayLike,
    parallel: int = 1,
    series: int = 1,
) -> Array:
    """Return the heat that a group of disc springs passes from end to end for each kelvin between its ends.

    Each packet takes heat at one edge and gives it off at the other: along the nested discs, as through hollow cylinders
    as high as they are thick, and through the contact of both edges. G = 1 / (m [1/(h A) + ln(De/Di) / (2 pi k n t)])

    outer, inner, thickness : float or array, mm
    conductivity            : float or array, N/(s K), the same number as in W/(m K)
    edge_conductance        : float or array, N/(mm s K), h: of both edges of a packet together, on A = pi (De^2 - Di^2)/4
    parallel, series        : int, n discs nested in a packet, m packets on end
    returns                 : float or array, mW/K
    raises ValueError       : a value not above zero, or an inner diameter that is not smaller than the outer one

    Source: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, radial conduction through a hollow cylinder.
    """
    wide, bore = positive("outer", outer), positive("inner", inner)
    if np.any(wide <= bore):
        raise ValueError(f"inner must be smaller than outer, {wide}, not {bore}")
    sheet = positive("conductivity", conductivity) * positive("thickness", thickness) * positive("parallel", parallel)
    edges = positive("edge_conductance", edge_conductance) * np.pi / 4.0 * (wide**2 - bore**2)
    return 1.0 / (positive("series", series) * (1.0 / edges + np.log(wide / bore) / (2.0 * np.pi * sheet)))
