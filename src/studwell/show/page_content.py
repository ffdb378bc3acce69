"""What the report says, as plain rows of text in the case's units; no markup, no figures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from markupsafe import escape

from studwell.case.records import PlainWasher, Setup, SpringWasher
from studwell.data import source_of, table
from studwell.parts.material import Curve, Material
from studwell.show.both_units import OfCase
from studwell.show.heat_content import Rows, heat_facts
from studwell.show.margin_map import cell_text
from studwell.show.mesh_drawing import quality_line
from studwell.show.table import tip_text, verdict_word
from studwell.strength.margins import Margin
from studwell.strength.teeth import MODEL_REASONS
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, label, number_text

KINDS = {"N": "force", "mm": "length", "MPa": "pressure", "N mm": "torque"}
"""Unit of a plain number inside -> kind of quantity."""

CAUTIONS = (
    "A hot engine burns skin and lights fuel. Let it cool, shut the fuel off, and keep rags and vapour away from it.",
    "Wear eye protection when drilling, tapping or blowing out a hole: swarf flies, and compressed air drives it into eyes.",
    "Never drive a stud into a blind hole that holds oil, water or threadlocker: the liquid cannot leave, its pressure can "
    "burst the floor and squirt. Clean and dry the hole first.",
    "A torque wrench slips, and a socket under load lets go. Pull, do not push; stand so that a slip ends in air; have the "
    "wrench checked.",
    "Stop if a stud turns easier than it did a moment before: something has stripped, yielded or cracked.",
)

FIRST_PLACE = (
    "The maker's data, the local codes and the judgement of a licensed practitioner come first. This page compares ways of "
    "fitting a stud in one model; it approves none of them."
)

MESH_ERROR = (
    "The error of the mesh is not known from one run: 'studwell mesh CASE --study' solves the same setup on three meshes and "
    "prints how far each outcome still moves. 'studwell verify' holds the program against published and closed-form figures."
)

USED_PROPERTIES = {
    "youngs_modulus": ("Young's modulus", "pressure"),
    "poisson": ("Poisson's ratio", ""),
    "expansion": ("expansion, secant from 20 degC", "expansion"),
    "yield_strength": ("yield strength", "pressure"),
    "ultimate_strength": ("tensile strength", "pressure"),
    "fracture_toughness": ("fracture toughness", "toughness"),
    "fatigue_strength": ("fatigue strength, rotating bending", "pressure"),
    "threshold": ("threshold of crack growth", "toughness"),
    "growth_coefficient": ("crack growth a cycle at 1 MPa*m^0.5", "growth_rate"),
    "growth_exponent": ("exponent of crack growth", ""),
    "growth_ratio": ("stress ratio at which crack growth was measured", ""),
    "walker_exponent": ("Walker's exponent of the stress ratio", ""),
    "weibull_modulus": ("Weibull modulus of the strength", ""),
    "weibull_strength": ("Weibull strength", "pressure"),
    "weibull_volume": ("volume that it is of", "volume"),
    "bearing_pressure_limit": ("bearing pressure limit", "pressure"),
}
"""Material properties that results depend on in this version: what the page calls them and their kind."""

USED_BY_HEAT = {
    "conductivity": ("conductivity", "conductivity"),
    "density": ("density", "density"),
    "heat_capacity": ("heat capacity", "heat_capacity"),
}
"""Those that results depend on as well where heat is solved."""


@dataclass(frozen=True)
class SetupRows:
    """One setup's rows: margins (mode, kind, value, load, capacity, moment, method, reason, state), outcomes
    (name, value, moment, band), missing (name, why there is no value), facts (what, value)."""

    name: str
    rank: str
    verdict: str
    state: str
    governing: str
    margins: tuple[tuple[str, ...], ...]
    outcomes: tuple[tuple[str, ...], ...]
    missing: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]


def quantity_text(value: float | None, unit: str, units: str, digits: int = 4) -> str:
    """Return an inside number with its unit; rounding noise is 0; 'unbounded' if infinite; '' if None."""
    if value is None:
        return ""
    if math.isinf(value):
        return "unbounded"
    value = 0.0 if abs(value) < 1e-6 else value
    return as_text(value, KINDS[unit], units, digits) if unit in KINDS else number_text(value, digits)


def headline(comparison: Comparison) -> str:
    """Return the verdict on all setups in a sentence or two."""
    results = comparison.results
    if not results:
        return f"None of the {len(comparison.failed)} setups could be solved."
    failing = [r for r in results if r.verdict.safe is False]
    open_ = [r for r in results if r.verdict.safe is None]
    safe = [r for r in results if r.verdict.safe]
    parts = []
    if safe:
        parts.append(f"{len(safe)} of {_counted(len(results), 'setup')} stay below every damage limit")
    if open_:
        parts.append(
            f"{len(open_)} of {_counted(len(results), 'setup')} fail no known damage limit but leave some unknown"
        )
    if failing:
        parts.append(f"{_counted(len(failing), 'setup')} {'fails' if len(failing) == 1 else 'fail'}")
    text = "; ".join(parts) + "."
    best = results[0]
    if best.verdict.governing is not None and best.verdict.safe is not False:
        margin = best.verdict.margins[best.verdict.governing]
        text += f" First in rank: {best.name}, governed by {margin.mode} at {cell_text(margin)} of its limit."
        if best.verdict.safe is None:
            text += " Some of its limits are not known, which is no pass"
            text += f"; none is unknown of {safe[0].name}." if safe else "."
    shut = sum(bool(result.value("pocket_pressure_max")) for result in results)
    if shut:
        text += f" A liquid that is shut in presses under the tip of {shut} of {_counted(len(results), 'setup')}: see below."
    if comparison.failed:
        text += f" {_counted(len(comparison.failed), 'setup')} could not be solved."
    return text[0].upper() + text[1:]


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def margin_state(margin: Margin) -> str:
    """Return 'fails', 'holds', 'unknown' or 'none' for the look of a margin's row."""
    if not margin.applies:
        return "none"
    if margin.value is None:
        return "unknown"
    return "fails" if margin.fails else "holds"


