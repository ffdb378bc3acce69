"""Checks of disc springs and conical spring washers."""

from collections.abc import Mapping

from studwell.parts.fastener import proof_load
from studwell.parts.spring import (
    SpringRow,
    flat_load,
    friction_factor,
    spring_constants,
    spring_force,
    spring_stiffness,
    spring_stresses,
    stack_force,
    stack_stiffness,
    stack_travel,
    stock_spring,
)
from studwell.parts.thread import parse_thread, pitch_diameter
from studwell.parts.torque import tightening_preload
from studwell.verify.registry import Check, Row, check, printed, relative

MODULUS, POISSON = 206_000.0, 0.3
SPRING = "DIN 2093 A 16x8.2x0.9"


def _shape(row: SpringRow) -> tuple[float, ...]:
    return (row.outer_diameter, row.inner_diameter, row.thickness, row.cone_height, MODULUS, POISSON)


# Name: table force, computed force, stiffness, stress inner lower, stress outer lower (all at 0.75 of the
# cone height), stress at the centre of rotation at flat.
CONFIRMED = {
    "DIN 2093 A 8x4.2x0.4": ("210", "209.6", "1208", "1218", "1194", "-1605"),
    "DIN 2093 A 10x5.2x0.5": ("329", "325.4", "1501", "1218", "1182", "-1595"),
    "DIN 2093 A 12.5x6.2x0.7": ("673", "659.6", "2637", "1382", "1167", "-1666"),
    SPRING: ("1000", "1012.9", "3538", "1301", "1080", "-1555"),
    "DIN 2093 A 18x9.2x1.0": ("1250", "1254.2", "3814", "1295", "1088", "-1558"),
    "DIN 2093 A 20x10.2x1.1": ("1530", "1520.8", "4093", "1290", "1093", "-1560"),
    "DIN 2093 A 25x12.2x1.5": ("2910", "2926.0", "6568", "1419", "1091", "-1622"),
}
REMEMBERED = {
    "DIN 2093 B 16x8.2x0.6": ("412", "410.1", "862", "830", "1109", "-1333"),
    "DIN 2093 B 20x10.2x0.8": ("745", "748.3", "1365", "917", "1118", "-1386"),
    "DIN 2093 C 18x9.2x0.45": ("214", "213.7", "103", "291", "1106", "-1052"),
}


def _table_check(slug: str, title: str, table: Mapping[str, tuple[str, ...]], status: str) -> Check:
    @check(
        slug,
        subject="springs",
        title=title,
        source="DIN 2093 / EN 16983, table of disc springs",
        status=status,
        tolerance="2 %: the table rounds its travel",
    )
    def compare() -> list[Row]:
        rows = []
        for name, figures in table.items():
            spring = stock_spring(name)
            force = spring_force(0.75 * spring.cone_height, *_shape(spring))
            rows.append(relative(name, float(figures[0]), float(force), 0.02, "N"))
        return rows

    return compare


disc_table = _table_check("disc-spring-table", "Forces that the table of disc springs prints", CONFIRMED, "confirmed")
disc_table_remembered = _table_check(
    "disc-spring-table-remembered", "Forces of three softer disc springs", REMEMBERED, "from memory"
)


@check(
    "disc-spring-formulas",
    subject="springs",
    title="Force, stiffness and stresses of ten disc springs, worked apart from this code",
    source="Almen & Laszlo 1936; DIN 2092 / EN 16984",
    status="computed",
    tolerance="last place",
)
def disc_formulas() -> list[Row]:
    """Compare each figure at 0.75 of the cone height, and the centre stress at flat."""
    rows = []
    for name, (_, force, stiffness, inner, outer, centre) in (CONFIRMED | REMEMBERED).items():
        spring = stock_spring(name)
        shape, travel = _shape(spring), 0.75 * spring.cone_height
        stresses = spring_stresses(travel, *shape)
        flat = spring_stresses(spring.cone_height, *shape)
        rows += [
            printed(f"{name}, force", force, float(spring_force(travel, *shape)), "N"),
            printed(f"{name}, stiffness", stiffness, float(spring_stiffness(travel, *shape)), "N/mm"),
            printed(f"{name}, inner lower stress", inner, float(stresses.inner_lower), "MPa"),
            printed(f"{name}, outer lower stress", outer, float(stresses.outer_lower), "MPa"),
            printed(f"{name}, centre stress at flat", centre, float(flat.centre), "MPa"),
        ]
    return rows


