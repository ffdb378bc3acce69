"""The card's record of a solved setup: headline, drawings, steps, cautions."""

from __future__ import annotations

import math
from dataclasses import replace

from studwell.card.fit import type_size
from studwell.card.hole_steps import Bench, bench_of, clean_step, hole_step
from studwell.card.joint_steps import expected_step, heat_step, nut_step, stud_step, tighten_step
from studwell.card.pictures import clock, order, pile
from studwell.card.record import Card, Headline, Step
from studwell.card.section_drawing import section_drawing
from studwell.card.words import PRACTICE_NOTE, plain
from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case
from studwell.show.page_content import CAUTIONS
from studwell.show.table import margin_text, verdict_word
from studwell.store.summary import libraries
from studwell.strength.margins import Margin
from studwell.study.findings import REMEDIES
from studwell.study.repair import pitches_text
from studwell.study.results import SetupResult

BANNERS = {"safe": "SAFE IN THIS MODEL", "fails": "DO NOT BUILD", "unknown": "NOT PROVEN SAFE"}
"""The verdict in words for the bench."""

FIRST_PLACE = (
    "The maker's data, local codes and licensed practice come before everything on this card. It is computed from one model "
    "of the joint and what its case states; it approves nothing."
)

LONGEST_REASON = 175
"""Letters of a reason on the card; the report has all of it."""


def card_of(case: Case, result: SetupResult, refinement: float) -> Card:
    """Return the card of one solved setup of a case. refinement: mesh density that it was solved with."""
    units = case.units
    bench = bench_of(result, units)
    digest = inputs_sha256(case)
    versions = libraries()
    said = headline(result)
    said = replace(said, sentences=(*said.sentences, *_empty_nut(bench)))
    again = (f"{said.banner}: this setup fails, see the top.",) if said.word == "fails" else ()
    card = Card(
        case=plain(case.title, 110),
        setup=plain(result.name, 110),
        setup_name=result.name,
        units=units,
        headline=said,
        section=section_drawing(result.built, units, lift_of(result)),
        pictures=(clock(result.setup), pile(result.setup, units), order(result.setup)),
        steps=(
            hole_step(bench),
            clean_step(bench),
            stud_step(bench),
            nut_step(bench),
            _stopped(tighten_step(bench)) if said.word == "fails" else tighten_step(bench),
            heat_step(bench),
        ),
        expected=expected_step(bench),
        cautions=CAUTIONS,
        first_place=FIRST_PLACE,
        footer=(
            *again,
            f"{PRACTICE_NOTE}. Values from memory and their sources: studwell stock. Mesh density {refinement:g}, no model "
            f"band. studwell {versions['studwell']}, inputs {digest[:16]} (SHA-256, first 16).",
        ),
        inputs_sha256=digest,
        refinement=refinement,
        versions=tuple(versions.items()),
    )
    return replace(card, type_size=type_size(card))


def _stopped(step: Step) -> Step:
    """The step of the torque with its orders struck out; whether the stud turns is no order."""
    lines = tuple(line if line.key == "hold" else replace(line, struck=True) for line in step.lines)
    return Step(f"{step.title}: DO NOT TIGHTEN, see the top", lines)


def _empty_nut(bench: Bench) -> tuple[str, ...]:
    """What is said on top where the stud does not fill the nut."""
    line = bench.plan.get("protruding_pitches")
    out = None if line is None else line.value
    if not isinstance(out, float) or out >= 0.0:
        return ()
    inside = f"the stud ends {pitches_text(-out)} inside the nut, whose last threads are empty"
    return (f"WARNING: {inside}: take a longer stud or fewer washers.",)


def lift_of(result: SetupResult) -> float:
    """Return by how much the stud stands off its seat, mm: its turns back, less the drive's approach and twist."""
    if result.setup.seating.mode == "bottomed":
        return 0.0
    return max(-result.history.seating.travel, 0.0)


def headline(result: SetupResult) -> Headline:
    """Return the verdict in words, with the mode that governs, what fails, what is unknown and why."""
    verdict = result.verdict
    word = verdict_word(result)
    governing = None if verdict.governing is None else verdict.margins[verdict.governing]
    sentences = []
    damage = [m for m in verdict.margins.values() if m.kind == "damage"]
    if word == "fails":
        failing = sorted((m for m in damage if m.fails), key=lambda m: -(m.value or 0.0))
        sentences.append("It fails: " + "; ".join(_told(m) for m in failing) + ".")
        first = failing[0].mode
        remedy = REMEDIES.get(first)
        if remedy is not None:
            if result.setup.seating.mode == "backed off":
                remedy = remedy.replace("back the stud off its seat, ", "")
            sentences.append(f"Against {first}: {remedy}.")
    elif governing is None:
        sentences.append("No damage limit of this setup is known.")
    elif word == "safe":
        sentences.append(f"No damage limit is reached. Nearest: {_told(governing)}; below 1 is still no permission.")
    else:
        sentences.append(f"No known damage limit is reached, nearest {_told(governing)}, but some are not known:")
    missed = [m for m in verdict.margins.values() if m.kind == "function" and m.fails]
    for margin in damage:
        if margin.unknown:
            sentences.append(f"Unknown, {margin.mode}: {short_reason(margin.reason)}.")
    if missed:
        sentences.append("It does not work as meant: " + "; ".join(_told(m) for m in missed) + ".")
    sentences += [f"Mind: {plain(text.rstrip('.'), LONGEST_REASON)}." for text in result.history.warnings]
    value = None if governing is None or governing.value is None else governing.value
    return Headline(word, BANNERS[word], tuple(sentences), verdict.governing, value)


def _told(margin: Margin) -> str:
    when = f" ({margin.when})" if margin.when else ""
    if margin.value is not None and math.isinf(margin.value):
        return f"{margin.mode} unbounded{when}"
    return f"{margin.mode} at {margin_text(margin)} of its limit{when}"


def short_reason(reason: str) -> str:
    """Return the first part of a reason, cut where it is long."""
    return plain(reason.partition("; ")[0].rstrip("."), LONGEST_REASON)
