"""What a live page lets its user move in a setup, how far, and from where."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from studwell import units
from studwell.case.checks import LEAST_ENGAGEMENT, LEAST_FLOOR, check_setup
from studwell.case.model import SetupTables, WasherTable
from studwell.case.nut_end import build_washer
from studwell.case.overrides import Origin
from studwell.case.records import Boss, Case, PlainWasher, Setup, SpringWasher
from studwell.case.stock import thread_size
from studwell.data import assumption
from studwell.errors import BadCase
from studwell.parts.spring import stock_spring, stock_spring_names
from studwell.parts.washer import stock_plain_washer_names
from studwell.section.spring_edges import best_turned, unheld

AS_WRITTEN = "as written"
PLAIN = "plain"
STACKS = (("{name}", 1, 1), ("2 x {name}", 2, 1), ("3 x {name}", 3, 1), ("2 x {name}, nested", 1, 2))
"""Groups of one spring that are offered: words, packets in series, washers nested in each."""

WIDEST_BORE = 1.2
"""Springs are offered whose bore is at most so many times the thread: wider ones do not centre. Common practice, no source."""

TORQUE_STEP = {"metric": 100.0, "inch": 0.1 * 1355.8179483314004}
"""N mm between positions of a torque: 0.1 N*m or 0.1 lbf*ft. Our own choice."""

HIGHEST, LOWEST = 300.0, -60.0
"""degC, ends of the temperature sliders unless the case goes beyond. Our own choice."""

SOLVED = "the heat of this case is solved from [thermal] and its phases: temperatures are results here"
OWN_MESH = "the boss is a mesh of the user's own: its hole is what the mesh says"


@dataclass(frozen=True)
class Control:
    """One thing to move.

    name      : short, as share links have it;  label: words;  group: heading
    kind      : "slider" or "choice";  unit: "turn", "N*m", "kN", "mm", "degC" or ""
    low, high, step, start : of a slider, inside units (turn, N mm, N, mm, degC); start: the setup as written
    options   : of a choice; start: one of them
    remesh    : True if a joint must be condensed for a new value: seconds, not milliseconds
    applies   : False if it moves nothing in this setup; note: why, or what else to know
    known     : False where there is nothing that stands in its place: no number is shown
    """

    name: str
    label: str
    group: str
    kind: Literal["slider", "choice"]
    unit: str
    start: float | str
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    options: tuple[str, ...] = ()
    remesh: bool = False
    applies: bool = True
    note: str = ""
    known: bool = True

    def problem(self, value: float | str) -> str:
        """Return why a value is refused, "" if it is not."""
        if self.kind == "choice":
            return "" if value in self.options else "not one of the choices"
        if isinstance(value, str | bool):
            return "not a number"
        if not math.isfinite(value):
            return "not a finite number"
        slack = 1e-9 * max(1.0, abs(self.low), abs(self.high))
        return "" if self.low - slack <= value <= self.high + slack else "out of range"

    @property
    def allowed(self) -> str:
        """What is allowed, in a few words; torques in N*m, forces in kN."""
        if self.kind == "choice":
            return ", ".join(self.options)
        scale = 1000.0 if self.unit in ("N*m", "kN") else 1.0
        return f"{self.low / scale:.6g} to {self.high / scale:.6g} {self.unit}".rstrip()


def controls(case: Case, setup: str) -> tuple[Control, ...]:
    """Return everything that may be moved in a setup of a case, in the order in which a page shows it.

    raises KeyError : no such setup
    """
    written = case.setup(setup)
    return (*_seating(case, written), *_nut(case, written), *_hole(written), *_heat(written))


def _steps(value: float, step: float, up: bool) -> float:
    return step * (math.ceil(value / step - 1e-9) if up else math.floor(value / step + 1e-9))


def _seating(case: Case, setup: Setup) -> Iterator[Control]:
    seating, pitch = setup.seating, setup.stud.thread.pitch
    others = [each.seating for each in case.setups]
    group = "Seating"
    yield Control("seating", "stud", group, "choice", "", seating.mode, options=("bottomed", "backed off"))
    turns = [each.turns for each in others if each.mode == "backed off"]
    start = seating.turns if seating.mode == "backed off" else (turns or [assumption("review_rule_turn")])[0]
    spare = setup.engaged_thread + setup.tip_gap - LEAST_ENGAGEMENT * pitch
    most = max(min(1.0, _steps(0.98 * spare / pitch, 0.01, up=False)), 0.01)
    yield Control(
        "back_off",
        "turned back",
        group,
        "slider",
        "turn",
        start,
        min(0.01, start),
        max(most, start),
        0.01,
        note="counts once the stud is backed off",
    )
    step = TORQUE_STEP[case.units]
    torques = [each.torque for each in others if each.torque is not None]
    given = (
        seating.torque if seating.torque is not None else (torques or [50.0 * setup.stud.thread.nominal_diameter**2])[0]
    )
    note = "counts where the stud is bottomed, or its turns are counted from the driven seat"
    if seating.torque is None:
        note += "; this setup states none"
    yield _torque("seating_torque", "seating torque", group, given, step, note)


def _torque(name: str, label: str, group: str, start: float, step: float, note: str = "") -> Control:
    high = max(_steps(2.0 * start, 10.0 * step, up=True), start)
    return Control(name, label, group, "slider", "N*m", start, min(step, start), high, step, note=note)


def _nut(case: Case, setup: Setup) -> Iterator[Control]:
    tightening, group = setup.tightening, "Nut and washers"
    if tightening.torque is not None:
        yield _torque("nut_torque", "nut torque", group, tightening.torque, TORQUE_STEP[case.units])
    else:
        start = float(tightening.preload or 0.0)
        high = _steps(2.0 * start, 1000.0, up=True)
        yield Control("preload", "preload", group, "slider", "kN", start, min(100.0, start), high, 100.0)
    fitting, left_out = washer_choices(setup)
    note = f"{left_out} more in stock do not go with this stud, nut and washer" if left_out else ""
    yield Control(
        "washers", "washers", group, "choice", "", AS_WRITTEN, options=(AS_WRITTEN, *fitting), remesh=True, note=note
    )


def washer_choices(setup: Setup) -> tuple[tuple[str, ...], int]:
    """Return the washer stacks that go with a setup, besides its own, and how many of the stock do not."""
    thread = setup.stud.nut_thread.nominal_diameter
    names = [PLAIN]
    for name in stock_spring_names():
        if thread <= stock_spring(name).inner_diameter <= WIDEST_BORE * thread:
            names += [words.format(name=name) for words, _, _ in STACKS]
    stacks = {name: replace(setup, washers=washers_of(setup, name)) for name in names}
    fitting = tuple(name for name, stack in stacks.items() if fits(stack) and not unheld(stack))
    return fitting, len(names) - len(fitting)


def washer_tables(setup: Setup, choice: str) -> list[dict[str, object]]:
    """Return a choice of washers as a case file's list of tables. Raises KeyError: no such choice.

    Springs lie the way in which their edges are held best; where the setup's own plain washer is too narrow under them, the
    stocked wide one lies there instead.
    """
    plain: list[dict[str, object]] = [_plain_table(each) for each in setup.washers if isinstance(each, PlainWasher)]
    size = thread_size(setup.stud.nut_thread)
    if not plain and size in stock_plain_washer_names():
        plain = [{"kind": "plain", "size": size}]
    if choice == PLAIN:
        return plain
    for name in stock_spring_names():
        for words, series, parallel in STACKS:
            if choice == words.format(name=name):
                spring: dict[str, object] = {"kind": "spring", "size": name}
                spring |= {"series": series} if series > 1 else {}
                return _held(setup, plain, spring | ({"parallel": parallel} if parallel > 1 else {}))
    raise KeyError(choice)


def _held(setup: Setup, plain: list[dict[str, object]], spring: dict[str, object]) -> list[dict[str, object]]:
    """Return plain washers with a spring on them whose edges they hold, if those in stock can."""
    wide = f"{thread_size(setup.stud.nut_thread)} wide"
    beneath = [plain]
    if wide in stock_plain_washer_names():
        beneath.append([*plain[:-1], {"kind": "plain", "size": wide}])
    for under in beneath:
        turned = best_turned(replace(setup, washers=_records(setup, [*under, spring])))
        if not unheld(turned):
            orientation = turned.springs[0].orientation
            return [*under, spring if orientation == "crown up" else spring | {"orientation": orientation}]
    return [*plain, spring]


def _plain_table(washer: PlainWasher) -> dict[str, object]:
    sizes = {key: f"{getattr(washer, key)!r} mm" for key in ("inner_diameter", "outer_diameter", "thickness")}
    return {"kind": "plain", **sizes, "material": washer.material.name}


def washers_of(setup: Setup, choice: str) -> tuple[PlainWasher | SpringWasher, ...]:
    """Return a choice of washers as records; plain ones of the setup stay what they are."""
    if choice == AS_WRITTEN:
        return setup.washers
    return _records(setup, washer_tables(setup, choice))


def _records(setup: Setup, tables: list[dict[str, object]]) -> tuple[PlainWasher | SpringWasher, ...]:
    """Return washers of their tables; the setup's own plain ones stay what they are."""
    own = iter([each for each in setup.washers if isinstance(each, PlainWasher)])
    read = [WasherTable.model_validate(each) for each in tables]
    made = SetupTables.model_construct(washer=read, material={})
    origin = Origin("stock")
    return tuple(
        next(own) if "material" in table else build_washer(number, made, origin) for number, table in enumerate(tables)
    )


