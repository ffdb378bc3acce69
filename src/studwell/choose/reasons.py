"""Why a setup is recommended: what each setting balances, and what the best with other parts comes to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from studwell.choose.candidates import Axis, Candidate, Combination
from studwell.choose.objectives import SAME, damage_columns
from studwell.choose.search import Place, Rows, Solver, row_of
from studwell.errors import StudwellError
from studwell.strength.verdict import mode_names

NEAR = 0.05
"""Share by which a setting is changed to see what it balances. Our own choice."""

NAMES = ("torque", "seating torque", "back-off")


@dataclass(frozen=True)
class Standing:
    """A row's largest known damage margin and its mode ("" if none is known), and its unknown damage modes."""

    mode: str
    value: float
    unknown: tuple[str, ...]

    @property
    def text(self) -> str:
        """The standing in a few words."""
        return self.known + (f", {', '.join(self.unknown)} unknown" if self.unknown else "")

    @property
    def known(self) -> str:
        """The largest known margin in a few words."""
        return f"{self.mode} {self.value:.2f}" if self.mode else "no damage margin known"

    def beside(self, other: Standing) -> str:
        """The standing beside another one: what is unknown is named only where that differs."""
        if set(self.unknown) == set(other.unknown):
            return self.known
        return f"{self.known}, {', '.join(self.unknown) or 'nothing'} unknown"


def standing(margins: np.ndarray) -> Standing:
    """Return the standing of margins (modes,)."""
    names, damage = mode_names(), damage_columns()
    known = np.where(damage & ~np.isnan(margins), margins, -np.inf)
    unknown = tuple(name for name, m, d in zip(names, margins, damage, strict=True) if d and np.isnan(m))
    place = int(np.argmax(known))
    return Standing(names[place] if np.isfinite(known[place]) or known[place] > 0 else "", float(known[place]), unknown)


def balances(candidate: Candidate, place: Place, margins: np.ndarray, refinement: float) -> list[str]:
    """Return a sentence a setting: which margins rise on either side of the recommended value, or that it is at a bound."""
    told = []
    solver = Solver(candidate, refinement)
    here = standing(margins)
    for number, axis in enumerate(candidate.axes):
        if not axis.count:
            continue
        name = NAMES[0] if number == 0 else NAMES[2] if axis.kind == "turn" else NAMES[1]
        sides = [_beside(solver, axis, number, place, sign) for sign in (-1, 1)]
        told.append(_told(name, axis, place[number], sides, here))
    return told


def _beside(solver: Solver, axis: Axis, number: int, place: Place, sign: int) -> tuple[str, np.ndarray | None] | None:
    """Return (value, margins) a little to one side; None beyond a bound; margins None where that is not solved."""
    step = max(round(NEAR * abs(axis.value(place[number])) * axis.count / (axis.most - axis.least)), 1)
    moved = min(max(place[number] + sign * step, 0), axis.count)
    if moved == place[number]:
        return None
    at = (moved, place[1]) if number == 0 else (place[0], moved)
    try:
        row = row_of(solver.solve(at), at)
    except (StudwellError, ValueError):
        return axis.text(moved), None
    return axis.text(moved), row[3 : 3 + len(mode_names())]


def _told(
    name: str, axis: Axis, place: int, sides: Sequence[tuple[str, np.ndarray | None] | None], here: Standing
) -> str:
    parts, better, changes = [], False, False
    for side, bound in zip(sides, ("lower", "upper"), strict=True):
        if side is None:
            parts.append(f"{axis.text(place)} is the {bound} bound")
        elif side[1] is None:
            parts.append(f"{side[0]} could not be solved")
        else:
            there = standing(side[1])
            parts.append(f"at {side[0]} {there.beside(here)}")
            changes = changes or abs(there.value - here.value) > SAME or there.mode != here.mode
            better = better or there.value < here.value - SAME
    if not changes and None not in sides:
        return f"{name} {axis.text(place)}: the largest damage margin ({here.known}) hardly depends on it here"
    why = ""
    if better:
        why = "; the better neighbour loses on what ranks before: unknown modes, or a function margin at its limit"
    elif None in sides:
        why = f"; only widening [bounds] {name.replace(' ', '_').replace('-', '_')} could lower it further"
        if not changes:
            why = "; the largest damage margin hardly depends on it here"
    return f"{name} {axis.text(place)} ({here.known}): {', '.join(parts)}{why}"


PARTS = {
    "seating": lambda c: c.mode,
    "washers": lambda c: c.washer.text if c.washer else "",
    "nut": lambda c: c.nut or "",
    "insert": lambda c: "" if c.insert is None else str(c.insert),
    "protrusion": lambda c: c.height,
}


def alternatives(rows: Rows, recommended: int) -> list[str]:
    """Return a sentence a kind of part: the best with another one, beside the recommended one."""
    told = []
    chosen: Combination = rows.where(recommended)[0].combination
    here = standing(rows.margins[recommended])
    for name, of in PARTS.items():
        others: dict[str, int] = {}
        for row in range(len(rows)):
            part = of(rows.where(row)[0].combination)
            if part != of(chosen) and (part not in others or rows.keys[row] < rows.keys[others[part]]):
                others[part] = row
        if not others:
            continue
        ranked = sorted(others.items(), key=lambda item: rows.keys[item[1]])
        shown = [f"{part}: {standing(rows.margins[row]).beside(here)}{_lost(rows, row)}" for part, row in ranked[:3]]
        own = f"{here.known}{_lost(rows, recommended)}"
        told.append(f"{name} {of(chosen)} ({own}); the best with another: {'; '.join(shown)}")
    return told


def _lost(rows: Rows, row: int) -> str:
    """Return which function margins of a row are at their limit, in words."""
    names, damage = mode_names(), damage_columns()
    lost = [n for n, m, d in zip(names, rows.margins[row], damage, strict=True) if not d and np.nan_to_num(m) >= 1.0]
    return f", {' and '.join(lost)} at the limit" if lost else ""
