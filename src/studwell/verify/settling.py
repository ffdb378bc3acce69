"""Checks of embedding, creep and gasket loss, and of the clamp that heat adds."""

from studwell.parts.members import differential_growth, thermal_load
from studwell.parts.settling import embedding_loss, logarithmic_loss, norton_relaxation
from studwell.parts.spring import spring_stiffness, stock_spring
from studwell.verify.registry import Row, check, printed, relative

STUD_COMPLIANCE, STACK_COMPLIANCE = 5.963e-6, 2.8392e-6  # mm/N, of the worked joint


@check(
    "embedding-loss",
    subject="settling",
    title="Clamp lost to 11 um of embedding, plain and over a disc spring",
    source="VDI 2230: force is embedding over compliance",
    status="computed",
    tolerance="0.1 %",
)
def embedding_losses() -> list[Row]:
    """Compare the plain joint and the one with a spring of 3538 N/mm in series."""
    plain = STUD_COMPLIANCE + STACK_COMPLIANCE
    return [
        relative("plain", 1249.7, float(embedding_loss(0.011, plain)), 1e-3, "N"),
        relative("with the spring", 37.7, float(embedding_loss(0.011, plain + 1.0 / 3538.0)), 2e-3, "N"),
    ]


@check(
    "norton-relaxation",
    subject="settling",
    title="Creep relaxation at fixed strain",
    source="Norton 1929, integrated",
    status="computed",
    tolerance="last place",
)
def norton_relaxations() -> list[Row]:
    """Compare three times, and the time at which half the stress is left."""
    case = {"youngs_modulus": 70_000.0, "exponent": 5.0, "rate": 1e-16}
    rows = [
        printed(f"after {hours:g} h", figure, float(norton_relaxation(100.0, hours, **case)), "MPa")
        for hours, figure in ((10.0, "99.312"), (100.0, "94.015"), (1000.0, "71.623"))
    ]
    return [*rows, printed("after 5357.14 h", "50.000", float(norton_relaxation(100.0, 5357.14, **case)), "MPa")]


@check(
    "logarithmic-loss",
    subject="settling",
    title="Loss of 3 % in each tenfold of time, 1 h to 1000 h",
    source="closed form F0 (1 - a log10(t/t0)), a illustrative",
    status="computed",
    tolerance="1e-12",
)
def logarithmic_losses() -> list[Row]:
    """Compare 0.91 of the start."""
    return [Row("share left", 0.91, float(logarithmic_loss(1.0, 0.03, 1000.0, 1.0)), 1e-12, "1")]


@check(
    "thermal-clamp-rise",
    subject="settling",
    title="Clamp gained by heating a 20 mm stack by 150 K, plain and over disc springs",
    source="Timoshenko, Strength of Materials I: growth over compliance",
    status="computed",
    tolerance="0.1 %",
)
def thermal_clamp_rise() -> list[Row]:
    """Compare the plain joint and two springs in series, each at 0.75 of its cone height."""
    growth, plain = float(differential_growth(10e-6, 20.0, 150.0)), STUD_COMPLIANCE + STACK_COMPLIANCE
    rows = [relative("plain", 3408.2, float(thermal_load(growth, plain)), 1e-3, "N")]
    for name, expected in (("DIN 2093 A 16x8.2x0.9", 102.9), ("DIN 2093 B 16x8.2x0.6", 25.7)):
        row = stock_spring(name)
        shape = (row.outer_diameter, row.inner_diameter, row.thickness, row.cone_height, 206_000.0, 0.3)
        soft = 1.0 / float(spring_stiffness(0.75 * row.cone_height, *shape))
        rows.append(relative(f"with {name}", expected, float(thermal_load(growth, plain + soft)), 2e-3, "N"))
    return rows
