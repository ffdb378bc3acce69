"""Steps of the card above the hole: stud and back-off, washers and nut, torque and order, the first heat; what to expect."""

from __future__ import annotations

import math
from dataclasses import replace

from studwell.card.hole_steps import Bench, cure_step, practice_number
from studwell.card.order import crosswise
from studwell.card.pictures import MOST_NUMBERED, pile_words
from studwell.card.record import Line, Step
from studwell.card.words import PRACTICE, both, degrees_text, hand_words, one, plain, torque_text, turns_text
from studwell.study.fitted import out_of_nut
from studwell.study.heat_numbers import Retightening, clamp_by_cycle, retightening
from studwell.study.repair import pitches_text
from studwell.units import number_text

FOLLOWS = 0.9
"""Share of what holds the stud at which the card asks to watch it: friction scatters by more than a tenth. Our own choice."""


MOST_UNCLAIMED = 2.0
"""Pitches by which the threads may overlap further than the case says they are engaged. Our own choice: ends of threads
are never full."""

MARK = f"paint-mark stud and face{PRACTICE}"
"""What shows whether the stud turned."""

LONGEST_PILE = 260
"""Letters that the card spends on washers and nut; summary.json has the picture's words in full."""


def stud_step(bench: Bench) -> Step:
    """Return how the stud is driven, turned back, and how far it stands out then."""
    setup, units = bench.setup, bench.units
    seating, history = setup.seating, bench.result.history
    lines = []
    seat = "a liquid under the tip, not its seat" if history.seating.on_liquid else history.seat.name
    if bench.shut_in:
        note = "what is shut in under the stud can burst the boss: see the top"
        lines.append(Line("STOP", f"take the {plain(setup.pocket.contents, 40)} out and dry the hole first", note))
    dry = "in a dry hole only: " if setup.pocket.fluid is not None else ""
    driven = seating.mode == "bottomed" or seating.counted_from == "driven seat"
    if driven and seating.torque is not None:
        text = f"{dry}drive it to its seat with {torque_text(seating.torque, units)}"
        lines.append(
            Line("Screw in", text, f"it stops on: {seat}", "seating_torque_Nmm", seating.torque, "N mm", order=True)
        )
    else:
        lines.append(
            Line(
                "Screw in", f"{dry}by hand until it touches", f"first contact, on: {seat}; do not drive it", order=True
            )
        )
    if seating.mode == "bottomed":
        lines.append(Line("Turn back", "not in this setup", "the stud stays driven home", "back_off_turn", 0.0, "turn"))
    else:
        turns = seating.turns
        text = f"{turns_text(turns)} = {bench.length(setup.tip_gap)}"
        note = f"anticlockwise, counted from the {seating.counted_from}: {hand_words(turns)}"
        lines.append(Line("Turn back", text, note, "back_off_turn", turns, "turn", order=True))
        if history.seating.travel >= 0.0:
            told = "the turns only undo what the drive pressed together"
            lines.append(Line("Mind", "the tip does not come free", told))
        if driven and 360.0 * history.seating.wind_up_turns >= 1.0:
            twist = degrees_text(history.seating.wind_up_turns)
            lines.append(Line("Mind", f"the drive twists the stud {twist}", "the first of it only unwinds"))
    lines += cure_step(bench)
    top = bench.stands.top_z - setup.boss.hole_depth
    lines.append(
        Line("Stands above the face", bench.length(top), "before the stack goes on", "stud_above_face_mm", top, "mm")
    )
    engaged = bench.stands.engaged
    first = bench.mm("stud_first_mm")
    note = f"unknown from where the stud breaks first: {bench.said(bench.plan['stud_first_mm'].note)}"
    if first is not None:
        need = one(first, "length", units)
        note = (
            f"enough: from {need} on the stud breaks before the thread strips"
            if engaged >= first
            else f"too little: the thread strips before the stud breaks; from {need} on the stud breaks first"
        )
    possible = _overlap(bench)
    if possible > engaged + MOST_UNCLAIMED * setup.stud.thread.pitch:
        note += f"; by their lengths the threads overlap {one(possible, 'length', units)}: check engaged_length"
    lines.append(Line("Engaged", bench.length(engaged), note, "engaged_mm", engaged, "mm"))
    return Step("The stud", tuple(lines))


def _overlap(bench: Bench) -> float:
    """Length over which the stud's boss thread stands in the thread of the hole or insert, mm, by the lengths given."""
    stud, boss = bench.setup.stud, bench.setup.boss
    low, high = boss.insert_ends or (boss.hole_depth - boss.thread_depth, boss.hole_depth - boss.open_depth)
    tip = bench.stands.tip_z
    return min(high, tip + stud.boss_thread_length) - max(low, tip + stud.tip_length)


