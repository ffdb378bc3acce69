"""Checks of the floor under a tip: a bending disc, a half-space, and the load through the plug."""

from __future__ import annotations

import numpy as np

from studwell.case import case_from_text, starter_case
from studwell.fem import Elastic, ElasticField, solve_elastic
from studwell.mesh.blocks import build, grid_block
from studwell.parts.floor import disc_centre_tension, half_space_axis_stress
from studwell.section.lines import spaced
from studwell.strength.floor import floor_punch, punch_surface_of
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
