"""The card's record of a solved setup: headline, drawings, steps, cautions."""

from __future__ import annotations

import math
from dataclasses import replace

from studwell.card.drilling import faults, reaches
from studwell.card.hole_steps import Bench, bench_of, clean_step, hole_step, pressure_text
from studwell.card.joint_steps import expected_step, heat_step, nut_step, stud_step, tighten_step
from studwell.card.letters import notice
from studwell.card.one_page import on_one_page
from studwell.card.paper import paper_for
from studwell.card.pictures import clock, crossed, order, pile
from studwell.card.record import Card, Headline, Step
from studwell.card.section_drawing import section_drawing
from studwell.card.words import PRACTICE_NOTE, plain
from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case
from studwell.show.page_content import CAUTIONS
from studwell.show.table import margin_text, verdict_word
from studwell.store.summary import libraries
from studwell.strength.margins import Margin
from studwell.study.remedies import advice
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


NOT_MEANT = ", DOES NOT WORK"
"""Added to the verdict where no damage limit is reached and a limit of function is."""

STOPS = ("DO NOT DRILL", "NO THREADLOCKER", "DO NOT DRIVE OR TURN", "DO NOT FIT", "DO NOT TIGHTEN", "DO NOT RUN IT")
"""What the steps' headings say on a card that is not to be built, in their order, where one of their lines is an order."""


def card_of(case: Case, result: SetupResult, refinement: float, paper: str | None = None) -> Card:
    """Return the card of one solved setup of a case.

    refinement : mesh density that it was solved with;  paper : "a4" or "letter", None for what goes with the case's units
    raises StudwellError : no such paper
    """
    sheet = paper_for(case.units, paper)
    units = case.units
    bench = bench_of(case, result)
    stands = bench.stands
    digest = inputs_sha256(case)
    versions = libraries()
    said = headline(result)
    told = (*_wet(bench), *(bench.said(text) for text in said.sentences), *_empty_nut(bench))
    said = replace(said, banner=_wet_banner(said, bench), sentences=told)
    said = _with_faults(said, faults(result.setup, result.verdict.margins["floor breakthrough"], units))
    stop = said.word == "fails"
    again = (f"{said.banner}: this setup fails, see the top.",) if stop else ()
    steps = (hole_step, clean_step, stud_step, nut_step, tighten_step, heat_step)
    made = tuple(step(bench) for step in steps)
    pictures = clock(result.setup), pile(result.setup, units), order(result.setup)
    card = Card(
        case=plain(case.title, 110),
        setup=plain(result.name, 110),
        case_title=case.title,
        setup_name=result.name,
        units=units,
        headline=said,
        section=section_drawing(result.built, units, stands),
        pictures=tuple(crossed(each) for each in pictures) if stop else pictures,
        steps=tuple(stopped(each, words) for each, words in zip(made, STOPS, strict=True)) if stop else made,
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
        taps=reaches(result.setup),
        paper=sheet.name,
    )
    said = replace(said, sentences=(*said.sentences, *notice(card.texts)))
    return on_one_page(
        replace(card, headline=said), lambda height: section_drawing(result.built, units, stands, height)
    )


def stopped(step: Step, words: str) -> Step:
    """Return a step with its orders struck out, which its heading says; what is no order stays as it is.

    How an order is followed is left out: it would read as an order, and a prohibition in it, struck out, as leave.
    """
    lines = tuple(replace(line, struck=True, note="") if line.order else line for line in step.lines)
    if not any(line.struck for line in lines):
        return step
    return Step(f"{step.title}: {words}, see the top", lines)


def _wet_banner(said: Headline, bench: Bench) -> str:
    """The banner, in which a hole that is not dry is named; what must not be built needs no more."""
    if said.word == "fails" or bench.setup.pocket.fluid is None:
        return said.banner
    verdict, missed, _ = said.banner.partition(NOT_MEANT)
    return f"{verdict}, WET HOLE{missed}"


def _wet(bench: Bench) -> tuple[str, ...]:
    """What is said on top of a setup with a liquid in its hole."""
    pocket = bench.setup.pocket
    if pocket.fluid is None:
        return ()
    name = plain(pocket.contents, 40)
    if not bench.shut_in:
        return (f"WET HOLE: this setup has {name} in the hole, vented: dry the hole all the same.",)
    return (
        f"WET HOLE: this setup shuts {name} in under the stud, worst pressure {pressure_text(bench)}. Do not drive or turn a "
        "stud into it: dry the hole and take the card of the dry setup.",
    )


def _with_faults(said: Headline, found: tuple[tuple[str, str], ...]) -> Headline:
    """The headline with what the card's own hole step would spoil, which fails it whatever the model says."""
    if not found:
        return said
    banner = said.banner if said.word == "fails" else found[0][0]
    return replace(said, word="fails", banner=banner, sentences=(*(text for _, text in found), *said.sentences))


def _empty_nut(bench: Bench) -> tuple[str, ...]:
    """What is said on top where the stud does not fill the nut."""
    line = bench.plan.get("protruding_pitches")
    out = None if line is None else line.value
    if not isinstance(out, float) or out >= 0.0:
        return ()
    inside = f"the stud ends {pitches_text(-out)} inside the nut, whose last threads are empty"
    return (f"WARNING: {inside}: take a longer stud or fewer washers.",)


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
        changes = advice(verdict.margins, result.setup).sentence(verdict.margins)
        sentences += [changes] if changes else []
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
    banner = BANNERS[word] + (NOT_MEANT if missed and word != "fails" else "")
    return Headline(word, banner, tuple(sentences), verdict.governing, value)


def _told(margin: Margin) -> str:
    when = f" ({margin.when})" if margin.when else ""
    if margin.value is not None and math.isinf(margin.value):
        return f"{margin.mode} unbounded{when}"
    return f"{margin.mode} at {margin_text(margin)} of its limit{when}"


def short_reason(reason: str) -> str:
    """Return the first part of a reason, cut where it is long."""
    return plain(reason.partition("; ")[0].rstrip("."), LONGEST_REASON)
