"""Does bottoming crack the floor: its margin elastic, with yielding and with a flaw, over seating torques and floors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.crack import Crack
from studwell.case.records import Inelastic, Setup
from studwell.crack.submodel import WeightCache
from studwell.errors import StudwellError
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.joint.build import BodyCache
from studwell.strength.crack import ONCE
from studwell.strength.flaws import flaw_view
from studwell.strength.ring_cracks import ring_histories
from studwell.study.compare import solve_setup
from studwell.study.results import SetupResult

Array = np.ndarray

VIEWS = ("elastic", "yielding", "flaw")


@dataclass(frozen=True)
class FloorCrackRow:
    """One floor, mm, and seating torque, N mm.

    tip_force : N, largest;  elastic, yielding: larger of point and line at the corner over the strength, None with `reason`
                yielding is None too where it goes beyond small strain
    plastic   : largest plastic strain of the zone;  lost: N of wedge force that yielding costs
    intensity : MPa m^0.5 at the flaw, worst line followed;  flaw: the largest of intensity over toughness and of the shear on
                what the flaw leaves over what it stands;  critical: mm of flaw at which that is 1, None where none followed is
    """

    floor: float
    torque: float
    tip_force: float
    elastic: float | None
    yielding: float | None
    plastic: float | None
    lost: float | None
    intensity: float | None
    flaw: float | None
    critical: float | None
    reason: str = ""


@dataclass(frozen=True)
class FloorCrackStudy:
    """All rows; cracks_at: (floor mm, view) -> seating torque N mm at which the margin is 1, None where it is not reached
    within the torques solved; solved_to: floor -> largest torque N mm that was solved, and why no larger one was."""

    setup: str
    flaw: float
    rows: tuple[FloorCrackRow, ...]
    cracks_at: dict[tuple[float, str], float | None] = field(repr=False)
    solved_to: dict[float, tuple[float, str]] = field(repr=False)


def floor_crack_study(
    setup: Setup,
    floors: Sequence[float],
    torques: Sequence[float],
    flaw: float,
    *,
    zone: float = 2.0,
    refinement: float = 1.0,
) -> FloorCrackStudy:
    """Solve a bottomed setup with every floor and seating torque, elastic and with a zone round the corner that yields.

    floors   : mm;  torques: N mm, rising;  flaw: mm, a ring crack at the fillet
    zone     : mm round the corner that may yield
    returns  : FloorCrackStudy. Between torques the margin is straight
    raises ValueError : torques that do not rise, or a setup that is not bottomed
    """
    if list(torques) != sorted(set(torques)) or not torques:
        raise ValueError(f"the torques must rise: {list(torques)}")
    if setup.seating.mode != "bottomed":
        raise ValueError(f"{setup.name}: only a bottomed stud loads its floor")
    rows: list[FloorCrackRow] = []
    solved_to: dict[float, tuple[float, str]] = {}
    cache: BodyCache = {}
    for floor in floors:
        weights: WeightCache = {}
        here = replace(setup, boss=replace(setup.boss, floor_thickness=float(floor)), crack=None, inelastic=None)
        for torque in torques:
            seated = replace(here, seating=replace(here.seating, torque=float(torque)))
            try:
                rows.append(_row(seated, flaw, zone, refinement, cache, weights))
            except (StudwellError, ValueError) as problem:
                told = problem.line if isinstance(problem, StudwellError) else str(problem)
                done = [row.torque for row in rows if row.floor == floor]
                solved_to[float(floor)] = (max(done, default=0.0), told)
                break
        else:
            solved_to[float(floor)] = (float(torques[-1]), "")
    cracks_at = {}
    for floor in floors:
        own = [row for row in rows if row.floor == floor]
        for view in VIEWS:
            cracks_at[float(floor), view] = reaches_one([(row.torque, getattr(row, view)) for row in own])
    return FloorCrackStudy(setup.name, flaw, tuple(rows), cracks_at, solved_to)


def reaches_one(points: Sequence[tuple[float, float | None]]) -> float | None:
    """Return where values along rising arguments first reach 1, straight between points; None where they do not.

    Unknown values are left out; a first value at or above 1 is taken at its own argument.
    """
    known = [(at, value) for at, value in points if value is not None]
    for k, (at, value) in enumerate(known):
        if value >= 1.0:
            if k == 0:
                return at
            before, low = known[k - 1]
            return before + (1.0 - low) / (value - low) * (at - before)
    return None


def _row(
    setup: Setup, flaw: float, zone: float, refinement: float, cache: BodyCache, weights: WeightCache
) -> FloorCrackRow:
    elastic = solve_setup(setup, refinement=refinement, cache=cache, band=False)
    corner = elastic.verdict.cracks.distance("floor corner")
    flowing = solve_setup(
        replace(setup, inelastic=Inelastic(zone, False)), refinement=refinement, cache=cache, band=False
    )
    yielded = flowing.verdict.cracks.distance("floor corner").once
    plastic = flowing.value("floor_plastic_strain_max")
    gross = plastic is not None and plastic > SMALL_STRAIN
    beyond = f"plastic strain of {plastic:.2g} is beyond small strain, {SMALL_STRAIN:g}" if gross else ""
    intensity, ratio, critical, reason = _ring(elastic, flaw, weights)
    return FloorCrackRow(
        floor=setup.boss.floor_thickness,
        torque=setup.seating.torque or 0.0,
        tip_force=elastic.value("tip_force_max") or 0.0,
        elastic=None if corner.once is None else corner.once.value,
        yielding=None if yielded is None or gross else yielded.value,
        plastic=plastic,
        lost=flowing.value("wedge_force_lost"),
        intensity=intensity,
        flaw=ratio,
        critical=critical,
        reason="; ".join(
            part for part in (corner.once_reason, elastic.verdict.margins[ONCE].reason, beyond, reason) if part
        ),
    )


def _ring(
    result: SetupResult, flaw: float, weights: WeightCache
) -> tuple[float | None, float | None, float | None, str]:
    """Intensity at the flaw, its ratio to the toughness, the smallest critical size, and what is missing."""
    built = replace(result.built, setup=replace(result.built.setup, crack=Crack(flaw=flaw)))
    histories, missing = ring_histories(built, result.timeline, weights)
    views = [
        flaw_view(built, result.timeline, each, result.history.temperatures)
        for each in histories
        if each.body == "boss"
    ]
    known = [view for view in views if view.intensity is not None]
    if not known:
        return None, None, None, missing
    worst = max(known, key=lambda view: view.intensity or 0.0)
    ratios = [view.once for view in views if view.once is not None]
    sizes = [view.critical for view in views if view.critical is not None]
    return worst.intensity, max(ratios, default=None), min(sizes, default=None), missing
