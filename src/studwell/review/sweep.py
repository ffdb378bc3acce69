"""The sweep: turns back from driven hard on the bottom to a full turn, over torques, floors, pockets, bosses and histories."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from studwell.case.records import Case, Pocket, Setup
from studwell.errors import NotConverged, StudwellError, reason_of
from studwell.parts.fluid import stock_fluid
from studwell.parts.material import stock_material
from studwell.review.trials import BOSS_MODES, Drive, Trial, Trials
from studwell.section.seat import AT_MOUTH, IN_HOLE, first_seat

TURNS = (0.04, 0.08, 0.12, 0.17, 0.22, 0.25, 0.35, 0.5, 0.75, 1.0)
"""Turns back from the driven seat, beside the rule's and those that relieve the wedge by thirds."""

HALVINGS = 4
"""Times that the interval in which the tip's contact ends is halved, so that no line is drawn across it."""

BEARS = 1e-3
"""N above which a tip bears: rounding lies far below."""
TORQUE_SHARES = (0.5, 1.0, 1.5)
FLOOR_SHARES = (0.5, 2.0)
IRON, ALUMINIUM = "en-gjl-250", "a356-t6 sand"
POCKETS = ("full as fitted", "full at first contact")


@dataclass(frozen=True)
class Row:
    """One history of the sweep, or why there is none. Lengths mm, forces N, stresses and pressures MPa, torque N mm.

    turns : from the driven seat
    margins, beside  : BOSS_MODES and SEAT_MODES -> load over capacity, None where not known
    seat, named_seat : what carried the drive, and what the setup asked for ("auto": the geometry decides)
    """

    family: str
    history: str
    boss: str
    thread_model: str
    seat: str
    floor: float
    pocket: str
    torque: float
    turns: float
    lift: float | None = None
    wedge: float | None = None
    tip_run: float | None = None
    gap_min: float | None = None
    floor_stress: float | None = None
    thread_load: float | None = None
    clamp_max: float | None = None
    clamp_min: float | None = None
    engaged: float | None = None
    hold: float | None = None
    pressure: float | None = None
    margins: tuple[tuple[str, float | None], ...] = ()
    beside: tuple[tuple[str, float | None], ...] = ()
    worst: float | None = None
    governing: str | None = None
    reason: str = ""
    named_seat: str = ""

    @property
    def failing(self) -> frozenset[str]:
        """The modes of `beside` that are known to be at their limit."""
        return frozenset(mode for mode, value in self.beside if value is not None and value >= 1.0)


def row_of(family: str, history: str, setup: Setup, pocket: str, trial: Trial) -> Row:
    """Return the row of a trial."""
    return Row(
        family=family,
        history=history,
        boss=setup.boss.material.name,
        thread_model=setup.stud.thread_model,
        seat=trial.built.seat.name,
        floor=setup.boss.floor_thickness,
        pocket=pocket,
        torque=trial.torque,
        turns=trial.turns,
        lift=trial.lift,
        wedge=trial.wedge,
        tip_run=trial.tip_run,
        gap_min=trial.gap_min,
        floor_stress=trial.corner,
        thread_load=trial.thread,
        clamp_max=trial.clamp_max,
        clamp_min=trial.clamp_min,
        engaged=trial.engaged,
        hold=trial.hold,
        pressure=trial.pressure,
        margins=tuple((mode, trial.margins[mode]) for mode in BOSS_MODES),
        beside=tuple(trial.beside.items()),
        worst=trial.worst,
        governing=trial.governing,
        reason="; ".join(f"{mode}: {reason}" for mode, reason in (trial.reasons | trial.beside_reasons).items()),
        named_seat=setup.seating.seat,
    )


