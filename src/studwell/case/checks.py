"""Checks between the fields of a setup: does the stud go into its hole, does the nut reach, do washers fit."""

from __future__ import annotations

from collections.abc import Callable

from studwell.case.crack import check_flaws, check_residual
from studwell.case.insert_fit import check_insert, check_stud_in_insert, thread_major
from studwell.case.overrides import Location, Origin
from studwell.case.records import PlainWasher, Setup, SpringWasher
from studwell.case.tip_fit import check_tip
from studwell.errors import BadCase
from studwell.parts.thread import root_diameter
from studwell.units import as_text

LEAST_NUT_ENGAGEMENT = 0.8
"""Least stud thread in the nut, as a share of the nut's height. Common practice, no source."""

_SLACK = 1e-9


def check_setup(setup: Setup, origin: Origin) -> None:
    """Refuse a setup whose parts cannot be put together.

    setup          : Setup
    origin         : names the place in the file
    raises BadCase : the first thing that does not fit
    """
    for check in _CHECKS:
        check(setup, origin)


def _mm(value: float) -> str:
    return as_text(value, "length", digits=4)


def _misfit(origin: Origin, at: Location, problem: str, allowed: str) -> BadCase:
    return origin.bad(at, problem, allowed, value=origin.given(at), slug="cannot-fit", together=True)


LEAST_ENGAGEMENT = 2.0
"""Pitches below which a thread in the boss or the nut is not modelled. Our own choice."""

LEAST_FLOOR = 0.1
"""Share of the drill's diameter below which a floor is a skin that no section model holds for."""


def _boss(setup: Setup, origin: Origin) -> None:
    boss = setup.boss
    least = LEAST_FLOOR * boss.drill_diameter
    if boss.floor_thickness < least:
        raise _misfit(
            origin,
            ("boss", "floor_thickness"),
            f"a floor of {_mm(boss.floor_thickness)} is a skin under a hole of {_mm(boss.drill_diameter)}",
            f"at least {_mm(least)}",
        )
    major = thread_major(setup)
    hole = boss.counterbore_diameter or major + 2 * boss.mouth_chamfer
    if boss.outer_diameter <= hole + _SLACK:
        raise _misfit(
            origin,
            ("boss", "outer_diameter"),
            f"no wall is left round a hole of {_mm(hole)}",
            f"more than {_mm(hole)}",
        )
    if boss.counterbore_diameter is not None and boss.counterbore_diameter < major:
        raise _misfit(
            origin,
            ("boss", "mouth_counterbore_diameter"),
            f"smaller than the thread, {_mm(major)}",
            f"at least {_mm(major)}",
        )
    if boss.thread_depth > boss.hole_depth + _SLACK:
        raise _misfit(
            origin,
            ("boss", "thread_depth"),
            f"the thread is deeper than the hole, {_mm(boss.hole_depth)}",
            f"at most {_mm(boss.hole_depth)}",
        )
    if boss.mouth_depth >= boss.thread_depth:
        key = "mouth_counterbore_depth" if boss.counterbore_depth else "mouth_chamfer"
        at: Location = ("boss", "insert", "set_down") if boss.insert else ("boss", key)
        raise _misfit(
            origin,
            at,
            f"no thread is left of a depth of {_mm(boss.thread_depth)}",
            f"less than {_mm(boss.thread_depth)}",
        )
    check_flaws(setup.crack, boss.floor_thickness, 0.5 * (boss.outer_diameter - boss.drill_diameter), origin)
    check_residual(setup.crack, boss.material, origin)
    check_insert(setup, origin)


def _engagement(setup: Setup, origin: Origin) -> None:
    boss, stud = setup.boss, setup.stud
    at: Location = ("stud", "engaged_length")
    full = boss.thread_depth - boss.mouth_depth
    if boss.insert is None and stud.engaged_length > boss.thread_depth + _SLACK:
        raise _misfit(origin, at, f"exceeds the thread depth, {_mm(boss.thread_depth)}", f"at most {_mm(full)}")
    if boss.insert is None and stud.engaged_length > full + _SLACK:
        raise _misfit(
            origin,
            at,
            f"the mouth leaves {_mm(full)} of the thread depth, {_mm(boss.thread_depth)}",
            f"at most {_mm(full)}",
        )
    most = boss.hole_depth - boss.mouth_depth - (setup.tip_seat_z + stud.tip_length)
    if stud.engaged_length > most + _SLACK:
        raise _misfit(
            origin,
            at,
            f"with the tip seated and {_mm(stud.tip_length)} of tip below the thread, the "
            f"hole holds {_mm(max(most, 0.0))}",
            f"at most {_mm(most)}" if most > 0 else "a deeper hole",
        )
    if stud.boss_thread_length < stud.tip_length + stud.engaged_length - _SLACK:
        raise _misfit(
            origin,
            ("stud", "boss_thread_length"),
            "shorter than tip_length and engaged_length together",
            f"at least {_mm(stud.tip_length + stud.engaged_length)}",
        )
    least = LEAST_ENGAGEMENT * stud.thread.pitch
    if stud.engaged_length < least - _SLACK:
        raise _misfit(
            origin, at, "fewer than two pitches are engaged: no model of a thread holds there", f"at least {_mm(least)}"
        )
    check_stud_in_insert(setup, origin)
    if setup.tip_gap >= stud.engaged_length:
        raise _misfit(
            origin,
            ("seating", "back_off"),
            f"{setup.seating.turns:.3g} turns lift the stud by {_mm(setup.tip_gap)}: no thread is left",
            f"less than {stud.engaged_length / stud.thread.pitch:.3g} turns",
        )
    if setup.engaged_thread < least - _SLACK:
        raise _misfit(
            origin,
            ("seating", "back_off"),
            f"{setup.seating.turns:.3g} turns leave {_mm(setup.engaged_thread)} engaged, fewer than two pitches: no model "
            "of a thread holds there",
            f"at most {(stud.engaged_length - least) / stud.thread.pitch:.3g} turns",
        )


