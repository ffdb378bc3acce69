"""The same pair of histories, driven and turned back, by several views: thread models, yielding, a crack, friction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from studwell.case.records import Inelastic, Setup
from studwell.crack.curves import crack_curve
from studwell.crack.lines import crack_lines
from studwell.errors import StudwellError, Unknown, reason_of
from studwell.fem.inelastic import SMALL_STRAIN
from studwell.review.beside import FLOOR_YIELD
from studwell.review.codes import UNKNOWN, code_of, word_of
from studwell.review.inputs import Inputs
from studwell.review.sweep import other_models, with_model
from studwell.review.trials import Drive, Trial, Trials
from studwell.study.finding import margin_words
from studwell.units import as_text

ZONE = 2.0
"""mm round the floor's corner that may yield where the case does not say."""

FLOOR_YIELDS, THREAD_YIELDS = "floor that yields", "thread that yields (stud tension alone)"

BEARS = 3.0
"""Times its tensile strength that a metal bears on a small patch before the patch sinks in, whatever it hardens.
Source: Tabor 1951, mean pressure of an indenter about three times the flow stress (from memory)."""


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
    trials: Trials,
    setup: Setup,
    drive: Drive,
    driven: Trial,
    back: Trial,
    inputs: Inputs,
    told: Callable[[], None],
    units: str = "metric",
) -> tuple[View, ...]:
    """Return all views of a plain setup; driven, back: its trials in the case's own thread model.

    told : called after each;  units: "metric" or "inch", of the notes
    """
    found = [view_of(f"elastic, {setup.stud.thread_model} thread", driven, back)]

    def add(name: str, make: Callable[[], View]) -> None:
        try:
            found.append(make())
        except (StudwellError, ValueError) as problem:
            found.append(unknown_view(name, problem))
        told()

    for model in other_models(setup):
        name = f"elastic, {model} thread"
        add(name, lambda name=name, model=model: _pair(trials, name, with_model(setup, model), drive, back))  # type: ignore[misc]
    add(THREAD_YIELDS, lambda: _thread_yields(driven, back, units))
    add(FLOOR_YIELDS, lambda: _yielding(trials, setup, drive, driven, back, units))
    add("crack at the floor's corner", lambda: _cracked(driven, back, inputs["flaw"].value, units))
    scatter = inputs["friction_scatter"].value
    for word, shift in (("smoother", -scatter), ("rougher", scatter)):
        name = f"{word} drive"
        add(name, lambda name=name, shift=shift: _rubbing(trials, name, setup, drive, back, shift))  # type: ignore[misc]
    return tuple(found)


def unknown_view(name: str, problem: Exception, own: bool = True) -> View:
    """Return the view that an error leaves: unknown, with its reason."""
    return View(name, None, None, "", UNKNOWN, note=reason_of(problem), own=own)