def turns_of(drive: Drive, rule: float, several: Sequence[float] = TURNS, heat: float = 0.0) -> tuple[float, ...]:
    """Return the turns of a sweep: none, thirds of what relieves the wedge, that itself and with what heat needs, the given
    ones and the rule's.

    heat : mm of lift from first contact that the history alone needs
    """
    relieved = [drive.turns * share for share in (1 / 3, 2 / 3, 1.0)] if drive.torque > 0.0 else []
    relieved += [drive.turns + heat / drive.pitch] if heat > 0.0 else []
    return tuple(sorted({0.0, rule, *relieved, *(each for each in several if each > drive.turns)}))


def with_pocket(setup: Setup, kind: str, own: Pocket | None = None) -> Setup:
    """Return a setup with its pocket full in one of the ways of POCKETS: of its own liquid, or of oil where it has none.

    own : the pocket whose liquid is taken; None: the setup's
    """
    own = setup.pocket if own is None else own
    fluid = own.fluid or stock_fluid("oil")
    contents = own.contents if own.fluid is not None else "oil"
    at = "as fitted" if kind == POCKETS[0] else "first contact"
    return replace(setup, pocket=Pocket(contents, 1.0, at, "sealed", None, fluid))


def with_other_boss(setup: Setup) -> Setup:
    """Return a setup whose boss is of grey iron where it is not iron, else of cast aluminium; all else as it was."""
    iron = setup.boss.material.family == stock_material(IRON).family
    return replace(setup, boss=replace(setup.boss, material=stock_material(ALUMINIUM if iron else IRON)))


def with_model(setup: Setup, model: str) -> Setup:
    """Return a setup with another thread model."""
    return replace(setup, stud=replace(setup.stud, thread_model=model, nut_thread_model=model))


def other_models(setup: Setup) -> tuple[str, ...]:
    """Return the models of the threads that a setup is seen with beside its own."""
    return tuple(model for model in ("layer", "bonded", "grooves") if model != setup.stud.thread_model)


def with_seat(setup: Setup, seat: str) -> Setup:
    """Return a setup whose driven stud is stopped by another seat, as if the case named it."""
    return replace(setup, seating=replace(setup.seating, seat=seat))


def other_seats(setup: Setup) -> tuple[str, ...]:
    """Return the seats on which a stud in this hole may be driven beside its own: its tip, and either run-out.

    A seat that the geometry does not give stops the stud just as its tip touches, so that both carry. None in an insert,
    in whose coils no run-out wedges.
    """
    if setup.boss.insert is not None:
        return ()
    tip = {"flat": "tip on floor", "cone": "tip on cone"}.get(setup.boss.hole_end, "tip on radius")
    own = first_seat(setup)
    return tuple(seat for seat in (tip, IN_HOLE, AT_MOUTH) if seat != own.name and not (seat == tip and own.by_tip))


def with_floor(setup: Setup, floor: float) -> Setup:
    """Return a setup with another floor, mm."""
    return replace(setup, boss=replace(setup.boss, floor_thickness=floor))


def histories_of(case: Case, trials: Trials) -> tuple[tuple[str, Setup], ...]:
    """Return the distinct ways of heat, seat and pocket in a case: the first setup that has each, plain, by its name."""
    found: dict[str, tuple[str, Setup]] = {}
    for setup in case.setups:
        key = repr(
            (setup.history, setup.thermal, setup.seating.seat, setup.boss, setup.pocket, setup.stud.engaged_length)
        )
        if key not in found:
            found[key] = (setup.name, setup)
    return tuple(found.values())


Family = tuple[str, str, Setup, str, tuple[tuple[float, tuple[float, ...] | None], ...]]
"""Family, history, plain setup, pocket, and the torques with their turns (None: all of the sweep)."""


