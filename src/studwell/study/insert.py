"""What an insert gains over a plain hole, how its load is shared out, and whether its hole is deep enough, in words."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from studwell.case.records import Setup
from studwell.parts.insert import least_drilled_depth, set_down_range
from studwell.strength.insert import hole_gain
from studwell.study.finding import Finding, margin_words, setups_words
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


def insert_findings(comparison: Comparison) -> list[Finding]:
    """Return what is to say of every setup with an insert, in the case's units; nothing without one."""
    units = comparison.case.units
    groups: dict[tuple[object, ...], list[SetupResult]] = {}
    cautions: dict[str, list[str]] = {}
    for item in comparison.results:
        setup = item.setup
        if setup.boss.insert is None:
            continue
        groups.setdefault((setup.boss.insert, setup.boss.hole_depth, setup.stud.thread), []).append(item)
        for text in _cautions(item, units):
            cautions.setdefault(text, []).append(item.name)
    solved = len(comparison.results)
    return [
        *(_gain(items, comparison, units) for items in groups.values()),
        *(Finding("caution", f"{setups_words(names, solved)}: {text}.") for text, names in cautions.items()),
    ]


def _load_of(item: SetupResult) -> float:
    """How hard the setup loads its hole beside others with the same one: the margin of the thread round the insert, or N."""
    margin = item.verdict.margins["insert thread strip"].value
    return margin if margin is not None else item.value("insert_load_max") or 0.0


def _gain(items: list[SetupResult], comparison: Comparison, units: str) -> Finding:
    """Of setups with one and the same hole; loads are those of the one that loads it most."""
    compared = [item for item in items if _plain(item, comparison) is not None] or items
    item = max(compared, key=_load_of)
    here = f" in {item.name}" if len(items) > 1 else ""
    setup = item.setup
    insert = setup.boss.insert
    assert insert is not None
    gain = hole_gain(item.built)
    length = as_text(insert.assembled, "length", units, 3)
    names = setups_words([each.name for each in items], len(comparison.results))
    text = (
        f"{names}: round the insert {number_text(gain, 4)} times as much of the boss shears, per length, as round the "
        f"stud's own thread; over {length} of insert"
    )
    plain = _plain(item, comparison)
    if plain is not None:
        engaged = plain.setup.engaged_thread
        text += (
            f" against {as_text(engaged, 'length', units, 3)} of thread in {plain.name} that makes "
            f"{number_text(gain * insert.assembled / engaged, 3)}"
        )
        theirs, ours = (each.verdict.margins[mode].value for each, mode in (
            (plain, "boss thread strip"), (item, "insert thread strip")))  # fmt: skip
        if theirs is not None and ours is not None:
            text += f", and takes the strip margin from {margin_words(theirs)} to {margin_words(ours)}{here}"
    share, load = item.value("insert_pitch_share_max"), item.value("insert_load_max")
    if share and load:
        text += (
            f". Of a largest {as_text(load, 'force', units, 3)}{here} one pitch alone passes on up to "
            f"{number_text(100.0 * share, 2)} %"
        )
    return Finding("insert", text + ".")


def _plain(item: SetupResult, comparison: Comparison) -> SetupResult | None:
    """The setup of a plain hole that is fitted as this one, None if there is none."""
    for other in comparison.results:
        same = all(
            getattr(other.setup, key) == getattr(item.setup, key)
            for key in ("seating", "washers", "nut", "tightening", "stack", "history")
        )
        if other.setup.boss.insert is None and same and other.setup.stud.thread == item.setup.stud.thread:
            return other
    return None


def _cautions(item: SetupResult, units: str) -> list[str]:
    """What is odd about an insert's hole, without the setup's name: setups that share the hole share the words."""
    setup = item.setup
    boss, thread, insert = setup.boss, setup.stud.thread, setup.boss.insert
    assert insert is not None
    result = []

    def mm(value: float) -> str:
        return as_text(value, "length", units, 3)

    bottoming, plug = (least_drilled_depth(thread, insert.length, short) for short in (True, False))
    if boss.hole_depth < bottoming - 1e-9:
        result.append(
            f"the hole is {mm(boss.hole_depth)} deep to the end of its full diameter; an insert of "
            f"{mm(insert.length)} wants {mm(bottoming)} with a bottoming tap and {mm(plug)} with a plug tap"
        )
    low, high = np.asarray(set_down_range(thread.pitch), dtype=float)
    if not low - 1e-9 <= insert.set_down <= high + 1e-9:
        result.append(f"the insert is set down {mm(insert.set_down)}; usual is {mm(float(low))} to {mm(float(high))}")
    idle = insert.assembled - setup.engaged_thread
    if idle > thread.pitch:
        result.append(f"{mm(idle)} of the insert has no thread of the stud in it{_other_length(setup, mm)}")
    return result


def _other_length(setup: Setup, mm: Callable[[float], str]) -> str:
    """Say which engaged length the hole and the stud's thread would give where [stud] engaged_length is shorter.

    The tip on its seat: from the first full thread to the insert's upper end, or to the end of the stud's thread.
    """
    stud, boss = setup.stud, setup.boss
    given = stud.engaged_length
    hole = boss.hole_depth - boss.mouth_depth - (setup.tip_seat_z + stud.tip_length)
    thread = stud.boss_thread_length - stud.tip_length
    room = min(hole, thread)
    if room <= given + 1e-9:
        ends = "boss_thread_length" if thread < hole else "the hole's depth"
        return f" ([stud] engaged_length {mm(given)} is all that {ends} allows)"
    return (
        f": [stud] engaged_length says {mm(given)} of full thread with the tip seated, while hole_depth, set_down and "
        f"tip_length, with boss_thread_length, give {mm(room)}; {mm(given)} is taken, measure which of the two it is"
    )
