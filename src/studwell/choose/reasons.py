"""Why a setup is recommended: what each setting balances, and what the best with other parts comes to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from studwell.choose.candidates import Axis, Candidate, Combination
from studwell.choose.objectives import OBJECTIVES, SAME, damage_columns, objectives
from studwell.choose.ranks import MOST
from studwell.choose.search import GAP, Place, Rows, Solver, row_of
from studwell.errors import StudwellError
from studwell.strength.verdict import mode_names
from studwell.units import as_text, number_text

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


def best_by(rows: Rows, best: int) -> str:
    """Say by what the recommended setup is the best of all."""
    here, rank = standing(rows.margins[best]), rows.ranks[best]
    if rank.failed:
        return f"no setup tried keeps every known damage margin below 1: this one comes nearest ({here.text})"
    unknown = f", with {' and '.join(here.unknown)} unknown" if rank.unknown else ""
    some_inside = any(each.inside for each in rows.ranks)
    full = " whose stud fills its nut" if some_inside and not rank.inside else ""
    lost = f" and {int(rank.lost)} function margin{'s' if rank.lost > 1 else ''} at the limit" if rank.lost else ""
    return (
        f"of {len(rows)} setups solved, none{full} with as few unknown damage modes and lost functions has a smaller largest "
        f"damage margin: {here.mode} {here.value:.2f}{unknown}{lost}"
    )


def room(rows: Rows, best: int) -> list[str]:
    """Say what room to the floor a stud that is turned back has, and what is given up for it."""
    candidate, place = rows.where(best)
    needed = candidate.room_needed
    if not needed:
        return []
    pitch = candidate.setup(place).stud.thread.pitch
    rank, gap = rows.ranks[best], float(rows.outcomes[best][GAP])

    def told(value: float) -> str:
        return f"{as_text(value, 'length', candidate.system, 2)} ({number_text(value / pitch, 2)} turn)"

    wanted = f"{told(needed)} for what a hand misses in first contact and turn, and a chip"
    if rank.short:
        least = told(gap) if np.isfinite(gap) else "an unknown gap"
        return [
            f"warning: the tip keeps {least} to the floor at least, less than {wanted}; nothing that is as good has more"
        ]
    text = f"room to the floor: the tip keeps {told(gap)} at least; wanted are {wanted}"
    values = np.minimum(objectives(rows.margins), MOST)
    near = np.round(values / SAME) - np.round(values[best] / SAME)
    tighter = [
        row
        for row, each in enumerate(rows.ranks)
        if each.short
        and each[:5] == rank[:5]
        and each[5:7] <= rank[5:7]
        and np.all(near[row] <= 0)
        and np.any(near[row] < 0)
    ]
    if tighter:
        row = min(tighter, key=lambda each: rows.keys[each])
        column = int(np.argmin(near[row]))
        text += (
            f"; {', '.join(rows.settings(row).values())}, which has {told(float(rows.outcomes[row][GAP]))}, would have "
            f"{list(OBJECTIVES)[column]} {values[row, column]:.3f} instead of {values[best, column]:.3f}"
        )
    return [text]


def balances(
    candidate: Candidate, place: Place, margins: np.ndarray, refinement: float, by_odds: bool = False
) -> list[str]:
    """Return a sentence a setting: which margins rise on either side of the recommended value, or that it is at a bound.

    by_odds : the odds have chosen it, so that a neighbour may have better margins
    """
    told = []
    solver = Solver(candidate, refinement)
    here = standing(margins)
    for number, axis in enumerate(candidate.axes):
        if not axis.count:
            continue
        name = NAMES[0] if number == 0 else NAMES[2] if axis.kind == "turn" else NAMES[1]
        sides = [_beside(solver, axis, number, place, sign) for sign in (-1, 1)]
        told.append(_told(name, axis, place[number], sides, here, by_odds))
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
    name: str,
    axis: Axis,
    place: int,
    sides: Sequence[tuple[str, np.ndarray | None] | None],
    here: Standing,
    by_odds: bool,
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
        if by_odds:
            why = "; margins alone would go to the better neighbour, the odds decided"
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
