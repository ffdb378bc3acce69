"""Where the controls of a live page stand: a hashable record, as link, as setup and as a table of the case file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode

from studwell import units
from studwell.case.checks import check_setup
from studwell.case.overrides import Origin, Tables, lay_on
from studwell.case.reading import ONLY_SETUP, parsed
from studwell.case.records import Boss, Case, History, Seating, Setup
from studwell.errors import BadCase
from studwell.live.controls import (
    AS_WRITTEN,
    Control,
    controls,
    heat_groups,
    text_of,
    washer_tables,
    washers_of,
    with_end,
)
from studwell.store.choice_record import setup_text

LONGEST_LINK = 2000
"""Characters of a link that is read; an honest one has a few hundred."""

DIGITS = 10
"""Significant digits of a number that is moved: more are the noise of units that were converted."""

Value = float | str
Known = Mapping[str, Control]


@dataclass(frozen=True)
class LiveState:
    """A setup of the case and what has been moved in it: ((name of a control, value), ...) by name, inside units.

    What is not listed is as the setup is written.
    """

    setup: str
    values: tuple[tuple[str, Value], ...] = ()

    def value(self, name: str) -> Value | None:
        """Return what a control was moved to, None if it was not."""
        return dict(self.values).get(name)

    def with_value(self, name: str, value: Value | None) -> LiveState:
        """Return the state with one control moved, a number to DIGITS; None puts it back to what is written."""
        kept = dict(self.values)
        kept.pop(name, None)
        if value is not None:
            kept[name] = value if isinstance(value, str) else _rounded(float(value))
        return LiveState(self.setup, tuple(sorted(kept.items())))


def _rounded(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def start_state(case: Case, setup: str) -> LiveState:
    """Return a setup as it is written. Raises KeyError: no such setup."""
    return LiveState(case.setup(setup).name)


def link_text(state: LiveState) -> str:
    """Return a state as the query of a link; `state_from_link` takes it back exactly."""
    pairs = [("setup", state.setup)]
    pairs += [(name, value if isinstance(value, str) else repr(float(value))) for name, value in state.values]
    return urlencode(pairs, quote_via=quote)


def state_from_link(text: str, case: Case) -> LiveState:
    """Return the state that a link's query holds, everything in it checked against the case's controls.

    raises BadCase : too long, not a query, an unknown setup or control, a value that is no number or out of range
    """

    def refused(key: str, value: object, problem: str, allowed: str = "", slug: str = "bad-value") -> BadCase:
        return BadCase("link", key, value, allowed, slug, problem)

    if len(text) > LONGEST_LINK:
        raise refused("", None, f"{len(text)} characters are no link of this page", f"at most {LONGEST_LINK}")
    try:
        pairs = parse_qsl(
            text.removeprefix("?"), keep_blank_values=True, strict_parsing=True, errors="strict", max_num_fields=30
        )
    except (ValueError, UnicodeError):
        raise refused("", None, "not a link of this page", "name=value pairs joined by &") from None
    found: dict[str, str] = {}
    for name, value in pairs:
        if name in found:
            raise refused(_plain(name), None, "there twice", "each name once", "duplicate-name")
        found[name] = value
    if "setup" not in found:
        raise refused("setup", None, "missing", "the name of a setup", "missing-key")
    names = [each.name for each in case.setups]
    setup = found.pop("setup")
    if setup not in names:
        raise refused("setup", _plain(setup), "no such setup", ", ".join(names), "unknown-name")
    known = {each.name: each for each in controls(case, setup)}
    state = LiveState(setup)
    for name, raw in found.items():
        control = known.get(name)
        if control is None:
            raise refused(_plain(name), None, "no such control", ", ".join(known), "unknown-key")
        moved: Value = _number(raw) if control.kind == "slider" else raw
        problem = control.problem(moved)
        if not problem and not control.applies:
            problem = control.note
        if problem:
            slug = "out-of-range" if problem == "out of range" else "bad-value"
            raise refused(name, _plain(raw), problem, control.allowed, slug)
        state = state.with_value(name, moved)
    return state


def _plain(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def _number(text: str) -> float:
    """A plain decimal number, nan for anything else that float() would take ("1_0", " 5", digits of other scripts)."""
    if len(text) > 40 or not all(letter in "0123456789+-.eE" for letter in text):
        return math.nan
    try:
        return float(text)
    except ValueError:
        return math.nan


def checked(case: Case, state: LiveState, known: Known | None = None) -> Known:
    """Return the controls of a state's setup by name. Raises BadCase: a value that they do not allow; KeyError: no setup."""
    if known is None:
        known = {each.name: each for each in controls(case, state.setup)}
    for name, value in state.values:
        control = known.get(name)
        if control is None:
            raise BadCase("live page", name, None, ", ".join(known), "unknown-key", "no such control")
        problem = control.problem(value) or ("" if control.applies else control.note)
        if problem:
            slug = "out-of-range" if problem == "out of range" else "bad-value"
            raise BadCase("live page", name, value, control.allowed, slug, problem)
    return known


