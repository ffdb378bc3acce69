"""The same pair of histories, driven and turned back, by several views: thread models, yielding, a crack, friction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Inelastic, Setup
from studwell.crack.curves import crack_curve
from studwell.crack.lines import crack_lines
from studwell.errors import StudwellError, Unknown
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.review.codes import UNKNOWN, code_of
from studwell.review.inputs import Inputs
from studwell.review.sweep import with_model
from studwell.review.trials import Drive, Trial, Trials

ZONE = 2.0
"""mm round the floor's corner that may yield where the case does not say."""


@dataclass(frozen=True)
class View:
    """One view: largest boss margin as driven and turned back by the rule with its mode, and the word; None with the reason.

    own    : True if it is of the case's own boss and floor, so that it counts to the confidence
    wedge  : N left by the drive, as seated;  note: what else it tells
    kept   : N of tip and seat force at the end of the driven stud's history, elastic and yielding; None elsewhere
    """

    name: str
    driven: float | None
    turned_back: float | None
    mode: str
    code: str
    wedge: float | None = None
    note: str = ""
    own: bool = True
    kept: tuple[float, float] | None = None


def views_of(
    trials: Trials, setup: Setup, drive: Drive, driven: Trial, back: Trial, inputs: Inputs, told: Callable[[], None]
) -> tuple[View, ...]:
    """Return all views of a plain setup; driven, back: its trials in the case's own thread model. told: after each."""
    found = [view_of(f"elastic, {setup.stud.thread_model} thread", driven, back)]

    def add(name: str, make: Callable[[], View]) -> None:
        try:
            found.append(make())
        except (StudwellError, ValueError) as problem:
            reason = problem.line if isinstance(problem, StudwellError) else str(problem)
            found.append(View(name, None, None, "", UNKNOWN, note=reason))
        told()

    other = "bonded" if setup.stud.thread_model != "bonded" else "layer"
    add(
        f"elastic, {other} thread",
        lambda: _pair(trials, f"elastic, {other} thread", with_model(setup, other), drive, back),
    )
    add("floor that yields", lambda: _yielding(trials, setup, drive, driven, back))
    add("crack at the floor's corner", lambda: _cracked(driven, back, inputs["flaw"].value))
    scatter = inputs["friction_scatter"].value
    for word, shift in (("smoother", -scatter), ("rougher", scatter)):
        name = f"{word} drive"
        add(name, lambda name=name, shift=shift: _rubbing(trials, name, setup, drive, back, shift))  # type: ignore[misc]
    return tuple(found)


def view_of(name: str, driven: Trial, back: Trial, note: str = "", own: bool = True) -> View:
    """Return the view that two trials give."""
    return View(
        name,
        driven.worst,
        back.worst,
        driven.governing or "",
        code_of(driven.worst, back.worst),
        driven.wedge,
        note,
        own,
    )


def _pair(trials: Trials, name: str, setup: Setup, drive: Drive, back: Trial, note: str = "") -> View:
    again = trials.drive(setup, drive.torque)
    return view_of(name, trials.live(setup, again, 0.0), trials.live(setup, again, back.turns), note)


def _rubbing(trials: Trials, name: str, setup: Setup, drive: Drive, back: Trial, shift: float) -> View:
    seating = setup.seating
    changed = replace(
        seating,
        thread_friction=max(seating.thread_friction + shift, 0.0),
        tip_friction=max(seating.tip_friction + shift, 0.0),
    )
    note = f"friction of thread and tip {changed.thread_friction:g} and {changed.tip_friction:g}"
    return _pair(trials, name, replace(setup, seating=changed), drive, back, note)


def _yielding(trials: Trials, setup: Setup, drive: Drive, driven: Trial, back: Trial) -> View:
    zone = setup.inelastic.zone if setup.inelastic is not None and setup.inelastic.zone is not None else ZONE
    flowing = replace(setup, inelastic=Inelastic(zone=zone, creep=False))
    lived = trials.live(flowing, drive, 0.0)
    flow = lived.history.run[-1].flow
    strain = 0.0 if flow is None else float(flow.plastic.get("boss", 0.0))
    lost = driven.wedge - lived.wedge
    ends = [float(each.timeline.forces.tip[-1] + each.timeline.forces.seat[-1]) for each in (driven, lived)]
    where = "of all the boss" if isinstance(zone, str) else f"within {zone:g} mm of the corner"
    note = (
        f"yielding {where} leaves {lived.wedge:.0f} N of the wedge when seated ({lost:+.0f} N less than elastic) and "
        f"{ends[1]:.0f} N at the end, elastic {ends[0]:.0f} N; largest plastic strain {100 * strain:.2g} %"
    )
    if strain > SMALL_STRAIN:
        note += ", outside small strain: a size, no figure"
    return replace(view_of("floor that yields", lived, back), note=note, kept=(ends[0], ends[1]))


def _cracked(driven: Trial, back: Trial, flaw: float) -> View:
    """Stress intensity of a ring flaw at the fillet over the toughness, in place of the critical distance."""
    name = "crack at the floor's corner"
    lines = [line for line in crack_lines(driven.built) if line.place == "boss fillet"]
    if not lines:
        raise Unknown("no line from the floor's fillet in this mesh")
    line = min(lines, key=lambda each: abs(each.angle - 45.0))
    tough = driven.built.setup.boss.material.fracture_toughness
    intensities = []
    for trial in (driven, back):
        curve = crack_curve(trial.built, trial.timeline.states, line, sizes=[flaw])
        intensities.append(float(np.max(curve.effective)))
    note = f"ring flaw of {flaw:g} mm: {intensities[0]:.3g} MPa m^0.5 as driven, {intensities[1]:.3g} turned back"
    if tough is None:
        raise Unknown(f"{note}; the toughness of {driven.built.setup.boss.material.name} is not known")
    ratios = [each / tough for each in intensities]
    pairs = []
    for trial, ratio in zip((driven, back), ratios, strict=True):
        rest = [value for mode, value in trial.margins.items() if value is not None and mode != "floor corner"]
        pairs.append(max([ratio, *rest]))
    note += f"; {ratios[0]:.2f} and {ratios[1]:.2f} of the toughness"
    mode = "crack" if ratios[0] >= pairs[0] else (driven.governing or "")
    return View(name, pairs[0], pairs[1], mode, code_of(*pairs), driven.wedge, note)
