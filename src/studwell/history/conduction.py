"""The heat of a setup solved on its own section: films, contacts and the gap round the stud, cycle after cycle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from studwell.case.records import Setup, SpringWasher, Thermal
from studwell.errors import Unknown
from studwell.fem.heat_conditions import AirGap, Bridge, Condition, Contact, Film, Flux, Held, PointHistory, ThermalBody
from studwell.fem.heat_modes import reduce_heat, reduction_error
from studwell.fem.thermal import HeatSystem
from studwell.fem.transient import solve_transient
from studwell.joint.bodies import UNIFORM, FieldSeries, SectionBody
from studwell.joint.condense import FieldMode
from studwell.parts.gasket import Gasket, gasket_conductance
from studwell.parts.spring import spring_heat_conductance
from studwell.section.layout import Layout

Array = np.ndarray

BOUNDARIES = {"outer": "outer", "inner": "inner", "underside": "underside", "top": "top", "end": "end face"}
"""Face of a case -> boundary of a body's mesh; the boss's top is what the stack leaves bare."""

HEAT_MODES = 24
"""Modes of the reduced heat model that runs the cycles."""

SUBSTEPS = 8
"""Heat steps in each step of the history: heat needs finer ones after a film or an ambient changes."""

SAME_HEAT = 1e-6
"""K; cycles that differ less are the same, and the rest of them need no solving."""

STRAIN_SHARE = 1e-7
"""Largest error of a body's strain modes, relative to its largest thermal strain."""


@dataclass(frozen=True)
class SolvedHeat:
    """Temperatures of all bodies over all cycles.

    times (t,) s and cycle (t,) of each instant, the start included; fields: per body (t, N) degC
    phase_ends : (index, label) of the instant at which each phase ends
    cycles     : how many were run; change : largest difference (K) of the last two, None after one
    imbalance  : largest heat missing over the heat exchanged, by the schemes' own fluxes
    reduction  : largest error (K) of the reduced model against the full one over the first cycle
    step_error : largest error (K) of the time steps over the first cycle, estimated from steps twice as long
    """

    times: Array = field(repr=False)
    cycle: Array = field(repr=False)
    fields: dict[str, Array] = field(repr=False)
    phase_ends: tuple[tuple[int, str], ...]
    cycles: int
    change: float | None
    imbalance: float
    reduction: float
    step_error: float