def nut_step(bench: Bench) -> Step:
    """Return washers and nut in order, and how far the stud ends from the nut's."""
    tightening = bench.setup.tightening
    pile = plain("; ".join(pile_words(bench.setup, bench.units)), LONGEST_PILE)
    lines = [Line("From the stack up", pile, order=True)]
    friction = number_text(tightening.thread_friction, 3), number_text(tightening.bearing_friction, 3)
    note = "of nut thread and bearing face; oil, paste or plating that changes it changes the clamp"
    lines.append(Line("Friction", f"{friction[0]} and {friction[1]}", note, spare=3))
    if bench.setup.nut.kind == "domed":
        room, least = bench.mm("dome_room_mm"), bench.mm("dome_room_least_mm")
        if room is not None:
            text = bench.length(room) if room > 0.0 else "NONE: the nut closes on the stud's end"
            left = f"least unknown: {bench.said(bench.plan['dome_room_least_mm'].note)}"
            if least is not None:
                left = f"least {one(least, 'length', bench.units)}"
            lines.append(Line("Room in the dome", text, left, "dome_room_mm", room, "mm"))
    else:
        out = bench.plan["protruding_pitches"].value
        if isinstance(out, float):
            shown, judged = out_of_nut(out)
            beyond = bench.stands.protrusion - bench.setup.nut.height
            text = f"{bench.length(beyond)} = {shown}" if out >= 0.0 else f"ends {pitches_text(-out)} INSIDE"
            usual = f"{judged} that are usual{PRACTICE}"
            lines.append(Line("Stud beyond the nut", text, usual, "protruding_pitches", out, "pitches"))
    return Step("Washers and nut", tuple(lines))


def tighten_step(bench: Bench) -> Step:
    """Return the torque in both units and in steps, the order, and whether the stud may follow the nut."""
    setup, units = bench.setup, bench.units
    tightening, torques = setup.tightening, bench.result.history.torques
    shares = (practice_number("torque_step_first"), practice_number("torque_step_second"), 1.0)
    percent = " / ".join(f"{100.0 * share:.0f}" for share in shares)
    lines = []
    if tightening.torque is not None:
        torque = tightening.torque
        how = (
            "of the nut"
            if tightening.nut_factor is None
            else f"of the nut, by a nut factor of {tightening.nut_factor:g}"
        )
        lines.append(
            Line("Torque", torque_text(torque, units), f"{how}; {MARK}", "torque_Nmm", torque, "N mm", order=True)
        )
        steps = "; ".join(torque_text(share * torque, units).replace(" = ", ", ") for share in shares[:-1])
        lines.append(
            Line(
                "In steps",
                steps,
                f"{percent} %{PRACTICE}, every nut before the next step",
                order=True,
            )
        )
    else:
        preload = tightening.preload or 0.0
        torque = preload * (torques.nut_thread + torques.bearing)
        note = f"set with a tool that measures it: the case states a preload, no torque; {MARK}"
        lines.append(Line("Preload", both(preload, "force", units), note, "preload_N", preload, "N", order=True))
        text = torque_text(torque, units)
        note = "what the long form needs for it at the friction stated; a check, not the setting"
        lines.append(Line("Torque for it", text, note, "torque_for_preload_Nmm", torque, "N mm", order=True))
        steps = "; ".join(one(share * preload, "force", units) for share in shares[:-1])
        lines.append(
            Line(
                "In steps",
                steps,
                f"{percent} %{PRACTICE}, every nut before the next step",
                order=True,
            )
        )
    lines += [_order(bench), _hold(bench)]
    return Step("Tighten, cold", tuple(lines))


def _order(bench: Bench) -> Line:
    count = bench.setup.n_studs
    if count == 1:
        return Line("Order", "unknown", "the case gives no pattern ([pattern] studs), or one stud", "studs", 1.0)
    if count > MOST_NUMBERED:  # the picture bears no numbers then
        shown = "-".join(str(place + 1) for place in crosswise(count)[:MOST_NUMBERED])
        note = f"places counted clockwise from the top one, crosswise{PRACTICE}; summary.json has all"
        return Line("Order", f"{shown} and so on", note, "studs", float(count), order=True)
    numbers = ", ".join(str(number) for number in range(1, count + 1))
    if count > 6:
        numbers = f"1, 2, 3 and so on to {count}"
    across = "each next nut as far across as can be"
    if count % 2 == 0:
        more = "" if count == 2 else ", 4 opposite 3" if count == 4 else ", 4 opposite 3 and so on"
        across = f"2 stands opposite 1{more}"
    return Line(
        "Order", f"follow {numbers} in the picture", f"crosswise{PRACTICE}: {across}", "studs", float(count), order=True
    )


def _hold(bench: Bench) -> Line:
    margin = bench.result.verdict.margins["hold"]
    if margin.value is None:
        return Line("Stud turning", "unknown", plain(bench.said(margin.reason), 120), "hold")
    if not math.isfinite(margin.value) or margin.value >= 1.0:
        text, value = "THE STUD TURNS WITH THE NUT", "nothing holds it"
    elif margin.value >= FOLLOWS:
        text, value = "watch that it does not follow the nut", ""
    else:
        text, value = "it should stand", ""
    if math.isfinite(margin.value):
        value = f"the nut's thread sends {number_text(margin.value, 2)} of what holds it"
    return Line("Stud turning", text, value, "hold", margin.value if math.isfinite(margin.value) else None)