def overrides_of(case: Case, state: LiveState, known: Known | None = None) -> Tables:
    """Return the tables of a case file to lay on the setup as written so that it says what the state says.

    known          : the setup's controls by name, if made before
    raises BadCase : a value that is not allowed
    """
    return _overrides(case, state, checked(case, state, known))


def moved_in(state: LiveState, known: Known) -> dict[str, Value]:
    """Return what a state moves away from what is written, by name of the control; known: the setup's controls by name."""
    found: dict[str, Value] = {}
    for name, value in state.values:
        if name not in known:
            continue
        start = known[name].start
        if value != start and (isinstance(start, str) or value != _rounded(float(start))):
            found[name] = value
    return found


def _overrides(case: Case, state: LiveState, known: Known) -> Tables:
    written = case.setup(state.setup)
    moved = moved_in(state, known)
    tables: Tables = {}

    def text(name: str) -> str:
        value = moved.get(name, known[name].start)
        assert not isinstance(value, str)
        return text_of(value, known[name].unit, case.units)

    seating = _seating_table(written, moved, text)
    if seating:
        tables["seating"] = seating
    for name in ("torque", "preload"):
        key = "nut_torque" if name == "torque" else name
        if key in moved:
            tables["tightening"] = {name: text(key)}
    if moved.get("washers", AS_WRITTEN) != AS_WRITTEN:
        tables["washer"] = washer_tables(written, str(moved["washers"]))
        if any(each["kind"] == "spring" for each in tables["washer"]):
            conducts, sets = _of_springs(case, written)
            if conducts is not None:
                tables["thermal"] = {"spring_conductance": f"{conducts:.{DIGITS}g} N/(mm*s*K)"}
            if sets is not None:
                tables["settling"] = {"spring_set": sets}
    if "hole_end" in moved or "floor_thickness" in moved:
        tables["boss"] = _boss_table(written.boss, moved, case.units)
    heat = {name: float(value) for name, value in moved.items() if known[name].group == "Heat"}
    if heat:
        tables["history"] = _history_table(written, heat, case.units)
    return tables


def _of_springs(case: Case, written: Setup) -> tuple[float | None, float | None]:
    """What springs conduct where heat is solved, N/(mm s K), and what share they lose where the joint settles.

    A setup without springs keeps neither figure: those of the case's first setup that has them are taken.
    """
    conducts = sets = None
    for each in (written, *case.setups):
        if written.thermal is not None and each.thermal is not None and conducts is None:
            conducts = each.thermal.spring_conductance
        if written.settling is not None and each.settling is not None and sets is None:
            sets = each.settling.spring_set
    return conducts, sets


def _seating_table(written: Setup, moved: dict[str, Value], text: Any) -> Tables:
    """The [seating] table: mode with all that it needs, the rest only where it was moved."""
    mode = str(moved.get("seating", written.seating.mode))
    table: Tables = {}
    if mode != written.seating.mode:
        table["mode"] = mode
    if mode == "backed off" and ("back_off" in moved or "mode" in table):
        table["back_off"] = text("back_off")
        if "mode" in table:
            table["counted_from"] = "first contact"
    needs_torque = mode == "bottomed" and written.seating.torque is None
    if "seating_torque" in moved or needs_torque:
        table["torque"] = text("seating_torque")
    return table


def _boss_table(boss: Boss, moved: dict[str, Value], system: str) -> Tables:
    end = str(moved.get("hole_end", boss.hole_end))
    changed = with_end(boss, end)
    floor = text_of(float(moved.get("floor_thickness", boss.floor_thickness)), "mm", system)
    table: Tables = {"floor_thickness": floor}
    if end != boss.hole_end:
        table["hole_end"] = end
        table["corner_radius"] = text_of(changed.corner_radius, "mm", system)
        if changed.cone_angle is not None:
            table["cone_angle"] = f"{changed.cone_angle:.{DIGITS}g} deg"
    return table


def _history_table(written: Setup, heat: dict[str, float], system: str) -> Tables:
    """All points of the history, with the temperatures that were moved."""
    history = written.history
    values = [list(row) for row in history.temperatures]
    for group in heat_groups(written):
        if group.name in heat:
            for node in group.nodes:
                for point in group.points:
                    values[node][point] += heat[group.name] - group.extreme
    points = []
    for index, (time, label) in enumerate(zip(history.times, history.labels, strict=True)):
        nodes = {name: text_of(values[i][index], "degC", system) for i, name in enumerate(history.node_names)}
        points.append({"time": f"{time / 60.0:.{DIGITS}g} min", "label": label, **nodes})
    table: Tables = {"point": points}
    if history.cycles > 1:
        table["cycles"] = history.cycles
    return table


