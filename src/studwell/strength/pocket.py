"""Outcomes of the liquid under the tip: its largest pressure and push, what it takes of the drive, how much of it freezes."""

from __future__ import annotations

import numpy as np

from studwell.case.records import Pocket
from studwell.history.pocket import frozen_shares, pressures
from studwell.history.result import HistoryResult
from studwell.joint.build import BuiltJoint
from studwell.strength.outcomes import SAME, Outcome, Outcomes
from studwell.strength.timeline import Timeline

Array = np.ndarray

UNITS = {
    "pocket_pressure_max": "MPa",
    "pocket_force_max": "N",
    "pocket_pressure_driven": "MPa",
    "pocket_ice_share_max": "",
}
"""Outcome -> unit."""


def pocket_outcomes(built: BuiltJoint, history: HistoryResult, timeline: Timeline) -> Outcomes:
    """Return the outcomes of UNITS: gauge pressure (MPa), its push on the stud beside the closed tip (N), the pressure
    that the drive left (MPa), and the largest share of the liquid that is ice. Unknown with the reason without a liquid.
    """
    liquid = history.liquid
    if liquid is None:
        reason = no_liquid(built.setup.pocket)
        return {name: Outcome(None, unit, reason=reason, absent=True) for name, unit in UNITS.items()}
    pressure = pressures(built.joint, timeline.states)
    result = {
        "pocket_pressure_max": _largest(timeline, pressure, "MPa"),
        "pocket_force_max": _largest(timeline, timeline.forces.pocket, "N"),
    }
    driven = Outcome(None, "MPa", reason="the stud was not driven", absent=True)
    if history.seating.drive_torque is not None:
        driven = Outcome(history.seating.drive_pressure, "MPa", when="driven", reason=_driven(built, history))
    result["pocket_pressure_driven"] = driven
    if liquid.fluid.ice is None:
        result["pocket_ice_share_max"] = Outcome(None, "", reason=f"{liquid.fluid.name} is not known to freeze")
    else:
        result["pocket_ice_share_max"] = _largest(timeline, frozen_shares(liquid, built.joint, timeline.states), "")
    return result


def _largest(timeline: Timeline, values: Array, unit: str) -> Outcome:
    """The first of the moments at which values (states,) are largest but for rounding."""
    index = int(np.argmax(values >= values.max() - SAME * max(1.0, abs(values.max()))))
    return Outcome(float(values[index]), unit, timeline.when(index), float(timeline.times[index]), index)


def no_liquid(pocket: Pocket) -> str:
    """Return why there is no pressure under the tip, in plain words."""
    if pocket.fluid is not None:
        return f"the pocket under the tip is vented: its {pocket.contents} is not shut in"
    return f"the pocket under the tip is {pocket.contents}: no liquid is shut in"


def _driven(built: BuiltJoint, history: HistoryResult) -> str:
    if history.seating.on_liquid:
        return "hydraulic lock: the torque is reached on the liquid, before the tip bears"
    if built.setup.pocket.fill_at == "as fitted":
        return "the fill counts for the pocket as fitted: it was not in while the stud was driven"
    return ""
