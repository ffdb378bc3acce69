"""What is stacked between the boss's mouth and the nut: rings of metal, and what lies between each two of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from studwell.case.records import Layer, PlainWasher, Setup, SpringWasher
from studwell.errors import Unknown
from studwell.parts.gasket import Gasket
from studwell.parts.material import Material
from studwell.section.lines import Array
from studwell.section.spring_edges import unheld


@dataclass(frozen=True)
class Ring:
    """One ring body of the stack or the washers, mm; plain numbers and its material.

    radii : of its mesh lines; bottom_radii : where they start at the bottom, None if they run straight up
    """

    name: str
    material: Material
    inner_radius: float
    outer_radius: float
    bottom: float
    top: float
    radii: Array = field(repr=False)
    is_washer: bool = False
    bottom_radii: Array | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Joining:
    """What lies between two neighbouring bodies: bare contact, a gasket, or a group of spring washers.

    inner, outer : radii of the ring of contact, mm; for a spring of its load on the lower and on the upper body
    """

    name: str
    lower: str
    upper: str
    kind: str
    inner: float
    outer: float
    upper_inner: float
    upper_outer: float
    gap: float = 0.0
    gasket: Gasket | None = None
    node_height: float = 0.0
    thickness: float = 0.0
    spring: SpringWasher | None = None


def pile(
    setup: Setup, mouth_radius: float, outer: float, bearing_inner: float, bearing_outer: float
) -> tuple[list[Ring], list[Joining], list[tuple[float, str]], float]:
    """Stack the layers and washers of a setup on the mouth of its boss.

    mouth_radius, outer          : of the mouth face, mm
    bearing_inner, bearing_outer : radii of the nut's bearing face, mm
    returns : ring bodies without their mesh lines, joinings between neighbours from the boss upwards, (height,
              temperature node) from the mouth upwards, height of the nut's face, mm
    raises Unknown : two gaskets or springs on each other, rings that hardly overlap, or springs whose edges nothing holds
    """
    loose = unheld(setup)
    if loose:
        raise Unknown(loose)
    height = setup.boss.hole_depth
    bodies: list[Ring] = []
    joinings: list[Joining] = []
    profile: list[tuple[float, str]] = [(height, "boss")]
    below = ("boss", mouth_radius, outer)
    between: Layer | SpringWasher | None = None
    between_bottom = height
    count = 0

    def join(name: str, inner: float, outside: float) -> None:
        lower, lower_inner, lower_outer = below
        low, high = max(lower_inner, inner), min(lower_outer, outside)
        label = f"face {len(joinings) + 1}"
        if between is None:
            joinings.append(Joining(label, lower, name, "contact", low, high, low, high))
        elif isinstance(between, SpringWasher):
            inside, outside_of = 0.5 * between.inner_diameter, 0.5 * between.outer_diameter
            joinings.append(
                Joining(
                    label,
                    lower,
                    name,
                    "spring",
                    max(lower_inner, inside),
                    min(lower_outer, outside_of),
                    max(inner, inside),
                    min(outside, outside_of),
                    spring=between,
                    node_height=between_bottom + 0.5 * between.height,
                )
            )
        else:
            low = max(low, 0.5 * between.inner_diameter)
            high = min(high, 0.5 * between.outer_diameter)
            joinings.append(
                Joining(
                    label,
                    lower,
                    name,
                    "gasket",
                    low,
                    high,
                    low,
                    high,
                    gasket=between.gasket,
                    node_height=between_bottom + 0.5 * between.thickness,
                    thickness=between.thickness,
                )
            )

    for item in (*setup.stack, *setup.washers):
        is_gasket = isinstance(item, Layer) and item.gasket is not None
        if is_gasket or isinstance(item, SpringWasher):
            if between is not None:
                raise Unknown("two gaskets or springs on each other without a solid layer between: not modelled")
            assert not isinstance(item, PlainWasher)
            between, between_bottom = item, height
            rise = item.thickness if isinstance(item, Layer) else item.height
            if isinstance(item, Layer):
                profile.append((height + 0.5 * rise, item.node))
            height += rise
            continue
        inner, outside = 0.5 * item.inner_diameter, 0.5 * item.outer_diameter
        if isinstance(item, PlainWasher):
            count += 1
            name, rise = f"washer {count}", item.thickness
        else:
            name, rise = item.name, item.thickness
            profile.append((height + 0.5 * rise, item.node))
        assert item.material is not None
        join(name, inner, outside)
        bodies.append(
            Ring(name, item.material, inner, outside, height, height + rise, np.zeros(0), isinstance(item, PlainWasher))
        )
        below, between = (name, inner, outside), None
        height += rise
    join("nut", bearing_inner, bearing_outer)
    profile.append((height, "nut"))
    for joining in joinings:
        if joining.outer - joining.inner < 0.2 or joining.upper_outer - joining.upper_inner < 0.2:
            raise Unknown(f"{joining.lower} and {joining.upper} hardly overlap: no ring of contact to solve")
    return bodies, joinings, profile, height
