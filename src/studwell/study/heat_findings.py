"""Findings on solved heat, settling and re-tightening: nothing is said whose numbers are missing."""

from __future__ import annotations

from dataclasses import replace

from studwell.study.finding import Finding
from studwell.study.heat_numbers import (
    Moment,
    alike_but,
    extreme_differences,
    first_extreme,
    largest_difference,
    least_clamp_after,
    moment_at,
    retightening,
    spring_set_loss,
    tip_range,
    worst_phases,
    worth_of_difference,
)
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text

LEAST_FORCE = 1.0
"""N; smaller forces are called none."""

LEAST_ERROR = 0.01
"""N; a smaller estimated error is not worth a sentence."""

LEAST_STRETCH = 1e-9
"""mm; a smaller stretch of the stud is called none."""

SAME_CLAMP = 5e-5
"""Share of the clamp by which two cycles may differ and still be called the same: nobody could measure it."""

NOTHING_GAINED = 0.005
"""Share of the clamp below which re-tightening is said to gain next to nothing."""


def heat_findings(comparison: Comparison) -> list[Finding]:
    """Return what solved heat, settling and re-tightening show, in the case's units."""
    units = comparison.case.units
    result = [_moments(item, units) for item in comparison.results if item.heat is not None]
    result += _differences(comparison, units)
    for item in comparison.results:
        if item.cycles is not None:
            result += [_many(item, units), *_zones(item)]
    insulated = [r.name for r in comparison.results if r.setup.springs and r.heat and not _conducts(r)]
    if insulated:
        text = (
            f"No heat passes through the springs of {', '.join(insulated)}: [thermal] spring_conductance is not given, so "
            "that nut and stud are taken as cut off from the stack but for the gap round the stud."
        )
        result.append(Finding("caution", text))
    for item in comparison.results:
        result += _settled(comparison, item, units)
        result += _springs_set(item, units)
        result += _retightened(comparison, item, units)
    return result


def _many(item: SetupResult, units: str) -> Finding:
    """What many cycles leave of the clamp, and whether anything still moves."""
    assert item.cycles is not None
    given = item.cycles.as_given
    first, last = given.marks[0], given.marks[-1]
    lost = 1.0 - last.clamp_min / first.clamp_min if first.clamp_min > LEAST_FORCE else 0.0
    ways = {"elastic": "nothing moves from cycle to cycle", "settles": "it settles"}
    movers = [name for name, zone in given.zones.items() if zone.verdict == given.verdict]
    if last.stretch > LEAST_STRETCH and (not movers or given.verdict == "ratchets"):
        movers.insert(0, "stud")
    who = " and ".join(f"the {name}" for name in movers)
    ways["shakes down"] = f"{who} yielded at first and then {'rests' if len(movers) == 1 else 'rest'}"
    ways["cycles plastically"] = f"{who} {'yields' if len(movers) == 1 else 'yield'} to and fro in every cycle"
    ways["ratchets"] = f"{who} {'deforms' if len(movers) == 1 else 'deform'} on in every cycle"
    change = f"{_percent(abs(lost))} {'less' if lost > 0.0 else 'more'} than" if abs(lost) > SAME_CLAMP else "as"
    repeats = ""
    if item.heat is not None and item.heat.cycles < last.cycle:
        repeats = f" (heat solved in {item.heat.cycles} until it repeated, the last of them taken again from then on)"
    text = (
        f"{item.name}: after {last.cycle} cycles{repeats} the least clamp is {_force(last.clamp_min, units)}, "
        f"{change} in the first; "
        f"{ways[given.verdict]}."
    )
    if given.stopped:
        text += f" The cycles stop after {given.reached}: {given.stopped}."
    if given.error > LEAST_ERROR:
        text += f" Jumping over cycles adds an estimated {_force(given.error, units)} of error."
    return Finding("cycles", text)


def _conducts(item: SetupResult) -> bool:
    """Whether heat passes through the springs."""
    return item.setup.thermal is not None and item.setup.thermal.spring_conductance is not None


