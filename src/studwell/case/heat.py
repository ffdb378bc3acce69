"""Build the records of the heat: temperatures given at points, or phases in which it is solved from surfaces."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from studwell.case import model
from studwell.case.overrides import Location, Origin, did_you_mean, nearest
from studwell.case.records import History, Layer, Phase, Thermal, ThermalSurface
from studwell.case.service_records import ends_of
from studwell.units import as_text

BODY_NODES = ("boss", "stud_tip", "stud_top", "nut")
"""The temperature nodes that every setup has, beside those of its layers."""

_BODY_SURFACES = (("boss", "outer"), ("boss", "underside"), ("boss", "top"), ("nut", "outer"), ("stud", "end"))
_LAYER_FACES = ("outer", "inner")
_NAMED = (("ambient", "ambient"), ("heat_flux", "flux"), ("temperature", "temperature"))
"""Key of a surface that names a value, and table of a phase that gives it."""


@dataclass(frozen=True)
class Elsewhere:
    """Names that any setup of the case uses: what one setup inherits may be there for another.

    nodes   : temperature nodes that layers follow
    named   : table of a phase -> names that surfaces take from it
    springs : True if any setup has a spring washer
    """

    nodes: frozenset[str]
    named: Mapping[str, frozenset[str]]
    springs: bool

    @classmethod
    def of(cls, tables: Iterable[Mapping[str, Any]]) -> Elsewhere:
        """Return the names in tables as parsed: the case's own and those of each setup."""
        nodes: set[str] = set()
        named: dict[str, set[str]] = {table: set() for _, table in _NAMED}
        springs = False
        for each in tables:
            washers = each.get("washer", [])
            listed = washers.values() if isinstance(washers, dict) else washers
            springs = springs or any(washer.get("kind") == "spring" for washer in _dicts(listed))
            stack = each.get("stack", [])
            layers = stack.values() if isinstance(stack, dict) else stack
            nodes.update(layer["node"] for layer in _dicts(layers) if isinstance(layer.get("node"), str))
            thermal = each.get("thermal")
            for surface in _dicts(thermal.get("surface") if isinstance(thermal, dict) else None):
                for key, table in _NAMED:
                    if isinstance(surface.get(key), str):
                        named[table].add(surface[key].strip())
        return cls(frozenset(nodes), {table: frozenset(names) for table, names in named.items()}, springs)


def needs_a_spring(at: Location, value: float | None, origin: Origin, elsewhere: Elsewhere) -> None:
    """Refuse a key on springs in a case none of whose setups has one."""
    if value is not None and not elsewhere.springs:
        raise origin.bad(
            at,
            "no setup has a spring washer",
            'only with a washer of kind = "spring"',
            value=origin.given(at),
            slug="cannot-fit",
            together=True,
        )


def build_history(tables: model.SetupTables, stack: tuple[Layer, ...], origin: Origin, elsewhere: Elsewhere) -> History:
    """Return the history of a setup, from its points or its phases. Raises BadCase."""
    history = tables.history
    if history.point is not None and history.phase is not None:
        raise origin.bad(
            ("history", "phase"),
            "points give the temperatures, phases have them solved",
            "[[history.point]] or [[history.phase]], not both",
        )
    if history.until_periodic is not None and history.cycles == 1:
        at: Location = ("history", "until_periodic")
        raise origin.bad(
            at,
            "it compares one cycle with the next, but there is one only",
            "cycles of 2 and more",
            value=origin.given(at),
            together=True,
        )
    if history.phase is not None:
        return _phases(history, history.phase, origin)
    if history.point is None:
        raise origin.bad(
            ("history", "point"),
            "missing: give [[history.point]] with temperatures, or [[history.phase]] and [thermal] to have them solved",
            slug="missing-key",
        )
    return _points(history, history.point, stack, origin, elsewhere.nodes)


