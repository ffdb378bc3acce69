"""What the two thread models say of a comparison: how far they differ, how the load is shared, how roots are stressed."""

from __future__ import annotations

from studwell.study.finding import Finding
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text

LEAST = 0.005
"""Relative difference of the thread models below which none is told."""


def thread_findings(comparison: Comparison) -> list[Finding]:
    """Return what the models of the threads make of it, in the case's units; nothing where only one was solved."""
    units = comparison.case.units
    found = []
    spread = _widest(comparison)
    if spread is not None:
        found.append(_difference(*spread, units))
    toothed = [item for item in comparison.results if "thread_stress_max" in item.band]
    if toothed:
        found.append(_roots(max(toothed, key=lambda item: item.band["thread_stress_max"][1]), units))
    return found


def _widest(comparison: Comparison) -> tuple[SetupResult, str, float] | None:
    """The clamp, tip or thread load on which the models differ most, as a share of the setup's own value."""
    widest: tuple[SetupResult, str, float] | None = None
    for item in comparison.results:
        for name in ("clamp_max", "clamp_min", "tip_force_max", "tip_force_assembled", "thread_load_max"):
            value = item.value(name)
            if name not in item.band or not value or abs(value) < 1.0:
                continue
            low, high = item.band[name]
            share = (high - low) / abs(value)
            if share > LEAST and (widest is None or share > widest[2]):
                widest = (item, name, share)
    return widest


def _difference(item: SetupResult, name: str, share: float, units: str) -> Finding:
    low, high = (as_text(end, "force", units, 4) for end in item.band[name])
    own = item.setup.stud.thread_model
    text = (
        f"Thread models differ most in the {name.replace('_', ' ')} of {item.name}: {low} to {high}, "
        f"{number_text(100.0 * share, 2)} % of it, over {' and '.join(item.band_models)}. Figures here are those of the "
        f"{own} model"
    )
    first, nut = item.band.get("boss_first_thread_share"), item.band.get("nut_first_thread_share")
    if first and nut:
        text += (
            f". The pitch nearest the pull carries {_percent(first)} of the load in the boss and {_percent(nut)} in the nut: "
            "the classical third belongs to a nut, which is pressed while its stud is pulled; in a boss both are pulled"
        )
    return Finding("threads", text + ".")


def _roots(item: SetupResult, units: str) -> Finding:
    value = as_text(item.band["thread_stress_max"][1], "pressure", units, 3)
    return Finding(
        "threads",
        f"Under the worst thread root of {item.name} the meshed teeth find {value}, elastic; that is a notch's stress, above "
        "the stud's yield strength in any well tightened joint, and says how hard fatigue bears on it, not that it breaks.",
    )


def _percent(band: tuple[float, float]) -> str:
    low, high = (number_text(100.0 * end, 2) for end in band)
    return f"{low} %" if low == high else f"{low} to {high} %"
