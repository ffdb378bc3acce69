"""Numbers of a repair: which drill, how deep to drill and tap, what floor is left, how long an insert, how far a stud ends."""

from dataclasses import dataclass
from math import ceil, radians, tan

from studwell.data import table
from studwell.parts.arguments import not_negative, positive
from studwell.parts.insert import STOCK_LENGTHS, assembled_length, insert_hole, insert_length, least_drilled_depth
from studwell.parts.taps import tap_form
from studwell.parts.thread import INCH, Thread, tap_drill

TAPS = ("bottoming", "plug")
"""Kinds of tap by the length of their chamfer."""


@dataclass(frozen=True)
class Drill:
    """A drill. least: the diameter that is asked for; metric, inch: the next larger ones in stock, mm; inch_name: of the
    latter, a fraction of an inch or a letter."""

    least: float
    metric: float
    inch: float
    inch_name: str


def stocked_drill(least: float) -> Drill:
    """Return the next drill in stock that is not smaller than a diameter, of the metric and of the inch series.

    least             : float, mm
    returns           : Drill, mm
    raises ValueError : not above zero, or beyond the drills in stock

    A thousandth of a millimetre too small still counts as large enough. Source: steps of drills.toml.
    >>> drill = stocked_drill(8.2706)    # basic minor diameter of the insert hole of M8
    >>> drill.metric, drill.inch_name
    (8.3, '21/64 in')
    """
    wanted = float(positive("least", least))
    drills = table("drills")
    smallest, largest = float(drills["metric"]["smallest"]), float(drills["metric"]["largest"])
    if not smallest <= wanted <= largest:
        raise ValueError(f"no drill of {wanted:g} mm in stock: they are {smallest:g} mm to {largest:g} mm")
    step = float(drills["metric"]["step"])
    metric = round(step * ceil((wanted - 1e-3) / step), 6)
    denominator = int(drills["inch"]["denominator"])
    count = ceil((wanted - 1e-3) / INCH * denominator)
    sizes = [(INCH * count / denominator, _fraction(count, denominator))]
    for letter, size in drills["letter"].items():
        if isinstance(size, float) and INCH * size >= wanted - 1e-3:
            sizes.append((INCH * size, f"letter {letter}"))
    inch, words = min(sizes, key=lambda each: each[0])
    return Drill(wanted, metric, inch, words)


def _fraction(top: int, bottom: int) -> str:
    while top % 2 == 0 and bottom > 1:
        top, bottom = top // 2, bottom // 2
    whole, rest = divmod(top, bottom)
    return f"{rest}/{bottom} in" if not whole else f"{whole} in" if not rest else f"{whole} {rest}/{bottom} in"


def hole_drill(thread: Thread, insert: bool) -> Drill:
    """Return the drill of a tapped hole: d - P for the stud's own thread, the oversize minor diameter for an insert.

    thread            : Thread of the stud
    insert            : bool
    returns           : Drill, mm
    raises ValueError : beyond the drills in stock

    Source: ISO 2306 (d - P); ASME B18.29.2M (insert hole, from memory).
    """
    size = insert_hole(thread.nominal_diameter, thread.pitch).minor_diameter if insert else None
    return stocked_drill(float(tap_drill(thread.nominal_diameter, thread.pitch) if size is None else size))


def tap_size(thread: Thread, insert: bool) -> str:
    """Return what the tap is called: the stud's thread, or its insert tap with the outside that it cuts.

    thread, insert : Thread of the stud; bool
    returns        : str

    Source: insert_hole.
    """
    if not insert:
        return thread.name
    outside = float(insert_hole(thread.nominal_diameter, thread.pitch).major_diameter)
    return f"insert tap {thread.name} (cuts {outside:.2f} mm outside)"


def tap_chamfer(thread: Thread, tap: str) -> float:
    """Return the most that a tap's chamfer is long, which cuts no full thread, mm.

    thread            : Thread
    tap               : "bottoming" or "plug"
    returns           : float, mm
    raises ValueError : another tap

    Source: taps.toml, chamfers in pitches.
    """
    if tap not in TAPS:
        raise ValueError(f"a tap is {' or '.join(TAPS)}, not {tap!r}")
    return tap_form(tap).most * thread.pitch