def _points(
    history: model.HistoryTable,
    points: list[model.PointTable],
    stack: tuple[Layer, ...],
    origin: Origin,
    all_nodes: frozenset[str],
) -> History:
    wanted = tuple(dict.fromkeys([*BODY_NODES, *(layer.node for layer in stack)]))
    for number, point in enumerate(points):
        at: Location = ("history", "point", number)
        missing = [node for node in wanted if node not in point.nodes]
        strange = [node for node in point.nodes if node not in wanted and node not in all_nodes]
        for node in strange:
            if not missing or nearest(node, missing):
                hint, allowed = did_you_mean(node, missing or [*wanted, "time", "label"])
                raise origin.bad((*at, node), f"no such temperature node{hint}", allowed, slug="unknown-key")
        for node in missing:
            users = [layer.name for layer in stack if layer.node == node and node not in BODY_NODES]
            of = f' of layer "{users[0]}"' if users else ""
            raise origin.bad(
                (*at, node),
                f"the node{of} has no temperature here",
                'a temperature, such as "20 degC"',
                slug="missing-key",
            )
        earlier = points[number - 1].time
        if number and point.time <= earlier:
            raise origin.bad(
                (*at, "time"),
                "time does not grow from point to point",
                f"more than {as_text(earlier, 'time')}",
                value=origin.given((*at, "time")),
                slug="time-order",
            )
    _enough_steps(history, len(points) - 1, "stretches between points", origin)
    if history.until_periodic is not None:
        raise origin.excludes(("history", "until_periodic"), "[[history.point]], whose cycles are all alike")
    first, last = points[0].nodes, points[-1].nodes
    if history.cycles > 1 and any(first[node] != last[node] for node in wanted):
        raise origin.bad(
            ("history", "cycles"),
            f'the points do not close: "{points[-1].label}" is not as "{points[0].label}"',
            "1, or a last point with the temperatures of the first",
            value=history.cycles,
            together=True,
        )
    return History(
        assembly_temperature=history.assembly_temperature,
        times=tuple(point.time for point in points),
        labels=tuple(point.label for point in points),
        node_names=wanted,
        temperatures=tuple(tuple(point.nodes[node] for point in points) for node in wanted),
        steps=history.steps,
        cycles=history.cycles,
    )


def _phases(history: model.HistoryTable, given: list[model.PhaseTable], origin: Origin) -> History:
    for number, phase in enumerate(given):
        at: Location = ("history", "phase", number, "ramp")
        if phase.ramp > phase.duration:
            raise origin.bad(
                at,
                "longer than its phase",
                f"at most {as_text(phase.duration, 'time')}",
                value=origin.given(at),
                slug="out-of-range",
            )
    _enough_steps(history, sum(1 + (0 < p.ramp < p.duration) for p in given), "ramps and holds of the phases", origin)
    phases = tuple(
        Phase(p.label, p.duration, p.ramp, p.film_factor, _named(p.ambient), _named(p.flux), _named(p.temperature))
        for p in given
    )
    return History(
        assembly_temperature=history.assembly_temperature,
        times=ends_of(phases),
        labels=tuple(phase.label for phase in phases),
        node_names=(),
        temperatures=(),
        steps=history.steps,
        cycles=history.cycles,
        until_periodic=history.until_periodic,
        phases=phases,
    )


def _enough_steps(history: model.HistoryTable, least: int, what: str, origin: Origin) -> None:
    if history.steps < least:
        raise origin.bad(
            ("history", "steps"),
            f"fewer steps than {what}",
            f"at least {least}",
            value=history.steps,
            slug="out-of-range",
        )


def build_thermal(
    tables: model.SetupTables, stack: tuple[Layer, ...], origin: Origin, elsewhere: Elsewhere
) -> Thermal | None:
    """Return how a setup's heat passes, None where points give the temperatures. Raises BadCase."""
    thermal, phases = tables.thermal, tables.history.phase
    if thermal is None and phases is None:
        return None
    if phases is None:
        raise origin.bad(
            ("thermal",),
            "points give the temperatures, there is no heat to solve",
            "with [[history.phase]] only",
            together=True,
        )
    if thermal is None:
        raise origin.bad(("thermal",), "missing table: [[history.phase]] needs it", slug="missing-key", together=True)
    known = _surface_names(tables, stack, origin)
    surfaces: dict[str, ThermalSurface] = {}
    for number, surface in enumerate(thermal.surface):
        at: Location = ("thermal", "surface", number)
        _check_name(surface.name, known, tables, stack, (*at, "name"), origin)
        if surface.name in surfaces:
            raise origin.bad(
                (*at, "name"),
                "this surface is there already",
                "each surface once",
                value=surface.name,
                slug="duplicate-name",
            )
        _check_exchange(surface, at, origin)
        for key, table in _NAMED:
            if getattr(surface, key) is not None:
                _check_given(getattr(surface, key), (*at, key), table, surface.name, phases, origin)
        surfaces[surface.name] = ThermalSurface(
            *known[surface.name], surface.film, surface.ambient, surface.heat_flux, surface.temperature
        )
    for key, table in _NAMED:
        used = {getattr(surface, key) for surface in thermal.surface} | elsewhere.named[table]
        for number, phase in enumerate(phases):
            for name in getattr(phase, table):
                if name not in used:
                    hint, _ = did_you_mean(name, sorted(word for word in used if word))
                    raise origin.bad(
                        ("history", "phase", number, table, name),
                        f"no surface of [thermal] uses it{hint}",
                        f"what the {key} of a surface names",
                        slug="unknown-name",
                        together=True,
                    )
    needs_a_spring(("thermal", "spring_conductance"), thermal.spring_conductance, origin, elsewhere)
    sprung = any(washer.kind == "spring" for washer in tables.washer)
    through = thermal.spring_conductance if sprung else None
    return Thermal(thermal.contact_conductance, thermal.gap_conductance, tuple(surfaces.values()), through)


