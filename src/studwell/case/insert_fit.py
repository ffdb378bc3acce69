"""Does a wire thread insert go into its hole, and does the stud's thread stand in it."""

from __future__ import annotations

from studwell.case.overrides import Location, Origin
from studwell.case.records import Setup
from studwell.errors import BadCase
from studwell.parts.insert import insert_hole
from studwell.units import as_text

_SLACK = 1e-9


def _mm(value: float) -> str:
    return as_text(value, "length", digits=4)


def _misfit(origin: Origin, at: Location, problem: str, allowed: str) -> BadCase:
    return origin.bad(at, problem, allowed, value=origin.given(at), slug="cannot-fit", together=True)


def thread_major(setup: Setup) -> float:
    """Return the major diameter of the hole's thread, mm: the stud's, or the larger one that an insert's hole has."""
    thread = setup.stud.thread
    if setup.boss.insert is None:
        return thread.nominal_diameter
    return float(insert_hole(thread.nominal_diameter, thread.pitch).major_diameter)


def check_insert(setup: Setup, origin: Origin) -> None:
    """Refuse an insert that is longer than its thread is deep, or that stands out into the mouth.

    raises BadCase : it does not fit; nothing happens without an insert
    """
    boss, insert = setup.boss, setup.boss.insert
    if insert is None:
        return
    shortened = insert.length - insert.assembled
    if insert.set_down + insert.assembled > boss.thread_depth + _SLACK:
        raise _misfit(
            origin,
            ("boss", "insert", "length"),
            f"the insert, {_mm(insert.assembled)} long in the hole and {_mm(insert.set_down)} set down, is longer than "
            f"the thread is deep, {_mm(boss.thread_depth)}",
            f"at most {_mm(boss.thread_depth - insert.set_down + shortened)}",
        )
    least = max(boss.open_depth, NEAR_THE_FACE)
    if insert.set_down < least - _SLACK:
        what = "the counterbore" if boss.counterbore_depth else "the chamfer" if boss.mouth_chamfer else "the mouth"
        raise _misfit(
            origin,
            ("boss", "insert", "set_down"),
            f"the insert's first coil stands in {what}, where the hole has no thread",
            f"at least {_mm(least)}",
        )
    for number, layer in enumerate(setup.stack):
        if layer.name == "insert":
            raise origin.bad(
                ("stack", number, "name"),
                "with [boss.insert], a layer cannot be called as the insert is",
                "a name of its own",
                value=layer.name,
                slug="duplicate-name",
                together=True,
            )


NEAR_THE_FACE = 0.02
"""mm below the face above which the section's mesh has no place for a thread."""


def check_stud_in_insert(setup: Setup, origin: Origin) -> None:
    """Refuse a stud of whose full threads fewer than two pitches stand in the insert.

    raises BadCase : it misses the insert; nothing happens without one
    """
    insert, stud = setup.boss.insert, setup.stud
    if insert is None:
        return
    overlap = setup.engaged_thread
    least = 2.0 * stud.thread.pitch
    if overlap < least - _SLACK:
        raise _misfit(
            origin,
            ("stud", "engaged_length"),
            f"the insert lies {_mm(insert.set_down)} to {_mm(insert.set_down + insert.assembled)} below the face; "
            f"{_mm(max(overlap, 0.0))} of the stud's full threads stand in it",
            f"an overlap of at least {_mm(least)}",
        )
