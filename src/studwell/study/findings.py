"""Plain-language findings, computed from the results: nothing is said that a number does not carry."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from studwell.strength.crack import ONCE
from studwell.strength.margins import Margin
from studwell.strength.outcomes import tip_gaps
from studwell.study.crack_findings import crack_findings
from studwell.study.finding import Finding, margin_words
from studwell.study.heat_findings import heat_findings
from studwell.study.heat_numbers import first_extreme
from studwell.study.insert import insert_findings
from studwell.study.lock import lock_findings
from studwell.study.pocket import pocket_findings
from studwell.study.remedies import advice
from studwell.study.repair import repair_findings
from studwell.study.results import Comparison, SetupResult
from studwell.study.seat_findings import seat_findings
from studwell.study.spring_findings import spring_findings
from studwell.study.thread_findings import thread_findings
from studwell.units import as_text, number_text

__all__ = ["Finding", "beside_the_verdict", "findings", "findings_in_both"]


def findings(comparison: Comparison, *, plan: bool = True) -> tuple[Finding, ...]:
    """Return what the comparison shows, in plain words with its numbers, in the case's units.

    plan : with the repair plan
    """
    units = comparison.case.units
    result: list[Finding] = []
    result += _governing(comparison)
    result += spring_findings(comparison)
    result += _bottoming(comparison, units)
    result += seat_findings(comparison)
    result += _heat_at_the_tip(comparison, units)
    result += _clamp_growth(comparison, units)
    result += _layers(comparison, units)
    result += heat_findings(comparison)
    result += _gap(comparison, units)
    result += _hold(comparison)
    result += lock_findings(comparison)
    result += pocket_findings(comparison)
    result += repair_findings(comparison) if plan else ()
    result += insert_findings(comparison)
    result += crack_findings(comparison)
    result += thread_findings(comparison)
    result += _near_ranks(comparison)
    result += _limits(comparison, units)
    for item in comparison.results:
        result += [Finding("caution", f"{item.name}: {text.rstrip('.')}.") for text in item.history.warnings]
    return tuple(result)


def findings_in_both(comparison: Comparison, *, plan: bool = True) -> tuple[Finding, ...]:
    """Return the findings in metric units with the same in inch units beside them, each from the unrounded values."""
    cases = (replace(comparison.case, units=system) for system in ("metric", "inch"))
    metric, inch = (findings(replace(comparison, case=case), plan=plan) for case in cases)
    return tuple(replace(one, inch=other.text) for one, other in zip(metric, inch, strict=True))


def _governing(comparison: Comparison) -> list[Finding]:
    result = []
    for item in comparison.results:
        mode = item.verdict.governing
        if mode is None:
            continue
        margin = item.verdict.margins[mode]
        unknown = [m.mode for m in item.verdict.margins.values() if m.unknown and m.kind == "damage"]
        verdict = (
            "fails" if item.verdict.safe is False else "no known mode fails" if item.verdict.safe is None else "safe"
        )
        at = "is unbounded" if margin.value == math.inf else f"governs at {margin_words(margin.value)} of its limit"
        text = f"{item.name}: {verdict}; {mode} {at} ({margin.when})."
        changes = advice(item.verdict.margins, item.setup).sentence(item.verdict.margins)
        text += f" {changes}" if changes else ""
        missed = [m for m in item.verdict.margins.values() if m.kind == "function" and m.fails]
        if missed:
            told = ", ".join(f"{m.mode} {margin_words(m.value)}" for m in missed)
            text += f" It does not work as meant: {told} (1 is the limit)."
        text += "".join(f" {said}" for said in beside_the_verdict(item, comparison.case.units))
        if item.verdict.doubt:
            text += f" Beyond the model: {item.verdict.doubt}; take its figures as sizes, no more."
        if unknown:
            text += f" Not known here: {'; '.join(unknown)}."
        result.append(Finding("governing", text))
    result += [Finding("governing", f"{f.name}: could not be solved: {f.reason}.") for f in comparison.failed]
    return result


def beside_the_verdict(item: SetupResult, units: str) -> tuple[str, ...]:
    """Return what belongs beside a setup's verdict though no margin is called so: a liquid's pressure, a floor that yields."""
    said = []
    pressure = item.outcomes.get("pocket_pressure_max")
    if item.history.liquid is not None and pressure is not None and pressure.value:
        said.append(
            f"The {item.setup.pocket.contents} shut in under its tip reaches {as_text(pressure.value, 'pressure', units, 3)} "
            f"({pressure.when})."
        )
    yields = _floor_yields(item)
    if yields is not None:
        said.append(f"Its floor yields ({number_text(yields, 3)} of the yield strength, elastic).")
    return tuple(said)


def _pairs(comparison: Comparison) -> list[tuple[SetupResult, SetupResult]]:
    """Bottomed and backed-off setups that are alike but for the seating, and are driven alike where both are driven.

    Dry ones first: a liquid that is shut in pushes by itself.
    """
    pairs = []
    for bottomed in comparison.results:
        seating = bottomed.setup.seating
        if seating.mode != "bottomed":
            continue
        for off in comparison.results:
            theirs = off.setup.seating
            as_ours = replace(
                theirs, mode=seating.mode, turns=seating.turns, counted_from=seating.counted_from, torque=seating.torque
            )
            alike = replace(off.setup, name=bottomed.setup.name, seating=as_ours) == bottomed.setup
            driven = theirs.torque is None or seating.torque is None or theirs.torque == seating.torque
            if theirs.mode == "backed off" and alike and driven:
                pairs.append((bottomed, off))
                break
    return sorted(pairs, key=lambda pair: pair[0].history.liquid is not None)


def _margin(item: SetupResult, mode: str) -> Margin:
    return item.verdict.margins[mode]


def _bottoming(comparison: Comparison, units: str) -> list[Finding]:
    result = []
    for bottomed, off in _pairs(comparison)[:1]:
        seat = bottomed.history.seat
        wedge = bottomed.value("tip_force_max" if seat.by_tip else "seat_force_max") or 0.0
        instead = "" if seat.by_tip else ", which carries the drive in place of the tip"
        load_b, load_o = bottomed.value("thread_load_max") or 0.0, off.value("thread_load_max") or 0.0
        stress_b, stress_o = bottomed.value("floor_stress_max"), off.value("floor_stress_max")
        stressed = ""
        if stress_b is not None and stress_o is not None:
            low, high = as_text(stress_o, "pressure", units, 3), as_text(stress_b, "pressure", units, 3)
            stressed = f", the averaged floor stress from {low} to {high}"
        hold_b, hold_o = _margin(bottomed, "hold").value, _margin(off, "hold").value
        result.append(
            Finding(
                "bottoming",
                f"Bottoming ({bottomed.name} against {off.name}) costs a wedge force of "
                f"{as_text(wedge, 'force', units, 3)} on the {seat.name.replace('tip on ', '')}{instead}; it takes "
                f"the boss thread's worst load from {as_text(load_o, 'force', units, 3)} to "
                f"{as_text(load_b, 'force', units, 3)}{stressed}; "
                f"{_crack_change(off, bottomed)}. What it gives: the stud is held against turning with "
                f"the nut at {margin_words(hold_b)} of what holds it, against {margin_words(hold_o)} when backed off.",
            )
        )
    return result


def _heat_at_the_tip(comparison: Comparison, units: str) -> list[Finding]:
    result = []
    for item in comparison.results:
        by_tip = item.history.seat.by_tip
        name, called = (
            ("tip_force", "tip force") if by_tip else ("seat_force", f"force on the {item.history.seat.name}")
        )
        assembled = item.value(f"{name}_assembled")
        if not assembled or assembled < 1.0:
            continue
        run = item.timeline.run
        tip = (item.timeline.forces.tip if by_tip else item.timeline.forces.seat)[run]
        low, high = first_extreme(tip, "min"), first_extreme(tip, "max")
        worst = item.outcomes[f"{name}_max"]
        result.append(
            Finding(
                "heat",
                f"{item.name}: heat moves the {called} between {as_text(float(tip[low]), 'force', units, 3)} "
                f"({item.timeline.when(int(run[low]))}) and {as_text(float(tip[high]), 'force', units, 3)} "
                f"({item.timeline.when(int(run[high]))}); the worst of all is {worst.when} with "
                f"{as_text(worst.value or 0.0, 'force', units, 3)}.",
            )
        )
        break
    return result


def _clamp_growth(comparison: Comparison, units: str) -> list[Finding]:
    for bottomed, off in _pairs(comparison)[:1]:
        rise_b = (bottomed.value("clamp_max") or 0.0) - (bottomed.value("clamp_assembled") or 0.0)
        rise_o = (off.value("clamp_max") or 0.0) - (off.value("clamp_assembled") or 0.0)
        return [
            Finding(
                "heat",
                f"The hot stack raises the clamp by {as_text(rise_b, 'force', units, 3)} with the stud bottomed and by "
                f"{as_text(rise_o, 'force', units, 3)} with it backed off: the back-off changes that by "
                f"{number_text(abs(rise_b - rise_o) / max(abs(rise_b), 1.0) * 100, 2)} %.",
            )
        ]
    return []


def _gap(comparison: Comparison, units: str) -> list[Finding]:
    for item in comparison.results:
        if item.setup.seating.mode != "backed off" or (item.value("tip_force_max") or 0.0) > 0.0:
            continue
        if (item.value("clamp_assembled") or 0.0) <= 1.0:
            continue
        gaps = tip_gaps(item.built, item.timeline)
        lift = float(gaps[0])
        needed = max(0.0, lift - float(gaps.min()))
        pitch = item.setup.stud.thread.pitch
        turns = item.setup.seating.turns
        when = item.timeline.when(int(np.argmin(gaps)))
        if needed < 2e-3:
            text = (
                "Smallest gap at which the tip never touches in this history: practically none beyond first contact (less "
                f"than {as_text(2e-3, 'length', units, 1)}), since the stud's pull opens the gap about as much as cold "
                f"closes it ({item.name})."
            )
        else:
            text = (
                f"Smallest gap at which the tip never touches in this history: {as_text(needed, 'length', units, 2)}, "
                f"{number_text(needed / pitch, 2)} turn or {number_text(360 * needed / pitch, 2)} deg ({when}; {item.name})."
            )
        text += (
            f" The case's {number_text(turns, 3)} turn is {as_text(turns * pitch, 'length', units, 3)}; a quarter turn, the "
            f"workshop rule's bound, is {as_text(0.25 * pitch, 'length', units, 3)}. Pitch error, chips and where zero was "
            "felt come on top and are not in this number."
        )
        seat = item.history.seat
        if not seat.by_tip:
            least = as_text(float(gaps[item.timeline.assembled :].min()), "length", units, 3)
            text += (
                f" This stud meets the {seat.name} first, {as_text(seat.clearance, 'length', units, 3)} before its tip would "
                f"land: the tip's gap of at least {least} is made of that, the turn, and how far the stud's pull lifts it."
            )
        return [Finding("gap", text)]
    return []


def _hold(comparison: Comparison) -> list[Finding]:
    loose = [
        (item.name, item.verdict.margins["hold"].value)
        for item in comparison.results
        if (item.verdict.margins["hold"].value or 0.0) >= 0.9
    ]
    if not loose:
        return []
    named = ", ".join(f"{name} {margin_words(value)}" for name, value in loose)
    return [
        Finding(
            "caution",
            f"The stud may turn with the nut where nothing but its own thread holds it (torque sent down over torque that "
            f"holds: {named}; at 1 it follows): a back-off is then turned away. Threadlocker, cured, adds a lock torque.",
        )
    ]


def _layers(comparison: Comparison, units: str) -> list[Finding]:
    """Layers of the stack that yielded, and what clamp is left."""
    result = []
    for item in comparison.results:
        worst = item.outcomes["layer_plastic_strain_max"]
        if not worst.value:
            continue
        built, end = item.value("clamp_assembled") or 0.0, item.value("clamp_end") or 0.0
        result.append(
            Finding(
                "heat",
                f"{item.name}: a layer of the stack yields for good, {number_text(100.0 * worst.value, 2)} % of strain "
                f"({worst.reason}; {worst.when}). Of {as_text(built, 'force', units, 3)} built in, "
                f"{as_text(end, 'force', units, 3)} are left at the end of the history.",
            )
        )
    return result


def _near_ranks(comparison: Comparison) -> list[Finding]:
    """Neighbours in the ranking that differ by less than the two thread models do."""
    close = []
    for better, worse in pairwise(comparison.results):
        first, second = better.verdict.worst_damage, worse.verdict.worst_damage
        band = better.band.get("clamp_max")
        if band is None or not band[0] > 0.0 or not math.isfinite(second):
            continue
        if abs(second - first) < (band[1] / band[0] - 1.0) * abs(first):
            close.append(f"{better.name} and {worse.name}")
    if not close:
        return []
    return [
        Finding(
            "caution",
            "Ranks that mean nothing: the governing margins differ by less than the two thread models do between "
            f"{'; '.join(close)}.",
        )
    ]


def _boss_yields(item: SetupResult) -> bool:
    """Whether the setup lets the boss yield."""
    return item.setup.inelastic is not None and item.setup.inelastic.zone is not None


def _floor_yields(item: SetupResult) -> float | None:
    """Averaged floor stress over the boss's yield strength if that is above 1, else None."""
    stress, material = item.value("floor_stress_max"), item.setup.boss.material
    if stress is None or material.yield_strength is None or _boss_yields(item):
        return None
    share = stress / float(material.yield_strength.at(20.0))
    return share if share > 1.0 else None


