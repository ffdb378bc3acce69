"""What a liquid shut in under the tip does to a setup, in plain words with its numbers."""

from __future__ import annotations

from studwell.study.finding import Finding
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text

EFFECTS = (
    ("thread_load_max", "the boss thread's worst load", "force"),
    ("floor_stress_max", "the averaged floor stress", "pressure"),
)
"""Outcome, how it is called, its kind of quantity."""


def pocket_findings(comparison: Comparison) -> list[Finding]:
    """Return what the liquid under each tip does, against the same setup with an empty pocket."""
    found: list[Finding] = []
    for item in comparison.results:
        if item.history.liquid is not None:
            found += [Finding("pocket", text) for text in _texts(item, comparison.case.units)]
    return found


def _texts(item: SetupResult, units: str) -> list[str]:
    pocket, liquid = item.setup.pocket, item.history.liquid
    assert liquid is not None
    pressure, force = item.outcomes["pocket_pressure_max"], item.outcomes["pocket_force_max"]
    volume = liquid.fitted_volume(item.built.joint, item.history.seated)
    lead = (
        f"{item.name}: {pocket.contents} fills {number_text(100.0 * pocket.fill, 3)} % of the pocket under the tip, counted "
        f"{'at first contact' if pocket.fill_at == 'first contact' else 'as fitted'} "
        f"({number_text(volume, 3)} mm3 when the stud is seated), {pocket.seal}"
    )
    if not pressure.value:
        return [f"{lead}: it never fills the pocket in this history, so that it pushes on nothing."]
    changes = []
    for name, named, kind in EFFECTS:
        own, empty = item.value(name), None if item.emptied is None else item.emptied[name].value
        if own is not None and empty is not None:
            changes.append(f"{named} from {as_text(empty, kind, units, 3)} to {as_text(own, kind, units, 3)}")
    text = (
        f"{lead}: at most {as_text(pressure.value, 'pressure', units, 3)} ({pressure.when}), which pushes the stud out with "
        f"{as_text(force.value or 0.0, 'force', units, 3)}"
    )
    if changes:
        text += f"; against an empty pocket it takes {' and '.join(changes)}"
    texts = [f"{text}."]
    driven = item.outcomes["pocket_pressure_driven"]
    if driven.value:
        bears = item.history.seating.drive_wedge
        where = (
            "the torque is reached on the liquid before the tip bears, a hydraulic lock: the seat is the liquid"
            if item.history.seating.on_liquid
            else f"the tip is left with {as_text(bears, 'force', units, 3)}"
        )
        texts.append(
            f"{item.name}: driving the stud into the full hole brings the {pocket.contents} to "
            f"{as_text(driven.value, 'pressure', units, 3)}, and {where}."
        )
    ice = item.outcomes["pocket_ice_share_max"]
    if ice.value:
        texts.append(
            f"{item.name}: at most {number_text(100.0 * ice.value, 3)} % of the {pocket.contents} is ice ({ice.when}); while "
            "some of it is liquid the pressure lies on the melting curve."
        )
    return texts
