"""Outcomes and margins of many samples from their channels: load over capacity, each mode as `strength` defines it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from studwell.data import assumption
from studwell.odds.channels import CORNER, MISES, PUNCH, UNDERSIDE, uppermost
from studwell.odds.lives import Lives, ManyLives
from studwell.odds.springs import flat_loads
from studwell.parts.fastener import proof_load, property_class
from studwell.parts.insert import assembled_length
from studwell.parts.material import Material
from studwell.parts.strip import ShearAreas, hole_areas, insert_hole_areas, stud_areas
from studwell.parts.torsion import combined_stress
from studwell.strength.fit import floor_breakthrough, length_tolerances
from studwell.strength.floor import RELEASE

Array = np.ndarray
SEATED, TIGHTENED, ASSEMBLED = 0, 1, 2
"""Places of the states before the run goes on."""

OUTCOMES = (
    "preload", "clamp_assembled", "clamp_max", "clamp_min", "clamp_end", "stud_tension_max", "tip_force_assembled",
    "tip_force_max", "tip_gap_min", "thread_load_max", "floor_stress_max", "washer_flat_share_max", "stud_stretch_max",
)  # fmt: skip
"""Outcomes of every sample, named and defined as in a comparison."""

MODES = (
    "false seat", "leak", "boss thread strip", "insert thread strip", "nut thread strip", "floor breakthrough",
    "stud proof", "stud yield", "stud break", "bearing pressure", "tip crushing", "washer flat", "floor punch",
    "floor split", "hold",
)  # fmt: skip
"""Margins of every sample; the other modes are judged on the checked samples alone."""

COLUMNS = (*OUTCOMES, *MODES)

FLOWS = "yielding under the floor"
"""Of each sample beside its COLUMNS while it is carried between sections: largest stress in the floor over the boss's yield
strength, above which a split is not always known."""

SMALL = {"tip_gap_min": 1e-3, "stud_stretch_max": 1e-3, "washer_flat_share_max": 1.0}
"""Size below which differences of an outcome are told relative to this, mm and shares; 10 N and 10 MPa of the others."""


def apart(name: str, found: Array, exact: Array) -> float:
    """Return the largest difference of a column's values (n,), as share of the largest exact one, or of a margin's limit."""
    least = 1.0 if name in MODES else SMALL.get(name, 10.0)
    return float(np.abs(found - exact).max()) / max(least, float(np.abs(exact).max()))


def judged(lives: Lives, lived: ManyLives, values: Mapping[str, Array]) -> Array:
    """Return outcomes, margins and FLOWS (S, COLUMNS + 1) of samples; nan where a quantity is not known or not there.

    values : key -> (S,), for the limits that are spread themselves
    """
    made = outcomes(lives, lived, values) | margins(lives, lived, values)
    count = len(lived.solved)
    rows = [np.broadcast_to(made.get(name, np.array(np.nan)), (count,)) for name in (*COLUMNS, FLOWS)]
    table = np.stack(rows, axis=1)
    table[~lived.solved] = np.nan
    return table


def as_followed(table: Array) -> Array:
    """Return outcomes and margins (S, COLUMNS) from rows with FLOWS: a split of the floor is not known where its yielding is
    not followed and could bring it to its limit, as `strength.floor.floor_split_margin` says."""
    rows = table[:, : len(COLUMNS)].copy()
    split = rows[:, COLUMNS.index("floor split")]
    split[(table[:, len(COLUMNS)] > 1.0) & (split < 1.0) & (RELEASE * split >= 1.0)] = np.nan
    return rows


def outcomes(lives: Lives, lived: ManyLives, values: Mapping[str, Array]) -> dict[str, Array]:
    """Return outcomes (S,) by name: N, mm, MPa."""
    c = lived.channels
    end = ASSEMBLED + len(lives.run) - 1
    made = {
        "preload": c["tension"][TIGHTENED],
        "clamp_assembled": c["clamp"][ASSEMBLED],
        "clamp_max": c["clamp"][ASSEMBLED:].max(axis=0),
        "clamp_min": c["clamp"][ASSEMBLED:].min(axis=0),
        "clamp_end": c["clamp"][end],
        "stud_tension_max": c["tension"].max(axis=0),
        "tip_force_assembled": c["tip"][ASSEMBLED],
        "tip_force_max": c["tip"].max(axis=0),
        "tip_gap_min": c["tip_gap"][ASSEMBLED:].min(axis=0),
        "thread_load_max": c["thread"].max(axis=0),
        "stud_stretch_max": c["stretch"].max(axis=0),
    }
    if CORNER in c:
        made["floor_stress_max"] = c[CORNER].max(axis=0)
    if "spring" in c:
        made["washer_flat_share_max"] = _flat_share(lives, lived, values)
    return made


def margins(lives: Lives, lived: ManyLives, values: Mapping[str, Array]) -> dict[str, Array]:
    """Return margins (S,) by mode; a mode that is unknown or has no part in the setup is left out."""
    setup, built, c = lives.setup, lives.built, lived.channels
    stud, boss = setup.stud, setup.boss.material
    made: dict[str, Array] = {}

    def ratio(load: Array, capacity: Array | float) -> Array:
        worst = np.where(
            capacity > 0.0, load / np.where(capacity > 0.0, capacity, 1.0), np.where(load > 0.0, np.inf, 0.0)
        )
        return np.asarray(worst).max(axis=0)

    need = _needed_clamp(lives, values)
    if need is not None:
        clamp = c["clamp"][ASSEMBLED:]
        clamp = np.where(clamp < 1e-6 * need, 0.0, clamp)
        made["leak"] = ratio(np.broadcast_to(need, clamp.shape), clamp)

    shear = assumption("shear_strength_ratio")
    own = shear * property_class(stud.property_class, stud.thread.nominal_diameter).ultimate_strength
    gain = _gain(values, "boss.ultimate_strength", boss.ultimate_strength)
    hot = None if boss.ultimate_strength is None else gain * np.asarray(boss.ultimate_strength.at(c["boss_T"]))
    length = _engaged(lives, values)
    sides: list[tuple[ShearAreas, Array | float | None]] = []
    if setup.boss.insert is None:
        sides.append((hole_areas(stud.thread, 1.0), None if hot is None else shear * hot))
    else:
        length = np.minimum(length, float(assembled_length(setup.boss.insert.length, stud.thread.pitch)[0]))
        if hot is not None:
            areas = insert_hole_areas(stud.thread, 1.0)
            made["insert thread strip"] = _strip([(areas, shear * hot)], length, c["insert"])
    sides.append((stud_areas(stud.thread, 1.0), own))
    if all(strength is not None for _, strength in sides):
        made["boss thread strip"] = _strip(sides, length, c["thread"])
    nut = setup.nut.material
    if nut.ultimate_strength is not None:
        lines = built.layout.nut.thread_lines
        strength = shear * np.asarray(nut.ultimate_strength.at(c["nut_T"]))
        own_nut = shear * property_class(stud.property_class, stud.nut_thread.nominal_diameter).ultimate_strength
        both: list[tuple[ShearAreas, Array | float | None]] = [
            (hole_areas(stud.nut_thread, 1.0), strength),
            (stud_areas(stud.nut_thread, 1.0), own_nut),
        ]
        made["nut thread strip"] = _strip(both, np.array(float(lines[-1] - lines[0])), c["nut_thread"])

    thread = min((stud.thread, stud.nut_thread), key=lambda t: proof_load(t, stud.property_class))
    made["stud proof"] = c["tension"].max(axis=0) / proof_load(thread, stud.property_class)
    stress = np.asarray(combined_stress(c["tension"] / built.layout.stretch_area, c["shear"]))
    made["stud yield"] = ratio(stress, c["stud_yield"])
    breaks = property_class(stud.property_class, stud.nut_thread.nominal_diameter).ultimate_strength
    made["stud break"] = stress.max(axis=0) / breaks

    bearing = _bearing(lives, c["under"], c["layer_T"])
    if bearing is not None:
        made["bearing pressure"] = bearing
    crushing = _crushing(lives, values, c["tip"], c["boss_T"], c["stud_yield"])
    if crushing is not None:
        made["tip crushing"] = crushing
    if "spring" in c:
        made["washer flat"] = _flat_share(lives, lived, values)
    if hot is not None:
        if PUNCH in c:
            made["floor punch"] = ratio(np.where(np.abs(c[PUNCH]) < 1e-9, 0.0, np.abs(c[PUNCH])), shear * hot)
        if UNDERSIDE in c:
            made["floor split"] = ratio(np.maximum(c[UNDERSIDE], 0.0), hot)
            if boss.yield_strength is not None:
                flows = np.asarray(boss.yield_strength.at(c["boss_T"]))
                made[FLOWS] = ratio(np.maximum(c[CORNER] if CORNER in c else c[MISES], c[MISES]), flows)
    broken = floor_breakthrough(built, lives.timeline, lives.nominal.temperatures)
    if broken.value is not None:
        made["floor breakthrough"] = np.array(broken.value)
    if built.layout.dome_gap is not None:
        made["false seat"] = _false_seat(lives, lived)
    if not (lived.torques.by_preload and float(np.max(lived.torques.nut_thread)) <= 0.0):
        made["hold"] = lived.torques.hold(c["nut_thread"][TIGHTENED], c["tip"][TIGHTENED], c["thread"][TIGHTENED])
    return made


def _gain(values: Mapping[str, Array], key: str, own: object) -> Array | float:
    """How many times its own strength each sample's is."""
    if key not in values or own is None:
        return 1.0
    at_room = own if isinstance(own, float) else float(own.at(20.0))  # type: ignore[attr-defined]
    return values[key] / at_room