def solve_heat(setup: Setup, layout: Layout, bodies: Sequence[SectionBody]) -> SolvedHeat:
    """Solve the heat of a setup's phases on its section, cycle after cycle.

    A cycle is solved in full in the history's steps, and a reduced model is made from it, whose error over that cycle is
    stated; the temperatures come from that model in steps SUBSTEPS times finer, with their error estimated from half as
    many. Closed faces and threads conduct by the case's contact conductance whatever their pressure, a gasket by that of
    both its faces and its own thickness, a spring by its edges and its discs where the case gives their conductance; a
    backed-off tip does not. raises BadMesh, ValueError, Unknown.
    """
    thermal, history = setup.thermal, setup.history
    if thermal is None or not history.phases:
        raise Unknown("this setup gives its temperatures: there is no heat to solve")
    times = phase_times(setup)
    system = HeatSystem(_bodies(bodies), _conditions(setup, thermal, layout, bodies, first=True))
    again = system.with_conditions(*_histories(setup, thermal, bodies, first=False))
    start = system.field(history.assembly_temperature)
    full = solve_transient(system, start, times)
    reduced = reduce_heat(system, full.temperature, HEAT_MODES)
    reduction = float(reduction_error(reduced, full).largest)
    fine, half_as_fine = _within(times, SUBSTEPS), _within(times, SUBSTEPS // 2)
    first = solve_transient(reduced, start, fine, keep=times)
    coarser = solve_transient(reduced, start, half_as_fine, keep=times)
    step_error = float(np.max(np.abs(first.temperature - coarser.temperature))) / 3.0
    fields = [first.temperature]
    imbalance = max(full.ledger.imbalance, first.ledger.imbalance)
    change, cycles = None, 1
    model = reduced.with_system(again)
    while cycles < history.cycles:
        run = solve_transient(model, fields[-1][-1], fine, keep=times)
        change = float(np.max(np.abs(run.temperature - fields[-1])))
        fields.append(run.temperature)
        cycles += 1
        if change <= max(SAME_HEAT, history.until_periodic or 0.0):
            break
    period = history.cycle_time
    all_times = np.concatenate([times] + [period * k + times[1:] for k in range(1, cycles)])
    cycle = np.concatenate([np.zeros(len(times), dtype=int)] + [np.full(len(times) - 1, k) for k in range(1, cycles)])
    temperatures = np.concatenate([fields[0]] + [field[1:] for field in fields[1:]])
    ends = []
    for k in range(cycles):
        for end, label in zip(history.times, history.labels, strict=True):
            index = int(np.argmin(np.abs(all_times - (period * k + end))))
            ends.append((index, label if cycles == 1 else f"{label}, cycle {k + 1}"))
    return SolvedHeat(
        times=all_times,
        cycle=cycle,
        fields={body.spec.name: temperatures[:, system.nodes_of(body.spec.name)] for body in bodies},
        phase_ends=tuple(ends),
        cycles=cycles,
        change=change,
        imbalance=float(imbalance),
        reduction=reduction,
        step_error=step_error,
    )


def _within(times: Array, count: int) -> Array:
    """Return times (s) with every interval divided into so many."""
    shares = np.arange(count) / count
    return np.append((times[:-1, None] + np.diff(times)[:, None] * shares).ravel(), times[-1])


def phase_times(setup: Setup) -> Array:
    """Return the instants of one cycle, s: every phase gets a share of the steps, more of them in its first fifth.

    Half of the steps follow the phases' lengths and half are dealt out evenly, since a short warm-up changes as much
    as a long night. Within a phase steps have two sizes only, so that few matrices are factorised.
    """
    phases, steps = setup.history.phases, setup.history.steps
    total = sum(phase.duration for phase in phases)
    pieces, start = [np.zeros(1)], 0.0
    for phase in phases:
        share = 0.5 * phase.duration / total + 0.5 / len(phases)
        count = max(4, round(steps * share))
        early = min(max(0.2 * phase.duration, min(2.0 * phase.ramp, 0.5 * phase.duration)), 0.8 * phase.duration)
        first = max(2, round(0.55 * count))
        rest = max(2, count - first)
        if phase.ramp and early > phase.ramp:
            at_ramp = max(1, round(first * phase.ramp / early))
            inside = np.linspace(0.0, phase.ramp, at_ramp + 1)[1:]
            inside = np.concatenate([inside, np.linspace(phase.ramp, early, max(1, first - at_ramp) + 1)[1:]])
        else:
            inside = np.linspace(0.0, early, first + 1)[1:]
        pieces += [start + inside, start + np.linspace(early, phase.duration, rest + 1)[1:]]
        start += phase.duration
    return np.concatenate(pieces)


def _bodies(bodies: Sequence[SectionBody]) -> list[ThermalBody]:
    result = []
    for body in bodies:
        regions = body.spec.mesh.regions
        conductivity = dict.fromkeys(regions, body.material.conductivity)
        capacity = dict.fromkeys(regions, body.material.volumetric_heat_capacity)
        result.append(ThermalBody(body.spec.name, body.spec.mesh, conductivity, capacity))
    return result


def _conditions(
    setup: Setup, thermal: Thermal, layout: Layout, bodies: Sequence[SectionBody], first: bool
) -> list[Condition]:
    """Everything that heats, cools and joins the bodies, in the first cycle or a later one."""
    conditions: list[Condition] = list(_histories(setup, thermal, bodies, first))
    closed = thermal.contact_conductance
    for joining in layout.joinings:
        lower = (joining.lower, "mouth contact" if joining.lower == "boss" else "top contact")
        upper = (joining.upper, "bearing" if joining.upper == "nut" else "bottom contact")
        name = f"{joining.lower} to {joining.upper}"
        if joining.gasket is not None:
            conditions.append(Contact(lower, upper, _through(joining.gasket, closed), name=name))
        elif joining.spring is None:
            conditions.append(Contact(lower, upper, closed, name=name))
        elif thermal.spring_conductance is not None:
            conditions.append(
                Bridge(lower, upper, _along(joining.spring, thermal.spring_conductance), name=f"{name}, by the spring")
            )
    if layout.insert is None:
        conditions.append(Contact(("stud", "thread"), ("boss", "thread"), closed, name="thread in the boss"))
    else:
        conditions.append(Contact(("stud", "thread"), ("insert", "inside thread"), closed, name="thread in the insert"))
        conditions.append(
            Contact(("insert", "outside thread"), ("boss", "thread"), closed, name="insert's thread in the boss")
        )
    conditions.append(Contact(("stud", "nut thread"), ("nut", "thread"), closed, name="thread in the nut"))
    if setup.seating.mode == "bottomed" and not layout.tip_lift:
        conditions.append(Contact(("stud", "tip"), ("boss", "seat"), closed, name="tip on its seat"))
    for ring in layout.rings:
        conditions.append(
            AirGap(
                ("stud", "side"),
                (ring.name, "inner"),
                thermal.gap_conductance,
                name=f"gap round the stud in {ring.name}",
            )
        )
    return conditions


def _through(gasket: Gasket, closed: float) -> float:
    """Conductance across a gasket, N/(mm s K)."""
    if gasket.conductivity is None:
        raise Unknown(f"the conductivity of gasket {gasket.name} is not known: give the layer one")
    return gasket_conductance(gasket, closed)


def _along(spring: SpringWasher, edges: float) -> float:
    """Conductance from end to end of a spring washer group, mW/K."""
    sizes = (spring.outer_diameter, spring.inner_diameter, spring.thickness)
    return float(spring_heat_conductance(*sizes, spring.material.conductivity, edges, spring.parallel, spring.series))


def _histories(setup: Setup, thermal: Thermal, bodies: Sequence[SectionBody], first: bool) -> list[Film | Flux | Held]:
    """Films, fluxes and held temperatures of the outer surfaces over one cycle."""
    result: list[Film | Flux | Held] = []
    present = {body.spec.name: body.spec.mesh.boundaries for body in bodies}
    factor = _factor(setup)
    for surface in thermal.surfaces:
        boundary = BOUNDARIES[surface.face]
        if surface.body == "boss" and surface.face == "top":
            boundary = "bare mouth face"
        if boundary not in present[surface.body]:
            raise Unknown(f"{surface.name}: the section has no such surface")
        if surface.film is not None and surface.ambient is not None:
            coefficient = PointHistory(factor.times, surface.film * np.asarray(factor.values))
            ambient = _named(setup, "ambient", surface.ambient, first)
            result.append(Film(surface.body, boundary, coefficient, ambient, name=surface.name))
        elif surface.flux is not None:
            result.append(Flux(surface.body, boundary, _named(setup, "flux", surface.flux, first), name=surface.name))
        elif surface.temperature is not None:
            held = _named(setup, "temperature", surface.temperature, first)
            result.append(Held(surface.body, boundary, held, name=surface.name))
    return result


def _factor(setup: Setup) -> PointHistory:
    """Film factor over one cycle: steps from phase to phase."""
    times, values, start = [], [], 0.0
    for phase in setup.history.phases:
        times += [start, start + phase.duration]
        values += [phase.film_factor, phase.film_factor]
        start += phase.duration
    return PointHistory(times, values)


def _named(setup: Setup, kind: str, name: str, first: bool) -> PointHistory:
    """A named value over one cycle: ramps from where it was, then holds."""
    phases = setup.history.phases
    stated = [dict(getattr(phase, kind))[name] for phase in phases]
    rest = 0.0 if kind == "flux" else setup.history.assembly_temperature
    before = rest if first else stated[-1]
    times, values, start = [], [], 0.0
    for phase, value in zip(phases, stated, strict=True):
        times += [start, start + phase.ramp, start + phase.duration]
        values += [before, value, value]
        before = value
        start += phase.duration
    return PointHistory(times, values)


def named_nodes(setup: Setup) -> Setup:
    """Return a setup whose layers follow temperature nodes of their own names, as solved heat needs them.

    A gasket follows the layer above it. Nodes: boss, stud_tip, stud_top, nut and each solid layer.
    """
    layers = [replace(layer, node=layer.name) if layer.material is not None else layer for layer in setup.stack]
    layers = [
        replace(layer, node=_beside(layers, i)) if layer.material is None else layer for i, layer in enumerate(layers)
    ]
    names = ("boss", "stud_tip", "stud_top", "nut", *[layer.name for layer in layers if layer.material is not None])
    return replace(setup, stack=tuple(layers), history=replace(setup.history, node_names=names))


def with_heat(setup: Setup, bodies: Sequence[SectionBody], heat: SolvedHeat) -> tuple[Setup, tuple[SectionBody, ...]]:
    """Return a setup (with named nodes) and its bodies with the solved heat in place of given node temperatures.

    The setup's history gets the solved temperatures of the boss, the stud's ends, the nut and each layer (means of the
    body, or of its end) at every instant; each body gets strain modes that hold its thermal strain to STRAIN_SHARE.
    """
    assembly = setup.history.assembly_temperature
    result = []
    for body in bodies:
        temperature = heat.fields[body.spec.name]
        strain = np.asarray(body.material.thermal_strain(temperature, assembly), dtype=float)
        shapes, amplitudes = proper_modes(strain, STRAIN_SHARE)
        modes = [FieldMode(f"heat {k}", shape, UNIFORM) for k, shape in enumerate(shapes)]
        others = [mode for mode in body.spec.modes if not mode.name.startswith("heat")]
        series = FieldSeries(temperature.astype(np.float32), amplitudes)
        result.append(replace(body, spec=replace(body.spec, modes=(*modes, *others)), solved=series))
    stud = next(body for body in bodies if body.spec.name == "stud")
    heights = stud.spec.mesh.nodes[:, 1]
    ends = {
        "stud_tip": heat.fields["stud"][:, heights <= heights.min() + 1e-6],
        "stud_top": heat.fields["stud"][:, heights >= heights.max() - 1e-6],
    }
    columns = [ends.get(name, heat.fields.get(name)) for name in setup.history.node_names]
    history = replace(
        setup.history,
        times=tuple(heat.times.tolist()),
        labels=tuple("" for _ in heat.times),
        temperatures=tuple(tuple(column.mean(axis=1).tolist()) for column in columns if column is not None),
    )
    return replace(setup, history=history), tuple(result)


def _beside(layers: Sequence, index: int) -> str:
    """The node whose temperature a gasket follows: the layer above it, else the one below, else the boss."""
    for other in (*range(index + 1, len(layers)), *range(index - 1, -1, -1)):
        if layers[other].material is not None:
            return layers[other].name
    return "boss"


def proper_modes(fields: Array, share: float) -> tuple[Array, Array]:
    """Return shapes (k, N) and amplitudes (t, k) whose product is the fields (t, N) to a share of their largest value.

    Source: proper orthogonal decomposition (singular values of the snapshots).
    """
    largest = float(np.max(np.abs(fields), initial=0.0))
    if largest == 0.0:
        return np.zeros((1, fields.shape[1])), np.zeros((fields.shape[0], 1))
    left, values, right = np.linalg.svd(fields, full_matrices=False)
    count = int(np.count_nonzero(values > share * values[0] * 1e-2)) or 1
    for k in range(1, count + 1):
        amplitudes = left[:, :k] * values[:k]
        if np.max(np.abs(amplitudes @ right[:k] - fields)) <= share * largest:
            break
    scale = np.max(np.abs(right[:k]), axis=1)
    return right[:k] / scale[:, None], amplitudes * scale