def _zones(item: SetupResult) -> list[Finding]:
    """What repeated heat does to each body that may yield, where that is more than nothing."""
    assert item.cycles is not None
    result = []
    for name, zone in item.cycles.as_given.zones.items():
        if zone.verdict == "elastic" or not zone.increments:
            continue
        crept = ""
        if zone.creep > 0.0:
            last_crept = number_text(zone.creep_increment, 2)
            crept = f" Creep has reached {number_text(zone.creep, 2)}, {last_crept} of it in the last cycle."
        if zone.verdict == "settles":
            result.append(Finding("zone", f"{item.name}: the {name} creeps without yielding.{crept}"))
            continue
        strain, last = number_text(zone.strain, 2), number_text(zone.increments[-1], 2)
        text = f"{item.name}: the {name} has yielded, by a plastic strain of {strain} at most; "
        if zone.verdict == "shakes down":
            text += "it shakes down: " + (
                "the last cycle solved adds nothing."
                if zone.increments[-1] == 0.0
                else f"what a cycle adds dies out, {last} in the last one solved."
            )
        elif zone.verdict == "cycles plastically":
            text += (
                f"{last} more comes in every cycle, as much back as forth: it fatigues, and no margin here counts that."
            )
        else:
            text += f"{last} more comes in every cycle and stays: it ratchets, and no clamp is safe for long."
        result.append(Finding("zone", text + crept))
    return result


def _springs_set(item: SetupResult, units: str) -> list[Finding]:
    """What the setting of springs costs; that it is not known where all else settles."""
    setup = item.setup
    if setup.settling is None or not setup.springs:
        return []
    if setup.settling.spring_set is None:
        text = (
            f"{item.name}: how far its springs set in the first heat is unknown: [settling] spring_set is not given, and "
            "the clamp told here holds none of it."
        )
        return [Finding("settling", text)]
    loss = spring_set_loss(item)
    if loss is None:
        return []
    text = (
        f"{item.name}: its springs set by {as_text(loss.height, 'length', units, 2)} in the first heat, which costs "
        f"{_force(loss.lost, units)} ({_percent(loss.lost / loss.before if loss.before > 0.0 else 0.0)}) of the clamp at the "
        f"end ({loss.moment})."
    )
    return [Finding("settling", text)]


def _moments(item: SetupResult, units: str) -> Finding:
    """When the worst of a solved heat comes, by phase and cycle."""
    assert item.heat is not None
    cycles = item.heat.cycles
    moments = worst_phases(item)
    text = (
        f"{item.name}: the clamp is largest in {_in(moments['clamp_max'], cycles)} with "
        f"{_force(item.value('clamp_max'), units)} and least in {_in(moments['clamp_min'], cycles)} with "
        f"{_force(item.value('clamp_min'), units)}."
    )
    run = item.timeline.run
    tip = item.timeline.forces.tip[run]
    if tip.max() > LEAST_FORCE:
        step = first_extreme(tip, "max")
        at = moment_at(item, int(run[step]))
        text += (
            f" From the assembled joint on, the tip presses hardest in {_in(at, cycles)} with "
            f"{_force(float(tip[step]), units)}."
        )
    if moments["governing"] is not None:
        text += f" What governs ({item.verdict.governing}) is worst in {_in(moments['governing'], cycles)}."
    return Finding("phase", text)


def _in(moment: Moment | None, cycles: int) -> str:
    if moment is None:
        return "no known moment"
    if moment.cycle is None:
        return f"{moment.phase} (before any heat)"
    name = moment.phase if cycles == 1 else f"{moment.phase} of cycle {moment.cycle}"
    return f"{name} (at its end)" if moment.ends else f"{name} ({as_text(moment.into, 'time', digits=2)} into it)"


def _differences(comparison: Comparison, units: str) -> list[Finding]:
    """How far stud tip and boss differ, of the best setup of each seating; what that is worth at the tip."""
    result = []
    seen: set[str] = set()
    for item in comparison.results:
        if item.heat is None or item.setup.seating.mode in seen:
            continue
        seen.add(item.setup.seating.mode)
        above, below = extreme_differences(item)
        cycles = item.heat.cycles
        text = (
            f"{item.name}: solved, the stud's tip is at most {_kelvin(max(above.value, 0.0))} hotter than the mean of the "
            f"boss ({above.moment.text(cycles)}) and at most {_kelvin(max(-below.value, 0.0))} colder "
            f"({below.moment.text(cycles)})."
        )
        larger = largest_difference(item)
        worth = worth_of_difference(item, larger.step)
        gap, force = tip_range(item)
        if worth.force is not None:
            verb = "adds" if worth.force > 0.0 else "takes"
            text += (
                f" The larger of the two {verb} {_force(abs(worth.force), units)} at the tip; heat as a whole moves the tip "
                f"force by {_force(force, units)}."
            )
        else:
            verb = "closes" if worth.growth > 0.0 else "opens"
            text += (
                f" The larger of the two {verb} the tip's gap by {as_text(abs(worth.growth), 'length', units, 2)}; heat as "
                f"a whole moves the gap by {as_text(gap, 'length', units, 2)}."
            )
        result.append(Finding("difference", text))
    return result


