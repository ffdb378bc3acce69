"""Checks of elasticity and thermoelasticity against closed forms and a published benchmark."""

from __future__ import annotations

from math import log

import numpy as np

from studwell.fem import Elastic, ElasticField, solve_conduction, solve_elastic, von_mises
from studwell.mesh.reference import distorted_patch, hollow_sphere, ring, tapered_cylinder_section
from studwell.verify.registry import Row, check, relative

ALUMINIUM = Elastic(youngs_modulus=70_000.0, poisson=0.33, expansion=21.5e-6)
STEEL = Elastic(youngs_modulus=210_000.0, poisson=0.3, expansion=11.5e-6)
INNER, OUTER, PRESSURE = 10.0, 20.0, 50.0
HEATING = 150.0


def _lame_constant() -> float:
    return PRESSURE * INNER**2 / (OUTER**2 - INNER**2)


def _pressurised_ring(supports: dict[str, str]) -> ElasticField:
    mesh = ring(INNER, OUTER, 4.0, (40, 1), ratio=2.0)
    return solve_elastic(mesh, {"ring": ALUMINIUM}, supports, {"bore": PRESSURE})


@check(
    "lame-stress",
    subject="elasticity",
    title="Stresses in a thick cylinder under inner pressure",
    source="Timoshenko & Goodier, Theory of Elasticity, thick cylinder",
    status="computed",
    tolerance="0.2 %",
)
def lame_stress() -> list[Row]:
    """Compare bore and outside stresses: sigma = f (1 +- b^2/r^2), f = p a^2 / (b^2 - a^2)."""
    stress = _pressurised_ring({"bottom": "z"}).at([[INNER, 2.0], [OUTER, 2.0]])
    f, square = _lame_constant(), (OUTER / INNER) ** 2
    return [
        relative("hoop stress at the bore", f * (1 + square), stress[0, 1], 2e-3, "MPa"),
        relative("hoop stress outside", 2 * f, stress[1, 1], 2e-3, "MPa"),
        relative("radial stress at the bore", f * (1 - square), stress[0, 0], 2e-3, "MPa"),
    ]


@check(
    "lame-free-ends",
    subject="elasticity",
    title="Widening of a thick cylinder with free ends",
    source="Timoshenko & Goodier, Theory of Elasticity, thick cylinder",
    status="computed",
    tolerance="0.01 %",
)
def lame_free_ends() -> list[Row]:
    """Compare u = (f/E) ((1 - nu) r + (1 + nu) b^2 / r)."""
    u = _pressurised_ring({"bottom": "z"}).displacement_at([[INNER, 2.0], [OUTER, 2.0]])[:, 0]
    nu = ALUMINIUM.poisson
    rows = []
    for name, r, found in (("bore", INNER, u[0]), ("outside", OUTER, u[1])):
        exact = _lame_constant() / ALUMINIUM.youngs_modulus * ((1 - nu) * r + (1 + nu) * OUTER**2 / r)
        rows.append(relative(f"radial displacement, {name}", exact, float(found), 1e-4, "mm"))
    return rows


@check(
    "lame-held-ends",
    subject="elasticity",
    title="Thick cylinder between rigid ends (plane strain)",
    source="Timoshenko & Goodier, Theory of Elasticity, thick cylinder",
    status="computed",
    tolerance="0.01 % displacement, 0.2 % stress",
)
def lame_held_ends() -> list[Row]:
    """Compare u = (1 + nu)(f/E)((1 - 2 nu) r + b^2/r), sigma_z = 2 nu f and von Mises stress at the bore."""
    field = _pressurised_ring({"bottom": "z", "top": "z"})
    u = field.displacement_at([[INNER, 2.0], [OUTER, 2.0]])[:, 0]
    stress = field.at([[INNER, 2.0], [0.5 * (INNER + OUTER), 2.0]])
    nu, f, square = ALUMINIUM.poisson, _lame_constant(), (OUTER / INNER) ** 2
    rows = []
    for name, r, found in (("bore", INNER, u[0]), ("outside", OUTER, u[1])):
        exact = (1 + nu) * f / ALUMINIUM.youngs_modulus * ((1 - 2 * nu) * r + OUTER**2 / r)
        rows.append(relative(f"radial displacement, {name}", exact, float(found), 1e-4, "mm"))
    mises = von_mises([f * (1 - square), f * (1 + square), 2 * nu * f, 0.0])
    return [
        *rows,
        relative("axial stress half way", 2 * nu * f, stress[1, 2], 2e-3, "MPa"),
        relative("von Mises stress at the bore", float(mises), float(von_mises(stress[0])), 2e-3, "MPa"),
    ]