def needed_depths(thread: Thread, tap: str, full_thread: float, insert: float | None) -> tuple[float, float]:
    """Return the least depth of full thread to tap and of full diameter to drill, mm from the mouth.

    thread            : Thread of the stud
    tap               : "bottoming" or "plug"
    full_thread       : float, mm of full thread that is wanted; not used with an insert
    insert            : float, mm, nominal length of the insert, or None
    returns           : (float, float), mm
    raises ValueError : another tap, a length not above zero

    With an insert: full thread over its length and two pitches (set-down and end), drilled by the rule of
    least_drilled_depth. Without: the thread that is wanted and the tap's chamfer. Source: public reprint of ASME
    metric insert hole data; tap_chamfer.
    """
    if insert is not None:
        drilled = least_drilled_depth(thread, insert, tap == "bottoming")
        tap_chamfer(thread, tap)
        return float(insert) + 2.0 * thread.pitch, drilled
    wanted = float(positive("full_thread", full_thread))
    return wanted, wanted + tap_chamfer(thread, tap)


def point_depth(diameter: float, angle: float) -> float:
    """Return how far the point of a drill goes beyond its full diameter, mm.

    diameter          : float, mm
    angle             : float, full angle of the point, deg
    returns           : float, mm
    raises ValueError : not above zero, or the angle above 180 deg

    Source: geometry of a cone.
    """
    full = float(positive("angle", angle))
    if full > 180.0:
        raise ValueError(f"a drill's point has at most 180 deg, not {full:g}")
    return 0.5 * float(positive("diameter", diameter)) / tan(radians(full / 2.0))


@dataclass(frozen=True)
class Floor:
    """Metal left between a hole and the face under it, mm; below zero the hole is through.

    under_point     : under the drill's point
    under_shoulder  : under the end of the full diameter, where a bottoming tap ends
    least           : under_point less the tolerance of the depth, None without a tolerance
    """

    under_point: float
    under_shoulder: float
    least: float | None


def floor_left(height: float, drilled: float, point: float, tolerance: float | None) -> Floor:
    """Return what a drill leaves of a boss.

    height            : float, mm, mouth face to the face under the floor
    drilled           : float, mm, depth of the full diameter
    point             : float, mm, of the drill's point beyond it; 0 for a flat end
    tolerance         : float, mm, by which the depth may be exceeded, or None if that is not known
    returns           : Floor, mm
    raises ValueError : height not above zero, another length below zero

    Source: geometry.
    """
    shoulder = float(positive("height", height)) - float(not_negative("drilled", drilled))
    under = shoulder - float(not_negative("point", point))
    least = None if tolerance is None else under - float(not_negative("tolerance", tolerance))
    return Floor(under, shoulder, least)


def stock_insert_for(thread: Thread, length: float) -> float | None:
    """Return the shortest insert in stock that is at least so long once screwed in, mm; None if none is.

    thread            : Thread of the stud
    length            : float, mm of thread that is needed
    returns           : float, mm, its nominal length, or None
    raises ValueError : length not above zero

    Source: lengths of ASME metric insert data, 1 to 3 diameters, public reprint.
    """
    wanted = float(positive("length", length))
    lengths = [insert_length(thread.nominal_diameter, diameters) for diameters in STOCK_LENGTHS]
    return next((each for each in lengths if assembled_length(each, thread.pitch)[0] >= wanted - 1e-9), None)


def protruding_pitches(protrusion: float, nut_height: float, pitch: float) -> float:
    """Return how many pitches of stud stand out of an open nut; below zero the stud ends inside it.

    protrusion        : float, mm, stud above the nut's bearing face
    nut_height        : float, mm
    pitch             : float, mm
    returns           : float, pitches
    raises ValueError : height or pitch not above zero

    Source: geometry.
    """
    return (protrusion - float(positive("nut_height", nut_height))) / float(positive("pitch", pitch))
