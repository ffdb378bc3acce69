"""Threadlocker in an engaged thread: grades in stock and the torque that breaks the bond."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import source_of, table
from studwell.parts.arguments import Array, not_negative, unknown_name
from studwell.parts.material import Curve
from studwell.parts.thread import Thread, pitch_diameter


@dataclass(frozen=True)
class ThreadlockerGrade:
    """One grade. shear_strength: of the cured bond against temperature, MPa; words: how it is undone."""

    name: str
    words: str
    shear_strength: Curve
    source: str
    status: str


def stock_threadlocker_names() -> tuple[str, ...]:
    """Return the grades in stock.

    returns : tuple of str ("low", ...)

    Source: threadlockers.toml of this package.
    """
    return tuple(table("threadlockers"))


def stock_threadlocker(name: str) -> ThreadlockerGrade:
    """Return one grade.

    name              : str, one of stock_threadlocker_names()
    returns           : ThreadlockerGrade
    raises ValueError : not in stock; the message lists what is

    Source: threadlockers.toml of this package.
    """
    grades = table("threadlockers")
    if name not in grades:
        raise ValueError(unknown_name("threadlocker", name, grades))
    entry = grades[name]["shear_strength"]
    source, status = source_of(entry)
    curve = Curve(tuple(map(float, entry["temperatures"])), tuple(map(float, entry["values"])))
    return ThreadlockerGrade(name, str(grades[name]["words"]), curve, source, status)


def bond_torque(thread: Thread, length: ArrayLike, shear_strength: ArrayLike, fill: ArrayLike) -> Array:
    """Return the torque that breaks a cured bond: tau times pi d2 Le times the filled share, on the arm d2/2.

    thread            : Thread
    length            : float or array, engaged length, mm
    shear_strength    : float or array, MPa
    fill              : float or array, share of the engaged surface that is bonded, 0 to 1
    returns           : float or array, N mm, that of an unloaded thread: friction comes on top
    raises ValueError : an argument negative, or fill above 1

    The thread counts as a cylinder at its pitch diameter, as the shear strengths of ISO 10123 are taken.
    Source: definition of shear strength.
    """
    share = not_negative("fill", fill)
    if np.any(share > 1.0):
        raise ValueError(f"fill is a share of the surface, at most 1, not {share}")
    diameter = float(pitch_diameter(thread.nominal_diameter, thread.pitch))
    bonded = np.pi * diameter * not_negative("length", length) * share
    return not_negative("shear_strength", shear_strength) * bonded * diameter / 2.0