def _shank(setup: Setup, origin: Origin) -> None:
    stud = setup.stud
    thread_size = max(stud.thread.nominal_diameter, stud.nut_thread.nominal_diameter)
    least = min(
        float(root_diameter(thread.nominal_diameter, thread.pitch)) for thread in (stud.thread, stud.nut_thread)
    )
    if stud.shank == "full" and not least <= stud.shank_diameter <= thread_size + _SLACK:
        raise _misfit(
            origin,
            ("stud", "shank_diameter"),
            "a full shank is neither thinner than the thread's root nor thicker than the thread",
            f"from {_mm(least)} to {_mm(thread_size)}",
        )
    if stud.shank == "waisted" and stud.shank_diameter >= least:
        raise _misfit(
            origin,
            ("stud", "shank_diameter"),
            "a waisted shank is thinner than the thread's root",
            f"less than {_mm(least)}",
        )
    threads = stud.boss_thread_length + stud.nut_thread_length
    if threads > stud.length + _SLACK:
        raise _misfit(origin, ("stud", "length"), "shorter than its two threads together", f"at least {_mm(threads)}")


def _stack(setup: Setup, origin: Origin) -> None:
    widest = max(setup.stud.shank_diameter, setup.stud.nut_thread.nominal_diameter)
    for number, layer in enumerate(setup.stack):
        at: Location = ("stack", number)
        if layer.outer_diameter <= layer.inner_diameter:
            raise _misfit(
                origin,
                (*at, "outer_diameter"),
                f"not larger than inner_diameter, {_mm(layer.inner_diameter)}",
                f"more than {_mm(layer.inner_diameter)}",
            )
        if layer.inner_diameter < widest - _SLACK:
            raise _misfit(
                origin,
                (*at, "inner_diameter"),
                f"the stud, {_mm(widest)}, does not pass",
                f"at least {_mm(widest)}",
            )
        beneath = setup.stack[number - 1] if number else layer
        if layer.inner_diameter >= beneath.outer_diameter or beneath.inner_diameter >= layer.outer_diameter:
            raise _misfit(
                origin,
                (*at, "inner_diameter"),
                f'does not lie on the layer "{beneath.name}" beneath it',
                f"rings that overlap {_mm(beneath.inner_diameter)} to {_mm(beneath.outer_diameter)}",
            )
    if setup.stack[0].inner_diameter >= setup.boss.outer_diameter:
        raise _misfit(
            origin,
            ("stack", 0, "inner_diameter"),
            "does not lie on the boss",
            f"less than {_mm(setup.boss.outer_diameter)}",
        )


def _washers(setup: Setup, origin: Origin) -> None:
    widest = setup.stud.nut_thread.nominal_diameter
    beneath = setup.stack[-1].outer_diameter, setup.stack[-1].inner_diameter
    for number, washer in enumerate(setup.washers):
        at: Location = ("washer", number)
        bore: Location = (*at, "size") if origin.given((*at, "inner_diameter")) is None else (*at, "inner_diameter")
        if washer.outer_diameter <= washer.inner_diameter:
            raise _misfit(
                origin,
                (*at, "outer_diameter"),
                f"not larger than inner_diameter, {_mm(washer.inner_diameter)}",
                f"more than {_mm(washer.inner_diameter)}",
            )
        if washer.inner_diameter < widest - _SLACK:
            raise _misfit(
                origin,
                bore,
                f"a {_called(washer)} with a bore of {_mm(washer.inner_diameter)} does not go over "
                f"the stud, {_mm(widest)}",
                f"a bore of at least {_mm(widest)}",
            )
        if isinstance(washer, SpringWasher):
            _spring(number, washer, beneath, setup, origin)
        elif washer.outer_diameter <= beneath[1]:
            raise _misfit(
                origin,
                bore,
                f"falls through the bore beneath it, {_mm(beneath[1])}",
                f"an outer diameter above {_mm(beneath[1])}",
            )
        beneath = washer.outer_diameter, washer.inner_diameter
    if setup.nut.bearing_diameter <= beneath[1]:
        raise _misfit(
            origin,
            ("nut", "bearing_diameter"),
            f"the nut, bearing on {_mm(setup.nut.bearing_diameter)}, falls "
            f"through the bore beneath it, {_mm(beneath[1])}",
            f"more than {_mm(beneath[1])}",
        )


