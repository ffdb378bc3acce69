"""[bounds]: what a user may write of the settings and parts that `studwell choose` may change."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from studwell import units
from studwell.case.fields import InsertLength, Size, Table, Title, Torque, Turn, count_within
from studwell.errors import BadQuantity

MOST_LISTED = 20
"""Entries of a list of choices. Our own choice."""


def span(quantity: object, kind: str) -> Callable[[object], tuple[float, float]]:
    """Return a reader of [least, most] whose ends a field type of case/fields.py reads."""
    read = quantity.__metadata__[0].func  # type: ignore[attr-defined]
    example = units.KINDS[kind].example
    allowed = f'["least", "most"], each {read.allowed}'

    def reader(value: object) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise BadQuantity(value, "a list of two is needed: least and most", allowed, "wrong-kind")
        least, most = read(value[0]), read(value[1])
        if least > most:
            raise BadQuantity(
                value, "the first is above the second", f'["least", "most"], such as "{example}"', "out-of-range"
            )
        return least, most

    reader.allowed = allowed  # type: ignore[attr-defined]
    return reader


def counts(value: object) -> tuple[int, ...]:
    """Return numbers of washers to try from one number or a list of them."""
    read = count_within(1, 50, "pieces")
    if isinstance(value, list) and not 0 < len(value) <= MOST_LISTED:
        raise BadQuantity(value, "empty or too long", f"1 to {MOST_LISTED} whole numbers", "out-of-range")
    return tuple(dict.fromkeys(read(one) for one in value)) if isinstance(value, list) else (read(value),)


counts.allowed = "a whole number of pieces, or a list of them to try"  # type: ignore[attr-defined]

Counts = Annotated[tuple[int, ...], BeforeValidator(counts)]


class WasherBoundTable(Table):
    """[[bounds.washer]]: washers to try."""

    kind: Literal["plain", "spring"]
    size: str | None = None
    on: str | None = None
    parallel: Counts = (1,)
    series: Counts = (1,)


class BoundsTable(Table):
    """[bounds]: ranges of settings and lists of parts; what is not named stays as it is in `setup`."""

    setup: Title | None = None
    torque: Annotated[tuple[float, float] | None, BeforeValidator(span(Torque, "torque"))] = None
    seating_torque: Annotated[tuple[float, float] | None, BeforeValidator(span(Torque, "torque"))] = None
    back_off: Annotated[tuple[float, float] | None, BeforeValidator(span(Turn, "turn"))] = None
    protrusion: Annotated[tuple[float, float] | None, BeforeValidator(span(Size, "length"))] = None
    insert_length: list[InsertLength] | None = Field(default=None, min_length=1, max_length=MOST_LISTED)
    washer: list[WasherBoundTable] | None = Field(default=None, min_length=1, max_length=MOST_LISTED)
    nut: list[Literal["hex", "domed"]] | None = Field(default=None, min_length=1, max_length=MOST_LISTED)
