"""What the report says was given: dimensions, torques, friction and temperatures, as rows of text in the case's units."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from studwell.case.records import Layer, PlainWasher, Setup, SpringWasher
from studwell.show.both_units import OfCase
from studwell.show.heat_content import Rows, given_heat, heat_inputs
from studwell.units import as_text, number_text

Getter = Callable[[Setup], float | None]
CRACK_INPUTS: tuple[tuple[str, str, Getter], ...] = (
    ("cracks: starting flaw", "length", lambda s: s.crack.flaw if s.crack else None),
    ("cracks: size that an inspection finds", "length", lambda s: s.crack.inspection_size if s.crack else None),
    ("cracks: histories to be borne", "", lambda s: s.crack.cycles if s.crack else None),
    ("cracks: surface factor", "", lambda s: s.crack.surface_factor if s.crack else None),
    (
        "cracks: residual stress in the boss's surface",
        "pressure",
        lambda s: s.crack.residual_stress if s.crack else None,
    ),
    ("cracks: probability of failure allowed", "", lambda s: s.crack.failure_probability if s.crack else None),
)
INPUTS: tuple[tuple[str, str, Getter], ...] = (
    ("boss: outer diameter", "length", lambda s: s.boss.outer_diameter),
    ("boss: hole depth to the end of the full diameter", "length", lambda s: s.boss.hole_depth),
    ("boss: full thread from the mouth", "length", lambda s: s.boss.thread_depth),
    ("boss: floor under the hole", "length", lambda s: s.boss.floor_thickness),
    ("boss: corner radius of the floor", "length", lambda s: s.boss.corner_radius),
    ("boss: cone at the hole's end, full angle", "angle", lambda s: s.boss.cone_angle),
    (
        "boss: hole's diameter in the model, the thread's minor diameter (not given)",
        "length",
        lambda s: s.boss.drill_diameter,
    ),
    ("boss: mouth chamfer", "length", lambda s: s.boss.mouth_chamfer),
    ("boss: counterbore diameter", "length", lambda s: s.boss.counterbore_diameter),
    ("stud: length", "length", lambda s: s.stud.length),
    ("stud: engaged length", "length", lambda s: s.stud.engaged_length),
    ("stud: boss-end thread", "length", lambda s: s.stud.boss_thread_length),
    ("stud: nut-end thread", "length", lambda s: s.stud.nut_thread_length),
    ("stud: shank diameter", "length", lambda s: s.stud.shank_diameter),
    ("stud: tip diameter", "length", lambda s: s.stud.tip_diameter),
    ("stud: tip length", "length", lambda s: s.stud.tip_length),
    ("seating: torque", "torque", lambda s: s.seating.torque),
    ("seating: turned back", "turn", lambda s: s.seating.turns),
    ("seating: thread friction", "", lambda s: s.seating.thread_friction),
    ("seating: tip friction", "", lambda s: s.seating.tip_friction),
    ("seating: lock torque", "torque", lambda s: s.seating.lock_torque),
    (
        "seating: share of the thread that the threadlocker bonds",
        "",
        lambda s: s.seating.threadlocker.fill if s.seating.threadlocker else None,
    ),
    (
        "repair: tolerance of the drilled depth",
        "length",
        lambda s: s.repair.drill_depth_tolerance if s.repair else None,
    ),
    (
        "repair: tolerance of the stud's length",
        "length",
        lambda s: s.repair.stud_length_tolerance if s.repair else None,
    ),
    ("repair: tolerance of the stack", "length", lambda s: s.repair.stack_tolerance if s.repair else None),
    ("repair: least floor", "length", lambda s: s.repair.least_floor if s.repair else None),
    *CRACK_INPUTS,
    ("tightening: torque", "torque", lambda s: s.tightening.torque),
    ("tightening: preload", "force", lambda s: s.tightening.preload),
    ("tightening: thread friction", "", lambda s: s.tightening.thread_friction),
    ("tightening: bearing friction", "", lambda s: s.tightening.bearing_friction),
    ("tightening: nut factor", "", lambda s: s.tightening.nut_factor),
    ("tightening: share of torsion locked in", "", lambda s: s.tightening.locked_torsion_share),
    ("history: assembly temperature", "temperature", lambda s: s.history.assembly_temperature),
    ("limits: least clamp", "force", lambda s: s.limits.minimum_clamp),
    ("limits: least gasket pressure", "pressure", lambda s: s.limits.minimum_gasket_pressure),
    ("cylinder pressure: peak", "pressure", lambda s: s.pressure.peak if s.pressure else None),
    ("cylinder pressure: bore", "length", lambda s: s.pressure.bore if s.pressure else None),
    ("studs in the pattern", "", lambda s: float(s.n_studs)),
    ("pocket: fill", "", lambda s: s.pocket.fill if s.pocket.fluid else None),
    ("pocket: leak time", "time", lambda s: s.pocket.leak_time),
    (
        "pocket: bulk modulus of the liquid at 20 degC",
        "pressure",
        lambda s: float(s.pocket.fluid.bulk_modulus.at(20.0)) if s.pocket.fluid else None,
    ),
    (
        "pocket: expansion of the liquid at 20 degC",
        "expansion",
        lambda s: s.pocket.fluid.expansion if s.pocket.fluid else None,
    ),
)
"""Numbers of a setup that the page lists: what they are called, their kind, where they are."""

NAMED_INPUTS: tuple[tuple[str, Callable[[Setup], str]], ...] = (
    ("boss: material", lambda s: s.boss.material.name),
    ("boss: hole end", lambda s: s.boss.hole_end),
    ("boss: mesh of the user's own", lambda s: s.boss.own_mesh.file if s.boss.own_mesh is not None else ""),
    ("stud: thread in the boss", lambda s: s.stud.thread.name),
    ("stud: thread in the nut", lambda s: s.stud.nut_thread.name),
    ("stud: property class and material", lambda s: f"{s.stud.property_class}, {s.stud.material.name}"),
    ("stud: thread model, boss and nut", lambda s: f"{s.stud.thread_model}, {s.stud.nut_thread_model}"),
    ("nut", lambda s: f"{s.nut.kind}, {s.nut.material.name}"),
    ("seating", lambda s: s.seating.mode),
    ("seating: threadlocker", lambda s: _lock(s)),
    ("cracks: the stud's thread", lambda s: (s.crack.stud_thread or "") if s.crack else ""),
    ("repair: tap", lambda s: (s.repair.tap or "") if s.repair else ""),
    ("turns counted from", lambda s: s.seating.counted_from if s.seating.mode != "bottomed" else ""),
    ("pocket under the tip", lambda s: s.pocket.contents),
    (
        "pocket: seal, and when its fill counts",
        lambda s: f"{s.pocket.seal}, {s.pocket.fill_at}" if s.pocket.fluid else "",
    ),
)


def input_rows(result: OfCase) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
    """Return (input, ((setups, value), ...)): one pair with '' if all setups agree, else one a different value."""
    units = result.case.units
    rows: list[tuple[str, tuple[tuple[str, str], ...]]] = []
    for name, text_of in _all_inputs(units):
        by_value: dict[str, list[str]] = {}
        for setup in result.case.setups:
            by_value.setdefault(text_of(setup), []).append(setup.name)
        if set(by_value) == {""}:
            continue
        if len(by_value) == 1:
            rows.append((name, (("", next(iter(by_value))),)))
        else:
            rows.append((name, tuple(("; ".join(names), value or "not given") for value, names in by_value.items())))
    return rows


def _all_inputs(units: str) -> Iterator[tuple[str, Callable[[Setup], str]]]:
    yield from NAMED_INPUTS
    yield "stack, from the boss up", lambda s: "; ".join(_layer_text(layer, units) for layer in s.stack)
    yield "washers, from the stack up", lambda s: "; ".join(_washer_text(washer, units) for washer in s.washers)
    for name, kind, getter in INPUTS:
        yield name, _number_reader(getter, kind, units)
    yield from heat_inputs(units)


def _number_reader(getter: Getter, kind: str, units: str) -> Callable[[Setup], str]:
    def read(setup: Setup) -> str:
        value = getter(setup)
        if value is None:
            return ""
        return as_text(value, kind, units) if kind else number_text(value)

    return read


def _layer_text(layer: Layer, units: str) -> str:
    of = layer.material.name if layer.material is not None else f"gasket {layer.gasket.name if layer.gasket else ''}"
    sizes = " x ".join(
        as_text(d, "length", units) for d in (layer.thickness, layer.outer_diameter, layer.inner_diameter)
    )
    follows = f", follows {layer.node}" if layer.node else ""
    return f"{layer.name}: {of}, {sizes} (thickness, outer, inner){follows}"


def _washer_text(washer: PlainWasher | SpringWasher, units: str) -> str:
    if isinstance(washer, PlainWasher):
        return f"plain, {as_text(washer.thickness, 'length', units)} thick, {washer.material.name}"
    return f"{washer.name}, {washer.parallel} in parallel x {washer.series} in series"


def given_tables(result: OfCase) -> tuple[Rows, ...]:
    """Return the tables of given temperatures, phases and surfaces, each different one once."""
    return (*history_tables(result), *given_heat(result))


def history_tables(result: OfCase) -> tuple[Rows, ...]:
    """Return a table of each different history of given temperatures, at its points."""
    return tuple(history_table(names, setup, result.case.units) for names, setup in different_histories(result))


def history_table(names: str, setup: Setup, units: str) -> Rows:
    """Return a setup's temperatures at the points of its history; names: of the setups that share it."""
    history = setup.history
    heads = ("Point", "Time", *(name.replace("_", " ") for name in history.node_names))
    rows = []
    for place, (name, time) in enumerate(zip(history.labels, history.times, strict=True)):
        temperatures = [as_text(values[place], "temperature", units, 4) for values in history.temperatures]
        rows.append((name, as_text(time, "time", units, 4), *temperatures))
    return Rows(f"Temperatures of {names}; straight lines between the points", heads, tuple(rows))


def different_histories(result: OfCase) -> list[tuple[str, Setup]]:
    """Return (names of the setups that share it, one of them) for each different history of given temperatures."""
    groups: list[tuple[list[str], Setup]] = []
    for setup in result.case.setups:
        if setup.history.phases:
            continue
        for names, other in groups:
            if other.history == setup.history:
                names.append(setup.name)
                break
        else:
            groups.append(([setup.name], setup))
    return [
        ("all setups" if len(names) == len(result.case.setups) else "; ".join(names), setup) for names, setup in groups
    ]


def _lock(setup: Setup) -> str:
    lock = setup.seating.threadlocker
    return "" if lock is None else f"{lock.grade.name} strength, {'cured' if lock.cured else 'not cured'}"