def fits(setup: Setup) -> bool:
    """Return whether the parts of a setup go together."""
    try:
        check_setup(setup, Origin("live"))
    except BadCase:
        return False
    return True


def _hole(setup: Setup) -> Iterator[Control]:
    boss, group = setup.boss, "Hole"
    own = boss.own_mesh is not None
    ends = tuple(
        end
        for end in ("flat", "cone", "radiused")
        if end == boss.hole_end or fits(replace(setup, boss=with_end(boss, end)))
    )
    note = "" if len(ends) > 1 else "no other end goes with this stud and thread"
    if "cone" in ends and boss.hole_end != "cone":
        note = f"cone: of a {assumption('drill_point_angle'):g} degree drill"
    yield Control(
        "hole_end",
        "end of the hole",
        group,
        "choice",
        "",
        boss.hole_end,
        options=ends,
        remesh=True,
        applies=not own and len(ends) > 1,
        note=OWN_MESH if own else note,
    )
    floor, least = boss.floor_thickness, LEAST_FLOOR * boss.drill_diameter
    flaw = 0.0 if setup.crack is None else max(setup.crack.flaw or 0.0, setup.crack.inspection_size or 0.0)
    low = min(_steps(max(2.0 * least, 1.25 * flaw, 1.0), 0.25, up=True), floor)
    yield Control(
        "floor_thickness",
        "floor under the hole",
        group,
        "slider",
        "mm",
        floor,
        low,
        max(_steps(2.5 * floor, 1.0, up=True), 12.0),
        0.25,
        remesh=True,
        applies=not own,
        note=OWN_MESH if own else "",
    )


