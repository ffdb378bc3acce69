"""The ranked table on screen, in the user's units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from rich.table import Table

from studwell.joint.build import BuiltJoint
from studwell.mesh.quality import quality
from studwell.show.both_units import BothUnits, names_of, names_of_setup
from studwell.show.crack_content import crack_tables_of
from studwell.show.heat_content import zone_rows
from studwell.show.workshop_content import repair_table, thread_table
from studwell.strength.margins import Margin
from studwell.strength.outcomes import Outcome
from studwell.study.finding import margin_words
from studwell.study.mesh_study import MeshStudy
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, in_unit, joined, label, number_text


class Measured(Protocol):
    """What a row of the bench table needs."""

    @property
    def name(self) -> str: ...

    @property
    def value(self) -> float: ...

    @property
    def unit(self) -> str: ...

    @property
    def target(self) -> float | None: ...

    @property
    def at_most(self) -> bool: ...

    @property
    def met(self) -> bool | None: ...


def verdict_word(result: SetupResult) -> str:
    """Return 'fails', 'unknown' (nothing known fails, something is unknown) or 'safe'."""
    if result.verdict.safe is None:
        return "unknown"
    return "safe" if result.verdict.safe else "fails"


def margin_text(margin: Margin) -> str:
    """Return a margin in short: number, 'unbounded', 'unknown' or '-' where it does not apply."""
    if not margin.applies:
        return "-"
    return margin_words(margin.value)


def never_known(comparison: Comparison) -> list[str]:
    """Return the damage modes that are unknown in every solved setup."""
    found = [
        {m.mode for m in r.verdict.margins.values() if m.unknown and m.kind == "damage"} for r in comparison.results
    ]
    return [
        mode for mode in (comparison.results[0].verdict.margins if found else ()) if all(mode in each for each in found)
    ]


def _caption(comparison: Comparison) -> str:
    """What the words of the ranked table mean, of those that stand in it."""
    said = ["Margin: load over capacity; 1 is the limit and smaller is better."]
    if any(result.verdict.safe is None for result in comparison.results):
        never = ", ".join(f"'{name}'" for name in never_known(comparison))
        every = f", in every setup {never}" if never else ""
        said.append(f"Verdict 'unknown': no known mode fails, but some are not known{every}.")
    said += [
        f"{result.name}: not the tip but the {result.history.seat.name} carries the drive."
        for result in comparison.results
        if seat_force(result) is not None
    ]
    return " ".join(said)


def seat_force(result: SetupResult) -> float | None:
    """Return the largest force (N) on the seat of a driven stud where that is another than its tip and bears, else None."""
    force = result.value("seat_force_max")
    return force if force is not None and force > 1.0 else None


def tip_text(result: SetupResult, units: str) -> str:
    """Return the largest tip force as a number, and beside it that on the seat where the tip does not carry the drive."""
    tip, seat = value_text(result.value("tip_force_max"), "force", units), seat_force(result)
    return tip if seat is None else f"{tip}; seat {value_text(seat, 'force', units)}"


def comparison_table(comparison: Comparison) -> Table:
    """Return the ranked table: one row a setup, best first; units in the column heads."""
    units = comparison.case.units
    force, stress = label("force", units), label("pressure", units)
    table = Table(
        title=comparison.case.title,
        title_justify="left",
        show_lines=False,
        caption=_caption(comparison),
        caption_justify="left",
    )
    table.add_column("rank", justify="right")
    table.add_column("setup", overflow="fold", min_width=16)
    table.add_column("verdict")
    table.add_column("governing mode", overflow="fold")
    table.add_column("margin", justify="right")
    table.add_column(f"clamp\nbuilt\n{force}", justify="right")
    table.add_column(f"clamp\nmost\n{force}", justify="right")
    table.add_column(f"clamp\nleast\n{force}", justify="right")
    table.add_column(f"tip\nworst\n{force}", justify="right")
    table.add_column(f"thread\nworst\n{force}", justify="right")
    table.add_column(f"floor\n{stress}", justify="right")
    table.add_column("hold", justify="right")
    for rank, result in enumerate(comparison.results, start=1):
        governing = result.verdict.governing or "-"
        margin = result.verdict.margins[governing] if governing != "-" else None
        table.add_row(
            str(rank),
            result.name,
            verdict_word(result),
            governing,
            margin_text(margin) if margin is not None else "-",
            *[value_text(result.value(name), "force", units) for name in ("clamp_assembled", "clamp_max", "clamp_min")],
            tip_text(result, units).replace("; ", "\n"),
            value_text(result.value("thread_load_max"), "force", units),
            value_text(result.value("floor_stress_max"), "pressure", units),
            margin_text(result.verdict.margins["hold"]),
        )
    spoken = BothUnits(names_of(comparison.case), units)
    for failed in comparison.failed:
        table.add_row("-", failed.name, "not solved", spoken.words(failed.reason), *["-"] * 8)
    return table


def value_text(value: float | None, kind: str, units: str) -> str:
    """Return a quantity's number in the shown unit, to three digits, or 'unknown'."""
    if value is None:
        return "unknown"
    shown = float(in_unit(0.0 if abs(value) < 1e-6 else value, kind, units))
    return number_text(shown, 3)


