"""How a floor fails over its thickness: punched out, split from below, or at the corner, and where that changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.joint.build import BodyCache
from studwell.parts.floor import disc_centre_tension, disc_ring_tension, punch_shear, thickness_of_change
from studwell.strength.floor import punch_surface_of
from studwell.study.compare import solve_setup
from studwell.study.results import SetupResult

WAYS = ("floor punch", "floor split")


@dataclass(frozen=True)
class FloorRow:
    """One thickness, mm. tip_force N; punch mean shear, split tension under the floor, corner averaged stress, MPa.

    plug_punch, ring_split, disc_split : MPa, the closed forms' figures for the same tip force: the plug, and a thin disc
                 clamped at the hole's wall that is pressed on the tip's edge or evenly under the tip
    margins : load over capacity of WAYS as solved, also where the floor yields and an elastic figure is no bound
    governs : the larger of them
    """

    thickness: float
    tip_force: float
    punch: float
    split: float
    corner: float | None
    plug_punch: float
    ring_split: float
    disc_split: float
    margins: tuple[float, float]

    @property
    def governs(self) -> str:
        return WAYS[0] if self.margins[0] >= self.margins[1] else WAYS[1]


@dataclass(frozen=True)
class FloorSweep:
    """A floor from thin to thick.

    changes : (mm, way) of every thickness at which the governing way changes and what governs above it; between rows on
              straight lines over its logarithm
    closed_change : mm, by the plug and the evenly pressed disc: below it the disc splits first
    """

    setup: str
    rows: tuple[FloorRow, ...]
    changes: tuple[tuple[float, str], ...]
    closed_change: float


def floor_sweep(
    setup: Setup, thicknesses: Sequence[float], *, refinement: float = 1.0, cache: BodyCache | None = None
) -> FloorSweep:
    """Solve a setup with floors of several thicknesses, all else equal, and tell which way each fails first.

    thicknesses : rising, mm
    returns     : FloorSweep; the worst moment of each way
    raises as solve_setup; ValueError: thicknesses that do not rise, or a material without tensile strength
    """
    if list(thicknesses) != sorted(set(thicknesses)):
        raise ValueError(f"the thicknesses must rise: {list(thicknesses)}")
    cache = {} if cache is None else cache
    rows = []
    for thickness in thicknesses:
        boss = replace(setup.boss, floor_thickness=float(thickness))
        rows.append(_row(solve_setup(replace(setup, boss=boss), refinement=refinement, cache=cache, band=False)))
    ratio = np.log([row.margins[0] / row.margins[1] for row in rows])
    changes = []
    for k in np.flatnonzero(np.diff(ratio >= 0.0)):
        share = ratio[k] / (ratio[k] - ratio[k + 1])
        ends = np.log([rows[k].thickness, rows[k + 1].thickness])
        changes.append((float(np.exp(ends[0] + share * (ends[1] - ends[0]))), rows[k + 1].governs))
    radius, patch = _disc(setup)
    closed = thickness_of_change(radius, patch, setup.boss.material.poisson, assumption("shear_strength_ratio"))
    return FloorSweep(setup.name, tuple(rows), tuple(changes), float(closed))


def _disc(setup: Setup) -> tuple[float, float]:
    return 0.5 * setup.boss.drill_diameter, 0.5 * setup.stud.tip_diameter


def _row(result: SetupResult) -> FloorRow:
    punch, split = (result.verdict.margins[way] for way in WAYS)
    ratios = [None if not way.capacity or way.load is None else way.load / way.capacity for way in (punch, split)]
    surface = punch_surface_of(result.built)
    if ratios[0] is None or ratios[1] is None or surface is None:
        raise ValueError(f"{result.name}: {punch.reason or split.reason}")
    setup = result.setup
    force = result.value("tip_force_max") or 0.0
    radius, patch = _disc(setup)
    thickness = setup.boss.floor_thickness
    return FloorRow(
        thickness=thickness,
        tip_force=force,
        punch=result.value("floor_punch_max") or 0.0,
        split=result.value("floor_split_max") or 0.0,
        corner=result.value("floor_stress_max"),
        plug_punch=float(punch_shear(force, 2.0 * surface.radius, surface.height)),
        ring_split=float(disc_ring_tension(force, thickness, radius, patch, setup.boss.material.poisson)),
        disc_split=float(disc_centre_tension(force, thickness, radius, patch, setup.boss.material.poisson)),
        margins=(ratios[0], ratios[1]),
    )