def _settled(comparison: Comparison, item: SetupResult, units: str) -> list[Finding]:
    """What settling costs: against the setup that is alike but unsettled, else against the setup's own assembled clamp."""
    if item.setup.settling is None:
        return []
    assembled, end = item.value("clamp_assembled"), item.value("clamp_end")
    if not assembled or end is None:
        return []
    again = retightening(item)
    despite = "" if again is None else ", re-tightened"
    alike = alike_but(
        comparison,
        item,
        lambda setup: replace(setup, settling=None, retighten=None),
        lambda setup: setup.settling is None and setup.retighten is None,
    )
    other = None if alike is None else alike.value("clamp_end")
    if alike is not None and other:
        lost = other - end
        word = "less" if lost >= 0.0 else "more"
        text = (
            f"{item.name}: settled{despite}, the clamp ends at {_force(end, units)}, {_force(abs(lost), units)} "
            f"({_percent(abs(lost) / other)}) {word} than {alike.name}, which is alike but does not settle."
        )
    else:
        lost = assembled - end
        word = "less" if lost >= 0.0 else "more"
        text = (
            f"{item.name}: settled{despite}, the clamp ends at {_force(end, units)}, {_force(abs(lost), units)} "
            f"({_percent(abs(lost) / assembled)}) {word} than when assembled; the temperature at the end is part of that."
        )
    if again is not None and again.before is not None:
        taken = assembled - again.before
        text += (
            f" At the assembly temperature settling had taken {_force(taken, units)} ({_percent(taken / assembled)}) of the "
            f"clamp before the nut was tightened again ({again.moment})."
        )
    return [Finding("settling", text)]


def _retightened(comparison: Comparison, item: SetupResult, units: str) -> list[Finding]:
    """Whether re-tightening pays: against the setup that is alike but without, else against the joint before it."""
    again, step = retightening(item), item.history.retightened_after
    if again is None or step is None or step >= len(item.history.run) - 1:
        return []
    alike = alike_but(
        comparison,
        item,
        lambda setup: replace(setup, retighten=None),
        lambda setup: setup.retighten is None,
    )
    if alike is not None:
        own, other = least_clamp_after(item, step), least_clamp_after(alike, step)
        text = (
            f"{item.name}: {_pays(own, other)}: the least clamp afterwards is {_force(own, units)} against "
            f"{_force(other, units)} of {alike.name}, which is alike but not re-tightened."
        )
    elif item.cycles is not None and item.cycles.untouched is not None:
        given, untouched = item.cycles.as_given.marks[-1], item.cycles.untouched.marks[-1]
        text = (
            f"{item.name}: {_pays(given.clamp_min, untouched.clamp_min)}: in cycle {given.cycle} the least clamp is "
            f"{_force(given.clamp_min, units)}, against {_force(untouched.clamp_min, units)} had the nut not been touched."
        )
    elif again.before is not None:
        text = (
            f"{item.name}: {_pays(again.after, again.before)}: at the assembly temperature it lifts the clamp from "
            f"{_force(again.before, units)} to {_force(again.after, units)}."
        )
    else:
        return []
    return [Finding("re-tightening", text)]


def _pays(with_it: float, without: float) -> str:
    gain = with_it - without
    if without <= 0.0:
        return "re-tightening gives a clamp back that was lost" if gain > 0.0 else "re-tightening gains nothing"
    if gain < NOTHING_GAINED * without:
        return "re-tightening gains next to nothing"
    return f"re-tightening pays, {_percent(gain / without)} more clamp"


def _force(value: float | None, units: str) -> str:
    return "unknown" if value is None else as_text(value, "force", units, 3)


def _kelvin(value: float) -> str:
    return as_text(value, "temperature_difference", digits=2)


def _percent(share: float) -> str:
    return f"{number_text(100.0 * share, 2)} %"