RANKED = (
    ("clamp, assembled", "clamp_assembled", "N"),
    ("clamp, most", "clamp_max", "N"),
    ("clamp, least", "clamp_min", "N"),
    ("tip force, most", "tip_force_max", "N"),
    ("thread load, most", "thread_load_max", "N"),
    ("tip gap, least", "tip_gap_min", "mm"),
    ("floor stress, most", "floor_stress_max", "MPa"),
)
"""Columns of the ranked table after the verdict: head, outcome, unit inside."""


def ranked_heads(units: str) -> list[str]:
    """Return the heads of RANKED with the units shown."""
    return [f"{head[0].upper()}{head[1:]}, {label(KINDS[unit], units)}" for head, _, unit in RANKED]


@dataclass(frozen=True)
class RankedRow:
    """One row of the ranked table; numbers as in RANKED, their units in the heads."""

    rank: str
    name: str
    verdict: str
    mode: str
    margin: str
    unknown: str
    hold: str
    numbers: tuple[str, ...]


def ranked_rows(comparison: Comparison) -> list[RankedRow]:
    """Return the ranked table's rows of the solved setups."""
    units = comparison.case.units
    rows = []
    for rank, result in enumerate(comparison.results, start=1):
        governing = result.verdict.margins.get(result.verdict.governing or "")
        numbers = [
            tip_text(result, units)
            if key == "tip_force_max"
            else next(iter(quantity_text(result.value(key), unit, units, 3).split()), "unknown")
            for _, key, unit in RANKED
        ]
        rows.append(
            RankedRow(
                rank=str(rank),
                name=result.name,
                verdict=verdict_word(result),
                mode=governing.mode if governing is not None else "none known",
                margin=cell_text(governing) if governing is not None else "",
                unknown=str(sum(m.unknown for m in result.verdict.margins.values())),
                hold=cell_text(result.verdict.margins["hold"]),
                numbers=tuple(numbers),
            )
        )
    return rows


