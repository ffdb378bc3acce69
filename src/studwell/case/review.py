"""The optional table [review]: what the review of the back-off rule takes in place of the figures of the data."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from studwell.case.fields import Difference, Share, Size, SizeOrZero, Table, Temperature, Torque, Turn


class ReviewTable(Table):
    """[review]: the rule's turn and its range, how zero is felt, what lies under the tip, and what scatters."""

    rule: Turn | None = None
    rule_least: Turn | None = None
    rule_most: Turn | None = None
    feel: Turn | None = None
    chip: SizeOrZero | None = None
    temperature_scatter: Difference | None = None
    expansion_scatter: Share | None = None
    pitch_scatter: Share | None = None
    friction_scatter: Share | None = None
    cold: Temperature | None = None
    flaw: Size | None = None
    seating_torques: list[Torque] | None = None
    floors: list[Size] | None = None


@dataclass(frozen=True)
class Review:
    """What [review] gives, None where it is silent. Turns of rule and feel; mm of chip, flaw, floors; K; degC; N mm.

    expansion_scatter, pitch_scatter : shares;  friction_scatter: added to and taken from a coefficient of friction
    """

    rule: float | None = None
    rule_least: float | None = None
    rule_most: float | None = None
    feel: float | None = None
    chip: float | None = None
    temperature_scatter: float | None = None
    expansion_scatter: float | None = None
    pitch_scatter: float | None = None
    friction_scatter: float | None = None
    cold: float | None = None
    flaw: float | None = None
    seating_torques: tuple[float, ...] | None = None
    floors: tuple[float, ...] | None = None


def review_of(table: ReviewTable) -> Review:
    """Return the record of a table that is read."""
    values: dict[str, Any] = {}
    for each in fields(Review):
        value = getattr(table, each.name)
        values[each.name] = tuple(value) if isinstance(value, list) else value
    return Review(**values)
