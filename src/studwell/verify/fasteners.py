"""Checks of strength tables and of the nuts and washers in stock."""

from studwell.parts.fastener import proof_load, ultimate_load
from studwell.parts.nut import stock_nut
from studwell.parts.thread import parse_thread
from studwell.parts.washer import stock_plain_washer
from studwell.verify.registry import Row, check, relative


@check(
    "ultimate-loads",
    subject="fasteners",
    title="Least breaking loads of classes 8.8 and 10.9",
    source="ISO 898-1:2013, table of minimum ultimate tensile loads, public reprints",
    status="confirmed",
    tolerance="0.6 %, the table's rounding",
)
def ultimate_loads() -> list[Row]:
    """Compare stress area times tensile strength with the printed loads."""
    table = {"M5": (11350, 14800), "M6": (16100, 20900), "M8": (29200, 38100), "M10": (46400, 60300)}
    return [
        relative(f"{size}, class {name}", load, ultimate_load(parse_thread(size), name), 6e-3, "N")
        for size, loads in table.items()
        for name, load in zip(("8.8", "10.9"), loads, strict=True)
    ]


@check(
    "proof-loads",
    subject="fasteners",
    title="Proof loads of classes 8.8 and 10.9",
    source="ISO 898-1:2013, table of proof loads, public reprints",
    status="confirmed",
    tolerance="0.63 %, the table's rounding",
)
def proof_loads() -> list[Row]:
    """Compare stress area times proof stress with the printed loads; M6 in class 8.8 is 0.62 % off by rounding."""
    table = {"M5": (8230, 11800), "M6": (11600, 16700), "M8": (21200, 30400), "M10": (33700, 48100)}
    return [
        relative(f"{size}, class {name}", load, proof_load(parse_thread(size), name), 6.3e-3, "N")
        for size, loads in table.items()
        for name, load in zip(("8.8", "10.9"), loads, strict=True)
    ]


@check(
    "hex-nuts",
    subject="fasteners",
    title="Hexagon nuts in stock",
    source="ISO 4032:2001, two public reprints",
    status="confirmed",
    tolerance="exact",
)
def hex_nuts() -> list[Row]:
    """Compare the stocked rows with the printed ones."""
    table = {
        "M6": {"width_across_flats": 10, "height": 5.2, "height_min": 4.9, "bearing_diameter": 8.9},
        "M8": {
            "width_across_flats": 13,
            "width_across_flats_min": 12.73,
            "height": 6.8,
            "height_min": 6.44,
            "bearing_diameter": 11.6,
            "countersink_diameter": 8.75,
            "corner_width_min": 14.38,
        },
        "M10": {"width_across_flats": 16, "height": 8.4, "height_min": 8.04, "bearing_diameter": 14.6},
    }
    return _stock_rows(table, lambda size: stock_nut("hex", size))


@check(
    "plain-washers",
    subject="fasteners",
    title="Plain washers in stock",
    source="ISO 7089, two public reprints",
    status="confirmed",
    tolerance="exact",
)
def plain_washers() -> list[Row]:
    """Compare the stocked rows with the printed ones."""
    keys = ("inner_diameter", "outer_diameter", "thickness")
    printed_rows = {"M6": (6.4, 12, 1.6), "M8": (8.4, 16, 1.6), "M10": (10.5, 20, 2)}
    table = {size: dict(zip(keys, row, strict=True)) for size, row in printed_rows.items()}
    return _stock_rows(table, stock_plain_washer)


@check(
    "domed-nuts",
    subject="fasteners",
    title="Domed nuts in stock",
    source="DIN 1587, public reprints",
    status="confirmed",
    tolerance="exact",
)
def domed_nuts() -> list[Row]:
    """Compare the stocked rows with the printed ones."""
    table = {
        "M6": {"overall_height": 12, "usable_thread_depth": 7.71, "thread_depth_max": 8.29},
        "M8": {
            "overall_height": 15,
            "overall_height_min": 14.57,
            "height": 6.5,
            "height_min": 6.14,
            "dome_diameter": 12.5,
            "corner_width_min": 14.38,
            "usable_thread_depth": 10.65,
            "thread_depth_max": 11.35,
        },
        "M10": {
            "width_across_flats": 16,
            "overall_height": 18,
            "usable_thread_depth": 12.65,
            "thread_depth_max": 13.35,
        },
    }
    return _stock_rows(table, lambda size: stock_nut("domed", size))


def _stock_rows(table, stock) -> list[Row]:
    return [
        Row(f"{size}, {key.replace('_', ' ')}", float(figure), getattr(stock(size), key), 1e-12, "mm")
        for size, figures in table.items()
        for key, figure in figures.items()
    ]
