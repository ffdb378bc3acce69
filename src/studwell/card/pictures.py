"""The small pictures of the card: the clock of the back-off, washers and nut in order, the order of tightening."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import cos, pi, sin

from studwell.card.drawing import Area, Drawing, Line, Shape, Words, arrow, circle
from studwell.card.order import crosswise
from studwell.card.section_parts import spring_outlines
from studwell.card.words import clock_words, degrees_text, hour_hand, one, plain, whole_turns
from studwell.case.records import PlainWasher, Setup, SpringWasher
from studwell.units import in_unit, number_text

WIDTH, HEIGHT = 29.6, 33.0
"""mm of paper of each."""

MOST_NUMBERED = 16
"""Studs that can be numbered legibly on a ring of that size."""

MOST_PACKETS, MOST_NESTED = 5, 3
"""Spring washers that are drawn of a group; the rest is counted in words."""


def clock(setup: Setup) -> Drawing:
    """Return how far a stud is turned back, as the hand of a clock that stood at twelve."""
    turns = setup.seating.turns
    x, y, radius = 0.5 * WIDTH, 14.2, 11.0
    shapes: list[Shape] = [Area(circle(x, y, radius), "paper", 0.4)]
    for hour in range(12):
        inner = 0.86 if hour % 3 == 0 else 0.92
        shapes.append(Line((_dial(x, y, inner * radius, hour), _dial(x, y, radius, hour)), 0.3))
    for hour, text in ((0, "12"), (3, "3"), (6, "6"), (9, "9")):
        at = _dial(x, y, 1.13 * radius, hour)
        shapes.append(Words(text, at[0], at[1] + 0.8, 6.0, "middle"))
    if turns <= 0.0:
        shapes += [Line(((x, y), _dial(x, y, 0.8 * radius, 0.0)), 0.9)]
        shapes += _caption("not turned back")
        told = "The stud stays where it was driven: the hand stays at twelve."
        return Drawing(
            "clock", "Back-off as a clock's hand", told, "No back-off in this setup.", WIDTH, HEIGHT, tuple(shapes)
        )
    hand = hour_hand(turns)
    part = turns % 1.0 or 1.0
    steps = max(3, int(48 * part))
    swept = [_dial(x, y, 0.55 * radius, -12.0 * part * i / steps) for i in range(steps + 1)]
    shapes.append(Line(((x, y), _dial(x, y, 0.8 * radius, 0.0)), 0.3, dashed=True))
    shapes.append(Line(tuple(swept), 0.3))
    if 12.0 * part * 0.55 * radius * pi / 6.0 > 1.6:
        shapes.append(arrow(swept[-1], swept[-2], 1.6))
    shapes.append(Line(((x, y), _dial(x, y, 0.8 * radius, hand)), 0.9))
    shapes.append(Area(circle(x, y, 0.7, 16), "ink", 0.0))
    whole, part = whole_turns(turns)
    said = f"{degrees_text(turns)} back, anticlockwise"
    if whole:
        rest = f" + {degrees_text(part)}" if part else ""
        said = f"{whole} turn{'s' if whole > 1 else ''}{rest} back"
    shapes += _caption(said)
    told = f"From twelve turned back anticlockwise by {number_text(turns, 3)} turn to where an hour hand stands at "
    told += f"{clock_words(turns)}."
    note = f"Leave the mark like an hour hand at about {clock_words(turns)}."
    return Drawing("clock", "Back-off as a clock's hand", told, note, WIDTH, HEIGHT, tuple(shapes))


def _dial(x: float, y: float, radius: float, hour: float) -> tuple[float, float]:
    angle = 2.0 * pi * hour / 12.0
    return x + radius * sin(angle), y - radius * cos(angle)


def _caption(text: str) -> list[Shape]:
    return [Words(text, 0.5 * WIDTH, HEIGHT - 0.9, 6.2, "middle")]


def crossed(drawing: Drawing) -> Drawing:
    """Return a picture of an order that must not be followed: crossed out, and its words say so."""
    high = HEIGHT - 4.0
    lines = (Line(((1.5, 1.0), (WIDTH - 1.5, high)), 0.6), Line(((1.5, high), (WIDTH - 1.5, 1.0)), 0.6))
    told = f"Crossed out, not to be done: see the top. {drawing.told}"
    return replace(drawing, told=told, note="Crossed out: DO NOT, see the top.", shapes=(*drawing.shapes, *lines))


def pile_words(setup: Setup, units: str) -> tuple[str, ...]:
    """Return washers and nut in words, from the stack upwards."""
    found = []
    for washer in setup.washers:
        if isinstance(washer, PlainWasher):
            outer = number_text(in_unit(washer.outer_diameter, "length", units), 3)
            found.append(f"plain washer {outer} x {one(washer.thickness, 'length', units)}")
            continue
        count = washer.series * washer.parallel
        up = "up" if washer.orientation == "crown up" else "down"
        name = plain(washer.name, 26)
        if count == 1:
            found.append(f"{name}, crown {up}")
        elif washer.series == 1:
            found.append(f"{count} x {name} nested, crowns {up}")
        else:
            nested = f" ({washer.parallel} nested each)" if washer.parallel > 1 else ""
            ends = ("small ends", "rims") if up == "up" else ("rims", "small ends")
            touch = f"{ends[0]} touching" if washer.series == 2 else f"{ends[0]} touching, then {ends[1]}"
            found.append(f"{count} x {name}, {washer.series} in turn{nested}, lowest crown {up}, {touch}")
    kind = "domed nut" if setup.nut.kind == "domed" else "hexagon nut"
    return (*found, f"{kind} {setup.nut.thread.name}")


def pile(setup: Setup, units: str) -> Drawing:
    """Return washers and nut in their order from the stack upwards, cones drawn steeper than they are."""
    cut = any(each.series > MOST_PACKETS or each.parallel > MOST_NESTED for each in setup.springs)
    outer = max([0.55 * setup.nut.width_across_flats] + [0.5 * washer.outer_diameter for washer in setup.washers])
    scale = 9.5 / outer
    x = 0.5 * WIDTH
    heights = [_drawn_height(washer) for washer in setup.washers]
    nut_high = 6.0
    free = 25.0 - nut_high - 3.0
    squeeze = min(1.0, free / sum(heights)) if heights else 1.0
    y = 26.8
    shapes: list[Shape] = [Area(((x - 12, y + 2.2), (x - 12, y), (x + 12, y), (x + 12, y + 2.2)), "hatch", 0.0)]
    shapes.append(Line(((x - 12, y), (x + 12, y)), 0.35))
    shank = scale * 0.5 * setup.nut.thread.nominal_diameter
    high = y - squeeze * sum(heights)
    shapes.append(
        Area(((x - shank, y + 2.2), (x - shank, high), (x + shank, high), (x + shank, y + 2.2)), "paper", 0.2)
    )
    for washer, free_high in zip(setup.washers, heights, strict=True):
        high = free_high * squeeze
        if isinstance(washer, SpringWasher):
            shapes += _spring(x, washer, scale, y, high)
        else:
            shapes += _band(x, scale * 0.5 * washer.inner_diameter, scale * 0.5 * washer.outer_diameter, y, high)
        y -= high
    half = scale * 0.5 * setup.nut.width_across_flats
    bore = scale * 0.5 * setup.nut.thread.nominal_diameter
    if setup.nut.kind == "domed":
        dome = [(x + 0.8 * half * cos(pi * i / 16), y - 4.0 - 3.2 * sin(pi * i / 16)) for i in range(17)]
        shapes.append(
            Area(((x + half, y), (x + half, y - 4.0), *dome, (x - half, y - 4.0), (x - half, y)), "paper", 0.4)
        )
    else:
        shapes.append(Area(((x - half, y), (x - half, y - 5.0), (x + half, y - 5.0), (x + half, y)), "paper", 0.4))
        shapes += [Line(((x + side * 0.5 * half, y), (x + side * 0.5 * half, y - 5.0)), 0.2) for side in (-1.0, 1.0)]
        shapes += [Line(((x - bore, y - 5.0), (x - bore, y - 6.6), (x + bore, y - 6.6), (x + bore, y - 5.0)), 0.25)]
    shapes += _caption("from the stack upwards")
    words = pile_words(setup, units)
    told = "From the stack upwards: " + "; ".join(words) + "."
    note = "Washers and nut, not to scale."
    if setup.springs:
        note = "Washers and nut, not to scale; cones drawn steep."
    if cut:
        note += " Not all springs are drawn."
    return Drawing("pile", "Washers and nut in order", told, note, WIDTH, HEIGHT, tuple(shapes))


def _drawn_height(washer: PlainWasher | SpringWasher) -> float:
    if isinstance(washer, SpringWasher):
        return min(washer.series, MOST_PACKETS) * (1.6 + 0.9 * min(washer.parallel, MOST_NESTED))
    return 1.4


def _band(x: float, inner: float, outer: float, y: float, high: float) -> list[Shape]:
    return [
        Area(
            tuple((x + side * r, z) for r, z in ((inner, y), (outer, y), (outer, y - high), (inner, y - high))), "paper"
        )
        for side in (1.0, -1.0)
    ]


def _spring(x: float, washer: SpringWasher, scale: float, y: float, high: float) -> list[Shape]:
    packets, nested = min(washer.series, MOST_PACKETS), min(washer.parallel, MOST_NESTED)
    each = high / packets
    thick = each * 0.9 / (1.6 + 0.9 * nested)
    steep = replace(washer, series=packets, parallel=nested, cone_height=each - nested * thick, thickness=thick)
    return [
        Area(tuple((x + side * scale * r, y - z) for r, z in outline), "paper", 0.3)
        for outline in spring_outlines(steep, 0.0)
        for side in (1.0, -1.0)
    ]


def order(setup: Setup) -> Drawing:
    """Return the studs of the pattern on a circle with the order of tightening; the circle is assumed."""
    count = setup.n_studs
    x, y, radius = 0.5 * WIDTH, 14.5, 10.0
    title = "Order of tightening"
    if count == 1:
        shapes: list[Shape] = [Area(circle(x, y, 3.0), "paper", 0.4), Words("1", x, y + 1.1, 8.0, "middle", True)]
        shapes += _caption("one stud")
        note = "One stud: [pattern] studs is not given, or 1."
        return Drawing("order", title, note, note, WIDTH, HEIGHT, tuple(shapes))
    places = crosswise(count)
    numbered = count <= MOST_NUMBERED
    size = min(2.9, 0.8 * pi * radius / count)
    points = [_dial(x, y, radius, 12.0 * place / count) for place in range(count)]
    shapes = [Line((*circle(x, y, radius), circle(x, y, radius)[0]), 0.12, dashed=True)]
    if numbered:
        for first, second in pairwise(places):
            shapes.append(_between(points[first], points[second], size + 0.3))
            shapes.append(arrow(_stop(points[first], points[second], size + 0.3), points[first], 1.3))
    for turn, place in enumerate(places, start=1):
        shapes.append(Area(circle(points[place][0], points[place][1], size), "paper", 0.35))
        if numbered:
            high = min(8.0, 2.5 * size)
            shapes.append(Words(str(turn), points[place][0], points[place][1] + 0.13 * high, high, "middle", True))
    shapes += _caption(f"{count} studs, crosswise")
    if numbered:
        round_it = [places.index(place) + 1 for place in range(count)]
        told = "Numbered in the order of tightening. Going round clockwise from the top the numbers are "
        told += ", ".join(str(number) for number in round_it) + "."
        note = "Numbers: the order of tightening; studs taken as evenly spaced on a circle."
    else:
        told = "Places are counted clockwise from the top. In order: " + ", ".join(str(p + 1) for p in places) + "."
        note = "Too many studs to number: see Order; taken as evenly spaced on a circle, place 1 on top."
    return Drawing("order", title, told, note, WIDTH, HEIGHT, tuple(shapes))


def _stop(start: tuple[float, float], end: tuple[float, float], short: float) -> tuple[float, float]:
    dx, dy = end[0] - start[0], end[1] - start[1]
    size = (dx * dx + dy * dy) ** 0.5
    return end[0] - short * dx / size, end[1] - short * dy / size


def _between(start: tuple[float, float], end: tuple[float, float], short: float) -> Line:
    return Line((_stop(end, start, short), _stop(start, end, short)), 0.15)
