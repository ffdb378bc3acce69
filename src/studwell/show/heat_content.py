"""What the report says of solved heat, settling and re-tightening, as plain rows of text in the case's units."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studwell.case.records import Setup, ThermalSurface
from studwell.show.both_units import OfCase
from studwell.study.heat_numbers import (
    Difference,
    clamp_by_cycle,
    extreme_differences,
    retightening,
    spring_set_loss,
    stud_above_boss,
    worst_phases,
)
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


@dataclass(frozen=True)
class Rows:
    """A table: its caption, heads and rows of text; the first cell of a row names it."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def heat_tables(comparison: Comparison) -> tuple[Rows, ...]:
    """Return the tables on heat and settling of the setups that have any; none where all is given and nothing settles."""
    units = comparison.case.units
    solved = [result for result in comparison.results if result.heat is not None]
    settling = [r for r in comparison.results if r.setup.settling is not None or r.setup.retighten is not None]
    tables = []
    if solved:
        tables += [_solution(solved), _differences(solved), _phases(solved)]
    if settling:
        tables.append(_settling(settling, units))
    yielding = [r for r in comparison.results if r.cycles is not None and r.cycles.as_given.zones]
    if yielding:
        tables.append(_zones(yielding))
    return tuple(tables)


def _solution(results: Sequence[SetupResult]) -> Rows:
    rows = []
    for result in results:
        heat = result.heat
        assert heat is not None
        change = "one cycle only" if heat.change is None else _kelvin(heat.change)
        errors = (_kelvin(heat.reduction), _kelvin(heat.step_error))
        rows.append((result.name, str(heat.cycles), change, f"{heat.imbalance:.0e}", *errors))
    return Rows(
        "How the heat was solved: by a model reduced from a cycle in full, in finer steps",
        (
            "Setup",
            "Cycles run",
            "Largest change between the last two",
            "Heat missing over heat exchanged",
            "Largest error of the reduced model over the first cycle",
            "Largest error of its time steps, estimated",
        ),
        tuple(rows),
    )


def heat_facts(result: SetupResult) -> tuple[tuple[str, str], ...]:
    """Return (evidence, value) of a solved heat; nothing where temperatures are given."""
    heat = result.heat
    if heat is None:
        return ()
    facts = [("heat missing over heat exchanged", f"{heat.imbalance:.0e}")]
    facts.append(("largest error of the reduced heat model", _kelvin(heat.reduction)))
    facts.append(("largest error of the heat's time steps, estimated", _kelvin(heat.step_error)))
    if heat.change is not None:
        facts.append(("largest change of temperature between the last two cycles", _kelvin(heat.change)))
    return tuple(facts)


def _differences(results: Sequence[SetupResult]) -> Rows:
    rows = []
    for result in results:
        assert result.heat is not None
        above, below = extreme_differences(result)
        thread = stud_above_boss(result, "thread")
        both = f"{_kelvin(float(thread.max()))} and {_kelvin(float(thread.min()))}"
        rows.append((result.name, _when(above, result.heat.cycles), _when(below, result.heat.cycles), both))
    return Rows(
        "How far stud and boss differ in temperature; above 0 K the stud is hotter than the mean of the boss",
        ("Setup", "Stud's tip, most", "Stud's tip, least", "Middle of its engaged thread, most and least"),
        tuple(rows),
    )


def _when(difference: Difference, cycles: int) -> str:
    return f"{_kelvin(difference.value)} ({difference.moment.text(cycles)})"


def _phases(results: Sequence[SetupResult]) -> Rows:
    rows = []
    for result in results:
        assert result.heat is not None
        moments = worst_phases(result)
        cycles = result.heat.cycles
        rows.append((result.name, *["none" if m is None else m.text(cycles) for m in moments.values()]))
    return Rows(
        "When the worst moments come; of equal cycles the first is named",
        ("Setup", "Clamp, most", "Clamp, least", "Tip force, most", "Governing margin"),
        tuple(rows),
    )


