"""Screw thread geometry: names, diameters, areas, limits of size and the tap drill."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import table
from studwell.parts.arguments import Array, finite, not_negative, positive

INCH = 25.4
FLANK_ANGLE = np.radians(30.0)  # half of the 60 degree profile angle


@dataclass(frozen=True)
class Thread:
    """One thread size.

    name             : str, canonical ("M8x1.25", "5/16-18 UNC")
    nominal_diameter : float, mm
    pitch            : float, mm
    form             : "metric" or "unified"; the same basic profile, other tables of areas and limits
    """

    name: str
    nominal_diameter: float
    pitch: float
    form: str = "metric"


def _known_threads() -> str:
    metric = ", ".join(
        f"{size} x {'/'.join(str(pitch) for pitch in pitches)}"
        for size, pitches in table("threads")["metric"]["rows"].items()
    )
    unified = ", ".join(
        f"{size}-{coarse} UNC, {size}-{fine} UNF"
        for size, (coarse, fine) in table("threads")["unified"]["rows"].items()
    )
    return f"known are {metric}, {unified}"


def parse_thread(text: str) -> Thread:
    """Return the thread that a designation names.

    text              : str: "M8", "M8x1.25" (without pitch: the coarse one), "5/16-18 UNC", "5/16-18"
    returns           : Thread; equal threads have equal names however they were written
    raises ValueError : not a thread designation, or a pitch that the size does not come in

    Source: ISO 261 and ASME B1.1 for the pitches (data file threads.toml, from memory).
    >>> parse_thread("m8 x 1.25") == parse_thread("M8")
    True
    """
    squeezed = text.strip().replace("\N{MULTIPLICATION SIGN}", "x").replace('"', "")
    metric = re.fullmatch(r"[Mm]\s*(\d+(?:\.\d+)?)(?:\s*[xX]\s*(\d+(?:\.\d+)?))?", squeezed)
    if metric:
        size = f"M{float(metric[1]):g}"
        pitches = table("threads")["metric"]["rows"].get(size)
        pitch = float(metric[2]) if metric[2] else (pitches[0] if pitches else 0.0)
        if pitches is None or pitch not in pitches:
            raise ValueError(f"no thread {text!r} in stock; {_known_threads()}")
        return Thread(f"{size}x{pitch:g}", float(metric[1]), float(pitch))
    unified = re.fullmatch(r"(\d+/\d+)\s*(?:in)?\s*-\s*(\d+)\s*(UNC|UNF)?", squeezed, re.IGNORECASE)
    if unified:
        counts = table("threads")["unified"]["rows"].get(unified[1])
        count = int(unified[2])
        series = None if counts is None or count not in counts else ("UNC", "UNF")[counts.index(count)]
        if series is None or (unified[3] and unified[3].upper() != series):
            raise ValueError(f"no thread {text!r} in stock; {_known_threads()}")
        over, under = unified[1].split("/")
        return Thread(f"{unified[1]}-{count} {series}", INCH * int(over) / int(under), INCH / count, "unified")
    raise ValueError(f"{text!r} is not a thread designation; {_known_threads()}")


def profile_height(pitch: ArrayLike) -> Array:
    """Return the height H of the fundamental triangle of a 60 degree thread: H = (sqrt 3 / 2) P.

    pitch             : float or array, mm
    returns           : float or array, mm
    raises ValueError : pitch not above zero

    Source: ISO 68-1 (clause from memory).
    """
    return np.sqrt(3.0) / 2.0 * positive("pitch", pitch)


def pitch_diameter(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the basic pitch diameter d2 = d - 3/4 H = d - 0.6495 P.

    nominal_diameter, pitch : float or array, mm; broadcast together
    returns                 : float or array, mm
    raises ValueError       : not above zero, or pitch too coarse for the diameter

    Source: ISO 724 (clause from memory).
    >>> round(float(pitch_diameter(8.0, 1.25)), 3)    # table value for M8: 7.188
    7.188
    """
    return _diameter(nominal_diameter, pitch, 3.0 / 4.0)


