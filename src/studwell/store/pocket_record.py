"""The record in summary.json of what is shut in under the tip, and when its fill counts."""

from __future__ import annotations

from typing import Any

from studwell.store.cycle_records import rounded
from studwell.study.results import SetupResult

POCKET_FIELD = "pocket"
"""Key of summary.json."""


def pocket_record(result: SetupResult) -> dict[str, Any] | None:
    """Return a setup's liquid, its pocket and what it changes against an empty one; None where no liquid is shut in."""
    liquid = result.history.liquid
    if liquid is None:
        return None
    pocket, joint = result.setup.pocket, result.built.joint
    return {
        "contents": pocket.contents,
        "fill": rounded(pocket.fill),
        "fill_at": pocket.fill_at,
        "seal": pocket.seal,
        "leak_time_s": rounded(pocket.leak_time),
        "volume_at_contact_mm3": rounded(liquid.law.volume),
        "volume_seated_mm3": rounded(liquid.fitted_volume(joint, result.history.seated)),
        "sealed_area_mm2": rounded(liquid.law.area * float(joint.interface("pocket").axial[0])),
        "liquid_left_mm3": rounded(result.history.run[-1].law_states[liquid.index].mass),
        "hydraulic_lock": result.history.seating.on_liquid,
        "emptied": None
        if result.emptied is None
        else {
            f"{name}_{unit}": rounded(result.emptied[name].value)
            for name, unit in (("thread_load_max", "N"), ("floor_stress_max", "MPa"), ("clamp_max", "N"))
        },
    }
