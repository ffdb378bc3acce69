"""Which whole threads of a setup engage as teeth, in the boss and in the nut."""

from __future__ import annotations

from studwell.case.records import Setup
from studwell.errors import Unknown
from studwell.parts.limits import thread_limits
from studwell.parts.thread import Thread
from studwell.section.groove import Teeth, whole_threads

GROOVES = "grooves"

LEAST_STEP = 0.02
"""mm, least height of a row of elements beside a band of teeth."""


def boss_teeth_of(setup: Setup, low: float, high: float, mouth: float, refinement: float) -> Teeth | None:
    """Return the teeth between stud and boss, counted from the mouth end; None if they are a layer or a bond, or if an
    insert is between, whose coils have their own.

    low, high, mouth : z of the engaged length's ends and of where chamfer or counterbore begin, mm. As many whole threads
                       carry as the engaged length has; what is left of it carries nothing
    raises Unknown : fewer than two whole threads, or parts whose walls are smooth in this model
    """
    if setup.stud.thread_model != GROOVES or setup.boss.insert is not None:
        return None
    if setup.boss.own_mesh is not None:
        raise Unknown(
            "a boss mesh of the user's own has a smooth thread wall: the grooves model needs the boss's own mesh"
        )
    thread = setup.stud.thread
    count = _count("the boss", high - low, thread)
    top = min(high, mouth - 0.5 * thread.pitch - LEAST_STEP)
    lowest = low - 0.5 * setup.stud.tip_length
    while top - (count + 0.5) * thread.pitch < lowest and count > 2:
        count -= 1
    return _teeth(setup, thread, top - count * thread.pitch, count, 1, refinement)


def nut_teeth_of(setup: Setup, low: float, high: float, top: float, end: float, refinement: float) -> Teeth | None:
    """Return the teeth between stud and nut, counted from the bearing face; as `boss_teeth_of`.

    low, high : z of the engaged length's ends;  top: of the nut's last metal;  end: of the stud's last full thread, mm
    """
    if setup.stud.nut_thread_model != GROOVES:
        return None
    thread = setup.stud.nut_thread
    count = _count("the nut", high - low, thread)
    bottom = low + 0.5 * thread.pitch
    while bottom + count * thread.pitch > min(top - LEAST_STEP, end) and count > 2:
        count -= 1
    room = end - (bottom + count * thread.pitch) > 0.5 * thread.pitch
    return _teeth(setup, thread, bottom, count, -1, refinement, external_lead=room)


def _count(where: str, length: float, thread: Thread) -> int:
    count = whole_threads(length, thread.pitch)
    if count < 2:
        raise Unknown(
            f"{where} engages {length:.2f} mm of thread, fewer than two whole threads: no grooves model of it"
        )
    return count


def _teeth(
    setup: Setup, thread: Thread, bottom: float, count: int, loaded: int, refinement: float, external_lead: bool = True
) -> Teeth:
    clearance = setup.stud.thread_clearance
    if clearance is None:
        clearance = mean_clearance(thread)
    divisions = max(1, round(refinement))
    return Teeth(thread.nominal_diameter, thread.pitch, bottom, count, loaded, clearance, divisions, external_lead)


def mean_clearance(thread: Thread) -> float:
    """Return the mean clearance of the pitch diameters of a medium fit, mm; 0 where its limits are not known.

    Source: `parts.limits.thread_limits`, middle of both tolerances.
    """
    try:
        limits = thread_limits(thread)
    except ValueError:
        return 0.0
    return 0.5 * (sum(limits.internal_pitch) - sum(limits.external_pitch))
