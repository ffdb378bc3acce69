"""Limits of size of threads: ISO 6g/6H and unified 2A/2B, for the least shear areas."""

from dataclasses import dataclass
from math import sqrt

from studwell.data import table
from studwell.parts.thread import (
    INCH,
    Thread,
    external_shear_area,
    internal_shear_area,
    minor_diameter,
    pitch_diameter,
)


@dataclass(frozen=True)
class ThreadLimits:
    """Smallest and largest diameters of a mating pair, mm. The tolerance class is in its name."""

    name: str
    external_major: tuple[float, float]
    external_pitch: tuple[float, float]
    internal_minor: tuple[float, float]
    internal_pitch: tuple[float, float]


def thread_limits(thread: Thread) -> ThreadLimits:
    """Return the limits of size of a medium fit: 6g/6H for metric threads, 2A/2B for unified ones.

    Metric: from the table of tolerances. Unified, in inches, engaged length equal to the diameter:
    Td2 = 0.0015 d^(1/3) + 0.0015 sqrt d + 0.015 P^(2/3); allowance 0.3 Td2; Td = 0.06 P^(2/3);
    TD2 = 1.3 Td2; TD1 = 0.25 P - 0.4 P^2.

    thread            : Thread
    returns           : ThreadLimits, mm
    raises ValueError : a metric thread whose tolerances are not in the table

    Source: ISO 965-1 (table from memory, threads.toml) and ASME B1.1 (formulas from memory; they give the
    printed limits of 5/16-18 UNC to 0.0001 in, but for the internal minor diameter, printed to 0.001).
    """
    return _unified(thread) if thread.form == "unified" else _metric(thread)


def _metric(thread: Thread) -> ThreadLimits:
    tolerances, key = table("threads")["metric_tolerances"], f"{thread.pitch:g}"
    for step in tolerances["steps"]:
        known = step["above"] < thread.nominal_diameter <= step["up_to"]
        if known and key in step["external_pitch"]:
            break
    else:
        raise ValueError(f"no limits of size for {thread.name} in threads.toml")
    row = tolerances["by_pitch"][key]
    sizes = (
        row["allowance"],
        row["major"],
        step["external_pitch"][key],
        row["minor"],
        step["internal_pitch"][key],
    )
    return _pair(thread, "6g/6H", *(size / 1000.0 for size in sizes))


def _unified(thread: Thread) -> ThreadLimits:
    d, p = thread.nominal_diameter / INCH, thread.pitch / INCH
    external = 0.0015 * d ** (1 / 3) + 0.0015 * sqrt(d) + 0.015 * p ** (2 / 3)
    sizes = (0.3 * external, 0.06 * p ** (2 / 3), external, 0.25 * p - 0.4 * p**2, 1.3 * external)
    return _pair(thread, "2A/2B", *(INCH * round(size, 4) for size in sizes))


def _pair(
    thread: Thread,
    name: str,
    allowance: float,
    major: float,
    external_pitch: float,
    minor: float,
    internal_pitch: float,
) -> ThreadLimits:
    d = thread.nominal_diameter
    mean = float(pitch_diameter(d, thread.pitch))
    inner = float(minor_diameter(d, thread.pitch))
    top, flank = d - allowance, mean - allowance
    return ThreadLimits(
        name=f"{thread.name} {name}",
        external_major=(top - major, top),
        external_pitch=(flank - external_pitch, flank),
        internal_minor=(inner, inner + minor),
        internal_pitch=(mean, mean + internal_pitch),
    )


def least_external_shear_area(thread: Thread, length: float) -> float:
    """Return the least area that shears when the stud's thread strips, within the limits of size.

    thread            : Thread
    length            : float, engaged length, mm
    returns           : float, mm^2
    raises ValueError : as thread_limits, or length negative

    Source: FED-STD-H28 with the limits of thread_limits.
    """
    limits = thread_limits(thread)
    area = external_shear_area(length, thread.pitch, limits.internal_minor[1], limits.external_pitch[0])
    return float(area)


def least_internal_shear_area(thread: Thread, length: float) -> float:
    """Return the least area that shears when the hole's thread strips, within the limits of size.

    thread            : Thread
    length            : float, engaged length, mm
    returns           : float, mm^2
    raises ValueError : as thread_limits, or length negative

    Source: FED-STD-H28 with the limits of thread_limits.
    """
    limits = thread_limits(thread)
    area = internal_shear_area(length, thread.pitch, limits.external_major[0], limits.internal_pitch[1])
    return float(area)