def _spring(number: int, washer: SpringWasher, beneath: tuple[float, float], setup: Setup, origin: Origin) -> None:
    at: Location = ("washer", number)
    if sum(isinstance(earlier, SpringWasher) for earlier in setup.washers[:number]):
        raise _misfit(
            origin,
            (*at, "kind"),
            "a second group of springs; only one is solved",
            "one spring entry, with parallel and series",
        )
    if number == 0 and setup.stack[-1].gasket is not None:
        raise _misfit(
            origin,
            (*at, "kind"),
            f'the spring lies on the gasket "{setup.stack[-1].name}"',
            "a metal face under it, such as a plain washer",
        )
    if washer.friction >= 0.5:
        raise _misfit(
            origin,
            (*at, "parallel"),
            f"friction takes {washer.friction:.2g} of the force of so many nested washers",
            "less than half of the force",
        )
    if washer.cone_height > 2 * washer.thickness:
        raise _misfit(
            origin,
            (*at, "cone_height"),
            "so high a cone snaps through",
            f"at most {_mm(2 * washer.thickness)}",
        )
    if washer.outer_diameter <= beneath[1]:
        raise _misfit(
            origin,
            (*at, "outer_diameter"),
            f"falls through the bore beneath it, {_mm(beneath[1])}",
            f"more than {_mm(beneath[1])}",
        )


def _nut(setup: Setup, origin: Origin) -> None:
    nut, stud = setup.nut, setup.stud
    if nut.bearing_diameter <= nut.bearing_inner_diameter:
        raise _misfit(
            origin,
            ("nut", "bearing_diameter"),
            f"not larger than the inside of the bearing face, {_mm(nut.bearing_inner_diameter)}",
            f"more than {_mm(nut.bearing_inner_diameter)}",
        )
    if nut.width_across_flats < nut.bearing_diameter:
        raise _misfit(
            origin,
            ("nut", "width_across_flats"),
            f"smaller than bearing_diameter, {_mm(nut.bearing_diameter)}",
            f"at least {_mm(nut.bearing_diameter)}",
        )
    needed = LEAST_NUT_ENGAGEMENT * nut.height
    reach = setup.stud_top_z - setup.nut_face_least_z
    if reach < needed - _SLACK:
        raise _misfit(
            origin,
            ("stud", "length"),
            f"the stud ends {_reach(reach)}; the nut needs {_mm(needed)} of it",
            f"at least {_mm(stud.length + needed - reach)}",
        )
    if setup.protrusion < stud.nut_thread.pitch:
        raise _misfit(
            origin,
            ("stud", "length"),
            f"with the springs free the stud ends {_reach(setup.protrusion)}: the nut cannot be started",
            f"at least {_mm(stud.length + stud.nut_thread.pitch - setup.protrusion)}",
        )
    thread_end = setup.stud_top_z - stud.nut_thread_length
    room = 0.0 if stud.shank == "full" else reach - needed
    if thread_end > setup.nut_face_least_z + room + _SLACK:
        raise _misfit(
            origin,
            ("stud", "nut_thread_length"),
            f"the nut meets the end of its thread {_mm(thread_end - setup.nut_face_least_z)} "
            "above the washers pressed flat",
            f"at least {_mm(reach - room)}",
        )


def _reach(reach: float) -> str:
    side = "above" if reach >= 0 else "below"
    return f"{_mm(abs(reach))} {side} the nut's face"


def _history(setup: Setup, origin: Origin) -> None:
    if setup.history.assembly_temperature > 200.0:
        raise _misfit(
            origin,
            ("history", "assembly_temperature"),
            "nobody tightens a joint as hot as that",
            "at most 200 degC",
        )


def _limits(setup: Setup, origin: Origin) -> None:
    if setup.limits.minimum_gasket_pressure is not None and not any(layer.gasket for layer in setup.stack):
        raise _misfit(
            origin,
            ("limits", "minimum_gasket_pressure"),
            "no layer of the stack is a gasket",
            "only with a gasket in the stack",
        )


def _called(washer: PlainWasher | SpringWasher) -> str:
    return "spring" if isinstance(washer, SpringWasher) else "plain washer"


_CHECKS: tuple[Callable[[Setup, Origin], None], ...] = (
    _boss, check_tip, _engagement, _shank, _stack, _washers, _nut, _history, _limits,
)  # fmt: skip
