"""What the card's own drilling and tapping does to the hole: which tap cuts the thread, what floor is left, what forbids it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from studwell.card.words import one
from studwell.case.records import Setup
from studwell.parts.repair import Floor
from studwell.parts.taps import full_thread, tap_form, tap_forms
from studwell.strength.fit import drill_point
from studwell.strength.margins import Margin
from studwell.study.repair import drill_depth, floor_at
from studwell.units import number_text

ROUNDING = 1e-9
"""mm and pitches by which a limit may be missed without being missed."""

OVERSIZE = 0.1
"""mm of floor that the point of the card's drill may take beyond what the margin assumed, whose drill is of the thread's own
series, metric or inch. Our own choice."""

NO_TAP, THROUGH = "CANNOT BE TAPPED", "DO NOT DRILL"
"""The verdict in words where the model's is none of failure but the card's own work at the hole is."""


@dataclass(frozen=True)
class Reach:
    """A form of tap in the hole as given.

    least, most   : its chamfer, pitches
    shallow, deep : full thread that it cuts with its longest and its shortest chamfer, mm from the mouth
    fits          : "always" cuts the thread that is wanted, "short" only with so short a chamfer as the hole has room for,
                    "never"
    """

    name: str
    least: float
    most: float
    shallow: float
    deep: float
    fits: str


def chamfer_room(setup: Setup) -> float:
    """Return what the hole as given leaves for a tap's chamfer under the full thread that is wanted, pitches."""
    return (setup.boss.hole_depth - drill_depth(setup).tapped) / setup.stud.thread.pitch


def can_be_tapped(setup: Setup) -> bool:
    """Return whether some form of tap cuts the thread that is wanted in the hole as given."""
    return any(each.fits != "never" for each in reaches(setup))


def room_text(setup: Setup, units: str) -> str:
    """Return the chamfer that the hole has room for, in pitches and as a length; never rounded up."""
    room = math.floor(100.0 * chamfer_room(setup) + 1e-6) / 100.0
    length = one(room * setup.stud.thread.pitch, "length", units, 2)
    return f"{number_text(room, 3)} pitches ({length})"


def reaches(setup: Setup) -> tuple[Reach, ...]:
    """Return what each form of tap for blind holes does in a setup's hole, and the tap of [repair]; longest chamfer first.

    Source: tap_forms; for an insert with a plug tap the depth that its rule asks for.
    """
    pitch, room, chosen = setup.stud.thread.pitch, chamfer_room(setup), drill_depth(setup)
    found = []
    for form in tap_forms():
        if not form.blind:
            continue
        most = form.most
        if form.name == chosen.tap:  # the rule of an insert may ask for more than the chamfer
            most = max(most, (chosen.needed - chosen.tapped) / pitch)
        fits = "always" if most <= room + ROUNDING else "short" if form.least <= room + ROUNDING else "never"
        shallow, deep = (full_thread(setup.boss.hole_depth, each, pitch) for each in (most, form.least))
        found.append(Reach(form.name, form.least, most, shallow, deep, fits))
    return tuple(found)


def chosen_reach(setup: Setup) -> Reach:
    """Return what the tap of [repair], or the one that is taken, does in the hole."""
    name = drill_depth(setup).tap
    return next(each for each in reaches(setup) if each.name == name)


def tap_words(setup: Setup) -> str:
    """Return which taps cut the thread that is wanted in the hole as given, and what to do with one that might not."""
    mine = chosen_reach(setup)
    if mine.fits == "always":
        return f"any {mine.name} tap ({_pitches(mine)}) cuts it"
    others = [each for each in reaches(setup) if each.name != mine.name]
    always = [each.name for each in others if each.fits == "always"]
    short = [each.name for each in ([mine] if mine.fits == "short" else []) + others if each.fits == "short"]
    short = [f"a {name} tap" if not name.startswith("form") else name for name in dict.fromkeys(short)]
    told = [] if mine.fits == "short" else [f"NOT a {mine.name} tap ({_pitches(mine)})"]
    if always:
        told.append(f"{_either(always)} always does")
    if short:
        told.append(f"{_either(short)} only if so short: measure it or grind it back")
    return "; ".join(told)