def setup_of(case: Case, state: LiveState, known: Known | None = None) -> Setup:
    """Return the setup that a state stands for, the same as reading `case_text_of` gives.

    known          : the setup's controls by name, if made before
    raises BadCase : a value that is not allowed, or parts that do not go together;  KeyError: no such setup
    """
    written = case.setup(state.setup)
    tables = overrides_of(case, state, known)
    if not tables:
        return written
    changed = replace(written, name=changed_name(case, state.setup, tables.get("seating", {}).get("mode", "")))
    if "seating" in tables:
        changed = replace(changed, seating=_seating(written.seating, tables["seating"]))
    for key, read in (("torque", units.torque), ("preload", units.force)):
        if key in tables.get("tightening", {}):
            changed = replace(changed, tightening=replace(written.tightening, **{key: read(tables["tightening"][key])}))
    if "washer" in tables:
        changed = replace(changed, washers=washers_of(written, str(state.value("washers"))))
        if written.thermal is not None:
            through = tables.get("thermal", {}).get("spring_conductance")
            own = None if through is None else units.read(through, "conductance")
            changed = replace(changed, thermal=replace(written.thermal, spring_conductance=own))
        if written.settling is not None:
            sets = tables.get("settling", {}).get("spring_set")
            changed = replace(changed, settling=replace(written.settling, spring_set=sets))
    if "boss" in tables:
        boss = with_end(written.boss, tables["boss"].get("hole_end", written.boss.hole_end))
        if "corner_radius" in tables["boss"]:
            boss = replace(boss, corner_radius=units.length(tables["boss"]["corner_radius"]))
        boss = replace(boss, floor_thickness=units.length(tables["boss"]["floor_thickness"]))
        changed = replace(changed, boss=boss)
    if "history" in tables:
        changed = replace(changed, history=_history(written.history, tables["history"]))
    check_setup(changed, Origin(case.file, changed.name, {}, tables, tables))
    return changed


def _seating(seating: Seating, table: Tables) -> Seating:
    if "torque" in table:
        seating = replace(seating, torque=units.torque(table["torque"]))
    if "back_off" in table:
        seating = replace(seating, turns=units.turn(table["back_off"]))
    if table.get("mode") == "bottomed":
        seating = replace(seating, mode="bottomed", turns=0.0, counted_from="driven seat")
    elif "mode" in table:
        seating = replace(seating, mode=table["mode"], counted_from=table["counted_from"])
    return seating


def _history(history: History, table: Tables) -> History:
    points = table["point"]
    rows = tuple(tuple(units.temperature(point[name]) for point in points) for name in history.node_names)
    times = tuple(units.time(point["time"]) for point in points)
    return replace(history, times=times, temperatures=rows)


def changed_name(case: Case, setup: str, mode: str = "") -> str:
    """Return the name of a setup with something moved: the setup's own and a word, unlike any of the case.

    mode : of its seating where that is another than the setup's own, which its name may tell; else ""
    """
    taken = {each.name for each in case.setups}
    said = f": {mode}" if mode else ""
    name, number = f"{setup[:100]}, changed{said}", 1
    while name in taken:
        number += 1
        name = f"{setup[:100]}, changed {number}{said}"
    return name


def case_text_of(case_source_text: str, case: Case, state: LiveState) -> str:
    """Return a whole case file: the text of the case with one more setup that says what the state says.

    case_source_text : the text that the case was read from
    raises BadCase   : as setup_of
    """
    setup = setup_of(case, state)
    name = setup.name
    tables = overrides_of(case, state)
    if not tables:
        return case_source_text
    written = parsed(case_source_text, case.file).get("setup", {})
    own = {} if state.setup == ONLY_SETUP and state.setup not in written else written[state.setup]
    if "boss" in tables and _states_height(case_source_text, case, own):  # then the height must be the one that agrees
        height = text_of(setup.boss.height, "mm", case.units)
        tables = {**tables, "boss": {**tables["boss"], "height": height}}
    both = lay_on(own, tables, Origin(case.file, name, own, tables, {}))
    gap = "" if case_source_text.endswith("\n") else "\n"
    return f"{case_source_text}{gap}\n# From the live page: what was moved in {state.setup!r}\n{setup_text(name, both)}"


def _states_height(case_source_text: str, case: Case, own: Mapping[str, Any]) -> bool:
    """Whether the case states the boss's height, on which a moved floor would not agree."""
    shared = parsed(case_source_text, case.file).get("boss", {})
    return "height" in shared or "height" in own.get("boss", {})
