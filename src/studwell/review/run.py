"""The whole review of a case: what is solved, in which order, and what is kept if it is stopped."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from studwell.case.records import Case, Pocket, Setup
from studwell.errors import StudwellError, reason_of
from studwell.review.angle import angle_band
from studwell.review.around import WALL
from studwell.review.beside import SEAT_MODES
from studwell.review.codes import Flips
from studwell.review.inputs import check_rule, review_inputs, seating_torque
from studwell.review.measurements import Measurement, measurements
from studwell.review.mechanisms import Apart, governing_quantity, mechanisms_apart, stated_of, telling_steps
from studwell.review.need import Need, needed
from studwell.review.seat_words import SEEN
from studwell.review.sweep import (
    FLOOR_SHARES,
    TORQUE_SHARES,
    Row,
    families,
    other_models,
    rows_of_family,
    with_model,
    with_other_boss,
)
from studwell.review.thresholds import thresholds
from studwell.review.told import Told
from studwell.review.trials import Drive, Trial, Trials
from studwell.review.verdict import ReviewVerdict, verdict_of
from studwell.review.views import View, unknown_view, view_of, views_of
from studwell.study.finding import margin_words
from studwell.units import as_text

Progress = Callable[[str, int, int], None]
"""Called with the part of the review, steps done, steps in all."""

FLIPS = 5


@dataclass(frozen=True, kw_only=True)
class Review(Told):
    """The review of a case's rule: what was found, the verdict that is told of it, and how much was solved."""

    refinement: float
    measurements: tuple[Measurement, ...]
    verdict: ReviewVerdict
    notes: tuple[str, ...]
    histories: int
    seconds: float


def review(case: Case, *, refinement: float = 1.0, progress: Progress | None = None) -> Review:
    """Review the back-off rule in a case.

    raises BadCase      : no setup states a seating torque, or the rule is not within its range
    raises StudwellError: the first setup, driven or turned back, cannot be solved
    """
    start = time.perf_counter()
    trials = Trials(refinement)
    setup = replace(trials.plain(case.setups[0]), pocket=Pocket("empty"))
    inputs = review_inputs(case.setups[0])
    check_rule(case, inputs)
    rule, torque = inputs["rule"].value, seating_torque(case)
    own = case.setups[0].review
    torques = sorted({torque, *((own.seating_torques if own else None) or [torque * s for s in TORQUE_SHARES])})
    thickness = setup.boss.floor_thickness
    floors = sorted((own.floors if own else None) or [thickness * s for s in FLOOR_SHARES])
    drive = trials.drive(setup, torque)
    driven = trials.live(setup, drive, 0.0, steps=None)
    back = trials.live(setup, drive, rule, steps=None)

    wanted = families(case, setup, trials, torque, rule, torques, floors)
    need: Need | None = None
    apart: list[Apart] = []
    stated, teeth = 0, None
    views: tuple[View, ...] = (view_of(f"elastic, {setup.stud.thread_model} thread", driven, back),)
    other: View | None = None
    flips: tuple[Flips, ...] = ()
    rows: list[Row] = []
    notes: list[str] = []
    liquid, own_pocket, own_pair, angle = case.setups[0].pocket, None, None, None
    stopped = False

    def told(part: str, whole: int) -> Callable[[], None]:
        done = 0

        def step() -> None:
            nonlocal done
            done += 1
            if progress is not None:
                progress(part, min(done, whole), whole)

        return step

    try:
        if liquid.filled:
            own_pocket, own_pair = _with_liquid(trials, setup, liquid, drive, rule, case.units)
        try:
            need, _ = needed(trials, setup, drive, inputs)
        except StudwellError as problem:
            notes.append(f"the smallest back-off is not known: {problem.line}")
        angle = angle_band(trials, setup, torque, inputs)
        told("smallest back-off", 1)()
        steps, flaw = telling_steps(driven), inputs["flaw"].value
        step = told("mechanisms", len(steps) + 1)
        for index in steps:
            apart.append(mechanisms_apart(trials, setup, drive, driven, index, flaw, rule))
            step()
        stated = stated_of(apart, governing_quantity(driven))
        teeth = _with_teeth(trials, setup, torque, steps[stated], flaw, rule, notes)
        step()
        views = views_of(
            trials, setup, drive, driven, back, inputs, told("views", 5 + len(other_models(setup))), case.units
        )
        other = _other_boss(trials, setup, torque, rule)
        flips = thresholds(trials, setup, drive, rule, inputs, told("thresholds", FLIPS), liquid)
        step = told("sweep", len(wanted))
        for family in wanted:
            rows += rows_of_family(trials, family, rule, 0.0 if need is None else need.heat)
            step()
    except KeyboardInterrupt:
        stopped = True
        notes.append("stopped before all of it was solved")
    found = Told(
        case=case, setup=setup, inputs=inputs, drive=drive, driven=driven, back=back, need=need,
        apart=tuple(apart), stated=stated, teeth=teeth, views=views, other=other, flips=flips, rows=tuple(rows),
        liquid=liquid, own_pocket=own_pocket, own_pair=own_pair, stopped=stopped,
    )  # fmt: skip
    verdict = verdict_of(found)
    return Review(
        **vars(found),
        refinement=refinement,
        measurements=measurements(verdict.code, inputs, drive, driven, back, need, angle),
        verdict=verdict,
        notes=tuple(notes),
        histories=trials.count,
        seconds=time.perf_counter() - start,
    )


def _other_boss(trials: Trials, setup: Setup, torque: float, rule: float) -> View:
    changed = with_other_boss(setup)
    name = f"boss of {changed.boss.material.name}"
    try:
        drive = trials.drive(changed, torque)
        return view_of(name, trials.live(changed, drive, 0.0), trials.live(changed, drive, rule), own=False)
    except (StudwellError, ValueError) as problem:
        return unknown_view(name, problem, own=False)


def _with_liquid(
    trials: Trials, setup: Setup, liquid: Pocket, drive: Drive, rule: float, units: str
) -> tuple[View, tuple[Trial, Trial] | None]:
    """The pair with the case's own liquid under the tip, driven and turned back as far as the dry stud; setup: dry."""
    name, wet = f"own pocket: {liquid.contents}", replace(setup, pocket=liquid)
    try:
        driven, back = trials.live(wet, drive, 0.0), trials.live(wet, drive, rule)
        pressures = " and ".join(as_text(each.pressure, "pressure", units, 3) for each in (driven, back))
        note = f"the liquid reaches {pressures}"
        for mode in (WALL, *SEAT_MODES):
            before, after = ({**each.margins, **each.beside}[mode] for each in (driven, back))
            if before is None or after is None or max(before, after) >= SEEN:
                note += f"; {mode} {margin_words(before)} driven, {margin_words(after)} turned back"
        return view_of(name, driven, back, note, own=False), (driven, back)
    except (StudwellError, ValueError) as problem:
        return unknown_view(name, problem, own=False), None


def _with_teeth(
    trials: Trials, setup: Setup, torque: float, step: int, flaw: float, rule: float, notes: list[str]
) -> Apart | None:
    """The mechanisms at one step of the driven run with meshed teeth, None with a note where that has no solution."""
    if setup.stud.thread_model == "grooves":
        return None
    changed = with_model(setup, "grooves")
    try:
        drive = trials.drive(changed, torque)
        driven = trials.live(changed, drive, 0.0, steps=None)
        return mechanisms_apart(trials, changed, drive, driven, step, flaw, rule)
    except (StudwellError, ValueError) as problem:
        notes.append(f"the mechanisms are not known with meshed teeth: {reason_of(problem)}")
        return None