def view_of(name: str, driven: Trial, back: Trial, note: str = "", own: bool = True) -> View:
    """Return the view that two trials give."""
    return View(
        name,
        driven.worst,
        back.worst,
        driven.governing or "",
        word_of(driven, back),
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


def _thread_yields(driven: Trial, back: Trial, units: str) -> View:
    """The strip margin of stud tension alone in place of that of the whole thread load; the floor's margins as they are.

    The wedge is held by displacement: a thread that yields by a few hundredths of a millimetre lets go of it.
    """
    pair = []
    for trial in (driven, back):
        if trial.tension_alone is None:
            raise Unknown(trial.reasons.get("boss thread strip", "what strips the thread is not known"))
        rest = {mode: value for mode, value in trial.margins.items() if value is not None}
        pair.append({**rest, "boss thread strip": trial.tension_alone})
    worst = [max(each.values()) for each in pair]
    mode = max(pair[0], key=lambda name: pair[0][name])
    note = (
        f"strip by stud tension alone: {margin_words(driven.tension_alone)} driven, "
        f"{margin_words(back.tension_alone)} turned back, of "
        f"{as_text(driven.strip_capacity or 0.0, 'force', units)} that strip the thread; what the tip adds is held by "
        "displacement"
    )
    return View(
        THREAD_YIELDS,
        worst[0],
        worst[1],
        mode,
        code_of(worst[0], worst[1], driven.failing, back.failing),
        driven.wedge,
        note,
    )


def _yielding(trials: Trials, setup: Setup, drive: Drive, driven: Trial, back: Trial, units: str) -> View:
    _bears(driven, units)
    zone = setup.inelastic.zone if setup.inelastic is not None and setup.inelastic.zone is not None else ZONE
    flowing = replace(setup, inelastic=Inelastic(zone=zone, creep=False))
    lived = trials.live(flowing, drive, 0.0)
    flow = lived.history.run[-1].flow
    strain = 0.0 if flow is None else float(flow.plastic.get("boss", 0.0))
    ends = [float(each.timeline.forces.tip[-1] + each.timeline.forces.seat[-1]) for each in (driven, lived)]
    where = "of all the boss" if isinstance(zone, str) else f"within {as_text(zone, 'length', units)} of the corner"
    note = (
        f"yielding {where}, without creep, leaves {as_text(lived.wedge, 'force', units)} of the wedge when seated, elastic "
        f"{as_text(driven.wedge, 'force', units)}, and {as_text(ends[1], 'force', units)} at the end, elastic "
        f"{as_text(ends[0], 'force', units)}; largest plastic strain {100 * strain:.2g} %"
    )
    if strain > SMALL_STRAIN:
        note += ", outside small strain: a size, no figure"
    flows = replace(
        lived, beside={**lived.beside, FLOOR_YIELD: driven.beside[FLOOR_YIELD]}
    )  # stress that flowed is held down
    return replace(view_of(FLOOR_YIELDS, flows, back), note=note, kept=(ends[0], ends[1]))


def tip_pressure(trial: Trial) -> tuple[float, float, float]:
    """Return mean pressure (MPa) and width (mm, along the face) of a trial's tip on its seat as seated, and the width that
    would bear it at BEARS times the boss's tensile strength as driven (inf if that is not known)."""
    built = trial.built
    layout, radius = built.layout, 0.5 * built.setup.stud.tip_diameter
    inner, cosine = layout.stud.tip_contact_from, float(np.cos(layout.cone_slope))
    area = np.pi * (radius**2 - inner**2) / cosine
    ports = built.joint.slices["tip"]
    axial = built.joint.interface("tip").axial
    normal = float(trial.history.seated.forces[ports][axial > 0.0].sum())
    width = (radius - inner) / cosine
    material = built.setup.boss.material
    if material.ultimate_strength is None:
        return normal / area, width, np.inf
    most = BEARS * float(material.ultimate_strength.at(built.setup.history.assembly_temperature))
    return normal / area, width, width * normal / area / most


def _bears(driven: Trial, units: str) -> None:
    """Raise Unknown if a driven tip's patch cannot carry it: it sinks in and widens, which small strains do not follow."""
    pressure, width, needed = tip_pressure(driven)
    if np.isfinite(needed) and needed > width:
        raise Unknown(
            f"the tip's edge bears {as_text(pressure, 'pressure', units, 3)} on a band {as_text(width, 'length', units, 2)} "
            f"wide, more than {BEARS:g} times the boss's tensile strength, which is about what a metal bears on a small patch "
            f"(Tabor 1951): it sinks in until the band is about {as_text(needed, 'length', units, 2)} wide, which small "
            "strains on a band of fixed width do not follow; the torque, and so the wedge when seated, stay as they are"
        )


def _cracked(driven: Trial, back: Trial, flaw: float, units: str) -> View:
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
    sizes = [as_text(each, "toughness", units, 3) for each in intensities]
    note = f"ring flaw of {as_text(flaw, 'length', units)}: {sizes[0]} as driven, {sizes[1]} turned back"
    if tough is None:
        raise Unknown(f"{note}; the toughness of {driven.built.setup.boss.material.name} is not known")
    ratios = [each / tough for each in intensities]
    pairs = []
    for trial, ratio in zip((driven, back), ratios, strict=True):
        rest = [value for mode, value in trial.margins.items() if value is not None and mode != "floor corner"]
        pairs.append(max([ratio, *rest]))
    note += f"; {margin_words(ratios[0])} and {margin_words(ratios[1])} of the toughness"
    mode = "crack" if ratios[0] >= pairs[0] else (driven.governing or "")
    return View(
        name, pairs[0], pairs[1], mode, code_of(pairs[0], pairs[1], driven.failing, back.failing), driven.wedge, note
    )
