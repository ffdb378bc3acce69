"""Studs as fasteners: property classes, proof and stripping loads, compliance, load along the thread."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, not_negative, positive, unknown_name
from studwell.parts.thread import Thread, root_area, stress_area


@dataclass(frozen=True)
class PropertyClass:
    """Strength of one property class at one diameter, MPa; minima at room temperature."""

    name: str
    proof_stress: float
    yield_strength: float
    ultimate_strength: float
    material: str
    source: str
    status: str


@dataclass(frozen=True)
class StudCompliance:
    """Compliances in series along a stud in tension, mm/N."""

    shank: Array
    free_thread: Array
    nut_core: Array
    nut_thread: Array
    boss_core: Array
    boss_thread: Array

    @property
    def total(self) -> Array:
        """Sum of all, mm/N."""
        ends = self.nut_core + self.nut_thread + self.boss_core + self.boss_thread
        return self.shank + self.free_thread + ends


def property_class_names() -> tuple[str, ...]:
    """Return the names of the property classes in stock.

    returns : tuple of str ("8.8", "10.9", ...)

    Source: property_classes.toml of this package.
    """
    return tuple(table("property_classes")["classes"]["rows"])


def property_class(name: str, nominal_diameter: float) -> PropertyClass:
    """Return the strengths of a property class for a diameter.

    name              : str, one of property_class_names()
    nominal_diameter  : float, mm: class 8.8 is stronger above 16 mm
    returns           : PropertyClass
    raises ValueError : not in stock, or diameter not above zero

    Source: ISO 898-1:2013 (public reprints); other classes as their rows say.
    """
    owner = table("property_classes")["classes"]
    positive("nominal_diameter", nominal_diameter)
    if name not in owner["rows"]:
        raise ValueError(unknown_name("property class", name, owner["rows"]))
    row = owner["rows"][name]
    thick = nominal_diameter > row.get("above_diameter", np.inf)
    prefix = "above_" if thick else ""
    return PropertyClass(
        name,
        float(row[f"{prefix}proof_stress"]),
        float(row[f"{prefix}yield_strength"]),
        float(row[f"{prefix}ultimate_strength"]),
        row["material"],
        *source_of(row, owner),
    )


def proof_load(thread: Thread, class_name: str) -> float:
    """Return the proof load of a thread, stress area times proof stress.

    thread            : Thread
    class_name        : str, one of property_class_names()
    returns           : float, N; the standard's table rounds it, by up to 0.6 %
    raises ValueError : class not in stock

    Source: ISO 898-1:2013.
    """
    return stress_area(thread) * property_class(class_name, thread.nominal_diameter).proof_stress


def ultimate_load(thread: Thread, class_name: str) -> float:
    """Return the least breaking load of a thread, stress area times tensile strength.

    thread            : Thread
    class_name        : str, one of property_class_names()
    returns           : float, N
    raises ValueError : class not in stock

    Source: ISO 898-1:2013.
    """
    return stress_area(thread) * property_class(class_name, thread.nominal_diameter).ultimate_strength


def strip_load(shear_area: ArrayLike, ultimate_strength: ArrayLike, shear_ratio: ArrayLike) -> Array:
    """Return the load at which a thread strips: shear area times shear strength.

    shear_area        : float or array, mm^2, of the thread that strips
    ultimate_strength : float or array, MPa, of its material
    shear_ratio       : float or array, shear strength over tensile strength, 1
    returns           : float or array, N
    raises ValueError : an argument not above zero (area: negative)

    Source: Alexander 1977, without its factors for nut dilation and thread bending.
    """
    strength = positive("ultimate_strength", ultimate_strength) * positive("shear_ratio", shear_ratio)
    return not_negative("shear_area", shear_area) * strength


def stud_compliance(
    nominal_diameter: ArrayLike,
    pitch: ArrayLike,
    free_thread: ArrayLike,
    stud_modulus: ArrayLike,
    boss_modulus: ArrayLike,
    shank_length: ArrayLike = 0.0,
    shank_diameter: ArrayLike | None = None,
) -> StudCompliance:
    """Return the compliance of a stud in a tapped hole, by equivalent lengths.

    Shank l/(E A), free thread l/(E A3), at each end 0.5 d on A3 for the core in the thread, 0.4 d on the
    nominal section for the nut's teeth and 0.33 d on the nominal section, in the boss material, for the
    tapped hole's.

    nominal_diameter, pitch    : float or array, mm
    free_thread                : float or array, mm, thread between shank, boss and nut
    stud_modulus, boss_modulus : float or array, MPa
    shank_length               : float or array, mm
    shank_diameter             : float or array, mm; None: the nominal diameter
    returns                    : StudCompliance, mm/N
    raises ValueError          : a length negative, another argument not above zero

    Source: VDI 2230 (coefficients from memory).
    """
    d, steel = positive("nominal_diameter", nominal_diameter), positive("stud_modulus", stud_modulus)
    core, nominal = root_area(nominal_diameter, pitch), np.pi / 4.0 * d**2
    shank = np.pi / 4.0 * positive("shank_diameter", d if shank_diameter is None else shank_diameter) ** 2
    return StudCompliance(
        shank=not_negative("shank_length", shank_length) / (steel * shank),
        free_thread=not_negative("free_thread", free_thread) / (steel * core),
        nut_core=0.5 * d / (steel * core),
        nut_thread=0.4 * d / (steel * nominal),
        boss_core=0.5 * d / (steel * core),
        boss_thread=0.33 * d / (positive("boss_modulus", boss_modulus) * nominal),
    )


def bolt_stiffness(
    shank_area: ArrayLike,
    shank_length: ArrayLike,
    thread_area: ArrayLike,
    thread_length: ArrayLike,
    youngs_modulus: ArrayLike,
) -> Array:
    """Return the stiffness of a bolt in the grip, shank and thread in series: Ad At E/(Ad lt + At ld).

    shank_area, thread_area     : float or array, mm^2 (any one unit)
    shank_length, thread_length : float or array, mm, within the grip
    youngs_modulus              : float or array, MPa
    returns                     : float or array, N/mm
    raises ValueError           : an area or modulus not above zero, a length negative

    Source: Shigley ch. 8.
    """
    shank, thread = positive("shank_area", shank_area), positive("thread_area", thread_area)
    lengths = thread * not_negative("shank_length", shank_length) + shank * not_negative("thread_length", thread_length)
    return shank * thread * positive("youngs_modulus", youngs_modulus) / positive("grip", lengths)


def thread_load_left(position: ArrayLike, spread: ArrayLike) -> Array:
    """Return the share of the load still in the stud at a place along the engaged thread.

    F(x)/F = sinh(lambda (L - x))/sinh(lambda L), for a uniform layer of teeth between uniform bars.

    position          : float or array, x/L, 0 at the loaded end to 1 at the free end
    spread            : float or array, lambda L, above zero
    returns           : float or array, 1 falling to 0
    raises ValueError : spread not above zero, position outside 0..1

    Source: Goodier 1940; Sopwith 1948; Yamamoto.
    """
    x, reach = not_negative("position", position), positive("spread", spread)
    if np.any(x > 1.0):
        raise ValueError(f"position must be at most 1, not {x}")
    return np.sinh(reach * (1.0 - x)) / np.sinh(reach)


def thread_load_shares(turns: int, spread: float) -> Array:
    """Return the share of the load that each engaged turn takes, from the loaded end.

    turns             : int, engaged turns, at least 1
    spread            : float, lambda L
    returns           : array (turns,), sums to 1
    raises ValueError : turns below 1, spread not above zero

    Source: differences of thread_load_left (Goodier 1940; Sopwith 1948; Yamamoto).
    """
    if turns != int(turns) or turns < 1:
        raise ValueError(f"turns must be a whole number of at least 1, not {turns}")
    return -np.diff(thread_load_left(np.arange(int(turns) + 1) / turns, spread))


def thread_load_peak(spread: ArrayLike) -> Array:
    """Return the highest tooth load over the mean one: lambda L coth(lambda L).

    spread            : float or array, lambda L
    returns           : float or array, at least 1
    raises ValueError : spread not above zero

    Source: Goodier 1940; Sopwith 1948; Yamamoto (thread_load_left differentiated at x = 0).
    """
    reach = positive("spread", spread)
    return reach / np.tanh(reach)


def thread_load_ladder(turns: int, tooth_stiffness: float, stud_stiffness: float) -> Array:
    """Return the share of each turn for discrete teeth on a stud in a rigid nut.

    The stud's segments between turns and the teeth are springs; the nut does not move.

    turns                           : int, at least 1
    tooth_stiffness, stud_stiffness : float, N/mm, of one tooth and of the stud over one pitch
    returns                         : array (turns,), from the loaded end, sums to 1
    raises ValueError               : turns below 1, a stiffness not above zero

    Source: spring ladder, equilibrium of each node (Timoshenko, Strength of Materials I, for bolts and
    rivets in a row).
    """
    if turns != int(turns) or turns < 1:
        raise ValueError(f"turns must be a whole number of at least 1, not {turns}")
    tooth = float(positive("tooth_stiffness", tooth_stiffness))
    segment = float(positive("stud_stiffness", stud_stiffness))
    matrix = np.zeros((turns, turns))
    for upper in range(turns - 1):
        matrix[upper : upper + 2, upper : upper + 2] += segment * np.array([[1.0, -1.0], [-1.0, 1.0]])
    matrix += tooth * np.eye(turns)
    load = np.zeros(turns)
    load[0] = 1.0
    return np.asarray(tooth * np.linalg.solve(matrix, load), dtype=np.float64)
