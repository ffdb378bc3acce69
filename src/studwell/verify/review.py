"""Checks of what the review of the back-off rule and the choice of a setup rest on: shares of a total, and a front."""

from __future__ import annotations

import numpy as np

from studwell.choose.objectives import front
from studwell.review.shapley import shapley
from studwell.verify.registry import Row, check

COSTS = {"a": 12.0, "b": 20.0, "c": 50.0}
"""What each of three needs alone, of which together the largest is enough."""


@check(
    "airport-game",
    subject="review",
    title="Shapley's shares of the airport game",
    source="Littlechild & Owen 1973: each step of cost is shared evenly by those who need it",
    status="computed",
    tolerance="1e-12 of the cost",
)
def airport_game() -> list[Row]:
    """The cost of a runway is the largest that any user needs; shares follow by hand."""
    shares = shapley(tuple(COSTS), lambda some: max((COSTS[name] for name in some), default=0.0))
    a, b, c = sorted(COSTS.values())
    expected = {"a": a / 3, "b": a / 3 + (b - a) / 2, "c": a / 3 + (b - a) / 2 + (c - b)}
    rows = [Row(f"share of {name}", expected[name], shares.share[name], 1e-12 * c, "") for name in COSTS]
    rows.append(Row("share of c added last", c - b, shares.last["c"], 1e-12 * c, ""))
    rows.append(Row("interaction of a with b", -a / 2, shares.pairs["a", "b"], 1e-12 * c, ""))
    return rows


@check(
    "front-of-a-quarter-circle",
    subject="choose",
    title="Points that nothing beats, on and off a quarter circle",
    source="order of Pareto 1906: of points of which the sum of squares of (1 - x) is at most 1, those on the arc",
    status="computed",
    tolerance="exact",
)
def front_of_a_circle() -> list[Row]:
    """Of points on an arc and the same ones moved away from it, the arc's alone are beaten by none."""
    angle = np.linspace(0.05, 0.5 * np.pi - 0.05, 40)
    arc = 1.0 - np.stack([np.cos(angle), np.sin(angle)], axis=1)
    worse = np.concatenate([arc + 0.01 * k for k in (1, 3, 7)])
    kept = front(np.concatenate([worse, arc]))
    return [
        Row("points kept", len(arc), len(kept), 0.0, ""),
        Row("of them on the arc", len(arc), int(np.count_nonzero(kept >= len(worse))), 0.0, ""),
    ]
