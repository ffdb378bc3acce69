"""Bodies of a setup: each a mesh with named boundaries, its material, its faces and its thermal profile."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Setup
from studwell.data import assumption
from studwell.joint.condense import BodySpec, FaceColumns, StrainMode
from studwell.joint.crack_paths import bore_paths, root_paths
from studwell.joint.floor_places import boss_places
from studwell.joint.grooves import flank_columns
from studwell.joint.paths import fracture_paths
from studwell.joint.seats import seat_columns, with_wedge_edges
from studwell.mesh.mesh import Mesh
from studwell.parts.insert import wire_share
from studwell.parts.material import Material
from studwell.section.boss import boss_mesh
from studwell.section.groove import Teeth
from studwell.section.insert import InsertShape, insert_mesh
from studwell.section.layout import Layout
from studwell.section.lines import Array
from studwell.section.mesh_size import check_sizes
from studwell.section.nut import nut_mesh
from studwell.section.pocket import WET, wet_boss, wet_stud
from studwell.section.ring import ring_mesh
from studwell.section.stud import stud_mesh

UNIFORM = (1.0, 1.0, 1.0, 0.0)
STRETCH = (-0.5, -0.5, 1.0, 0.0)
"""Shares of rr, hoop, zz of a plastic stretch that keeps its volume."""

REFERENCE_TEMPERATURE = 20.0
"""degC at which the secant expansion of the data starts and at which bodies are condensed."""

FILLET_BANDS = ("fillet floor side", "fillet wall side")
"""Regions of the boss over which the floor's stress is averaged; a mesh of the user's own may lack them."""


@dataclass(frozen=True)
class FieldSeries:
    """Solved heat of one body over the steps of a run.

    temperature : (t, N) degC at the mesh's nodes
    amplitudes  : (t, thermal modes) of the body's thermal strain modes
    """

    temperature: Array = field(repr=False)
    amplitudes: Array = field(repr=False)


@dataclass(frozen=True)
class SectionBody:
    """One body of the section: what condenses it, and which temperatures make which thermal strain.

    mode_weights : (thermal modes, nodes) temperature of each mode's place from the node temperatures
    solved       : solved heat in place of node temperatures, None where they are given
    """

    spec: BodySpec
    material: Material
    mode_weights: Array = field(repr=False)
    solved: FieldSeries | None = field(default=None, repr=False)


def section_bodies(setup: Setup, layout: Layout, node_names: tuple[str, ...]) -> tuple[SectionBody, ...]:
    """Return the bodies of a setup from the boss upwards, the stud second, then the insert if there is one.

    node_names : temperature nodes in the order of the history
    raises BadMesh, ValueError : dimensions that no mesh fits
    """
    check_sizes(setup, layout)
    bodies = [_boss(setup, layout, node_names), _stud(setup, layout, node_names)]
    if layout.insert is not None:
        bodies.append(_insert(setup, layout, layout.insert, node_names))
    profile = layout.stack_profile
    for ring in layout.rings:
        mesh = ring_mesh(ring.radii, ring.bottom, ring.top, layout.size, ring.bottom_radii)
        columns = {}
        for joining in layout.joinings:
            if joining.lower == ring.name:
                mesh = _ring_face(mesh, "top contact", ring.top, joining.inner, joining.outer)
                columns["top"] = FaceColumns("top contact", "z", -1.0)
            if joining.upper == ring.name:
                mesh = _ring_face(mesh, "bottom contact", ring.bottom, joining.upper_inner, joining.upper_outer)
                columns["bottom"] = FaceColumns("bottom contact", "z", 1.0)
        middles = [z for z, _ in profile if ring.bottom + 1e-9 < z < ring.top - 1e-9]
        breaks = [ring.bottom, *middles, ring.top]
        modes, weights = _profile_modes(breaks, profile, node_names)
        bodies.append(
            SectionBody(
                BodySpec(
                    name=ring.name,
                    mesh=mesh,
                    youngs_modulus=_modulus(ring.material),
                    poisson=ring.material.poisson,
                    columns=columns,
                    modes=modes,
                    grip="bottom contact",
                ),
                ring.material,
                weights,
            )
        )
    bodies.append(_nut(setup, layout, node_names))
    return tuple(bodies)


def _modulus(material: Material) -> float:
    return float(material.youngs_modulus.at(REFERENCE_TEMPERATURE))


def _along(layout: Layout) -> str | tuple[float, float]:
    """Direction of the tip's seat outwards in the section: level on a floor, uphill on a cone or a rounded end."""
    slope = layout.cone_slope
    return (float(np.cos(slope)), float(np.sin(slope))) if slope else "r"


