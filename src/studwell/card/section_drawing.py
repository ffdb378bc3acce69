"""The joint in section for the bench: to scale, with dimensions; only the gap under the tip is drawn wider than it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studwell.card.drawing import POINT, Drawing, Line, Shape, Words, arrow, text_width
from studwell.card.section_parts import Sheet, boss_shapes, nut_shapes, pile_shapes, stud_shapes
from studwell.card.words import both, one
from studwell.joint.build import BuiltJoint
from studwell.section.seat import TANG
from studwell.show.section import spread
from studwell.study.fitted import CLOSED, Fitted

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
    """A height dimension: words, lower and upper end (mm from the floor), and on which line beside the part it stands.

    of_gap : its ends lie under the tip, where the drawing may be wider than the part
    """

    words: str
    low: float
    high: float
    side: str
    place: int
    value: float
    of_gap: bool = False


def dimensions(built: BuiltJoint, stands: Fitted) -> tuple[Dimension, ...]:
    """Return the heights that the drawing gives, mm from the hole's end."""
    setup, layout = built.setup, built.layout
    boss = setup.boss
    mouth = boss.hole_depth
    tip, floor = stands.tip_z, stands.tip_z - stands.gap
    found = [
        Dimension("full hole", 0.0, mouth, "left", 4, boss.hole_depth),
        Dimension("full thread", mouth - boss.thread_depth, mouth, "left", 3, boss.thread_depth),
    ]
    ends = boss.insert_ends
    if ends is not None and boss.insert is not None:
        found.append(Dimension("insert", ends[0], ends[1], "left", 2, boss.insert.assembled))
        found.append(Dimension("set down", ends[1], mouth, "left", 2, boss.insert.set_down))
    found.append(Dimension("engaged", stands.engaged_low, stands.engaged_high, "left", 1, stands.engaged))
    lowest = -boss.cone_depth
    found.append(Dimension("floor left", lowest - boss.floor_thickness, lowest, "right", 1, boss.floor_thickness))
    if stands.gap > 0.0:
        found.append(Dimension("gap at the tip", floor, tip, "right", 1, stands.gap, True))
    if two_parts(stands):
        by = "tang" if built.seat.name == TANG else "run-out"
        middle = floor + stands.held
        found.append(Dimension(f"held up: {by}", floor, middle, "left", 1, stands.held, True))
        found.append(Dimension("turned back", middle, tip, "left", 2, stands.lift, True))
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
    top = stands.top_z
    if setup.nut.kind == "hex":
        out = setup.nut_face_z + setup.nut.height
        if top > out:
            found.append(Dimension("beyond the nut", out, top, "right", 1, top - out))
    else:
        face = setup.nut_face_z + layout.nut_lift
        found.append(Dimension("stud in the nut", face, top, "right", 1, top - face))
    found.append(Dimension("stud above the boss", mouth, top, "left", 1, top - mouth))
    return tuple(found)


def two_parts(stands: Fitted) -> bool:
    """Return whether the gap under the tip is what the seat leaves and what was turned back."""
    return stands.held > CLOSED and stands.lift > CLOSED