NOISE = {"mm": 1e-6}
"""Sizes below which a result is noise of the arithmetic and shown as 0; of other units LEAST_SHOWN. Our own choice."""

LEAST_SHOWN = 1e-7


def _quiet(value: float, unit: str) -> float:
    return 0.0 if abs(value) < NOISE.get(unit, LEAST_SHOWN) else value


def _percent(change: float) -> str:
    """Return a share as a signed percentage of three decimals, a change too small for them without a sign."""
    text = f"{100.0 * change:+.3f} %"
    return "0.000 %" if text[1:] == "0.000 %" else text


def _unknown(outcome: Outcome) -> str:
    """Return what stands for a value that is not there: 'none' where its part is absent, else 'unknown'."""
    return f"{'none' if outcome.absent else 'unknown'}: {outcome.reason}"


def evidence_tables(result: SetupResult, units: str) -> list[Table]:
    """Return the tables of one solved setup: outcomes with their moments, margins with their methods, evidence."""
    outcomes = Table(title=f"{result.name}: outcomes", title_justify="left")
    for head in ("outcome", "value", "moment", f"band of thread models ({', '.join(result.band_models)})"):
        outcomes.add_column(head, overflow="fold", justify="right" if head == "value" else "left")
    kinds = {"N": "force", "mm": "length", "MPa": "pressure"}
    spoken = BothUnits(names_of_setup(result.setup), units)
    for name, outcome in result.outcomes.items():

        def text(value: float, unit: str = outcome.unit) -> str:
            value = _quiet(value, unit)
            return as_text(value, kinds[unit], units) if unit else number_text(value, 4)

        shown = spoken.words(_unknown(outcome)) if outcome.value is None else text(outcome.value)
        band = " to ".join(text(value) for value in result.band[name]) if name in result.band else ""
        outcomes.add_row(name.replace("_", " "), shown, outcome.when, band)
    margins = Table(title=f"{result.name}: margins (load over capacity; 1 is the limit)", title_justify="left")
    for head in ("mode", "kind", "margin", "moment", "how, and what to know"):
        margins.add_column(head, overflow="fold")
    for margin in result.verdict.margins.values():
        notes = joined("; ", (part for part in (margin.method, margin.reason) if part))
        margins.add_row(margin.mode, margin.kind, margin_text(margin), margin.when, spoken.words(notes))
    evidence = Table(title=f"{result.name}: convergence and equilibrium", title_justify="left", show_header=False)
    evidence.add_column("what")
    evidence.add_column("value", overflow="fold")
    states = result.timeline.states
    evidence.add_row("unknowns of all bodies; ports", f"{result.built.unknowns}; {result.built.joint.n_ports}")
    evidence.add_row("states solved", str(len(states)))
    evidence.add_row("iterations a state, most", str(max(s.record.iterations for s in states)))
    evidence.add_row("steps that had to be cut", str(len(result.history.refinements)))
    evidence.add_row("forces out of balance, largest over largest force", f"{result.equilibrium_residual:.1e}")
    evidence.add_row("contact and other laws missed, largest over largest force", f"{result.law_residual:.1e}")
    asymmetry = max(body.energy_error for body in result.built.joint.bodies)
    evidence.add_row("asymmetry of condensed compliances", f"{asymmetry:.1e}")
    for body, words, strain, added, creep, count in zone_rows(result):
        told = f"{words}; plastic strain {strain}, {added} of it in the last of {count} cycles solved; creep {creep}"
        evidence.add_row(f"{body} in repeated heat", told)
    evidence.add_row("seat", f"{result.history.seat.name} (by {result.history.seat.said_by})")
    return [outcomes, margins, *workshop_tables(result, units), evidence]