@check(
    "disc-spring-centre-stress",
    subject="springs",
    title="Centre stress that the table prints at 0.75 of the cone height",
    source="DIN 2093 / EN 16983, table of disc springs, public reprints",
    status="confirmed",
    tolerance="3 %",
)
def disc_centre_stress() -> list[Row]:
    """Compare five stocked springs; the table rounds its travel."""
    table = {
        "DIN 2093 A 8x4.2x0.4": -1200.0,
        "DIN 2093 A 10x5.2x0.5": -1210.0,
        "DIN 2093 A 12.5x6.2x0.7": -1280.0,
        "DIN 2093 A 16x8.2x0.9": -1160.0,
        "DIN 2093 A 18x9.2x1.0": -1170.0,
    }
    rows = []
    for name, stress in table.items():
        spring = stock_spring(name)
        ours = spring_stresses(0.75 * spring.cone_height, *_shape(spring)).centre
        rows.append(relative(name, stress, float(ours), 0.03, "MPa"))
    return rows


@check(
    "disc-spring-free-sizes",
    subject="springs",
    title="Disc springs of bore 8.2 that no table lists",
    source="Almen & Laszlo 1936, worked apart from this code",
    status="computed",
    tolerance="last place",
)
def disc_free_sizes() -> list[Row]:
    """Compare the force at 0.75 of the cone height."""
    table = {
        (18.0, 8.2, 1.0, 0.4): "1181.4",
        (18.0, 8.2, 0.8, 0.5): "782.7",
        (20.0, 8.2, 0.9, 0.55): "953.6",
        (20.0, 8.2, 0.7, 0.6): "515.6",
    }
    return [
        printed(
            f"{size[0]:g}x{size[1]:g}x{size[2]:g}, cone {size[3]:g}",
            force,
            float(spring_force(0.75 * size[3], *size, MODULUS, POISSON)),
            "N",
        )
        for size, force in table.items()
    ]


@check(
    "disc-spring-constants",
    subject="springs",
    title="Constants and all five stresses of the 16x8.2x0.9 spring",
    source="Almen & Laszlo 1936; DIN 2092 / EN 16984",
    status="computed",
    tolerance="last place",
)
def disc_constants() -> list[Row]:
    """Compare K1 to K3 and the stresses at 0.75 of the cone height."""
    spring = stock_spring(SPRING)
    constants = spring_constants(spring.outer_diameter, spring.inner_diameter)
    stresses = spring_stresses(0.75 * spring.cone_height, *_shape(spring))
    return [
        Row("K1", 0.684055, float(constants.K1), 1e-6, "1"),
        Row("K2", 1.208602, float(constants.K2), 1e-6, "1"),
        Row("K3", 1.358877, float(constants.K3), 1e-6, "1"),
        printed("inner upper stress", "-2018.8", float(stresses.inner_upper), "MPa"),
        printed("inner lower stress", "1301.1", float(stresses.inner_lower), "MPa"),
        printed("outer lower stress", "1080.4", float(stresses.outer_lower), "MPa"),
        printed("outer upper stress", "-621.1", float(stresses.outer_upper), "MPa"),
        printed("centre stress", "-1166.5", float(stresses.centre), "MPa"),
    ]


@check(
    "disc-spring-vanishing-stiffness",
    subject="springs",
    title="A cone of height 1.414 t has no stiffness at flat",
    source="DIN 2092 / EN 16984, differentiated",
    status="computed",
    tolerance="1e-9 of the free stiffness",
)
def disc_vanishing_stiffness() -> list[Row]:
    """Compare the tangent at flat, and its sign on both sides of that height."""
    tall = 2.0**0.5 * 0.9
    size = (16.0, 8.2, 0.9)
    free = float(spring_stiffness(0.0, *size, tall, MODULUS, POISSON))
    flat = float(spring_stiffness(tall, *size, tall, MODULUS, POISSON))
    lower = float(spring_stiffness(0.99 * tall, *size, 0.99 * tall, MODULUS, POISSON))
    taller = float(spring_stiffness(1.01 * tall, *size, 1.01 * tall, MODULUS, POISSON))
    return [
        Row("stiffness at flat over free", 0.0, flat / free, 1e-9, "1"),
        Row("sign for a lower cone", 1.0, lower / abs(lower), 0.0, "1"),
        Row("sign for a taller cone", -1.0, taller / abs(taller), 0.0, "1"),
    ]