def _pitches(reach: Reach) -> str:
    return f"{number_text(reach.least, 2)} to {number_text(tap_form(reach.name).most, 2)} pitches of chamfer"


def _either(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def reach_words(setup: Setup, units: str) -> tuple[str, str]:
    """Return how deep full thread the tap that is chosen leaves in the hole as given, and every other form."""
    mine, others = chosen_reach(setup), []
    for each in reaches(setup):
        low, high = (one(value, "length", units) for value in (each.shallow, each.deep))
        low, unit = low.rpartition(" ")[::2]
        if each.name == mine.name:
            first = f"{each.name} {low} to {high}" if each.deep > 0.0 else f"{each.name} none"
        else:
            others.append(
                f"{each.name} {low} to {high.removesuffix(unit).strip()}" if each.deep > 0.0 else each.name + " none"
            )
    return first, f"{', '.join(others)} {unit}, longest to shortest chamfer"


def least_floor(setup: Setup) -> float:
    """Return the least floor that [repair] asks for, mm; 0 (breakthrough itself) where it asks for none."""
    return 0.0 if setup.repair is None else setup.repair.least_floor or 0.0


def own_point(setup: Setup, units: str) -> float:
    """Return how far the point of the drill that the card names goes beyond its full diameter, mm."""
    return drill_point(setup, units)


def own_floor(setup: Setup, depth: float, units: str) -> Floor:
    """Return what the drill that the card names leaves of the boss, mm. depth: of its full diameter, mm."""
    return floor_at(setup, depth, units)


def through(setup: Setup, depth: float, units: str) -> str:
    """Return in words why a hole of a depth (mm, full diameter) must not be drilled; "" if its floor is enough."""
    left = own_floor(setup, depth, units)
    if left.under_point <= ROUNDING:
        return f"a drill's point comes THROUGH by {one(max(-left.under_point, 0.0), 'length', units)}"
    if left.least is not None and left.least <= ROUNDING:
        over = one(max(-left.least, 0.0), "length", units)
        return f"a drill's point comes THROUGH by {over} at the tolerance of its depth"
    kept, least = least_floor(setup), left.under_point if left.least is None else left.least
    if kept > 0.0 and least <= kept + ROUNDING:
        when = "" if left.least is None else " at the tolerance of its depth"
        asked = one(kept, "length", units)
        return f"a drill's point leaves {one(least, 'length', units)}{when}, not more than the least floor of {asked}"
    return ""


def faults(setup: Setup, margin: Margin, units: str) -> tuple[tuple[str, str], ...]:
    """Return (banner, sentence) of what the card's own hole step would spoil. margin: of "floor breakthrough".

    A drill's point counts whatever the hole's end is, as it does in that margin: who drills by the stop alone drills so.
    """
    depth = setup.boss.hole_depth
    shown = one(depth, "length", units, 4)
    found = []
    told, left = through(setup, depth, units), own_floor(setup, depth, units)
    if told:
        found.append((THROUGH, f"The hole of this card must not be drilled: at its {shown} {told}."))
    elif left.least is not None and margin.value is not None and margin.load is not None:
        assumed = setup.boss.floor_thickness - margin.load
        if left.least < assumed - OVERSIZE:
            found.append(
                (
                    THROUGH,
                    f"The hole of this card must not be drilled: it leaves {one(left.least, 'length', units)} of floor at "
                    f"least, and its margin was computed with {one(assumed, 'length', units)}.",
                )
            )
    if not can_be_tapped(setup):
        shortest = min(each.least for each in reaches(setup))
        wanted = drill_depth(setup).tapped
        less = "a shorter insert" if setup.boss.insert is not None else "less full thread"
        found.append(
            (
                NO_TAP,
                f"No tap cuts full thread to {one(wanted, 'length', units, 4)} in a hole of {shown}: the shortest chamfer "
                f"is {number_text(shortest, 2)} pitch, {one(shortest * setup.stud.thread.pitch, 'length', units)}. "
                f"Put a deeper hole or {less} into the case.",
            )
        )
    return tuple(found)
