"""Checks of the floor under a tip: a bending disc, a half-space, and the load through the plug."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studwell.case import case_from_text, starter_case
from studwell.fem import Elastic, ElasticField, solve_elastic
from studwell.joint.bodies import section_bodies
from studwell.joint.condense import condense
from studwell.mesh.blocks import build, grid_block
from studwell.parts.floor import disc_centre_tension, half_space_axis_stress
from studwell.section.layout import lay_out
from studwell.section.lines import spaced
from studwell.strength.floor import floor_punch, punch_surface_of
from studwell.strength.timeline import first_principal
from studwell.study.compare import solve_setup
from studwell.verify.registry import Row, check, relative

METAL = Elastic(youngs_modulus=72_000.0, poisson=0.33)
PATCH, PRESSURE = 4.0, 100.0
LOAD = PRESSURE * np.pi * PATCH**2


def _pressed_disc(radius: float, thickness: float, fine: float, coarse: float) -> ElasticField:
    """A disc clamped at its edge, pressed evenly on a patch of its top; elements of `fine` mm there, `coarse` far away."""
    inside = PATCH - spaced(0.0, PATCH, fine, 2.0 * fine)[::-1]
    lines = np.concatenate([inside, spaced(PATCH, radius, fine, coarse)[1:]])
    heights = -spaced(0.0, thickness, fine, min(coarse, 0.3 * thickness))[::-1]
    vertices = np.stack(np.meshgrid(lines, heights, indexing="ij"), axis=-1)
    mesh = build([grid_block(vertices, "disc", {"south": "under", "north": "top", "east": "edge"})])
    mesh = mesh.with_boundary("patch", lambda r, z: (z > -1e-9) & (r < PATCH))
    return solve_elastic(mesh, {"disc": METAL}, {"edge": "both"}, {"patch": PRESSURE})


@check(
    "thin-floor-bends",
    subject="floor",
    title="Tension under a thin clamped disc that is pressed on a patch",
    source="Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, disc loaded over a concentric circle",
    status="computed",
    tolerance="3 % at a thickness of a tenth of the radius and less: a plate's theory leaves out what shear adds",
)
def thin_floor_bends() -> list[Row]:
    """Compare radial and hoop stress at the middle of the underside, for two thin discs."""
    rows = []
    for thickness in (1.0, 2.0):
        stress = _pressed_disc(20.0, thickness, 0.25, 1.0).at([[1e-3, -thickness + 1e-6]])[0]
        exact = float(disc_centre_tension(LOAD, thickness, 20.0, PATCH, METAL.poisson))
        rows += [
            relative(f"radial, {thickness:g} mm of 20 mm", exact, float(stress[0]), 0.03, "MPa"),
            relative(f"hoop, {thickness:g} mm of 20 mm", exact, float(stress[1]), 0.03, "MPa"),
        ]
    return rows


@check(
    "thick-floor-is-a-half-space",
    subject="floor",
    title="Stress on the axis under a patch on a thick disc",
    source="Boussinesq 1885; Timoshenko & Goodier, Theory of Elasticity, load over part of the boundary",
    status="computed",
    tolerance="1 % of the pressure, down to two patch radii in a disc fifteen of them thick and wide",
)
def thick_floor_is_a_half_space() -> list[Row]:
    """Compare axial and radial stress at half, one and two patch radii under the middle of the patch."""
    field = _pressed_disc(15.0 * PATCH, 15.0 * PATCH, 0.25, 6.0)
    rows = []
    for depth in (0.5, 1.0, 2.0):
        radial, axial = half_space_axis_stress(PRESSURE, PATCH, depth * PATCH, METAL.poisson)
        stress = field.at([[1e-3, -depth * PATCH]])[0]
        for name, exact, found in (("axial", axial, stress[2]), ("radial", radial, stress[0])):
            share = 0.01 * PRESSURE / abs(float(exact))
            rows.append(relative(f"{name}, {depth:g} radii deep", float(exact), float(found), share, "MPa"))
    return rows


@check(
    "load-through-the-plug",
    subject="floor",
    title="Shear through the floor at the tip's edge carries the tip's force",
    source="equilibrium of the plug under the tip",
    status="computed",
    tolerance="0.01 %: four places an element stand for the whole slice",
)
def load_through_the_plug() -> list[Row]:
    """Sum the meshed shear stress over the cylinder at the tip's edge and compare it with the force of the contact."""
    setup = case_from_text(starter_case(), "starter case").setups[0]
    result = solve_setup(setup, refinement=0.3, band=False)
    shear, surface = floor_punch(result.built, result.timeline), punch_surface_of(result.built)
    assert shear is not None and surface is not None
    tip = result.timeline.forces.tip
    return [
        relative("seated", float(tip[0]), float(shear[0]) * surface.area, 1e-4, "N"),
        relative("at the largest", float(tip.max()), float(shear[int(np.argmax(tip))]) * surface.area, 1e-4, "N"),
    ]


RADII = (0.05, 0.1, 0.2, 0.35)
"""mm, of the fillet at the hole's floor."""


def _fillet(radius: float, refinement: float) -> tuple[float, float]:
    """Peak first principal stress on the fillet and that averaged over its worse band (MPa) under 1 kN of tip force."""
    case = case_from_text(starter_case("M8"), "starter case")
    setup = next(s for s in case.setups if s.seating.mode == "bottomed")
    setup = replace(setup, boss=replace(setup.boss, corner_radius=radius), history=replace(setup.history, steps=1))
    boss = section_bodies(setup, lay_out(setup, refinement), setup.history.node_names)[0]
    response = condense(boss.spec, fields=False)
    columns = np.zeros(response.n_columns)
    seat = response.areas["seat"]
    columns[response.columns["seat"]] = 1000.0 * seat / seat.sum()

    def worst(name: str) -> float:
        return float(first_principal(response.stress[name].force @ columns).max())

    paths = [name for name in response.stress if name.startswith("floor path")]
    peak = max(float(first_principal(response.stress[name].force[0] @ columns)) for name in paths)
    return peak, worst("floor corner")


@check(
    "fillet-stress-mesh",
    subject="floor",
    title="Stress at the floor's fillet of four radii under 1 kN on the tip, beside that of a mesh of two thirds the size",
    source="own record of convergence; no outside figure",
    status="computed",
    tolerance="peak 1.5 %, average over the bands 0.5 %",
    slow=True,
)
def fillet_stress() -> list[Row]:
    """Compare peak and averaged stress of the standard mesh with a finer one, from a nearly sharp to a round corner."""
    rows = []
    for radius in RADII:
        peak, mean = _fillet(radius, 1.0)
        fine_peak, fine_mean = _fillet(radius, 1.5)
        rows.append(relative(f"peak on the fillet of {radius:g} mm", fine_peak, peak, 0.015, "MPa"))
        rows.append(relative(f"average under the fillet of {radius:g} mm", fine_mean, mean, 0.005, "MPa"))
    return rows