def minor_diameter(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the basic minor diameter of the internal thread D1 = d - 5/4 H = d - 1.0825 P.

    nominal_diameter, pitch : float or array, mm; broadcast together
    returns                 : float or array, mm
    raises ValueError       : not above zero, or pitch too coarse for the diameter

    Source: ISO 724 (clause from memory).
    >>> round(float(minor_diameter(8.0, 1.25)), 3)    # table value for M8: 6.647
    6.647
    """
    return _diameter(nominal_diameter, pitch, 5.0 / 4.0)


def root_diameter(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the root diameter of the external thread d3 = d - 17/12 H = d - 1.2269 P.

    nominal_diameter, pitch : float or array, mm; broadcast together
    returns                 : float or array, mm
    raises ValueError       : not above zero, or pitch too coarse for the diameter

    Source: ISO 898-1:2013 (definition from memory).
    """
    return _diameter(nominal_diameter, pitch, 17.0 / 12.0)


def _diameter(nominal_diameter: ArrayLike, pitch: ArrayLike, heights: float) -> Array:
    nominal, height = positive("nominal_diameter", nominal_diameter), profile_height(pitch)
    if np.any(nominal - 17.0 / 12.0 * height <= 0.0):
        raise ValueError(f"pitch {np.asarray(pitch)} mm is too coarse for a diameter of {nominal} mm")
    return nominal - heights * height


def tensile_stress_area(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the tensile stress area of an ISO metric thread, mm^2.

    A circle on the mean of pitch diameter d2 and root diameter d3 of the basic profile:
    A_s = pi/4 ((d2 + d3)/2)^2, d2 = d - 0.6495 P, d3 = d - 1.2269 P.

    nominal_diameter, pitch : float or array, mm; positive, broadcast together
    returns                 : float or array, mm^2, of the broadcast shape
    raises ValueError       : pitch too coarse for the diameter (d3 <= 0), or not finite

    For a free thread, not a waisted shank. Source: ISO 898-1:2013 (clause from memory).
    >>> round(float(tensile_stress_area(8.0, 1.25)), 1)    # table value for M8: 36.6
    36.6
    """
    mean = (pitch_diameter(nominal_diameter, pitch) + root_diameter(nominal_diameter, pitch)) / 2.0
    return np.pi / 4.0 * mean**2


def unified_stress_area(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the tensile stress area of a unified inch thread, A_s = pi/4 (d - 0.9743 P)^2.

    nominal_diameter, pitch : float or array, mm; positive, broadcast together
    returns                 : float or array, mm^2
    raises ValueError       : pitch too coarse for the diameter, or not finite

    The inch tables use 0.9743 where the metric profile gives 0.9382. Source: ASME B1.1, appendix
    (from memory; 1/2-13 UNC is printed as 0.1419 in^2).
    >>> round(float(unified_stress_area(12.7, 25.4 / 13)) / 25.4**2, 4)
    0.1419
    """
    nominal, coarse = positive("nominal_diameter", nominal_diameter), positive("pitch", pitch)
    root_diameter(nominal, coarse)
    return np.pi / 4.0 * (nominal - 0.9743 * coarse) ** 2


def stress_area(thread: Thread) -> float:
    """Return the tensile stress area that the thread's own standard uses.

    thread  : Thread
    returns : float, mm^2

    Source: ISO 898-1:2013 for metric threads, ASME B1.1 for unified ones (from memory).
    """
    rule = unified_stress_area if thread.form == "unified" else tensile_stress_area
    return float(rule(thread.nominal_diameter, thread.pitch))


def root_area(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the cross-section at the root diameter, A_3 = pi/4 d3^2.

    nominal_diameter, pitch : float or array, mm; broadcast together
    returns                 : float or array, mm^2
    raises ValueError       : pitch too coarse for the diameter, or not finite

    Source: VDI 2230 (definition from memory).
    """
    return np.pi / 4.0 * root_diameter(nominal_diameter, pitch) ** 2


def helix_angle(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the helix angle at the pitch diameter, atan(P / (pi d2)).

    nominal_diameter, pitch : float or array, mm; broadcast together
    returns                 : float or array, radian
    raises ValueError       : pitch too coarse for the diameter, or not finite

    Source: geometry of the helix (any machine design text, for instance Shigley ch. 8).
    """
    return np.arctan(positive("pitch", pitch) / (np.pi * pitch_diameter(nominal_diameter, pitch)))


def root_radius(pitch: ArrayLike) -> Array:
    """Return the root radius of the external basic profile, H/6 = 0.14434 P.

    pitch             : float or array, mm
    returns           : float or array, mm
    raises ValueError : pitch not above zero

    Source: ISO 68-1 / ISO 965 (from memory); ISO 898-1 asks for at least H/8 where fatigue matters.
    """
    return profile_height(pitch) / 6.0


def tap_drill(nominal_diameter: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the drill for a tapped hole, d - P.

    nominal_diameter, pitch : float or array, mm; broadcast together
    returns                 : float or array, mm; drills are sold rounded (6.75 as 6.8)
    raises ValueError       : not above zero, or pitch not below the diameter

    Source: common rule of ISO 2306, whose coarse series prints 4.2, 5.0, 6.8, 8.5 for M5 to M10.
    """
    return positive("hole", positive("nominal_diameter", nominal_diameter) - positive("pitch", pitch))


def axial_travel(turns: ArrayLike, pitch: ArrayLike) -> Array:
    """Return how far a screw moves along its axis in some turns: turns times pitch.

    turns             : float or array, turns
    pitch             : float or array, mm
    returns           : float or array, mm
    raises ValueError : turns not finite, pitch not above zero

    Source: definition of pitch of a single-start thread, ISO 5408.
    """
    return finite("turns", turns) * positive("pitch", pitch)


def turns_for_travel(travel: ArrayLike, pitch: ArrayLike) -> Array:
    """Return the turns that move a screw some way along its axis: travel over pitch.

    travel            : float or array, mm
    pitch             : float or array, mm
    returns           : float or array, turns
    raises ValueError : travel not finite, pitch not above zero

    Source: definition of pitch of a single-start thread, ISO 5408.
    """
    return finite("travel", travel) / positive("pitch", pitch)


def external_shear_area(
    length: ArrayLike, pitch: ArrayLike, internal_minor: ArrayLike, external_pitch: ArrayLike
) -> Array:
    """Return the area that shears when the external (stud) thread strips, mm^2.

    A = pi (Le/P) D1 [P/2 + (d2 - D1) tan 30], the cylinder of the internal minor diameter inside
    the external teeth. Least area: largest D1, smallest d2.

    length            : float or array, engaged length Le, mm
    pitch             : float or array, mm
    internal_minor    : float or array, minor diameter of the internal thread D1, mm
    external_pitch    : float or array, pitch diameter of the external thread d2, mm
    returns           : float or array, mm^2
    raises ValueError : a size not above zero, or length below zero

    Source: FED-STD-H28; ASME B1.1 appendix B (one public page prints the external major diameter in
    place of D1, which does not bound the area of the external thread).
    """
    engaged, step = not_negative("length", length), positive("pitch", pitch)
    minor, mean = positive("internal_minor", internal_minor), positive("external_pitch", external_pitch)
    return np.pi * engaged / step * minor * (step / 2.0 + np.tan(FLANK_ANGLE) * (mean - minor))


def internal_shear_area(
    length: ArrayLike, pitch: ArrayLike, external_major: ArrayLike, internal_pitch: ArrayLike
) -> Array:
    """Return the area that shears when the internal (hole or nut) thread strips, mm^2.

    A = pi (Le/P) d [P/2 + (d - D2) tan 30], the cylinder of the external major diameter inside the
    internal teeth. Least area: smallest d, largest D2.

    length            : float or array, engaged length Le, mm
    pitch             : float or array, mm
    external_major    : float or array, major diameter of the external thread d, mm
    internal_pitch    : float or array, pitch diameter of the internal thread D2, mm
    returns           : float or array, mm^2
    raises ValueError : a size not above zero, or length below zero

    Source: FED-STD-H28; ASME B1.1 appendix B.
    """
    engaged, step = not_negative("length", length), positive("pitch", pitch)
    major, mean = positive("external_major", external_major), positive("internal_pitch", internal_pitch)
    return np.pi * engaged / step * major * (step / 2.0 + np.tan(FLANK_ANGLE) * (major - mean))


def basic_external_shear_area(nominal_diameter: ArrayLike, pitch: ArrayLike, length: ArrayLike) -> Array:
    """Return the shear area of the external thread at basic sizes, 3/4 pi D1 Le.

    nominal_diameter, pitch, length : float or array, mm; broadcast together
    returns                         : float or array, mm^2
    raises ValueError               : a size not above zero, or length below zero

    Source: external_shear_area at basic sizes (FED-STD-H28; the factor 3/4 follows exactly).
    """
    return external_shear_area(
        length,
        pitch,
        minor_diameter(nominal_diameter, pitch),
        pitch_diameter(nominal_diameter, pitch),
    )


def basic_internal_shear_area(nominal_diameter: ArrayLike, pitch: ArrayLike, length: ArrayLike) -> Array:
    """Return the shear area of the internal thread at basic sizes, 7/8 pi d Le.

    nominal_diameter, pitch, length : float or array, mm; broadcast together
    returns                         : float or array, mm^2
    raises ValueError               : a size not above zero, or length below zero

    Source: internal_shear_area at basic sizes (FED-STD-H28; the factor 7/8 follows exactly).
    """
    return internal_shear_area(length, pitch, nominal_diameter, pitch_diameter(nominal_diameter, pitch))
