"""Checks of the stocked materials and of material constants in use."""

from studwell.parts.fastener import property_class
from studwell.parts.material import stock_material
from studwell.parts.members import fitted_member_stiffness, frustum_stiffness
from studwell.verify.registry import Row, check, relative


@check(
    "a380-data",
    subject="materials",
    title="Stocked values of die cast A380",
    source="NADCA table A-3-2, reprint, and an alloy data page",
    status="confirmed",
    tolerance="the published range",
)
def a380_data() -> list[Row]:
    """Compare each value with the middle of the range seen."""
    metal = stock_material("a380 die cast")
    assert metal.yield_strength is not None and metal.ultimate_strength is not None
    return [
        _in_range("tensile strength", 317.0, 324.0, float(metal.ultimate_strength.at(20.0)), "MPa"),
        _in_range("yield strength", 159.0, 160.0, float(metal.yield_strength.at(20.0)), "MPa"),
        _in_range("Young's modulus", 71_000.0, 71_000.0, float(metal.youngs_modulus.at(20.0)), "MPa"),
        _in_range("Poisson's ratio", 0.33, 0.33, metal.poisson, "1"),
        _in_range("expansion, 20 to 100 degC", 21.1, 22.0, float(metal.expansion.at(100.0)) * 1e6, "1e-6/K"),
        _in_range("expansion, 20 to 300 degC", 22.7, 22.7, float(metal.expansion.at(300.0)) * 1e6, "1e-6/K"),
        _in_range("heat capacity", 963.0, 963.0, metal.heat_capacity, "J/(kg K)"),
        _in_range("density", 2710.0, 2760.0, metal.density, "kg/m3"),
        _in_range("conductivity", 96.0, 109.0, metal.conductivity, "W/(m K)"),
        _in_range("shear strength", 185.0, 190.0, metal.shear_strength or 0.0, "MPa"),
        _in_range("fatigue strength", 138.0, 140.0, metal.fatigue_strength or 0.0, "MPa"),
    ]


def _in_range(quantity: str, low: float, high: float, value: float, unit: str) -> Row:
    middle = (low + high) / 2.0
    return Row(quantity, middle, value, (high - low) / 2.0 + 1e-9 * middle, unit)


@check(
    "member-fit-constants",
    subject="materials",
    title="Exponential fit of member stiffness against its frusta, steel and aluminium",
    source="Shigley 9th ed., table 8-8: constants seen on a page",
    status="confirmed",
    tolerance="4 %, the fit's own scatter",
)
def member_fit_constants() -> list[Row]:
    """Compare the fit with two 30 degree frusta of a face 1.5 d wide, grip 2.69 d."""
    rows = []
    for name, modulus, A, B in (("steel", 207_000.0, 0.78715, 0.62873), ("aluminium", 71_000.0, 0.79670, 0.63816)):
        fit = float(fitted_member_stiffness(modulus, 12.7, 34.16, A, B))
        cones = float(frustum_stiffness(modulus, 17.08, 19.05, 12.7)) / 2.0
        rows.append(relative(name, fit, cones, 0.04, "N/mm"))
    return rows


@check(
    "steel-class-data",
    subject="materials",
    title="Strengths of classes 8.8, 10.9 and 12.9",
    source="ISO 898-1:2013, mechanical properties, public reprints",
    status="confirmed",
    tolerance="exact",
)
def steel_class_data() -> list[Row]:
    """Compare proof stress, yield and tensile strength, below and above 16 mm."""
    table = (
        ("8.8", 8.0, 580.0, 640.0, 800.0),
        ("8.8", 20.0, 600.0, 660.0, 830.0),
        ("10.9", 8.0, 830.0, 940.0, 1040.0),
        ("12.9", 8.0, 970.0, 1100.0, 1220.0),
    )
    rows = []
    for name, diameter, *figures in table:
        ours = property_class(name, diameter)
        values = (ours.proof_stress, ours.yield_strength, ours.ultimate_strength)
        for quantity, figure, value in zip(("proof", "yield", "tensile"), figures, values, strict=True):
            rows.append(Row(f"{name} at {diameter:g} mm, {quantity}", figure, value, 1e-12, "MPa"))
    return rows
