"""Plain washers in stock."""

from dataclasses import dataclass

from studwell.data import source_of, table
from studwell.parts.arguments import unknown_name


@dataclass(frozen=True)
class PlainWasherRow:
    """One plain washer: dimensions in mm, the stock material's name, where the row comes from."""

    size: str
    inner_diameter: float
    outer_diameter: float
    thickness: float
    material: str
    source: str
    status: str


def stock_plain_washer_names() -> tuple[str, ...]:
    """Return the sizes of plain washers in stock.

    returns : tuple of str ("M8", "M8 wide", ...)

    Source: plain_washers.toml of this package.
    """
    return tuple(table("plain_washers")["plain"]["rows"])


def stock_plain_washer(size: str) -> PlainWasherRow:
    """Return one plain washer.

    size              : str, one of stock_plain_washer_names()
    returns           : PlainWasherRow, mm
    raises ValueError : not in stock; the message lists what is

    Source: ISO 7089, ISO 7093-1 (wide), ASME B18.21.1 (inch), row by row in plain_washers.toml.
    """
    owner = table("plain_washers")["plain"]
    if size not in owner["rows"]:
        raise ValueError(unknown_name("plain washer", size, owner["rows"]))
    row = owner["rows"][size]
    source, status = source_of(row, owner)
    return PlainWasherRow(
        size,
        float(row["inner_diameter"]),
        float(row["outer_diameter"]),
        float(row["thickness"]),
        owner["material"],
        source,
        status,
    )
