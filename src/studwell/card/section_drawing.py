"""The joint in section for the bench: to scale, with dimensions; only the gap under the tip is drawn wider than it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from studwell.card.drawing import POINT, Drawing, Line, Shape, Words, arrow, text_width
from studwell.card.section_parts import Sheet, boss_shapes, nut_shapes, pile_shapes, stud_shapes, tip_height
from studwell.card.words import both, one
from studwell.joint.build import BuiltJoint
from studwell.show.section import spread

WIDTH, HEIGHT = 92.0, 113.0
"""mm of paper."""

SCALES = (
    10.0,
    8.0,
    6.0,
    5.0,
    4.0,
    3.0,
    2.5,
    2.0,
    1.5,
    1.25,
    1.0,
    0.8,
    1.0 / 1.5,
    0.5,
    0.4,
    0.25,
    0.2,
    0.1,
    0.05,
    0.02,
    0.01,
)
"""Paper over part; those of ISO 5455 and some between, so that the page is used."""

ROOM = 26.5
"""mm of paper for the section itself, dimension lines and labels beside it."""

MIDDLE = 49.0
"""mm of paper: where the axis lies; the left labels need more room than the right ones."""

TYPE = 6.5
LEAST_GAP = 1.1
"""mm of paper: a gap under the tip is drawn at least so wide."""

LABEL_GAP = 7.2
BETWEEN_LINES = 2.6


@dataclass(frozen=True)
class Dimension:
    """A height dimension: words, lower and upper end (mm from the floor), and on which line beside the part it stands."""

    words: str
    low: float
    high: float
    side: str
    place: int
    value: float


def dimensions(built: BuiltJoint, lift: float) -> tuple[Dimension, ...]:
    """Return the heights that the drawing gives, mm from the hole's end; lift: mm of the tip off its seat."""
    setup, layout = built.setup, built.layout
    boss, stud = setup.boss, setup.stud
    mouth = boss.hole_depth
    tip = tip_height(built)
    found = [
        Dimension("full hole", 0.0, mouth, "left", 4, boss.hole_depth),
        Dimension("full thread", mouth - boss.thread_depth, mouth, "left", 3, boss.thread_depth),
    ]
    ends = boss.insert_ends
    if ends is not None and boss.insert is not None:
        found.append(Dimension("insert", ends[0], ends[1], "left", 2, boss.insert.assembled))
        found.append(Dimension("set down", ends[1], mouth, "left", 2, boss.insert.set_down))
    low, high = engaged_ends(built)
    found.append(Dimension("engaged", low, high, "left", 1, high - low))
    lowest = -boss.cone_depth
    found.append(Dimension("floor left", lowest - boss.floor_thickness, lowest, "right", 1, boss.floor_thickness))
    if lift > 0.0:
        found.append(Dimension("gap at the tip", tip - setup.tip_gap, tip - setup.tip_gap + lift, "right", 1, lift))
    found.append(Dimension("stack", mouth, setup.stack_top_z, "right", 1, setup.stack_top_z - mouth))
    if setup.washers:
        found.append(
            Dimension(
                "washers, free",
                setup.stack_top_z,
                setup.nut_face_z,
                "right",
                1,
                setup.nut_face_z - setup.stack_top_z,
            )
        )
    top = tip + stud.length
    if setup.nut.kind == "hex":
        out = setup.nut_face_z + setup.nut.height
        if top > out:
            found.append(Dimension("beyond the nut", out, top, "right", 1, top - out))
    else:
        face = setup.nut_face_z + layout.nut_lift
        found.append(Dimension("stud in the nut", face, top, "right", 1, top - face))
    found.append(Dimension("stud above the boss", mouth, top, "left", 1, top - mouth))
    return tuple(found)


def engaged_ends(built: BuiltJoint) -> tuple[float, float]:
    """Return z of the lower and upper end of the engaged thread as fitted, mm."""
    setup = built.setup
    first = setup.tip_seat_z + setup.stud.tip_length
    low, top = setup.boss.insert_ends or (-math.inf, math.inf)
    upper = min(first + setup.stud.engaged_length, top)
    return max(upper - setup.engaged_thread, low), upper