@check(
    "hot-bore",
    subject="elasticity",
    title="Thermal stress in a cylinder with steady radial heat flow",
    source="Timoshenko & Goodier, Theory of Elasticity, chapter Thermoelasticity, long circular cylinder",
    status="computed",
    tolerance="0.5 %",
)
def hot_bore() -> list[Row]:
    """Compare stresses for a bore 100 K hotter than the outside, plane ends without axial force."""
    a, b, hot = INNER, OUTER, 100.0
    mesh = ring(a, b, 4.0, (40, 1), ratio=2.0)
    heat = solve_conduction(mesh, {"ring": 150.0}, {"bore": hot, "outside": 0.0})
    supports = {"bottom": "z", "top": "z uniform"}
    field = solve_elastic(mesh, {"ring": ALUMINIUM}, supports, temperature_change=heat.temperature)
    stress = field.at([[a, 2.0], [15.0, 2.0], [b, 2.0]])
    k = ALUMINIUM.youngs_modulus * ALUMINIUM.expansion * hot / (2 * (1 - ALUMINIUM.poisson) * log(b / a))
    ratio = a**2 / (b**2 - a**2)
    at_bore = k * (1 - 2 * b**2 / (b**2 - a**2) * log(b / a))
    outside = k * (1 - 2 * ratio * log(b / a))
    x = b / 15.0
    radial = k * (-log(x) - ratio * (1 - x**2) * log(b / a))
    hoop = k * (1 - log(x) - ratio * (1 + x**2) * log(b / a))
    axial = k * (1 - 2 * log(x) - 2 * ratio * log(b / a))
    return [
        relative("hoop stress at the bore", at_bore, stress[0, 1], 5e-3, "MPa"),
        relative("axial stress at the bore", at_bore, stress[0, 2], 5e-3, "MPa"),
        relative("hoop stress outside", outside, stress[2, 1], 5e-3, "MPa"),
        relative("axial stress outside", outside, stress[2, 2], 5e-3, "MPa"),
        relative("hoop stress at r = 15", hoop, stress[1, 1], 5e-3, "MPa"),
        relative("radial stress at r = 15", radial, stress[1, 0], 5e-3, "MPa"),
        relative("axial stress at r = 15", axial, stress[1, 2], 5e-3, "MPa"),
    ]


@check(
    "free-expansion",
    subject="elasticity",
    title="Uniform heating of a free body makes no stress",
    source="Thermoelasticity of a homogeneous free body: displacement = expansion x change x position",
    status="computed",
    tolerance="1e-8 of E alpha dT; 1e-10 of the displacement",
)
def free_expansion() -> list[Row]:
    """Heat the tapered section with curved and skewed elements; nothing holds it but one axial pin."""
    mesh = tapered_cylinder_section(2)
    field = solve_elastic(mesh, {"solid": ALUMINIUM}, temperature_change=HEATING, free_axially=True)
    free = ALUMINIUM.expansion * HEATING
    outermost = field.space.nodes[:, 0].argmax()
    largest = np.abs(field.quadrature_stress).max()
    return [
        Row("largest stress", 0.0, float(largest), 1e-8 * ALUMINIUM.youngs_modulus * free, "MPa"),
        relative("radial displacement at r = 1400", free * 1400.0, field.displacement[outermost, 0], 1e-10, "mm"),
    ]


@check(
    "held-heated",
    subject="elasticity",
    title="Heated bodies that are held along one, two and three axes",
    source="Hooke's law with thermal strain: -E a dT, -E a dT / (1 - nu), -E a dT / (1 - 2 nu)",
    status="computed",
    tolerance="1e-6",
)
def held_heated() -> list[Row]:
    """Heat a bar between rigid ends (two materials), a disc with a rigid rim, and a disc held all round."""
    mesh = ring(0.0, 10.0, 5.0, (4, 2))

    def stress(material: Elastic, supports: dict[str, str], component: int) -> float:
        field = solve_elastic(mesh, {"ring": material}, supports, temperature_change=HEATING)
        return float(field.at([[3.0, 2.0]])[0, component])

    def full(material: Elastic) -> float:
        return -material.youngs_modulus * material.expansion * HEATING

    ends, rim, nu = {"bottom": "z", "top": "z"}, {"outside": "r", "bottom": "z"}, ALUMINIUM.poisson
    return [
        relative("bar, aluminium", full(ALUMINIUM), stress(ALUMINIUM, ends, 2), 1e-6, "MPa"),
        relative("bar, steel", full(STEEL), stress(STEEL, ends, 2), 1e-6, "MPa"),
        relative("rim held, hoop", full(ALUMINIUM) / (1 - nu), stress(ALUMINIUM, rim, 1), 1e-6, "MPa"),
        relative("all held, radial", full(ALUMINIUM) / (1 - 2 * nu), stress(ALUMINIUM, ends | rim, 0), 1e-6, "MPa"),
    ]