def families(
    case: Case,
    base: Setup,
    trials: Trials,
    torque: float,
    rule: float,
    torques: Sequence[float],
    floors: Sequence[float],
) -> list[Family]:
    """Return what is swept, first things first. base: plain, dry."""
    few = (0.0, rule)
    name = case.setups[0].name
    rows: list[Family] = [("torque", name, base, base.pocket.contents, tuple((each, None) for each in torques))]
    rows += [
        ("thread model", name, with_model(base, model), base.pocket.contents, ((torque, few),))
        for model in other_models(base)
    ]
    rows += [
        ("seat", name, with_seat(base, seat), base.pocket.contents, ((torque, few),)) for seat in other_seats(base)
    ]
    rows += [("floor", name, with_floor(base, floor), base.pocket.contents, ((torque, few),)) for floor in floors]
    liquid = case.setups[0].pocket
    rows += [
        ("pocket", name, with_pocket(base, kind, liquid), kind, ((torque, (0.0, rule, 0.5, 1.0)),)) for kind in POCKETS
    ]
    rows.append(("boss", name, with_other_boss(base), base.pocket.contents, ((torque, few),)))
    for label, setup in histories_of(case, trials)[1:]:
        rows.append(("setup", label, setup, setup.pocket.contents, ((float(setup.seating.torque or torque), few),)))
    return rows


def sweep(trials: Trials, wanted: Sequence[Family], rule: float, told: Callable[[], None] = lambda: None) -> list[Row]:
    """Return the rows of families; what cannot be solved gets a row with its reason. told: called after each family."""
    rows: list[Row] = []
    for family in wanted:
        rows += rows_of_family(trials, family, rule)
        told()
    return rows


def rows_of_family(trials: Trials, family: Family, rule: float, heat: float = 0.0) -> list[Row]:
    """Return the rows of one family. heat: as in `turns_of`."""
    kind, history, given, pocket, torques = family
    rows = []
    for torque, several in torques:
        try:
            setup = trials.plain(given)
            drive = trials.drive(_dry(setup), torque)
            turns = turns_of(drive, rule, heat=heat) if several is None else several
        except (StudwellError, ValueError) as problem:
            rows.append(_none(kind, history, given, pocket, torque, 0.0, problem))
            continue

        def row(back: float, setup: Setup = setup, drive: Drive = drive) -> Row:
            try:
                return row_of(kind, history, setup, pocket, trials.live(setup, drive, back))
            except (StudwellError, ValueError) as problem:
                return _none(kind, history, setup, pocket, drive.torque, back, problem)

        found = [row(back) for back in turns]
        rows += found if several is not None else with_end_of_contact(found, row)
    return rows


def with_end_of_contact(rows: Sequence[Row], row: Callable[[float], Row]) -> list[Row]:
    """Return rows of rising turns with those by which the end of the tip's contact is closed in, HALVINGS times.

    row : turns back -> row
    """
    found = list(rows)
    for _ in range(HALVINGS):
        known = [each for each in found if each.tip_run is not None]
        ends = [(a, b) for a, b in itertools.pairwise(known) if (a.tip_run or 0.0) > BEARS >= (b.tip_run or 0.0)]
        if not ends:
            break
        last, free = ends[-1]
        found = sorted([*found, row(0.5 * (last.turns + free.turns))], key=lambda each: each.turns)
    return found


def _dry(setup: Setup) -> Setup:
    return replace(setup, pocket=Pocket("empty"))


def _none(kind: str, history: str, setup: Setup, pocket: str, torque: float, turns: float, problem: Exception) -> Row:
    reason = reason_of(problem)
    stud, boss = setup.stud, setup.boss
    if isinstance(problem, NotConverged):
        left = stud.engaged_length - turns * stud.thread.pitch
        reason += (
            f"; the pair of stud and boss, seat asked for: {setup.seating.seat}, {turns:.3g} turn back, which leaves about "
            f"{max(left, 0.0):.3g} mm of {stud.engaged_length:g} mm of thread engaged"
        )
    return Row(
        kind,
        history,
        boss.material.name,
        stud.thread_model,
        "",
        boss.floor_thickness,
        pocket,
        torque,
        turns,
        reason=reason,
        named_seat=setup.seating.seat,
    )
