"""Plain floats in N, mm, MPa, degC and s -> numbers and texts in the units of metric or inch output."""

from __future__ import annotations

import math
from typing import Any

from studwell.errors import shown
from studwell.units.kinds import KINDS
from studwell.units.registry import converted

INCH_MARK = "\N{NO-BREAK SPACE}"
"""Stands between a number and "in": what converts the quantities within words takes "in" for the unit nowhere else."""


def in_unit(value: Any, kind: str, system: str = "metric") -> Any:
    """Return an inside value, float or array, as the number that output in `system` shows.

    value  : float or array, in the unit KINDS[kind].inside
    kind   : str, a key of KINDS
    system : str, "metric" or "inch"
    """
    return converted(value, KINDS[kind].inside, _shown_unit(kind, system)[0])


def label(kind: str, system: str = "metric") -> str:
    """Return the unit that output in `system` ("metric" or "inch") shows for a kind, such as "kN"."""
    return _shown_unit(kind, system)[1]


def as_text(value: float, kind: str, system: str = "metric", digits: int = 4) -> str:
    """Return an inside value as text with its unit, such as "12.35 kN"; `read` takes it back.

    value  : float, in the unit KINDS[kind].inside
    kind   : str, a key of KINDS
    system : str, "metric" or "inch"
    digits : int, significant digits

    Before "in" stands INCH_MARK, so that no reader takes an inch for the preposition.
    """
    unit = label(kind, system)
    gap = INCH_MARK if unit == "in" else " "
    return f"{number_text(in_unit(value, kind, system), digits)}{gap}{unit}"


def unmarked(text: str) -> str:
    """Return a text with plain spaces in the place of INCH_MARK, for a case file or a sheet in which nothing is converted."""
    return text.replace(INCH_MARK, " ")


def number_text(value: float, digits: int = 4) -> str:
    """Return a number with so many significant digits, without trailing zeros or an exponent below 1e6."""
    rounded = float(f"{float(value):.{digits}g}") + 0.0  # the sum turns -0 into 0
    if rounded != 0 and not 1e-4 <= abs(rounded) < 1e6:
        return f"{rounded:.{digits}g}"
    places = max(0, digits - 1 - (math.floor(math.log10(abs(rounded))) if rounded else 0))
    text = f"{rounded:.{places}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text).replace("-0", "0", 1 if text == "-0" else 0)


def count_text(count: float, digits: int = 2) -> str:
    """Return a number of events as people say it, to so many significant digits: "190 000"; from 1e10 on "3.2e10"."""
    rounded = float(f"{float(count):.{digits}g}")
    if rounded >= 1e10:
        return f"{rounded:.{digits - 1}e}".replace("e+", "e")
    return f"{rounded:,.0f}".replace(",", " ") if rounded >= 1.0 else number_text(rounded, digits)


def time_text(time: float) -> str:
    """Return a time (s) as people say it: "10 min", from an hour on "2 h" or "1 h 40 min"."""
    if abs(time) < 3600.0:
        return f"{number_text(time / 60.0)} min"
    hours, minutes = divmod(round(abs(time) / 60.0, 1), 60.0)
    rest = f" {number_text(minutes, 3)} min" if minutes else ""
    return f"{'-' if time < 0.0 else ''}{hours:.0f} h{rest}"


def _shown_unit(kind: str, system: str) -> tuple[str, str]:
    if system not in ("metric", "inch"):
        raise ValueError(f'system is {shown(system)}; allowed: "metric" or "inch"')
    return KINDS[kind].metric if system == "metric" else KINDS[kind].inch