def section_drawing(built: BuiltJoint, units: str, stands: Fitted, room: float = HEIGHT) -> Drawing:
    """Return a setup's section with its dimensions, in the case's units with the other system's in brackets.

    room : height of the drawing, mm of paper
    """
    setup = built.setup
    boss = setup.boss
    floor_low = -boss.cone_depth - boss.floor_thickness
    top = _top(built, stands)
    wide = _shown_radius(built)
    scale = next((s for s in SCALES if s * (top - floor_low) <= room - 10.0 and 2.0 * s * wide <= ROOM), SCALES[-1])
    parts = drawn_gap(stands, LEAST_GAP / scale)
    height = scale * (top - floor_low)
    bottom = 4.0 + height + 0.5 * (room - 10.0 - height)
    sheet = Sheet(scale, MIDDLE, bottom, floor_low)
    shapes: list[Shape] = [*boss_shapes(sheet, built, wide), *pile_shapes(sheet, built, wide)]
    shapes += [*nut_shapes(sheet, built), *stud_shapes(sheet, built, stands, sum(parts))]
    axis = (sheet.at(0.0, floor_low - 2.0 / scale), sheet.at(0.0, top + 2.0 / scale))
    shapes.append(Line(axis, 0.12, dashed=True))
    shapes += _dimension_shapes(sheet, built, units, wide, parts, stands, room)
    exact = one(stands.gap, "length", units)
    note = f"Section to scale {scale_text(scale)} (printed at 100 %)."
    if sum(parts) > stands.gap + 1e-9:
        note += f" The gap under the tip is drawn wider than its {exact}."
    if stands.gap > 0.0 and stands.lift < -CLOSED:
        held, pressed = one(stands.held, "length", units), one(-stands.lift, "length", units)
        note += f" The seat holds the tip {held} up, less {pressed} of the drive."
    if max([boss.outer_diameter, *(layer.outer_diameter for layer in setup.stack)]) > 2.0 * wide + 1e-9:
        note += " What is wide is cut off at its sides."
    told = "From below: " + "; ".join(
        f"{each.words} {both(each.value, 'length', units)}" for each in dimensions(built, stands)
    )
    return Drawing(
        "section", f"Section of the joint, scale {scale_text(scale)}", told, note, WIDTH, room, tuple(shapes)
    )


def scale_text(scale: float) -> str:
    """Return a scale as drawings state it, such as "1:1", "1.5:1" or "1:2"."""
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:g}"


def drawn_gap(stands: Fitted, least: float) -> tuple[float, float]:
    """Return how wide the two parts of the gap are drawn, mm: each as it is, or `least` where it would not be seen."""
    if stands.gap <= 0.0:
        return 0.0, 0.0
    if two_parts(stands):
        return max(stands.held, least), max(stands.lift, least)
    return 0.0, max(stands.gap, least)


def _top(built: BuiltJoint, stands: Fitted) -> float:
    setup = built.setup
    face = setup.nut_face_z + built.layout.nut_lift
    return max(stands.top_z, face + setup.nut.overall_height)


def _shown_radius(built: BuiltJoint) -> float:
    """Radius at which boss and wide layers are cut off, mm: what the nut or washers need, and a little more."""
    setup = built.setup
    widest = max(
        [0.5 * setup.nut.width_across_flats, 0.5 * setup.nut.bearing_diameter, setup.stud.thread.nominal_diameter]
        + [0.5 * washer.outer_diameter for washer in setup.washers]
    )
    return min(1.15 * widest, 0.5 * max([setup.boss.outer_diameter, *(layer.outer_diameter for layer in setup.stack)]))


def _dimension_shapes(
    sheet: Sheet, built: BuiltJoint, units: str, wide: float, parts: tuple[float, float], stands: Fitted, room: float
) -> list[Shape]:
    shapes: list[Shape] = []
    scale = sheet.scale
    items = dimensions(built, stands)
    floor = stands.tip_z - stands.gap
    true = (floor, floor + stands.held, stands.tip_z) if two_parts(stands) else (floor, floor, stands.tip_z)
    drawn = (floor, floor + parts[0], floor + sum(parts))
    for side, sign in (("left", -1.0), ("right", 1.0)):
        ours = [each for each in items if each.side == side]
        edge = sheet.middle + sign * (scale * wide + 1.0)
        labels = []
        for each in ours:
            x = edge + sign * (1.0 + BETWEEN_LINES * (each.place - 1))
            ends = (each.low, each.high)
            if each.of_gap:
                ends = float(np.interp(each.low, true, drawn)), float(np.interp(each.high, true, drawn))
            low, high = (sheet.at(0.0, end)[1] for end in ends)
            start = sheet.middle + sign * scale * 0.5 * built.setup.stud.thread.nominal_diameter
            shapes += _dimension_line(
                x, low, high, start if each.words.startswith("stud above") else edge - sign * 1.0, sign
            )
            labels.append((each, x, low, high))
        labels.sort(key=lambda entry: entry[2] + entry[3])
        limits = (5.0, room - 6.0)
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