def _needed_clamp(lives: Lives, values: Mapping[str, Array]) -> Array | None:
    limits = lives.setup.limits
    needs = []
    for joining in lives.built.layout.joinings:
        if joining.gasket is not None:
            pressure = limits.minimum_gasket_pressure or joining.gasket.minimum_sealing_pressure
            needs.append(np.array(pressure * np.pi * (joining.outer**2 - joining.inner**2)))
    if limits.minimum_clamp is not None:
        needs.append(np.asarray(values.get("limits.minimum_clamp", limits.minimum_clamp)))
    if not needs:
        return None
    most = needs[0]
    for need in needs[1:]:
        most = np.maximum(most, need)
    return np.asarray(most)


def _engaged(lives: Lives, values: Mapping[str, Array]) -> Array:
    """Engaged thread in the boss (S,) mm, as the setup's own, less what each sample's turns lift."""
    setup = lives.setup
    if "seating.back_off" not in values:
        return np.array(setup.engaged_thread)
    first = setup.tip_seat_z + setup.stud.tip_length
    bottom, top = setup.boss.insert_ends or (-np.inf, np.inf)
    low = np.maximum(first + values["seating.back_off"] * setup.stud.thread.pitch, bottom)
    return np.maximum(min(first + setup.stud.engaged_length, top) - low, 0.0)