def setup_rows(result: SetupResult, rank: int, units: str) -> SetupRows:
    """Return one solved setup's rows."""
    margins = []
    for margin in result.verdict.margins.values():
        margins.append(
            (
                margin.mode,
                margin.kind,
                cell_text(margin),
                quantity_text(margin.load, margin.unit, units),
                quantity_text(margin.capacity, margin.unit, units),
                margin.when,
                margin.method,
                margin.reason,
                margin_state(margin),
            )
        )
    outcomes, missing = [], []
    for name, outcome in result.outcomes.items():
        if outcome.value is None:
            missing.append((name.replace("_", " "), f"{'none' if outcome.absent else 'unknown'}: {outcome.reason}"))
            continue
        band = ""
        if name in result.band:
            band = " to ".join(quantity_text(end, outcome.unit, units) for end in result.band[name])
        value = quantity_text(outcome.value, outcome.unit, units)
        outcomes.append((name.replace("_", " "), value, outcome.when, band))
    seat, states = result.history.seat, result.timeline.states
    facts = (
        ("seat of a driven stud", f"{seat.name} (found by {seat.said_by}: {seat.reason})"),
        ("forces out of balance, largest over largest force", f"{result.equilibrium_residual:.0e}"),
        ("contact and other laws missed, largest over largest force", f"{result.law_residual:.0e}"),
        ("displacement unknowns; ports of the reduced joint", f"{result.built.unknowns}; {result.built.joint.n_ports}"),
        ("states solved; most iterations in one", f"{len(states)}; {max(s.record.iterations for s in states)}"),
        ("steps that had to be cut", str(len(result.history.refinements))),
        ("thread model", f"{result.setup.stud.thread_model}: {MODEL_REASONS[result.setup.stud.thread_model]}"),
        ("thread models compared in the bands", ", ".join(result.band_models)),
        *((("thread model that could not be had", result.band_note),) if result.band_note else ()),
        ("mesh", quality_line(result.built)),
        *heat_facts(result),
    )
    word = verdict_word(result)
    governing = result.verdict.governing or "no known damage mode"
    rows = (tuple(margins), tuple(outcomes), tuple(missing))
    return SetupRows(result.name, str(rank), word, word, governing, *rows, facts)


def materials_of(setups: Iterable[Setup]) -> dict[str, Material]:
    """Return every material that the setups use, by name, in order of appearance."""
    found: dict[str, Material] = {}
    for setup in setups:
        used = [setup.boss.material, setup.stud.material, setup.nut.material]
        used += [setup.boss.insert.material] if setup.boss.insert is not None else []
        used += [layer.material for layer in setup.stack if layer.material is not None]
        used += [washer.material for washer in setup.washers]
        for material in used:
            found.setdefault(material.name, material)
    return found


def material_rows(result: OfCase) -> list[tuple[str, str, str, str, str]]:
    """Return (material, property, value, status, source) of every material property that results depend on."""
    units = result.case.units
    heated = any(setup.thermal is not None for setup in result.case.setups)
    used = USED_PROPERTIES | (USED_BY_HEAT if heated else {})
    rows = []
    for name, material in materials_of(result.case.setups).items():
        sources = {key: (source, status) for key, source, status in material.sources}
        for key, (words, kind) in used.items():
            value = getattr(material, key)
            if value is None:
                rows.append((name, words, "not known", "unknown", "nothing stands in for it"))
                continue
            source, status = sources.get(key, ("no source stated", "from memory"))
            rows.append((name, words, _property_text(value, kind, units), status, source))
    return rows


def _unknown_together(rows: Iterable[tuple[str, str, str, str, str]]) -> list[tuple[str, str, str, str, str]]:
    """Return rows of `material_rows` with what is not known of a material in one row after what is."""
    rows = list(rows)
    found = []
    for material in dict.fromkeys(row[0] for row in rows):
        own = [row for row in rows if row[0] == material]
        missing = [row[1] for row in own if row[3] == "unknown"]
        found += [row for row in own if row[3] != "unknown"]
        if missing:
            found.append((material, "; ".join(missing), "not known", "unknown", "nothing stands in for any of them"))
    return found