def section_drawing(built: BuiltJoint, units: str, lift: float) -> Drawing:
    """Return a setup's section with its dimensions, in the case's units with the other system's in brackets.

    lift : mm by which the stud stands off its seat: its turns back, less what they only unwind
    """
    setup = built.setup
    boss = setup.boss
    floor_low = -boss.cone_depth - boss.floor_thickness
    top = _top(built)
    wide = _shown_radius(built)
    scale = next((s for s in SCALES if s * (top - floor_low) <= HEIGHT - 10.0 and 2.0 * s * wide <= ROOM), SCALES[-1])
    gap = max(lift, LEAST_GAP / scale) if lift > 0.0 else 0.0
    height = scale * (top - floor_low)
    bottom = 4.0 + height + 0.5 * (HEIGHT - 10.0 - height)
    sheet = Sheet(scale, MIDDLE, bottom, floor_low)
    shapes: list[Shape] = [*boss_shapes(sheet, built, wide), *pile_shapes(sheet, built, wide)]
    shapes += [*nut_shapes(sheet, built), *stud_shapes(sheet, built, gap)]
    axis = (sheet.at(0.0, floor_low - 2.0 / scale), sheet.at(0.0, top + 2.0 / scale))
    shapes.append(Line(axis, 0.12, dashed=True))
    shapes += _dimension_shapes(sheet, built, units, wide, gap, lift)
    exact = one(lift, "length", units)
    note = f"Section to scale {scale_text(scale)} (printed at 100 %)."
    if gap > lift:
        note += f" The gap under the tip is drawn wider than its {exact}."
    if max([boss.outer_diameter, *(layer.outer_diameter for layer in setup.stack)]) > 2.0 * wide + 1e-9:
        note += " What is wide is cut off at its sides."
    told = "From below: " + "; ".join(
        f"{each.words} {both(each.value, 'length', units)}" for each in dimensions(built, lift)
    )
    return Drawing(
        "section", f"Section of the joint, scale {scale_text(scale)}", told, note, WIDTH, HEIGHT, tuple(shapes)
    )


def scale_text(scale: float) -> str:
    """Return a scale as drawings state it, such as "1:1", "1.5:1" or "1:2"."""
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:g}"


def _top(built: BuiltJoint) -> float:
    setup = built.setup
    face = setup.nut_face_z + built.layout.nut_lift
    return max(tip_height(built) + setup.stud.length, face + setup.nut.overall_height)


def _shown_radius(built: BuiltJoint) -> float:
    """Radius at which boss and wide layers are cut off, mm: what the nut or washers need, and a little more."""
    setup = built.setup
    widest = max(
        [0.5 * setup.nut.width_across_flats, 0.5 * setup.nut.bearing_diameter, setup.stud.thread.nominal_diameter]
        + [0.5 * washer.outer_diameter for washer in setup.washers]
    )
    return min(1.15 * widest, 0.5 * max([setup.boss.outer_diameter, *(layer.outer_diameter for layer in setup.stack)]))


def _dimension_shapes(sheet: Sheet, built: BuiltJoint, units: str, wide: float, gap: float, lift: float) -> list[Shape]:
    shapes: list[Shape] = []
    scale = sheet.scale
    items = dimensions(built, lift)
    for side, sign in (("left", -1.0), ("right", 1.0)):
        ours = [each for each in items if each.side == side]
        edge = sheet.middle + sign * (scale * wide + 1.0)
        labels = []
        for each in ours:
            x = edge + sign * (1.0 + BETWEEN_LINES * (each.place - 1))
            low, high = sheet.at(0.0, each.low)[1], sheet.at(0.0, each.high)[1]
            if each.words.startswith("gap"):
                high = sheet.at(0.0, each.low + gap)[1]
            start = sheet.middle + sign * scale * 0.5 * built.setup.stud.thread.nominal_diameter
            shapes += _dimension_line(
                x, low, high, start if each.words.startswith("stud above") else edge - sign * 1.0, sign
            )
            labels.append((each, x, low, high))
        labels.sort(key=lambda entry: entry[2] + entry[3])
        limits = (5.0, HEIGHT - 6.0)
        heights = spread([0.5 * (low + high) for _, _, low, high in labels], LABEL_GAP, limits)
        at = 0.5 if side == "left" else WIDTH - 0.5
        anchor = "start" if side == "left" else "end"
        for (each, x, low, high), height in zip(labels, heights, strict=True):
            value, _, other = both(each.value, "length", units).partition(" (")
            wide_value, wide_other = text_width(f"{value} ", TYPE, True), text_width(f"({other}", TYPE)
            end = at - sign * (max(text_width(each.words, TYPE), wide_value + wide_other) + 0.8)
            line = height + TYPE * POINT + 0.2
            left = at if side == "left" else at - wide_value - wide_other
            shapes.append(Words(each.words, at, height - 0.4, TYPE, anchor))
            shapes.append(Words(value, left, line, TYPE, bold=True))
            shapes.append(Words(f"({other}", left + wide_value, line, TYPE))
            meets = min(max(height + 0.4, high + 1.5), low - 1.5) if low - high > 3.0 else 0.5 * (low + high)
            shapes.append(Line(((x, meets), (end, height + 0.4)), 0.12))
    return shapes


def _dimension_line(x: float, low: float, high: float, start: float, sign: float) -> list[Shape]:
    """Extension lines from `start` outwards, the dimension line with heads inside, or outside where it is short."""
    beyond = x + sign * 0.8
    shapes: list[Shape] = [Line(((start, y), (beyond, y)), 0.12) for y in (low, high)]
    if low - high > 3.6:
        shapes += [Line(((x, low), (x, high)), 0.15), arrow((x, low), (x, high)), arrow((x, high), (x, low))]
    else:
        shapes += [Line(((x, low + 2.4), (x, high - 2.4)), 0.15)]
        shapes += [arrow((x, low), (x, low + 2.0)), arrow((x, high), (x, high - 2.0))]
    return shapes
