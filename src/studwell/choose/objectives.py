"""What is better: the objectives of a compromise, the front of those that nothing beats, and the order of all."""

from __future__ import annotations

import numpy as np

from studwell.strength.verdict import mode_names

Array = np.ndarray

FUNCTION = frozenset({"tip crushing", "washer flat", "seat crushing", "insert turning", "hold"})
"""Modes that cost function, not the joint; all others are damage."""

OBJECTIVES: dict[str, tuple[str, ...]] = {
    "leak": ("leak",),
    "thread strip": ("boss thread strip", "insert thread strip"),
    "stud yield": ("stud yield",),
    "boss crack": ("boss crack (once)", "boss crack (repeated)"),
    "hold": ("hold",),
    "washer flat": ("washer flat",),
}
"""Objective -> modes of which the largest margin counts; each the smaller the better."""

SAME = 0.001
"""Margins nearer than this are taken as equal. Our own choice: the search's mesh does not know more."""


def objectives(margins: Array) -> Array:
    """Return the objectives (rows, OBJECTIVES) of margins (rows, modes).

    A mode whose part is not there costs nothing (0); one that is not known is never better than any (inf).
    """
    names = mode_names()
    found = []
    for modes in OBJECTIVES.values():
        values = margins[:, [names.index(mode) for mode in modes]]
        found.append(np.where(np.isnan(values), np.inf, np.maximum(values, 0.0)).max(axis=1))
    return np.stack(found, axis=1)


def damage_columns() -> Array:
    """Return which modes (modes,) are damage."""
    return np.array([mode not in FUNCTION for mode in mode_names()])


def worst(margins: Array, kind: str) -> Array:
    """Return the largest known margin (rows,) of "damage" or "function" modes; 0 where none is known."""
    columns = damage_columns() if kind == "damage" else ~damage_columns()
    return np.asarray(np.where(np.isnan(margins), 0.0, np.maximum(margins, 0.0))[:, columns].max(axis=1))


def order_keys(margins: Array) -> list[tuple[float, ...]]:
    """Return a sort key of each row of margins (rows, modes), smaller is better.

    In turn: a known damage margin at its limit; how many damage modes are unknown (never a pass); how many function
    margins are at their limit; the largest known damage margin; the largest function margin. A row that is not solved is last.
    """
    unsolved = np.isnan(margins).all(axis=1)
    damage, function = worst(margins, "damage"), worst(margins, "function")
    columns = damage_columns()
    unknown = np.isnan(margins[:, columns]).sum(axis=1)
    lost = (np.nan_to_num(margins[:, ~columns], nan=0.0) >= 1.0).sum(axis=1)
    rounded = np.round(np.minimum(damage, 1e6) / SAME) * SAME
    beside = np.round(np.minimum(function, 1e6) / SAME) * SAME
    return [
        (float(a), float(b), float(c), float(d), float(e), float(f))
        for a, b, c, d, e, f in zip(unsolved, damage >= 1.0, unknown, lost, rounded, beside, strict=True)
    ]


def front(values: Array) -> Array:
    """Return the numbers of the rows (rows, objectives) that no other row beats: none is as good in all and better in one.

    Values are compared in steps of SAME; of equal rows the first stays. Source: Pareto's order.
    """
    steps = np.where(np.isinf(values), np.inf, np.round(np.minimum(values, 1e6) / SAME))
    _, first = np.unique(steps, axis=0, return_index=True)
    first = np.sort(first)
    kept = []
    for row in first:
        others = steps[first]
        beats = np.all(others <= steps[row], axis=1) & np.any(others < steps[row], axis=1)
        if not beats.any():
            kept.append(int(row))
    return np.array(kept, dtype=int)


def told_apart(values: Array, rows: Array, first: int, count: int) -> list[int]:
    """Return at most `count` of the rows that differ most: `first`, the best in each objective, then the farthest.

    values : (all rows, objectives), clipped at 1.5 for distances;  rows: numbers to choose from
    """
    shown = [first]
    scaled = np.minimum(np.nan_to_num(values, posinf=1.5), 1.5)
    for column in range(values.shape[1]):
        best = int(rows[np.argmin(scaled[rows, column])])
        if best not in shown and len(shown) < count and np.ptp(scaled[rows, column]) > SAME:
            shown.append(best)
    while len(shown) < min(count, len(rows)):
        distance = np.abs(scaled[rows][:, None, :] - scaled[shown][None, :, :]).max(axis=2).min(axis=1)
        place = int(np.argmax(distance))
        if distance[place] <= SAME:
            break
        shown.append(int(rows[place]))
    return shown