def _settling(results: Sequence[SetupResult], units: str) -> Rows:
    rows = []
    for result in results:
        again = retightening(result)
        ends = clamp_by_cycle(result)
        assembled, least = result.value("clamp_assembled"), result.value("clamp_min")
        before = after = "not re-tightened"
        if again is not None:
            hot = f"{_force(again.hot, units)} in the run ({again.moment})"
            settled = "" if again.before is None else f"; {_force(again.before, units)} at the assembly temperature"
            before, after = hot + settled, _force(again.after, units)
        shown = ends if len(ends) <= 6 else (*ends[:3], *ends[-2:])
        texts = [_force(end, units) for end in shown]
        if len(ends) > 6:
            texts.insert(3, "...")
        ends_text, least_text = ", ".join(texts), _force(least, units)
        rows.append(
            (result.name, _force(assembled, units), before, after, ends_text, least_text, _by_set(result, units))
        )
    return Rows(
        "What settles, and re-tightening: clamp at the lowest clamped face",
        (
            "Setup",
            "Assembled",
            "Before re-tightening",
            "Re-tightened",
            "At the end of each cycle",
            "Least of all",
            "Lost to springs that set",
        ),
        tuple(rows),
    )


def _by_set(result: SetupResult, units: str) -> str:
    settling = result.setup.settling
    if not result.setup.springs:
        return "no springs"
    if settling is None:
        return "nothing settles"
    if settling.spring_set is None:
        return "unknown: spring_set is not given"
    loss = spring_set_loss(result)
    return "none" if loss is None else f"{_force(loss.lost, units)} ({loss.moment})"


ZONE_WORDS = {
    "elastic": "stays elastic",
    "settles": "creeps and does not yield",
    "shakes down": "shakes down: yields at first, then rests",
    "cycles plastically": "yields to and fro in every cycle: it fatigues",
    "ratchets": "ratchets: deforms on in every cycle",
}
"""Verdict on a body that may yield -> plain words."""


def zone_rows(result: SetupResult) -> tuple[tuple[str, ...], ...]:
    """Return (body, verdict in plain words, largest plastic strain, what the last cycle added, creep, cycles solved)."""
    if result.cycles is None:
        return ()
    return tuple(
        (
            name,
            ZONE_WORDS[zone.verdict],
            number_text(zone.strain, 2),
            number_text(zone.increments[-1], 2) if zone.increments else "not followed",
            number_text(zone.creep, 2),
            str(len(zone.increments)),
        )
        for name, zone in result.cycles.as_given.zones.items()
    )


def _zones(results: Sequence[SetupResult]) -> Rows:
    return Rows(
        "What repeated heat does to bodies that may yield: largest accumulated plastic strain of each",
        (
            "Setup",
            "Body",
            "Verdict",
            "Plastic strain at the end",
            "Added in the last cycle solved",
            "Creep strain",
            "Cycles followed",
        ),
        tuple((result.name, *row) for result in results for row in zone_rows(result)),
    )


def given_heat(result: OfCase) -> tuple[Rows, ...]:
    """Return the phases and surfaces that setups with solved heat were given, once for each different set of them."""
    units = result.case.units
    groups: list[tuple[list[str], Setup]] = []
    for setup in result.case.setups:
        if not setup.history.phases:
            continue
        for names, other in groups:
            if (other.history.phases, other.thermal) == (setup.history.phases, setup.thermal):
                names.append(setup.name)
                break
        else:
            groups.append(([setup.name], setup))
    alone = len(groups) == 1 and len(groups[0][0]) == len(result.case.setups)
    tables = []
    for names, setup in groups:
        who = "all setups" if alone else "; ".join(names)
        tables += [_given_phases(setup, who, units), _given_surfaces(setup, who, units)]
    return tuple(tables)


def _given_phases(setup: Setup, who: str, units: str) -> Rows:
    phases = setup.history.phases
    kinds = (("ambient", "temperature"), ("flux", "heat_flux"), ("temperature", "temperature"))
    columns = [(key, kind, name) for key, kind in kinds for name in _names(setup, key)]
    rows = []
    for phase in phases:
        stated = [as_text(dict(getattr(phase, key))[name], kind, units, 4) for key, kind, name in columns]
        ramp = "at once" if phase.ramp == 0.0 else as_text(phase.ramp, "time", units)
        rows.append(
            (phase.label, as_text(phase.duration, "time", units), ramp, number_text(phase.film_factor), *stated)
        )
    return Rows(
        f"Phases of one cycle, {who}; before the first all is at the assembly temperature",
        ("Phase", "Lasts", "Ramp from what was before", "Films times", *[name for _, _, name in columns]),
        tuple(rows),
    )


def _names(setup: Setup, key: str) -> list[str]:
    """Names of one kind that the phases give, each once, in order."""
    return list(dict.fromkeys(name for phase in setup.history.phases for name, _ in getattr(phase, key)))