def workshop_tables(result: SetupResult, units: str) -> list[Table]:
    """Return the routes by which a setup's threads strip, its repair plan, and the four views of cracks."""
    tables, spoken = [], BothUnits(names_of_setup(result.setup), units)
    for rows in (thread_table(result, units), repair_table(result, units), *crack_tables_of(result, units)):
        table = Table(title=rows.caption, title_justify="left")
        for head in rows.heads:
            table.add_column(head.lower(), overflow="fold")
        for row in rows.rows:
            table.add_row(*(spoken.words(cell) for cell in row))
        tables.append(table)
    return tables


def mesh_study_table(study: MeshStudy, units: str) -> Table:
    """Return a mesh study: one row an outcome, one column a mesh, and the last refinement's change."""
    table = Table(title=f"{study.setup}: outcomes over meshes", title_justify="left")
    table.add_column("outcome")
    for density, unknowns in zip(study.densities, study.unknowns, strict=True):
        table.add_column(f"density {density:g}\n{unknowns} unknowns", justify="right")
    table.add_column("last change", justify="right")
    kinds = {"N": "force", "mm": "length", "MPa": "pressure"}
    for row in study.rows:
        cells = []
        for value in row.values:
            if value is None:
                cells.append("-")
            else:
                value = _quiet(value, row.unit)
                cells.append(as_text(value, kinds[row.unit], units, 6) if row.unit else number_text(value, 6))
        if all(value is None for value in row.values):
            continue
        silent = all(_quiet(value, row.unit) == 0.0 for value in row.values if value is not None)
        change = "-" if row.change is None else _percent(0.0 if silent else row.change)
        table.add_row(row.outcome.replace("_", " "), *cells, change)
    return table


def bench_table(measures: Sequence[Measured]) -> Table:
    """Return measured figures beside their targets."""
    table = Table(title="This machine, this run", title_justify="left")
    for head in ("what", "measured", "target", ""):
        table.add_column(head, justify="right" if head in ("measured", "target") else "left")
    for item in measures:
        target = ""
        if item.target is not None:
            target = f"{'at most' if item.at_most else 'at least'} {item.target:g} {item.unit}".strip()
        met = "" if item.met is None else "met" if item.met else "NOT MET"
        table.add_row(item.name, f"{number_text(item.value, 3)} {item.unit}".strip(), target, met)
    return table


def mesh_quality_table(built: BuiltJoint) -> Table:
    """Return the section's bodies with their meshes' sizes and quality."""
    table = Table(title=f"{built.setup.name}: bodies of the section", title_justify="left")
    for head in ("body", "material", "elements", "unknowns", "least scaled Jacobian", "largest aspect ratio"):
        table.add_column(head, justify="left" if head in ("body", "material") else "right")
    for body in built.bodies:
        mesh = body.spec.mesh
        found = quality(mesh)
        table.add_row(
            body.spec.name,
            body.material.name,
            str(mesh.n_elements),
            str(mesh.n_unknowns),
            number_text(found.least_scaled_jacobian, 3),
            number_text(found.largest_aspect_ratio, 3),
        )
    table.add_row("all", "", "", str(built.unknowns), "", "")
    return table