def _one_node(name: str, node_names: tuple[str, ...]) -> Array:
    weights = np.zeros((1, len(node_names)))
    weights[0, node_names.index(name)] = 1.0
    return weights


def _profile_modes(
    breaks: list[float], profile: tuple[tuple[float, str], ...], node_names: tuple[str, ...]
) -> tuple[tuple[StrainMode, ...], Array]:
    """Parabolas on the pieces between breaks, and the node temperatures that set them (linear in z between nodes)."""
    places: list[float] = []
    for a, b in itertools.pairwise(breaks):
        places += [a, 0.5 * (a + b)]
    places.append(breaks[-1])
    modes = tuple(StrainMode(f"heat {k}", tuple(places), k, UNIFORM) for k in range(len(places)))
    heights = np.array([z for z, _ in profile])
    weights = np.zeros((len(places), len(node_names)))
    for j, (_, node) in enumerate(profile):
        unit = np.zeros(len(profile))
        unit[j] = 1.0
        weights[:, node_names.index(node)] += np.interp(places, heights, unit)
    return modes, weights


def _ring_face(mesh: Mesh, name: str, height: float, inner: float, outer: float) -> Mesh:
    return mesh.with_boundary(name, lambda r, z: (np.abs(z - height) < 1e-7) & (r > inner) & (r < outer))


def _thread_columns(
    teeth: Teeth | None, boundary: str, axial: float, radial: float, external: bool = False
) -> dict[str, FaceColumns]:
    """Unit loads on a thread: along the axis and outwards on a smooth wall, along and across the flanks of teeth."""
    if teeth is not None:
        return flank_columns(teeth, boundary, external)
    return {
        f"{boundary} axial": FaceColumns(boundary, "z", axial),
        f"{boundary} radial": FaceColumns(boundary, "r", radial),
    }


def _roots(mesh: Mesh) -> dict[str, tuple[str, ...]]:
    """The regions under a thread's roots, from the most loaded end, as places where stress is wanted."""
    roots = sorted((name for name in mesh.regions if name.startswith("root ")), key=lambda name: int(name[5:]))
    return {"thread roots": tuple(roots)} if roots else {}


def _wet_columns(setup: Setup, mesh: Mesh) -> dict[str, FaceColumns]:
    """One unit load of the liquid's pressure on the wetted faces, where a liquid is shut in and the mesh names them."""
    if not setup.pocket.filled or WET not in mesh.boundaries:
        return {}
    return {"pocket": FaceColumns(WET, "normal", -1.0, together=True)}


def _boss(setup: Setup, layout: Layout, node_names: tuple[str, ...]) -> SectionBody:
    mesh = boss_mesh(layout.boss) if layout.own_boss is None else layout.own_boss
    if setup.pocket.filled and layout.own_boss is None:
        mesh = wet_boss(mesh)
    first = layout.joinings[0]
    height = float(mesh.nodes[mesh.facet_nodes[mesh.facets_of("mouth")[0], 2], 1])
    mesh = _ring_face(mesh, "mouth contact", height, first.inner, first.outer)
    if first.outer < layout.boss.top_lines[-1] - 1e-6:
        mesh = _ring_face(mesh, "bare mouth face", height, first.outer, np.inf)
    mesh = with_wedge_edges(mesh, layout, "boss")
    spec = BodySpec(
        name="boss",
        mesh=mesh,
        youngs_modulus=_modulus(setup.boss.material),
        poisson=setup.boss.material.poisson,
        columns={
            **_thread_columns(layout.boss.teeth, "thread", 1.0, 1.0),
            "seat": FaceColumns("seat", "normal", -1.0),
            "seat shear": FaceColumns("seat", _along(layout), 1.0),
            "top": FaceColumns("mouth contact", "z", -1.0),
            **_wet_columns(setup, mesh),
            **seat_columns(layout, setup.seating.seat, "boss"),
        },
        modes=(StrainMode("heat 0", (0.0,), 0, UNIFORM),),
        grip="outer",
        floating=False,
        stress_regions={
            **({"floor corner": FILLET_BANDS} if set(FILLET_BANDS) <= set(mesh.regions) else {}),
            **_roots(mesh),
        },
        stress_points={
            **fracture_paths(layout, mesh),
            **boss_places(layout, mesh),
            **bore_paths(layout, mesh),
            **root_paths(layout.boss.teeth, "internal", layout.boss.outer_radius),
        },
    )
    return SectionBody(spec, setup.boss.material, _one_node("boss", node_names))