def with_end(boss: Boss, end: str) -> Boss:
    """Return a boss whose hole ends otherwise, its floor as thick under the lowest point as before.

    A cone is that of a twist drill; a radiused end has a quarter of the drill's diameter; a floor that was radiused gets
    a corner of a tenth of that.
    """
    if end == boss.hole_end:
        return boss
    corner = boss.corner_radius
    if end == "radiused":
        corner = round(0.25 * boss.drill_diameter, 2)
    elif boss.hole_end == "radiused":
        corner = round(0.025 * boss.drill_diameter + 0.1, 2)
    return replace(
        boss, hole_end=end, cone_angle=assumption("drill_point_angle") if end == "cone" else None, corner_radius=corner
    )


@dataclass(frozen=True)
class HeatGroup:
    """Temperature nodes that one slider moves together at some points of the history: it states the extreme of them.

    nodes, points : places in the history's arrays;  extreme: degC as written
    """

    name: str
    label: str
    nodes: tuple[int, ...]
    points: tuple[int, ...]
    extreme: float
    cold: bool = False
    problem: str = ""


def heat_groups(setup: Setup) -> tuple[HeatGroup, ...]:
    """Return what the temperature sliders move: boss, stack, stud and nut at the hottest point, all at the coldest."""
    history = setup.history
    names = history.node_names
    stack = {layer.node for layer in setup.stack} - {"boss", "stud_tip", "stud_top", "nut"}
    members = {
        "hot_boss": ("boss", ("boss",)),
        "hot_stack": ("stack", tuple(sorted(stack))),
        "hot_stud": ("stud and nut", ("stud_tip", "stud_top", "nut")),
        "cold": ("everything", names),
    }
    if history.phases:
        return tuple(HeatGroup(key, words, (), (), 0.0, key == "cold", SOLVED) for key, (words, _) in members.items())
    table = np.array(history.temperatures, dtype=float)
    mean = table.mean(axis=0)
    ends = {"hot": int(np.argmax(mean)), "cold": int(np.argmin(mean))}
    groups = []
    for key, (words, wanted) in members.items():
        cold = key == "cold"
        point = ends["cold" if cold else "hot"]
        nodes = tuple(names.index(name) for name in wanted if name in names)
        beyond = mean[point] < history.assembly_temperature if cold else mean[point] > history.assembly_temperature
        problem = ""
        if not nodes:
            problem = "every layer of the stack follows the boss"
        elif not beyond:
            problem = f"no point of the history is {'colder' if cold else 'hotter'} than the assembly temperature"
        last = len(history.times) - 1
        points = (0, last) if history.cycles > 1 and point in (0, last) else (point,)  # a cycle closes
        values = table[list(nodes), point] if nodes else np.zeros(1)
        label = f'{words}, "{history.labels[point]}"'
        extreme = float(values.min() if cold else values.max())
        groups.append(HeatGroup(key, label, nodes, points, extreme, cold, problem))
    return tuple(groups)


def _heat(setup: Setup) -> Iterator[Control]:
    assembly = setup.history.assembly_temperature
    for group in heat_groups(setup):
        low, high = (min(LOWEST, group.extreme), assembly) if group.cold else (assembly, max(HIGHEST, group.extreme))
        note = group.problem
        if not note and len(group.nodes) > 1:
            note = f"the {'coldest' if group.cold else 'hottest'} of {len(group.nodes)} nodes; the others keep their distance"
        yield Control(
            group.name,
            group.label,
            "Heat",
            "slider",
            "degC",
            group.extreme,
            min(low, group.extreme),
            max(high, group.extreme),
            1.0,
            applies=not group.problem,
            note=note,
            known=bool(group.nodes),
        )


def text_of(value: float, unit: str, system: str) -> str:
    """Return a slider's value as a case file has it, in the case's units, ten digits.

    value : inside units; unit: of the control
    """
    kind = {"turn": "turn", "N*m": "torque", "kN": "force", "mm": "length", "degC": "temperature"}[unit]
    return f"{float(units.in_unit(value, kind, system)):.10g} {units.label(kind, system)}"