def _surface_names(tables: model.SetupTables, stack: tuple[Layer, ...], origin: Origin) -> dict[str, tuple[str, str]]:
    """Return the outer surfaces of a setup: name -> (body, face)."""
    for number, layer in enumerate(stack):
        if layer.name in ("boss", "nut", "stud"):
            raise origin.bad(
                ("stack", number, "name"),
                "with [thermal], a layer cannot be called as another body is",
                "a name of its own",
                value=layer.name,
                slug="duplicate-name",
                together=True,
            )
    pairs = [*_BODY_SURFACES[:3], *((layer.name, face) for layer in stack if layer.material for face in _LAYER_FACES)]
    return {f"{body} {face}": (body, face) for body, face in (*pairs, *_BODY_SURFACES[3:])}


def _check_name(
    name: str,
    known: Mapping[str, tuple[str, str]],
    tables: model.SetupTables,
    stack: tuple[Layer, ...],
    at: Location,
    origin: Origin,
) -> None:
    """Refuse a surface that no body of the setup has, or that another body covers."""
    covered = {}
    if stack[0].outer_diameter >= tables.boss.outer_diameter:
        covered["boss top"] = f'the layer "{stack[0].name}" covers it'
    if tables.nut.kind == "domed":
        covered["stud end"] = "the domed nut closes over it"
    for layer in stack:
        if layer.gasket is not None:
            covered |= {f"{layer.name} {face}": "a gasket has no surface of its own" for face in _LAYER_FACES}
    free = [each for each in known if each not in covered]
    if name in covered:
        raise origin.bad(at, covered[name], ", ".join(free), value=name, slug="cannot-fit", together=True)
    if name not in known:
        hint, allowed = did_you_mean(name, free)
        problem = f"no outer surface of this name{hint}"
        raise origin.bad(at, problem, allowed, value=name, slug="unknown-name", together=True)


def _check_exchange(surface: model.SurfaceTable, at: Location, origin: Origin) -> None:
    """Refuse a surface without exactly one of film and ambient, heat flux, temperature."""
    if surface.film is not None and surface.ambient is None:
        raise origin.needs((*at, "ambient"), "film", "the name of an ambient that every phase gives")
    if surface.ambient is not None and surface.film is None:
        raise origin.needs((*at, "film"), "ambient", 'a film coefficient, such as "40 W/(m^2*K)"')
    given = [key for key, _ in _NAMED if getattr(surface, key) is not None]
    if len(given) > 1:
        raise origin.excludes((*at, given[1]), "film and ambient" if given[0] == "ambient" else given[0])
    if not given:
        raise origin.bad((*at, "film"), "missing: give film and ambient, heat_flux or temperature", slug="missing-key")


def _check_given(
    name: str, at: Location, table: str, surface: str, phases: list[model.PhaseTable], origin: Origin
) -> None:
    """Refuse a name that a phase does not give a value."""
    without = [number for number, phase in enumerate(phases) if name not in getattr(phase, table)]
    if len(without) == len(phases):
        all_names = dict.fromkeys(other for phase in phases for other in getattr(phase, table))
        hint, allowed = did_you_mean(name, list(all_names))
        problem = f"no phase gives {table} of this name{hint}"
        raise origin.bad(at, problem, allowed, value=name, slug="unknown-name", together=True)
    if without:
        raise origin.bad(
            ("history", "phase", without[0], table, name),
            f'missing: the surface "{surface}" needs it in every phase',
            slug="missing-key",
            together=True,
        )


def _named(values: dict[str, float]) -> tuple[tuple[str, float], ...]:
    return tuple(sorted(values.items()))


def _dicts(entries: Any) -> list[dict[str, Any]]:
    listed = [*entries] if isinstance(entries, list | type({}.values())) else []
    return [entry for entry in listed if isinstance(entry, dict)]