def _strip(sides: list[tuple[ShearAreas, Array | float | None]], length: Array, load: Array) -> Array:
    """Worst ratio of the side and size that stands least in each sample; areas per mm of engaged length."""
    capacities = []
    for areas, strength in sides:
        for area in (areas.basic, areas.limits):
            if area is not None:
                capacities.append(np.broadcast_to(area * length * np.asarray(strength), load.shape))
    least = np.argmin([each.min(axis=0) for each in capacities], axis=0)
    ratios = np.stack([(load / each).max(axis=0) for each in capacities])
    return np.asarray(np.take_along_axis(ratios, least[None, :], axis=0)[0])


def _limit(material: Material, temperature: Array, gain: Array | float = 1.0) -> Array | None:
    if material.bearing_pressure_limit is None:
        return None
    limit = gain * material.bearing_pressure_limit
    if material.yield_strength is None:
        return np.asarray(np.broadcast_to(limit, temperature.shape))
    return limit * np.asarray(material.yield_strength.at(temperature)) / float(material.yield_strength.at(20.0))


def _bearing(lives: Lives, load: Array, temperature: Array) -> Array | None:
    layout = lives.built.layout
    name, layer = uppermost(lives.built)
    joining = next(j for j in layout.joinings if j.name == name)
    material = next(ring.material for ring in layout.rings if ring.name == layer)
    limit = _limit(material, temperature)
    if limit is None:
        return None
    return np.asarray((load / (np.pi * (joining.outer**2 - joining.inner**2)) / limit).max(axis=0))


def _crushing(lives: Lives, values: Mapping[str, Array], tip: Array, temperature: Array, stud: Array) -> Array | None:
    built, material = lives.built, lives.setup.boss.material
    body = built.joint.bodies[built.joint.body_index("boss")]
    pressure = tip / (float(body.areas["seat"].sum()) * np.cos(built.layout.cone_slope))
    gain = _gain(values, "boss.bearing_pressure_limit", material.bearing_pressure_limit)
    limit = _limit(material, temperature, gain)
    touched = pressure.max(axis=0) > 1e-6
    if limit is None:
        worst = np.asarray((pressure / stud).max(axis=0))
        return np.where(touched, np.where(worst >= 1.0, worst, np.nan), 0.0)
    return np.where(touched, (pressure / np.minimum(limit, stud)).max(axis=0), 0.0)


def _flat_share(lives: Lives, lived: ManyLives, values: Mapping[str, Array]) -> Array:
    flat = flat_loads(lives.setup, values, len(lived.solved))
    return np.asarray(lived.channels["spring"][ASSEMBLED:].max(axis=0) / flat)


def _false_seat(lives: Lives, lived: ManyLives) -> Array:
    c = lived.channels
    dome, clamp, thread = c["dome"][ASSEMBLED], c["bearing"][ASSEMBLED], c["nut_thread"][ASSEMBLED]
    usable = lives.setup.nut.usable_thread_depth
    less, _ = length_tolerances(lives.built)
    closed = np.where(clamp < 1e-6 * thread, np.inf, thread / np.where(clamp > 0.0, clamp, 1.0))
    return np.where(dome > 1e-6 * np.maximum(thread, 1.0), closed, (usable - c["dome_gap"][ASSEMBLED] + less) / usable)