def _given_surfaces(setup: Setup, who: str, units: str) -> Rows:
    thermal = setup.thermal
    rows = [] if thermal is None else [(surface.name, *_exchange(surface, units)) for surface in thermal.surfaces]
    return Rows(
        f"Surfaces that exchange heat, {who}; all others but the contacts are insulated",
        ("Surface", "Film", "With"),
        tuple(rows),
    )


def _exchange(surface: ThermalSurface, units: str) -> tuple[str, str]:
    if surface.film is not None:
        return as_text(surface.film, "film", units), surface.ambient or ""
    if surface.flux is not None:
        return "", f"heat flux {surface.flux}"
    return "", f"held at {surface.temperature}"


def heat_inputs(units: str) -> tuple[tuple[str, Callable[[Setup], str]], ...]:
    """Return (input, setup -> text) of what solved heat, cycles, settling and re-tightening are given; '' where nothing is."""

    def thermal(name: str) -> Callable[[Setup], str]:
        def text(setup: Setup) -> str:
            value = None if setup.thermal is None else getattr(setup.thermal, name)
            return "" if value is None else as_text(value, "conductance", units)

        return text

    def settled(name: str) -> Callable[[Setup], str]:
        return lambda s: "" if s.settling is None else as_text(getattr(s.settling, name), "length", units)

    return (
        ("heat: conductance of closed faces and threads", thermal("contact_conductance")),
        ("heat: conductance of the gap round the stud", thermal("gap_conductance")),
        ("heat: conductance of a spring's edges", thermal("spring_conductance")),
        ("heat: conductivity of gaskets", _gasket_text),
        ("history: cycles at most", lambda s: str(s.history.cycles) if s.history.cycles > 1 else ""),
        ("history: cycles stop when they differ by less than", lambda s: _optional_kelvin(s.history.until_periodic)),
        ("history: steps in a cycle", lambda s: str(s.history.steps) if s.history.phases else ""),
        ("settling: embedding at each thread", settled("thread")),
        ("settling: embedding at each face of nut or washer", settled("bearing")),
        ("settling: embedding at each metal joint of the stack", settled("inner")),
        ("settling: embedding at the tip, if seated", settled("tip")),
        ("settling: share of gasket pressure lost in each tenfold of time", _relaxation_text),
        ("settling: share of its cone height that a spring loses", _set_text),
        ("re-tightened", _retighten_text),
        ("may yield", lambda s: _yield_text(s, units)),
        ("what may yield creeps", lambda s: "" if s.inelastic is None else "yes" if s.inelastic.creep else "no"),
    )


def _relaxation_text(setup: Setup) -> str:
    if setup.settling is None:
        return ""
    return "; ".join(f"{name} {number_text(share)}" for name, share in setup.settling.relaxation)


def _set_text(setup: Setup) -> str:
    share = None if setup.settling is None else setup.settling.spring_set
    return "" if share is None else number_text(share)


def _gasket_text(setup: Setup) -> str:
    if setup.thermal is None:
        return ""
    known = [(layer.name, layer.gasket.conductivity) for layer in setup.stack if layer.gasket is not None]
    return "; ".join(f"{name} {as_text(k, 'conductivity')}" for name, k in known if k is not None)


def _retighten_text(setup: Setup) -> str:
    wanted = setup.retighten
    if wanted is None:
        return ""
    if wanted.kind == "first heat":
        return "after the first heat"
    if wanted.kind == "cycle":
        return f"after cycle {wanted.cycle}"
    return f"after {as_text(wanted.time or 0.0, 'time')}"


def _yield_text(setup: Setup, units: str) -> str:
    wanted = setup.inelastic
    if wanted is None:
        return ""
    parts = [f"layer {name}" for name in wanted.layers]
    if isinstance(wanted.zone, str):
        parts.insert(0, "the whole boss")
    elif wanted.zone is not None:
        parts.insert(0, f"the boss within {as_text(wanted.zone, 'length', units)} of its corner fillet")
    return "; ".join(parts)


def _optional_kelvin(value: float | None) -> str:
    return "" if value is None else _kelvin(value)


def _kelvin(value: float) -> str:
    return as_text(0.0 if abs(value) < 1e-6 else value, "temperature_difference", digits=2)


def _force(value: float | None, units: str) -> str:
    return "unknown" if value is None else as_text(value, "force", units, 4)
