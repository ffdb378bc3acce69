"""What many cycles leave, as records of summary.json; and how its numbers are rounded."""

from __future__ import annotations

from typing import Any

from studwell.history.cycles import CycleResult

DIGITS = 9
"""Significant digits of numbers in summary.json: fewer than rounding noise reaches, so that bytes repeat."""


def rounded(value: float | None) -> float | None:
    """Return a number at DIGITS significant digits; forces and lengths below rounding noise as 0; None stays."""
    if value is None:
        return None
    if abs(value) < 1e-7:
        return 0.0
    return float(f"{value:.{DIGITS}g}")


def zone_records(cycles: CycleResult) -> list[dict[str, Any]]:
    """Return what repeated cycles do to each body that may yield."""
    return [
        {
            "zone": name,
            "verdict": zone.verdict,
            "plastic_strain": rounded_strain(zone.strain),
            "plastic_strain_per_cycle": rounded_strain(zone.increments[-1]) if zone.increments else None,
            "plastic_strain_error": float(f"{zone.error:.2g}"),
            "one_way_share": rounded(zone.one_way),
            "creep_strain": rounded_strain(zone.creep),
            "creep_strain_per_cycle": rounded_strain(zone.creep_increment),
            "cycles_followed": len(zone.increments),
        }
        for name, zone in cycles.zones.items()
    ]


def rounded_strain(value: float) -> float:
    """Return a strain at six digits: what plastic iterations leave of it between machines is below them."""
    return float(f"{value:.6g}")


def cycle_record(cycles: CycleResult | None) -> dict[str, Any] | None:
    """Return what many cycles leave: verdict, error, bodies that yield, and the marks; None if there are none."""
    if cycles is None:
        return None
    return {
        "verdict": cycles.verdict,
        "cycles_solved": cycles.solved,
        "cycles_reached": cycles.reached,
        "stopped": cycles.stopped or None,
        "zones": zone_records(cycles),
        "clamp_error_N": float(f"{cycles.error:.2g}"),
        "marks": [
            {
                "cycle": mark.cycle,
                "clamp_end_N": rounded(mark.clamp_end),
                "clamp_min_N": rounded(mark.clamp_min),
                "clamp_max_N": rounded(mark.clamp_max),
                "by_jump": mark.jumped,
                "clamp_error_N": float(f"{mark.error:.2g}"),
            }
            for mark in cycles.marks
        ],
    }
