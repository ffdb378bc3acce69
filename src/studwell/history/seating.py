"""Seat the stud: driven onto its seat by a torque, turned back from there or from first contact."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from studwell.case.records import Setup
from studwell.errors import NotConverged, Unknown
from studwell.history.pocket import pressures
from studwell.history.result import SeatingResult
from studwell.history.torques import Torques
from studwell.joint.forces import forces_of
from studwell.joint.grooves import turned
from studwell.joint.reduced import ReducedJoint
from studwell.joint.solve import Control
from studwell.joint.state import JointState
from studwell.parts.fastener import property_class
from studwell.parts.torsion import combined_stress
from studwell.section.layout import Layout

UNDER_NUT = "thread under the nut"
"""The section's name for the free upper thread."""


def named(stage: str, time: float, attempt: Callable[[], JointState]) -> JointState:
    """Return what an attempt finds; NotConverged names the stage and the time (s)."""
    try:
        return attempt()
    except NotConverged as problem:
        raise NotConverged(problem.record, f"{stage}, at {time:.0f} s: {problem.problem}") from problem


def _newton_metres(torque: float | None) -> str:
    return f"{(torque or 0.0) / 1000.0:.3g} N*m"


def breaks(setup: Setup, shear: float, tension: float, layout: Layout) -> bool:
    """Return whether tension (N) and torsion (MPa) exceed the tensile strength of the stud's class."""
    return float(combined_stress(tension / layout.stretch_area, shear)) > _tensile_strength(setup)


def _driven_section(setup: Setup, layout: Layout) -> str:
    """The weakest section between what drives a stud and the boss. No nut is on it yet: two locked together, or a driver."""
    if layout.stretch_name != UNDER_NUT:
        return layout.stretch_name
    stud = setup.stud
    alike = (
        stud.thread.nominal_diameter == stud.nut_thread.nominal_diameter and stud.thread.pitch == stud.nut_thread.pitch
    )
    spared = (
        "the thread at the boss's mouth is as thin, however it is held" if alike else "a driver on the shank spares it"
    )
    return f"upper thread, below the two nuts locked on it that drive it ({spared}),"


def broken(setup: Setup, layout: Layout, doing: str, section: str | None = None) -> Unknown:
    """Return the error of a stud that breaks: no state follows.

    doing : what breaks it, and where on the way;  section: where it breaks, None: in its weakest free length
    """
    return Unknown(
        f"the stud breaks on {doing}: tension and torsion in the {section or layout.stretch_name} reach the "
        f"{_tensile_strength(setup):.0f} MPa of class {setup.stud.property_class}; there is no state after it"
    )


def _tensile_strength(setup: Setup) -> float:
    stud = setup.stud
    return property_class(stud.property_class, stud.nut_thread.nominal_diameter).ultimate_strength


def seat_stud(
    setup: Setup,
    joint: ReducedJoint,
    loose: JointState,
    torques: Torques,
    layout: Layout,
    solver: Callable[..., JointState],
) -> tuple[JointState, SeatingResult]:
    """Return the stud as it stands once it is seated, and what seating left.

    loose : the stud at first contact by hand, nothing over it yet;  solver: as in history.stages.live_through
    raises NotConverged : it cannot be driven so far;  Unknown : the stud breaks
    """
    seating = setup.seating
    pitch = setup.stud.thread.pitch
    driven = None
    approach = wind_up = wedge = pressure = 0.0
    if seating.torque:
        if breaks(setup, torques.torsion(float(seating.torque)), 0.0, layout):
            raise broken(
                setup, layout, f"driving it with {_newton_metres(seating.torque)}", _driven_section(setup, layout)
            )
        coefficients = torques.seating_coefficients(joint)
        driven = named(
            "seat",
            0.0,
            lambda: solver(
                joint, loose, loose.heat, control=Control("stud", coefficients, float(seating.torque or 0.0))
            ),
        )
        approach = driven.travels["stud"]
        wind_up = torques.wind_up_turns(float(seating.torque))
        forces = forces_of(joint, [driven])
        wedge, pressure = float(forces.tip[0] + forces.seat[0]), float(pressures(joint, [driven])[0])
    if seating.mode == "bottomed":
        state = driven if driven is not None else named("seat", 0.0, lambda: solver(joint, loose, loose.heat))
        if seating.torque:
            state = replace(state, shear=torques.torsion(float(seating.torque)))
        return state, SeatingResult(state.travels["stud"], seating.torque, approach, wind_up, wedge, pressure)
    if seating.counted_from == "driven seat" and driven is not None:
        travel = travel_left(approach, wind_up, pitch, seating.turns)
        if travel > 0.0:
            state = _partly_turned_back(joint, driven, travel, torques, float(seating.torque or 0.0), solver)
            return state, SeatingResult(travel, seating.torque, approach, wind_up, wedge, pressure)
        loose = replace(loose, flow=driven.flow)  # what the drive pressed in stays
    else:
        travel = -seating.turns * pitch
    state = named("seat", 0.0, lambda: solver(joint, loose, loose.heat, travels={"stud": travel}))
    return state, SeatingResult(travel, seating.torque, approach, wind_up, wedge, pressure)


def travel_left(approach: float, wind_up: float, pitch: float, turns: float) -> float:
    """Return how far (mm) beyond first contact a stud still is that was driven and turned back; negative: lifted.

    approach, pitch : mm;  wind_up : turns of twist, which unwind before the thread moves;  turns : back from the driven seat
    """
    return approach - max(0.0, turns - wind_up) * pitch


def _partly_turned_back(
    joint: ReducedJoint,
    driven: JointState,
    travel: float,
    torques: Torques,
    torque: float,
    solver: Callable[..., JointState],
) -> JointState:
    """The driven stud turned back by less than relieves its wedge: it still stands `travel` mm beyond first contact.

    Its torsion is that of the torque which would drive it just as deep: more than that its friction does not hold.
    """
    if travel >= driven.travels["stud"]:  # only the twist unwinds
        return replace(driven, shear=torques.torsion(torque))
    start = turned(joint, driven, "boss thread")
    state = named("seat", 0.0, lambda: solver(joint, start, start.heat, travels={"stud": travel}))
    held = float(torques.seating_coefficients(joint) @ state.forces)
    return replace(state, shear=torques.torsion(min(max(held, 0.0), torque)))