@check(
    "disc-spring-stacks",
    subject="springs",
    title="Two springs in parallel, two in series",
    source="DIN 2092 / EN 16984",
    status="computed",
    tolerance="last place",
)
def disc_stacks() -> list[Row]:
    """Compare force, travel and stiffness of the 16x8.2x0.9 spring at 0.75 of its cone height."""
    spring = stock_spring(SPRING)
    shape, travel = _shape(spring), 0.75 * spring.cone_height
    force, stiffness = spring_force(travel, *shape), spring_stiffness(travel, *shape)
    return [
        printed("parallel force", "2025.7", float(stack_force(force, 2)), "N"),
        printed("series travel", "0.525", float(stack_travel(travel, 2)), "mm"),
        relative(
            "stiffness of 3 parallel, 2 series", 1.5 * 3538.0, float(stack_stiffness(stiffness, 3, 2)), 2e-4, "N/mm"
        ),
    ]


@check(
    "disc-spring-friction",
    subject="springs",
    title="Friction between parallel springs, loading and unloading",
    source="EN 16984; friction shares 0.015 and 0.03",
    status="computed",
    tolerance="0.1 N",
)
def disc_friction() -> list[Row]:
    """Compare two and three springs in parallel."""
    spring = stock_spring(SPRING)
    force = spring_force(0.75 * spring.cone_height, *_shape(spring))
    rows = []
    for count, loading, unloading in ((2, "2121.2", "1938.5"), (3, "3232.6", "2866.6")):
        nest = float(stack_force(force, count))
        for name, figure, way in (("loading", loading, True), ("unloading", unloading, False)):
            ours = nest * friction_factor(count, 0.015, 0.03, way)
            rows.append(Row(f"{count} parallel, {name}", float(figure), ours, 0.1, "N"))
    return rows


@check(
    "disc-spring-against-preload",
    subject="springs",
    title="One 16x8.2x0.9 spring under the preload of 12 lbf ft on M8",
    source="DIN 2092 / EN 16984 and Motosh 1976",
    status="computed",
    tolerance="0.1 %; nests counted",
)
def disc_against_preload() -> list[Row]:
    """Compare flat load, preload, and how many nested springs stay short of flat."""
    flat = float(flat_load(*_shape(stock_spring(SPRING))))
    d2 = pitch_diameter(8.0, 1.25)
    preload = float(tightening_preload(16_270.0, 1.25, d2, 0.14, 10.315, 0.14))
    count = 1
    while count * flat <= preload:
        count += 1
    return [
        relative("flat load", 1319.0, flat, 1e-3, "N"),
        relative("preload", 10_832.0, preload, 1e-3, "N"),
        Row("springs in parallel that carry it", 9.0, float(count), 0.0, "1"),
        relative("preload over flat load", 8.21, preload / flat, 1e-3, "1"),
    ]


@check(
    "conical-washer-flat-loads",
    subject="springs",
    title="Flat loads of conical spring washers from their dimensions, lowest and highest cone",
    source="dimensions of DIN 6796 (public reprint); force by Almen & Laszlo 1936",
    status="computed",
    tolerance="0.05 %",
)
def conical_flat_loads() -> list[Row]:
    """Compare both ends of the band; the standard's own test forces were not seen."""
    table = {
        "M5": (2738, 6388),
        "M6": (4293, 10733),
        "M8": (12427, 18640),
        "M10": (11040, 25761),
        "M12": (17070, 37712),
    }
    rows = []
    for size, loads in table.items():
        row = stock_spring(f"DIN 6796 {size}")
        for name, cone, load in zip(
            ("lowest", "highest"), (row.cone_height_min, row.cone_height_max), loads, strict=True
        ):
            ours = flat_load(row.outer_diameter, row.inner_diameter, row.thickness, cone, MODULUS, POISSON)
            rows.append(relative(f"{size}, {name} cone", load, float(ours), 5e-4, "N"))
    return rows


@check(
    "conical-washer-against-proof",
    subject="springs",
    title="Highest flat load of a conical washer stays below the proof load of its 8.8 stud",
    source="DIN 6796 dimensions, Almen & Laszlo 1936, ISO 898-1:2013",
    status="computed",
    tolerance="0.1 %",
)
def conical_against_proof() -> list[Row]:
    """Compare the share for M8: 18 640 N over 21 233 N."""
    row = stock_spring("DIN 6796 M8")
    flat = flat_load(row.outer_diameter, row.inner_diameter, row.thickness, row.cone_height_max, MODULUS, POISSON)
    return [
        relative(
            "flat load over proof load", 18_640 / 21_233, float(flat) / proof_load(parse_thread("M8"), "8.8"), 1e-3, "1"
        )
    ]