def _stud(setup: Setup, layout: Layout, node_names: tuple[str, ...]) -> SectionBody:
    mesh = with_wedge_edges(stud_mesh(layout.stud), layout, "stud")
    if setup.pocket.filled:
        mesh = wet_stud(mesh)
    profile = ((layout.tip_z, "stud_tip"), (layout.stud_top, "stud_top"))
    modes, weights = _profile_modes([layout.tip_z, layout.stud_top], profile, node_names)
    columns = {
        **_thread_columns(layout.stud.boss_teeth, "thread", -1.0, -1.0, external=True),
        "tip": FaceColumns("tip", "normal", -1.0),
        "tip shear": FaceColumns("tip", _along(layout), -1.0),
        **_thread_columns(layout.stud.nut_teeth, "nut thread", 1.0, -1.0, external=True),
    }
    columns |= _wet_columns(setup, mesh) | seat_columns(layout, setup.seating.seat, "stud")
    if layout.dome_gap is not None:
        columns["end"] = FaceColumns("end face", "z", -1.0)
    spec = BodySpec(
        name="stud",
        mesh=mesh,
        youngs_modulus=_modulus(setup.stud.material),
        poisson=setup.stud.material.poisson,
        columns=columns,
        modes=(*modes, StrainMode("stretch", (0.0,), 0, STRETCH, "stretch")),
        grip="thread",
        stress_regions=_roots(mesh),
        stress_points=root_paths(layout.stud.boss_teeth, "external", layout.stud.thread_radius),
        tension_region="tension",
    )
    return SectionBody(spec, setup.stud.material, weights)


def _insert(setup: Setup, layout: Layout, shape: InsertShape, node_names: tuple[str, ...]) -> SectionBody:
    """The insert: its coils as a ring that is loose along the axis, and follows the boss's temperature."""
    assert setup.boss.insert is not None
    material = setup.boss.insert.material
    if shape.coils is not None:
        coils = BodySpec(
            name="insert",
            mesh=insert_mesh(shape),
            youngs_modulus=_modulus(material),
            poisson=material.poisson,
            columns={
                **flank_columns(shape.coils.inside, "inside thread", False, "inside"),
                **flank_columns(shape.coils.outside, "outside thread", True, "outside"),
            },
            modes=(StrainMode("heat 0", (0.0,), 0, UNIFORM),),
            grip="outside thread",
        )
        return SectionBody(coils, material, _one_node("boss", node_names))
    spec = BodySpec(
        name="insert",
        mesh=insert_mesh(shape),
        youngs_modulus=wire_share() * _modulus(material),
        poisson=material.poisson,
        columns={
            "inside axial": FaceColumns("bore", "z", 1.0),
            "inside radial": FaceColumns("bore", "r", 1.0),
            "outside axial": FaceColumns("outside thread", "z", 1.0),
            "outside radial": FaceColumns("outside thread", "r", 1.0),
            **seat_columns(layout, setup.seating.seat, "insert"),
        },
        modes=(StrainMode("heat 0", (0.0,), 0, UNIFORM),),
        grip="outside thread",
        axial_share=assumption("insert_axial_share"),
    )
    return SectionBody(spec, material, _one_node("boss", node_names))


def _nut(setup: Setup, layout: Layout, node_names: tuple[str, ...]) -> SectionBody:
    mesh = nut_mesh(layout.nut)
    last = layout.joinings[-1]
    mesh = _ring_face(mesh, "bearing", layout.nut.bottom, last.upper_inner, last.upper_outer)
    columns = {
        **_thread_columns(layout.nut.teeth, "thread", -1.0, 1.0),
        "bottom": FaceColumns("bearing", "z", 1.0),
    }
    if layout.dome_gap is not None:
        columns["roof"] = FaceColumns("roof", "z", 1.0)
    spec = BodySpec(
        name="nut",
        mesh=mesh,
        youngs_modulus=_modulus(setup.nut.material),
        poisson=setup.nut.material.poisson,
        columns=columns,
        modes=(StrainMode("heat 0", (0.0,), 0, UNIFORM),),
        grip="bearing",
    )
    return SectionBody(spec, setup.nut.material, _one_node("nut", node_names))