def _property_text(value: Curve | float, kind: str, units: str) -> str:
    def one(number: float) -> str:
        return as_text(number, kind, units, 4) if kind else number_text(number, 4)

    if not isinstance(value, Curve):
        return one(value)
    if len(value.values) == 1:
        return f"{one(value.values[0])} at every temperature"
    ends = [as_text(t, "temperature", units, 3) for t in (value.temperatures[0], value.temperatures[-1])]
    room = as_text(20.0, "temperature", units, 3)
    return f"{one(float(value.at(20.0)))} at {room}; {one(value.values[0])} at {ends[0]}, {one(value.values[-1])} at {ends[1]}"


def source_tables(result: OfCase) -> tuple[Rows, ...]:
    """Return the tables of all data that results rest on; sources stand as they were written, whatever the units."""

    def quoted(rows: Iterable[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
        return tuple((*row[:-1], escape(row[-1])) for row in rows)

    tables = (
        Rows(
            "Material properties that the results depend on",
            ("Material", "Property", "Value", "Status", "Source"),
            quoted(_unknown_together(material_rows(result))),
        ),
        Rows(
            "Physical defaults, used where the case does not say otherwise",
            ("Default", "Value", "Status", "Source"),
            quoted(default_rows()),
        ),
        Rows("Stocked parts", ("Part", "Status", "Source"), quoted(stock_rows(result))),
    )
    return tuple(table for table in tables if table.rows)


def made_rows(versions: Mapping[str, str], inputs_sha256: str, refinement: float) -> tuple[tuple[str, str], ...]:
    """Return (what, value) of the run behind a page."""
    return (
        ("mesh density against the standard mesh", f"{refinement:g}"),
        ("fingerprint of the values given (SHA-256)", inputs_sha256),
        ("versions", ", ".join(f"{name} {version}" for name, version in versions.items())),
    )


def default_rows() -> list[tuple[str, str, str, str]]:
    """Return (default, value, status, source) of every physical default that a case may override."""
    rows = []
    for name, entry in table("assumptions").items():
        source, status = source_of(entry)
        unit = "" if entry["unit"] == "1" else f" {entry['unit']}"
        rows.append((name.replace("_", " "), f"{number_text(float(entry['value']), 4)}{unit}", status, source))
    return rows


WASHER_SIZES = ("inner_diameter", "outer_diameter", "thickness")


def stock_rows(result: OfCase) -> list[tuple[str, str, str]]:
    """Return (stocked thing, status, source) of gaskets, springs, washers, nuts and classes that the setups use."""
    found: dict[str, tuple[str, str]] = {}
    for setup in result.case.setups:
        classes = table("property_classes")["classes"]
        row = classes["rows"].get(setup.stud.property_class)
        if row is not None:
            found[f"property class {setup.stud.property_class}"] = source_of(row, classes)
        for layer in setup.stack:
            if layer.gasket is not None and layer.gasket.name in table("gaskets"):
                found[f"gasket {layer.gasket.name}"] = source_of(table("gaskets")[layer.gasket.name])
                if setup.thermal is not None and layer.gasket.conductivity_source not in ("", "the case"):
                    told = (layer.gasket.conductivity_source, layer.gasket.status)
                    found[f"gasket {layer.gasket.name}: its conductivity"] = told
        for washer in setup.washers:
            if isinstance(washer, SpringWasher):
                for kind in table("springs").values():
                    if washer.name in kind.get("rows", {}):
                        found[f"spring washer {washer.name}"] = source_of(kind["rows"][washer.name], kind)
            elif isinstance(washer, PlainWasher):
                shelf = table("plain_washers")["plain"]
                found["plain washers, where the case names a size"] = source_of(shelf)
                for size, stocked in shelf["rows"].items():
                    sizes = (washer.inner_diameter, washer.outer_diameter, washer.thickness)
                    if "source" in stocked and sizes == tuple(stocked[key] for key in WASHER_SIZES):
                        found[f"plain washer {size}"] = source_of(stocked, shelf)
        if setup.pocket.fluid is not None:
            for key, source, status in setup.pocket.fluid.sources:
                found[f"{setup.pocket.contents} under the tip: {key.replace('_', ' ')}"] = source, status
        nuts = table("nuts").get("hex" if setup.nut.kind == "hex" else "domed")
        if nuts is not None:
            found[f"{setup.nut.kind} nuts, where the case names a size"] = source_of(nuts)
    return [(name, status, source) for name, (source, status) in found.items()]
