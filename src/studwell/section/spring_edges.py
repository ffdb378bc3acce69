"""Where the edges of spring washers rest: on which part, on which diameter, and how much of their lever is left there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from studwell.case.records import PlainWasher, Setup, SpringWasher
from studwell.parts.spring_lever import lever_factors, lever_share

HELD = 0.97
"""Share of its lever above which an edge counts as held: the force is then within 3 %. Our own choice."""

LEAST_LEVER = 0.9
"""Share of its lever below which a spring is not solved: its force is then off by more than a tenth. Our own choice."""


@dataclass(frozen=True)
class SpringEdge:
    """The edge of a group's lowest or highest spring that stands on a neighbouring part, mm.

    side            : "lower" or "upper" face of the group;  part: "washer 1", a layer's name, "boss" or "nut"
    edge            : "outer" or "inner", of the spring;  spring_diameter: of that edge
    part_diameter   : of the part's face on that side: its outside for an outer edge, its bore for an inner one
    held_diameter   : where the load goes over
    """

    side: str
    part: str
    edge: str
    spring_diameter: float
    part_diameter: float
    held_diameter: float
    lever: float

    @property
    def text(self) -> str:
        """What the edge lacks, in words."""
        face = "countersink" if self.part == "nut" and self.edge == "inner" else "bore"
        of = "is only" if self.edge == "outer" else f"has a {face} of"
        size = f"{self.part_diameter:.4g} mm" + (" wide" if self.edge == "outer" else "")
        part = "the nut" if self.part == "nut" else self.part
        return f"its {self.edge} edge, {self.spring_diameter:.4g} mm, is not held: {part} {of} {size}"

    @property
    def remedy(self) -> str:
        """What would hold the edge, in words."""
        if self.edge == "inner":
            where = "under the nut" if self.part == "nut" else "there"
            return f"a hard washer with a bore of at most {self.spring_diameter:.4g} mm {where}"
        where = "under the nut" if self.part == "nut" else "under the spring"
        return f"a washer at least {self.spring_diameter:.4g} mm wide {where}"


@dataclass(frozen=True)
class SpringEdges:
    """Both ends of a group of springs.

    lever : the smallest share that a packet of the group has of its lever; packets hold each other by whole edges
    """

    spring: SpringWasher = field(repr=False)
    lower: SpringEdge
    upper: SpringEdge
    lever: float

    @property
    def text(self) -> str:
        """What the edges lack, what that does, and what would hold them, in words; "" where they are held."""
        return "" if self.lever >= HELD else self._told(HELD)

    @property
    def unheld(self) -> str:
        """The same of a group that cannot be solved, of the edges that keep it from that; "" where it can."""
        return "" if self.lever >= LEAST_LEVER else self._told(LEAST_LEVER)

    def _told(self, least: float) -> str:
        ends = sorted((self.lower, self.upper), key=lambda edge: edge.lever)
        edges = [edge for edge in ends if edge.lever < least]
        if not edges or self.spring.series == 1:  # one spring loses at both ends
            edges = [edge for edge in ends if edge.lever < HELD] or ends[:1]
        if self.lever > 0.0:
            factors = lever_factors(self.lever)
            effect = (
                f"{100 * self.lever:.0f} % of its lever is left, so that there it takes {float(factors.force):.2f} times the "
                f"force to flatten and is {float(factors.stiffness):.2f} times as stiff"
            )
        else:
            effect = "nothing of its lever is left"
        wanted = " and ".join(edge.remedy for edge in edges)
        even = self.spring.series % 2 == 0 and self.spring.orientation == "crown up"
        if even and any(edge.edge == "outer" for edge in edges):
            wanted = f'orientation = "crown down", which turns small ends to washer and nut (or {wanted})'
        return f"{' and '.join(edge.text for edge in edges)}; {effect}; what would hold it: {wanted}"


def spring_edges(setup: Setup) -> tuple[SpringEdges, ...]:
    """Return how the edges of each group of springs of a setup rest on what is below and above it.

    A packet's crown is its inner edge: "crown up" stands on its outer edge below. Packets are turned about in turn, so that
    the highest of an even number has its outer edge up. Source: geometry.
    """
    below: tuple[str, float, float] = ("boss", setup.boss.drill_diameter, setup.boss.outer_diameter)
    if setup.stack:
        last = setup.stack[-1]
        below = (last.name, last.inner_diameter, last.outer_diameter)
    faces: list[tuple[str, float, float] | SpringWasher] = [below]
    for washer in setup.washers:
        if isinstance(washer, PlainWasher):
            number = sum(not isinstance(face, SpringWasher) for face in faces)
            faces.append((f"washer {number}", washer.inner_diameter, washer.outer_diameter))
        else:
            faces.append(washer)
    faces.append(("nut", setup.nut.bearing_inner_diameter, setup.nut.bearing_diameter))
    found = []
    for number, face in enumerate(faces):
        if isinstance(face, SpringWasher):
            under, over = faces[number - 1], faces[number + 1]
            if not isinstance(under, SpringWasher) and not isinstance(over, SpringWasher):  # else refused elsewhere
                found.append(_edges(face, under, over))
    return tuple(found)


def best_turned(setup: Setup) -> Setup:
    """Return a setup whose springs lie the way that leaves them most of their lever; "crown up" where both do."""
    up, down = (_turned(setup, orientation) for orientation in ("crown up", "crown down"))
    return up if least_lever(up) >= least_lever(down) else down


def _turned(setup: Setup, orientation: str) -> Setup:
    turned = (
        replace(each, orientation=orientation) if isinstance(each, SpringWasher) else each for each in setup.washers
    )
    return replace(setup, washers=tuple(turned))


def least_lever(setup: Setup) -> float:
    """Return the smallest share that springs of a setup have of their lever; 1 without springs."""
    return min((group.lever for group in spring_edges(setup)), default=1.0)


def unheld(setup: Setup) -> str:
    """Return why a setup's springs cannot be solved, their edges hanging over too far, in words; "" if they can."""
    for group in spring_edges(setup):
        if group.unheld:
            return f"how the spring {group.spring.name} gives is unknown: {group.unheld}"
    return ""


def _edges(spring: SpringWasher, under: tuple[str, float, float], over: tuple[str, float, float]) -> SpringEdges:
    up = spring.orientation == "crown up"
    top_up = up if spring.series % 2 == 1 else not up
    lower = _edge(spring, "lower", under, "outer" if up else "inner")
    upper = _edge(spring, "upper", over, "inner" if top_up else "outer")
    lever = min(lower.lever, upper.lever)
    if spring.series == 1:
        held = {edge.edge: edge.held_diameter for edge in (lower, upper)}
        lever = float(lever_share(spring.outer_diameter, spring.inner_diameter, held["outer"], held["inner"]))
    return SpringEdges(spring, lower, upper, lever)


def _edge(spring: SpringWasher, side: str, face: tuple[str, float, float], edge: str) -> SpringEdge:
    name, bore, outside = face
    outer = min(spring.outer_diameter, outside) if edge == "outer" else spring.outer_diameter
    inner = max(spring.inner_diameter, bore) if edge == "inner" else spring.inner_diameter
    return SpringEdge(
        side=side,
        part=name,
        edge=edge,
        spring_diameter=spring.outer_diameter if edge == "outer" else spring.inner_diameter,
        part_diameter=outside if edge == "outer" else bore,
        held_diameter=outer if edge == "outer" else inner,
        lever=float(lever_share(spring.outer_diameter, spring.inner_diameter, outer, inner)),
    )
