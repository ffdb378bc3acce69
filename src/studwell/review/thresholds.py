"""Where the verdict flips: floor thickness, seating torque, pocket fill, cold climate, and the other boss material."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from studwell.case.records import Pocket, Setup
from studwell.errors import StudwellError, reason_of
from studwell.review.codes import UNKNOWN, Flips, Tried, find_flips, word_of
from studwell.review.inputs import Inputs
from studwell.review.need import free_need
from studwell.review.sweep import POCKETS, with_floor, with_pocket
from studwell.review.trials import Drive, Trials

FLOOR_SHARES = (0.3, 0.45, 0.7, 1.0, 1.6, 2.5)
TORQUE_SHARES = (0.1, 0.4, 1.0, 1.6, 2.4)
FILLS = (0.6, 0.9, 1.0)
PRESSES, FREE = "presses", "stays free"
"""Words of a tip that was brought to its seat by hand, through the whole history."""

HALVINGS = {"floor": 3, "torque": 5, "fill": 4, "cold": 4}


def thresholds(
    trials: Trials,
    setup: Setup,
    drive: Drive,
    rule: float,
    inputs: Inputs,
    told: Callable[[], None],
    liquid: Pocket | None = None,
) -> tuple[Flips, ...]:
    """Return the flips of a plain, dry setup along every quantity.

    told : called after each;  liquid: the case's own pocket, whose liquid is taken instead of oil
    """
    found = []
    own = setup.pocket if liquid is None else liquid
    wet = with_pocket(setup, POCKETS[0], own)
    coldest = min(min(row) for row in setup.history.temperatures)
    least = inputs["cold"].value
    steps: tuple[tuple, ...] = (
        ("floor", "floor thickness", "mm", setup.boss.floor_thickness,
         [share * setup.boss.floor_thickness for share in FLOOR_SHARES],
         lambda mm: (with_floor(setup, mm), drive.torque), ""),
        ("torque", "seating torque", "N mm", drive.torque, [share * drive.torque for share in TORQUE_SHARES],
         lambda torque: (setup, torque), ""),
        ("fill", f"share of the pocket full of {wet.pocket.contents}, filled again after turning back, sealed", "1",
         own.fill if own.filled else 0.0, FILLS,
         lambda fill: (replace(wet, pocket=replace(wet.pocket, fill=fill)), drive.torque),
         "the driven stud beside it is dry"),
        ("cold", "coldest temperature of the history", "degC", coldest, sorted({least, coldest, 0.5 * (least + coldest)}),
         lambda t: (colder(setup, coldest, t), drive.torque), ""),
    )  # fmt: skip
    for key, quantity, unit, now, values, changed, note in steps:

        def trial(value: float, changed=changed, wet: bool = key == "fill") -> Tried:
            other, torque = changed(value)
            return _tried(trials, value, other, torque, rule, wet)

        found.append(find_flips(quantity, unit, now, values, trial, HALVINGS[key], note))
        told()
    found.append(_touching(trials, setup, rule, inputs))
    told()
    return tuple(found)


def _touching(trials: Trials, setup: Setup, rule: float, inputs: Inputs) -> Flips:
    """Where along the coldest temperature a stud that just touched by hand begins to press."""
    rest = setup.history.assembly_temperature
    coldest = min(min(row) for row in setup.history.temperatures)
    hand = Drive(0.0, 0.0, 0.0, 0.0, setup.stud.thread.pitch)

    def tried(cold: float) -> Tried:
        try:
            need, _ = free_need(trials, colder(setup, coldest, cold), rule, hand)
        except (StudwellError, ValueError) as problem:
            return Tried(cold, None, None, UNKNOWN, reason_of(problem))
        return Tried(cold, None, None, PRESSES if need > 0.0 else FREE, f"{need:.5f} mm of gap needed")

    values = sorted({inputs["cold"].value, coldest, 0.5 * (coldest + rest)})
    quantity = "coldest temperature, for a stud that just touches by hand"
    return replace(find_flips(quantity, "degC", coldest, values, tried, HALVINGS["cold"]), first_contact=True)


def _tried(trials: Trials, value: float, setup: Setup, torque: float, rule: float, wet: bool) -> Tried:
    try:
        dry = replace(setup, pocket=replace(setup.pocket, contents="empty", fluid=None)) if wet else setup
        drive = trials.drive(dry, torque)
        back = trials.live(setup, drive, rule)
        driven = trials.live(dry, drive, 0.0)
    except (StudwellError, ValueError) as problem:
        return Tried(value, None, None, UNKNOWN, reason_of(problem))
    return Tried(value, driven.worst, back.worst, word_of(driven, back))


def colder(setup: Setup, coldest: float, wanted: float) -> Setup:
    """Return a setup whose temperatures below that of assembly reach down to another coldest one, degC, in proportion.

    Without any below it, the last point is followed by a uniform one at the wanted temperature.
    """
    history = setup.history
    rest = history.assembly_temperature
    if coldest < rest:
        share = (wanted - rest) / (coldest - rest)
        rows = tuple(tuple(t if t >= rest else rest + share * (t - rest) for t in row) for row in history.temperatures)
        return replace(setup, history=replace(history, temperatures=rows))
    rows = tuple((*row, wanted) for row in history.temperatures)
    length = history.times[-1] - history.times[0]
    times = (*history.times, history.times[-1] + length)
    labels = (*history.labels, "cold soak")
    return replace(setup, history=replace(history, temperatures=rows, times=times, labels=labels))