def heat_step(bench: Bench) -> Step:
    """Return when to tighten again, what settles if that is known, and what to look at after the first heat."""
    setup, result = bench.setup, bench.result
    lines = []
    again = setup.retighten
    found = retightening(result)
    if again is None:
        note = "this setup was solved without it"
        if setup.settling is None:
            note += "; the usual check is once, cold, after the first heat" + PRACTICE
        lines.append(Line("Tighten again", "not in this setup", note, spare=4))
    else:
        when = {
            "first heat": "once, cold, after the first heat",
            "cycle": f"once, cold, after cycle {again.cycle}",
        }.get(again.kind, f"once, cold, after {one(again.time or 0.0, 'time', bench.units)}")
        lines.append(
            Line("Tighten again", when, "to the same torque, from the joint's assembly temperature", order=True)
        )
    lines.append(_lost(bench, found))
    tip = result.value("tip_force_max") or 0.0
    seen = "torque at which each nut starts to turn, oil or gas at the joint"
    if setup.boss.insert is not None:
        seen += ", the insert's end (not lifted)"
    if tip > 1.0 and setup.seating.mode == "bottomed":
        seen += ", the boss round the hole for hair cracks"
    lines.append(Line("Look at, cold", "the paint marks, which must still meet", f"{seen}{PRACTICE}", order=True))
    return Step("After the first heat", tuple(lines))


def _lost(bench: Bench, found: Retightening | None) -> Line:
    setup, result, units = bench.setup, bench.result, bench.units
    start = result.value("clamp_assembled")
    if setup.settling is None:
        why = "the case has no [settling] table"
        return Line("Clamp lost by settling", "unknown", why, "settling_lost_N", None, "N", spare=8)
    if found is not None and found.before is not None and start is not None:
        lost = start - found.before
        text = f"{both(lost, 'force', units)} of {one(start, 'force', units)}"
        note = f"after the first heat; tightened again {both(found.after, 'force', units)}"
        return Line("Clamp lost by settling", text, note, "settling_lost_N", lost, "N")
    ends = clamp_by_cycle(result)
    if found is None and ends and start is not None:
        lost = start - ends[0]
        note = "from assembly to the end of the first cycle, heat at that end included"
        return Line("Clamp lost", both(lost, "force", units), note, "settling_lost_N", lost, "N")
    return Line(
        "Clamp lost by settling", "unknown", "the settled joint could not be solved cold", "settling_lost_N", None, "N"
    )


def expected_step(bench: Bench) -> Step:
    """Return the clamp to expect cold, hottest and least, the tip, and what the joint needs."""
    result, units = bench.result, bench.units
    lines = [
        _outcome(bench, "Clamp, tightened", "clamp_assembled", "clamp_assembled_N", False),
        _outcome(bench, "Clamp, most", "clamp_max", "clamp_max_N"),
        _outcome(bench, "Clamp, least", "clamp_min", "clamp_min_N"),
    ]
    leak = result.verdict.margins["leak"]
    if leak.load is None:
        lines.append(Line("Clamp needed", "unknown", plain(bench.said(leak.reason), 120), "clamp_needed_N", None, "N"))
    else:
        need = leak.method.removeprefix("needed: ")
        lines.append(
            Line(
                "Clamp needed",
                both(leak.load, "force", units),
                plain(bench.said(need), 80).replace("mm2", "mm²").replace("in^2", "in²"),
                "clamp_needed_N",
                leak.load,
                "N",
            )
        )
    tip = result.outcomes["tip_force_max"]
    if tip.value is not None and tip.value > 1.0:
        lines.append(_outcome(bench, "Force on the tip, most", "tip_force_max", "tip_force_max_N"))
    else:
        line = _outcome(bench, "Gap at the tip, least", "tip_gap_min", "tip_gap_min_mm")
        seated = f"as fitted {one(bench.stands.gap, 'length', units)}"
        lines.append(replace(line, note=f"{line.note}; {seated}" if line.note else seated))
    return Step("What to expect, as given (no scatter)", tuple(lines))


def _outcome(bench: Bench, words: str, name: str, key: str, when: bool = True) -> Line:
    outcome = bench.result.outcomes[name]
    if outcome.value is None:
        return Line(words, "unknown", plain(bench.said(outcome.reason), 120), key, None, outcome.unit)
    kind = {"N": "force", "mm": "length", "MPa": "pressure"}[outcome.unit]
    value = 0.0 if abs(outcome.value) < 1e-6 else outcome.value
    return Line(
        words,
        both(value, kind, bench.units),
        plain(bench.said(outcome.when), 80) if when else "",
        key,
        outcome.value,
        outcome.unit,
    )