def _crack_change(before: SetupResult, after: SetupResult) -> str:
    """The static crack margin of two setups; where one is not known as a whole, what the views that are known say."""
    values = [_margin(item, ONCE).value for item in (before, after)]
    if None not in values:
        return f"static crack margin {margin_words(values[0])} to {margin_words(values[1])}"
    told = []
    for item, value in zip((before, after), values, strict=True):
        views = [f"{margin_words(s.value)} by {s.view}" for s in item.verdict.cracks.once if s.value is not None]
        seen = f" (known views: {', '.join(views)})" if views else ""
        told.append(f"{margin_words(value)} for {item.name}{seen if value is None else ''}")
    return f"static crack margin {' and '.join(told)}"


def _limits(comparison: Comparison, units: str) -> list[Finding]:
    result = []
    for item in comparison.results:
        stress = item.value("floor_stress_max")
        material = item.setup.boss.material
        if stress is None or material.yield_strength is None or _boss_yields(item):
            continue
        strength = float(material.yield_strength.at(20.0))
        if stress > strength:
            result.append(
                Finding(
                    "caution",
                    f"{item.name}: the averaged floor stress {as_text(stress, 'pressure', units, 3)} exceeds the yield "
                    f"strength {as_text(strength, 'pressure', units, 3)} of {material.name}: the floor yields there, which "
                    "this elastic model does not follow. At the corner the real stress is lower and the strain higher; under "
                    "the middle of the floor the tension is higher, as the bending moves there (floor split). "
                    '[inelastic] zone = "boss" follows it.',
                )
            )
            break
    return result