@check(
    "thick-sphere",
    subject="elasticity",
    title="Thick sphere under inner pressure, curved edges",
    source="Timoshenko & Goodier, Theory of Elasticity, hollow sphere",
    status="computed",
    tolerance="0.3 % stress, 0.01 % displacement",
)
def thick_sphere() -> list[Row]:
    """Compare hoop stresses and displacements of the cavity and the outside."""
    a, b, p, nu = INNER, OUTER, PRESSURE, ALUMINIUM.poisson
    mesh = hollow_sphere(a, b, (30, 30), ratio=2.5)
    field = solve_elastic(mesh, {"shell": ALUMINIUM}, {"equator": "z"}, {"cavity": p})
    points = [[a, 0.0], [b, 0.0]]
    hoop, u = field.at(points)[:, 1], field.displacement_at(points)[:, 0]
    cube = b**3 - a**3
    rows = [
        relative("hoop stress at the cavity", p * (b**3 + 2 * a**3) / (2 * cube), hoop[0], 3e-3, "MPa"),
        relative("hoop stress outside", 1.5 * p * a**3 / cube, hoop[1], 3e-3, "MPa"),
    ]
    for name, r, found in (("cavity", a, u[0]), ("outside", b, u[1])):
        shape = (1 - 2 * nu) * r + (1 + nu) * b**3 / (2 * r**2)
        rows.append(relative(f"radial displacement, {name}", p * a**3 / (ALUMINIUM.youngs_modulus * cube) * shape,
                              found, 1e-4, "mm"))  # fmt: skip
    return rows


@check(
    "small-cavity-tension",
    subject="elasticity",
    title="Stress concentration at a small spherical cavity under tension",
    source="Timoshenko & Goodier, Theory of Elasticity, local stresses around a spherical cavity (Goodier 1933)",
    status="computed",
    tolerance="0.3 % (axial), 5 % (hoop); outer radius 30 times the cavity's",
)
def small_cavity_tension() -> list[Row]:
    """Compare the peak at the equator, (27 - 15 nu) / (2 (7 - 5 nu)), and the hoop stress there."""
    nu = STEEL.poisson
    mesh = hollow_sphere(1.0, 30.0, (40, 20), ratio=100.0)
    field = solve_elastic(mesh, {"shell": STEEL}, {"equator": "z"},
                          tractions={"outside": (0.0, lambda r, z: z / np.hypot(r, z))})  # fmt: skip
    stress = field.at([[1.0, 0.0]])[0]
    return [
        relative("axial stress over remote", (27 - 15 * nu) / (2 * (7 - 5 * nu)), stress[2], 3e-3, "1"),
        relative("hoop stress over remote", (15 * nu - 3) / (2 * (7 - 5 * nu)), stress[1], 5e-2, "1"),
    ]


@check(
    "tapered-cylinder",
    subject="elasticity",
    title="Solid of cylinder, taper and sphere under a temperature r + z (benchmark LE11)",
    source="NAFEMS, The Standard NAFEMS Benchmarks, TNSB rev. 3 (1990), test LE11",
    status="confirmed",
    tolerance="2 %; the converged value lies slightly beyond the target",
)
def tapered_cylinder() -> list[Row]:
    """Compare the axial stress at the inner end of the base, target -105 MPa, on a curved-edge mesh."""
    mesh = tapered_cylinder_section(4)
    solid = Elastic(youngs_modulus=210_000.0, poisson=0.3, expansion=2.3e-4)
    field = solve_elastic(mesh, {"solid": solid}, {"base": "z", "top": "z"},
                          temperature_change=lambda r, z: (r + z) / 1000.0)  # fmt: skip
    return [relative("axial stress at r = 1000, z = 0", -105.0, field.at([[1000.0, 0.0]])[0, 2], 2e-2, "MPa")]


@check(
    "patch",
    subject="elasticity",
    title="Linear displacements on a skewed and curved mesh give constant stress",
    source="Patch test; Hooke's law for u_r = c r, u_z = d z",
    status="computed",
    tolerance="1e-10 of the largest stress",
)
def patch() -> list[Row]:
    """Give the rim c = 1e-3, d = -5e-4 and compare every stress at every quadrature point."""
    c, d = 1e-3, -5e-4
    mesh = distorted_patch()
    rim = [("r", lambda r, z: c * r), ("z", lambda r, z: d * z)]
    stress = solve_elastic(mesh, {"patch": ALUMINIUM}, {"rim": rim}).quadrature_stress
    nu = ALUMINIUM.poisson
    shear = ALUMINIUM.youngs_modulus / (2 * (1 + nu))
    lame = 2 * shear * nu / (1 - 2 * nu)
    across, along = 2 * (lame + shear) * c + lame * d, 2 * lame * c + (lame + 2 * shear) * d
    rows = []
    for name, expected, component in (("radial", across, 0), ("hoop", across, 1), ("axial", along, 2), ("shear", 0, 3)):
        worst = stress[..., component].flat[np.abs(stress[..., component] - expected).argmax()]
        rows.append(Row(f"{name} stress, farthest value", float(expected), float(worst), 1e-10 * across, "MPa"))
    return rows
