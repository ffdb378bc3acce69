"""Nuts in stock, hexagon and domed."""

from dataclasses import dataclass

from studwell.data import source_of, table
from studwell.parts.arguments import unknown_name


@dataclass(frozen=True)
class NutRow:
    """One nut, mm. Nominal figures are the standard's largest unless the name says _min.

    kind                 : "hex" or "domed"
    size                 : "M8" or "5/16": the thread's size without its pitch
    width_across_flats   : and width_across_flats_min
    corner_width_min     : across corners
    height, height_min   : of the hexagon
    overall_height       : and overall_height_min: with the dome; the hexagon's for a hex nut
    bearing_diameter     : outside of the bearing face, smallest (dw)
    countersink_diameter : inside of the bearing face, largest (da); countersink_diameter_min too
    usable_thread_depth  : domed nut: a stud end further in than this meets the cap (smallest allowed
                           thread depth); None for a hex nut. thread_depth_max: largest allowed
    dome_diameter        : domed nut, largest; None for a hex nut
    material             : name of the stock material
    """

    kind: str
    size: str
    width_across_flats: float
    width_across_flats_min: float
    corner_width_min: float
    height: float
    height_min: float
    overall_height: float
    overall_height_min: float
    bearing_diameter: float
    countersink_diameter: float
    countersink_diameter_min: float
    usable_thread_depth: float | None
    thread_depth_max: float | None
    dome_diameter: float | None
    material: str
    source: str
    status: str


def stock_nut_names(kind: str) -> tuple[str, ...]:
    """Return the sizes of one kind of nut in stock.

    kind              : "hex" or "domed"
    returns           : tuple of str ("M8", ...)
    raises ValueError : no such kind

    Source: nuts.toml of this package.
    """
    kinds = table("nuts")
    if kind not in kinds:
        raise ValueError(unknown_name("kind of nut", kind, kinds))
    return tuple(kinds[kind]["rows"])


def stock_nut(kind: str, size: str) -> NutRow:
    """Return one nut.

    kind              : "hex" or "domed"
    size              : str, one of stock_nut_names(kind)
    returns           : NutRow, mm
    raises ValueError : not in stock; the message lists what is

    Source: ISO 4032 (hex) and DIN 1587 (domed), row by row in nuts.toml.
    """
    if size not in stock_nut_names(kind):
        raise ValueError(unknown_name(f"{kind} nut", size, stock_nut_names(kind)))
    owner = table("nuts")[kind]
    row = owner["rows"][size]
    source, status = source_of(row, owner)

    def number(key: str, default: str | None = None) -> float:
        return float(row[key] if default is None else row.get(key, row[default]))

    domed = kind == "domed"
    return NutRow(
        kind=kind,
        size=size,
        width_across_flats=number("width_across_flats"),
        width_across_flats_min=number("width_across_flats_min"),
        corner_width_min=number("corner_width_min"),
        height=number("height"),
        height_min=number("height_min"),
        overall_height=number("overall_height", "height"),
        overall_height_min=number("overall_height_min", "height_min"),
        bearing_diameter=number("bearing_diameter"),
        countersink_diameter=number("countersink_diameter"),
        countersink_diameter_min=number("countersink_diameter_min"),
        usable_thread_depth=number("thread_depth_min") if domed else None,
        thread_depth_max=number("thread_depth_max") if domed else None,
        dome_diameter=number("dome_diameter") if domed else None,
        material=owner["material"],
        source=source,
        status=status,
    )
