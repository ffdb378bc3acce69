"""Build the records of the workshop from their tables: threadlocker of the seating, tolerances of a repair."""

from __future__ import annotations

from studwell.case import model
from studwell.case.overrides import Origin
from studwell.case.stock import find_threadlocker
from studwell.case.workshop_records import Repair, Threadlocker


def build_threadlocker(seating: model.SeatingTable, origin: Origin) -> Threadlocker | None:
    """Return the threadlocker of a seating, None without one. Raises BadCase."""
    if seating.threadlocker is None:
        for key in ("cured", "threadlocker_fill"):
            if getattr(seating, key) is not None:
                raise origin.needs(("seating", "threadlocker"), key, "a grade of `studwell stock threadlockers`")
        return None
    if "lock_torque" in seating.model_fields_set:
        raise origin.excludes(("seating", "lock_torque"), "threadlocker, which gives its own torque")
    grade = find_threadlocker(seating.threadlocker, ("seating", "threadlocker"), origin)
    if seating.cured is None:
        raise origin.needs(("seating", "cured"), "threadlocker", "true, or false for one that is still a liquid")
    if not seating.cured:
        if seating.threadlocker_fill is not None:
            raise origin.excludes(("seating", "threadlocker_fill"), "cured = false: a liquid bonds nothing")
        return Threadlocker(grade, False, 0.0)
    if seating.threadlocker_fill is None:
        raise origin.needs(("seating", "threadlocker_fill"), "cured = true", "a bare number, 0 to 1: the share bonded")
    return Threadlocker(grade, True, seating.threadlocker_fill)


def build_repair(tables: model.SetupTables) -> Repair | None:
    """Return what the case says of drilling and of tolerances, None without a [repair] table."""
    given = tables.repair
    if given is None:
        return None
    return Repair(
        drill_depth_tolerance=given.drill_depth_tolerance,
        tap=given.tap,
        stud_length_tolerance=given.stud_length_tolerance,
        stack_tolerance=given.stack_tolerance,
        least_floor=given.least_floor,
    )
