"""What a driven or turned back stud does that breaks no boss: seats that are crushed, a floor that yields, other margins."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from studwell.joint.build import BuiltJoint
from studwell.strength.floor import floor_stress, seat_crushing_margin
from studwell.strength.margin import Margin, node_temperatures
from studwell.strength.margins import MODE_NAMES, MODES, tip_crushing
from studwell.strength.timeline import Timeline
from studwell.strength.verdict import hold

if TYPE_CHECKING:
    from studwell.review.trials import Trial

Array = np.ndarray

FLOOR_YIELD = "floor yield"
SEAT_MODES = ("tip crushing", "seat crushing", FLOOR_YIELD)
"""Ways in which a seat suffers though nothing breaks: at 1 or more part of the wedge is lost, or metal flows for good."""


def seat_margins(
    built: BuiltJoint, timeline: Timeline, temperatures: Array
) -> tuple[dict[str, float | None], dict[str, str]]:
    """Return SEAT_MODES -> load over capacity, 0 where nothing presses, and, where it is not known, mode -> reason.

    FLOOR_YIELD : floor stress, averaged, over the boss's yield strength at its temperature
    """
    margins: dict[str, float | None] = {}
    reasons: dict[str, str] = {}
    for mode, judge in zip(SEAT_MODES, (tip_crushing, seat_crushing_margin), strict=False):
        margin = judge(built, timeline, temperatures)
        margins[mode] = margin.value if margin.applies else 0.0
        if margin.unknown:
            reasons[mode] = margin.reason
    stress, material = floor_stress(built, timeline), built.setup.boss.material
    margins[FLOOR_YIELD] = None
    if stress is None:
        reasons[FLOOR_YIELD] = "the boss mesh has no bands over which to average"
    elif material.yield_strength is None:
        reasons[FLOOR_YIELD] = f"yield strength of {material.name} is not known"
    else:
        strength = np.asarray(material.yield_strength.at(node_temperatures(built, timeline, temperatures, "boss")))
        margins[FLOOR_YIELD] = max(0.0, float(np.max(stress / strength)))
    return margins, reasons


def one_way(driven: Trial, back: Trial, but: tuple[str, ...]) -> tuple[tuple[Margin, Margin], ...]:
    """Return the margins (as driven, turned back) that fail in one of the two ways and not in the other.

    but : modes left out, as they are told elsewhere
    """
    pairs = zip(_margins(driven), _margins(back), strict=True)
    return tuple((one, other) for one, other in pairs if one.mode not in but and one.fails != other.fails)


def _margins(trial: Trial) -> list[Margin]:
    temperatures = trial.history.temperatures
    found = [of(trial.built, trial.timeline, temperatures) for _, of in zip(MODE_NAMES, MODES, strict=True)]
    return [*found, hold(trial.history, trial.timeline)]
