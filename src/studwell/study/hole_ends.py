"""One stud on a flat floor, in a drill cone and on a radiused end, driven with the same torque."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Setup
from studwell.joint.build import BodyCache
from studwell.study.compare import solve_setup


@dataclass(frozen=True)
class HoleEnd:
    """One end of the hole and one in-plane friction of the tip.

    slope       : deg, of the tip's contact to the horizontal;  friction: Coulomb, in the section's plane
    wedge_force : N, axial, that the drive leaves;  outward: N, sum of the tip's push on the boss away from the axis
    floor_stress, split, punch : MPa, largest over the history: averaged at the corner, under the floor, mean shear
    """

    end: str
    seat: str
    slope: float
    friction: float
    wedge_force: float
    outward: float
    floor_stress: float | None
    split: float | None
    punch: float | None


def hole_ends(
    setup: Setup,
    *,
    cone_angle: float,
    end_radius: float,
    frictions: tuple[float, ...] = (0.0,),
    refinement: float = 1.0,
    cache: BodyCache | None = None,
) -> tuple[HoleEnd, ...]:
    """Drive a bottomed setup's stud onto three ends of the same hole.

    setup      : bottomed; its own hole end does not count, its corner radius is that of the flat and of the cone
    cone_angle : deg, full angle of the drill's point;  end_radius: mm, of the radiused end
    frictions  : Coulomb coefficients of tip on seat in the section's plane; each end is solved with each
    returns    : (ends x frictions) rows, flat first. The floor is as thick under the lowest point of each, and the tip is
                 the seat of all: the thread is taken not to stop it
    raises as solve_setup
    """
    cache = {} if cache is None else cache
    ends = {
        "flat": (replace(setup.boss, hole_end="flat", cone_angle=None), "tip on floor"),
        "cone": (replace(setup.boss, hole_end="cone", cone_angle=cone_angle), "tip on cone"),
        "radiused": (
            replace(setup.boss, hole_end="radiused", cone_angle=None, corner_radius=end_radius),
            "tip on radius",
        ),
    }
    rows = []
    for name, (boss, seat) in ends.items():
        case = replace(setup, boss=boss, seating=replace(setup.seating, seat=seat))
        for friction in frictions:
            result = solve_setup(case, refinement=refinement, cache=cache, tip_friction=friction, band=False)
            joint, layout = result.built.joint, result.built.layout
            forces = result.history.seated.forces[joint.slices["tip"]]
            n = int(np.count_nonzero(joint.interface("tip").axial > 0.0))
            sine, cosine = np.sin(layout.cone_slope), np.cos(layout.cone_slope)
            outward = sine * forces[:n].sum() + cosine * forces[n:].sum()
            rows.append(
                HoleEnd(
                    end=name,
                    seat=result.history.seat.name,
                    slope=float(np.degrees(layout.cone_slope)),
                    friction=friction,
                    wedge_force=result.history.seating.drive_wedge,
                    outward=float(outward),
                    floor_stress=result.value("floor_stress_max"),
                    split=result.value("floor_split_max"),
                    punch=result.value("floor_punch_max"),
                )
            )
    return tuple(rows)
