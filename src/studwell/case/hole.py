"""Build the record of the boss and its hole from its table."""

from __future__ import annotations

from dataclasses import replace

from studwell.case import model
from studwell.case.boss_mesh import NAMED, NEEDED, BossMesh, with_our_names
from studwell.case.overrides import Location, Origin, did_you_mean
from studwell.case.records import Boss, Insert
from studwell.case.stock import find_material
from studwell.data import assumption
from studwell.errors import StudwellError
from studwell.parts.insert import insert_hole
from studwell.parts.thread import Thread, minor_diameter
from studwell.units import as_text

INSERT_WIRE = "stainless insert wire"
"""The stock material of an insert whose case names none."""


def build_boss(tables: model.SetupTables, thread: Thread, origin: Origin) -> Boss:
    """Return the boss of a setup, its hole tapped for the stud's thread or for an insert. Raises BadCase."""
    boss = tables.boss
    if boss.hole_end == "cone" and boss.cone_angle is None:
        raise origin.needs(("boss", "cone_angle"), 'hole_end = "cone"', 'the full angle, such as "118 deg"')
    if boss.hole_end != "cone" and boss.cone_angle is not None:
        raise origin.excludes(("boss", "cone_angle"), f'hole_end = "{boss.hole_end}"')
    if boss.mouth_counterbore_diameter is None and boss.mouth_counterbore_depth is not None:
        raise origin.needs(("boss", "mouth_counterbore_diameter"), "mouth_counterbore_depth")
    if boss.mouth_counterbore_diameter is not None and boss.mouth_counterbore_depth is None:
        raise origin.needs(("boss", "mouth_counterbore_depth"), "mouth_counterbore_diameter")
    if boss.mouth_counterbore_diameter is not None and boss.mouth_chamfer:
        raise origin.excludes(("boss", "mouth_chamfer"), "mouth_counterbore_diameter")
    insert = None
    drill = float(minor_diameter(thread.nominal_diameter, thread.pitch))
    if boss.insert is not None:
        insert = _insert(boss.insert, tables, thread, origin)
        drill = float(insert_hole(thread.nominal_diameter, thread.pitch).minor_diameter)
    built = Boss(
        material=find_material(boss.material, tables.material, ("boss", "material"), origin),
        outer_diameter=boss.outer_diameter,
        hole_depth=boss.hole_depth,
        thread_depth=boss.thread_depth,
        floor_thickness=0.0,
        hole_end=boss.hole_end,
        cone_angle=boss.cone_angle,
        corner_radius=boss.corner_radius,
        mouth_chamfer=boss.mouth_chamfer or 0.0,
        counterbore_diameter=boss.mouth_counterbore_diameter,
        counterbore_depth=boss.mouth_counterbore_depth or 0.0,
        drill_diameter=drill,
        insert=insert,
        own_mesh=_own_mesh(boss, origin),
    )
    return _with_floor(built, boss, origin)


def _insert(given: model.InsertTable, tables: model.SetupTables, thread: Thread, origin: Origin) -> Insert:
    """Return the insert, its length in the hole from its nominal length. Raises BadCase."""
    length = float(given.length[:-1]) * thread.nominal_diameter if isinstance(given.length, str) else given.length
    assembled = length - assumption("insert_shortening_pitches") * thread.pitch
    if assembled < 2.0 * thread.pitch:
        at: Location = ("boss", "insert", "length")
        raise origin.bad(
            at,
            f"screwed in, {as_text(max(assembled, 0.0), 'length')} of it is left, fewer than two pitches",
            f"at least {as_text(length + 2.0 * thread.pitch - assembled, 'length')}",
            value=origin.given(at),
            slug="cannot-fit",
            together=True,
        )
    material = find_material(given.material or INSERT_WIRE, tables.material, ("boss", "insert", "material"), origin)
    return Insert(length, given.set_down, assembled, material, given.hole_friction)


def _own_mesh(boss: model.BossTable, origin: Origin) -> BossMesh | None:
    """Return the user's own mesh with our names of its boundaries, None without one. Raises BadCase."""
    if boss.subdomains is not None:
        raise origin.bad(
            ("boss", "subdomains"),
            "several materials in one boss are not solved by this version",
            "a mesh whose subdomains are all of the boss's material",
            slug="not-solved-here",
        )
    if boss.mesh is None:
        if boss.mesh_names is not None:
            raise origin.needs(("boss", "mesh"), "[boss.mesh_names]", "the name of a mesh file")
        return None
    given = boss.mesh
    try:
        sha256, mesh = origin.meshes.read(given)
    except StudwellError as problem:
        allowed = "" if problem.slug == "bad-mesh" else "a VTU file with names, or a .msh file of order 1"
        raise origin.bad(("boss", "mesh"), problem.line, allowed, value=given, slug=problem.slug) from None
    table = boss.mesh_names or model.MeshNamesTable()
    names = {ours: getattr(table, ours) for ours in NAMED}
    mapped = {} if boss.mesh_names is None else boss.mesh_names.model_fields_set
    for ours, theirs in names.items():
        if theirs in mesh.boundaries or (ours not in NEEDED and ours not in mapped):
            continue
        at: Location = ("boss", "mesh_names", ours) if ours in mapped else ("boss", "mesh")
        near, known = did_you_mean(theirs, sorted(mesh.boundaries))
        raise origin.bad(
            at,
            f'no boundary "{theirs}" in {given}{near}',
            f"[boss.mesh_names] maps our names to those of the mesh: {known}" if known else "",
            value=theirs if ours in mapped else given,
            slug="unknown-name",
        )
    names = {ours: theirs for ours, theirs in names.items() if theirs in mesh.boundaries}
    return BossMesh(sha256, tuple(names.items()), given, with_our_names(mesh, names))


def _with_floor(built: Boss, boss: model.BossTable, origin: Origin) -> Boss:
    """Return the boss with its floor, from floor_thickness, from height, or from both if they agree."""
    if boss.height is None:
        if boss.floor_thickness is None:
            raise origin.bad(
                ("boss", "floor_thickness"),
                "missing: give floor_thickness, height or both",
                'a length with its unit, such as "6 mm"',
                slug="missing-key",
            )
        return replace(built, floor_thickness=boss.floor_thickness)
    left = boss.height - built.hole_depth - built.cone_depth
    if left <= 0:
        what = "hole and drill cone pierce" if built.cone_depth else "the hole pierces"
        deep = as_text(built.hole_depth + built.cone_depth, "length")
        raise origin.bad(
            ("boss", "height"),
            f"{what} the floor, {deep} below the mouth",
            f"more than {deep}",
            value=origin.given(("boss", "height")),
            slug="cannot-fit",
            together=True,
        )
    if boss.floor_thickness is not None and abs(left - boss.floor_thickness) > 1e-6 * boss.height:
        raise origin.bad(
            ("boss", "height"),
            f"does not agree with hole, cone and floor_thickness: it leaves {as_text(left, 'length')}",
            as_text(boss.height - left + boss.floor_thickness, "length", digits=6),
            value=origin.given(("boss", "height")),
            slug="cannot-fit",
            together=True,
        )
    return replace(built, floor_thickness=left if boss.floor_thickness is None else boss.floor_thickness)
