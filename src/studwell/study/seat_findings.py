"""What carried a driven stud, and how its floor would fail: punched out or split from below."""

from __future__ import annotations

from studwell.joint.floor_places import PunchSurface
from studwell.strength.floor import punch_surface_of
from studwell.strength.margin import Margin
from studwell.study.finding import Finding, margin_words
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


def seat_findings(comparison: Comparison) -> list[Finding]:
    """Return which seat carried the drive where it is not the tip, and which way the floor is nearest to failing."""
    units = comparison.case.units
    result = [_seat(item, units) for item in comparison.results if _driven_elsewhere(item)]
    return [*result, *_floor(comparison, units)]


def _driven_elsewhere(item: SetupResult) -> bool:
    return item.setup.seating.mode == "bottomed" and not item.history.seat.by_tip


def _seat(item: SetupResult, units: str) -> Finding:
    seat = item.history.seat
    driven = float(item.history.seated_forces.seat[0])
    text = (
        f"{item.name}: the drive ends on the {seat.name} ({seat.reason}), which carries "
        f"{as_text(driven, 'force', units, 3)}; the tip stays {as_text(seat.clearance, 'length', units, 3)} above its floor."
    )
    wedge, hoop = item.built.layout.wedge, item.value("seat_hoop_max")
    if wedge is not None and hoop is not None:
        text += (
            f" The incomplete thread presses the boss outwards at {number_text(1.0 / _tangent(item), 2)} times that, and "
            f"the hoop stress round it reaches {as_text(hoop, 'pressure', units, 3)}."
        )
    else:
        text += " How much the tang stands is not known."
    here, there = item.value("floor_stress_max"), None if item.on_tip is None else item.on_tip["floor_stress_max"]
    if here is not None and there:
        change = here / there - 1.0
        text += (
            f" The averaged floor stress is {as_text(here, 'pressure', units, 3)}, "
            f"{number_text(abs(100.0 * change), 2)} % {'less' if change < 0.0 else 'more'} than with the same torque on the "
            f"tip, {as_text(there, 'pressure', units, 3)}."
        )
    return Finding("seat", text)


def _tangent(item: SetupResult) -> float:
    joint = item.built.joint
    sine = float(joint.interface("seat").axial[0])
    return sine / (1.0 - sine**2) ** 0.5


def _floor(comparison: Comparison, units: str) -> list[Finding]:
    """The floor's nearest failure, of the setup whose floor is nearest to it."""
    found = []
    for item in comparison.results:
        punch, split = (item.verdict.margins[mode] for mode in ("floor punch", "floor split"))
        surface = punch_surface_of(item.built)
        if punch.value is not None and split.value is None and split.load is not None and surface is not None:
            return [_floor_unknown(item, punch, split, surface, units)]
        if punch.value is None or split.value is None or surface is None or max(punch.value, split.value) <= 0.05:
            continue
        first, second = (punch, split) if punch.value >= split.value else (split, punch)
        found.append((max(punch.value, split.value), item, first, second, surface))
    if not found:
        return []
    _, item, first, second, surface = max(found, key=lambda one: one[0])
    words = {"floor punch": "be punched out round the tip", "floor split": "split from below"}
    loads = [as_text(margin.load or 0.0, "pressure", units, 3) for margin in (first, second)]
    kinds = {"floor punch": "mean shear", "floor split": "tension under it"}
    return [
        Finding(
            "floor",
            f"{item.name}: {_floor_words(item, surface, units)} would sooner {words[first.mode]} than "
            f"{words[second.mode]}: {kinds[first.mode]} {loads[0]}, {margin_words(first.value)} of what the metal "
            f"stands, against {kinds[second.mode]} {loads[1]}, {margin_words(second.value)}. The inside corner is "
            "judged on its own.",
        )
    ]


def _floor_unknown(item: SetupResult, punch: Margin, split: Margin, surface: PunchSurface, units: str) -> Finding:
    """A floor that yields where the model does not follow it: what is known of its two ways to fail."""
    found, stands, shear = (
        as_text(value or 0.0, "pressure", units, 3) for value in (split.load, split.capacity, punch.load)
    )
    text = (
        f"{item.name}: whether {_floor_words(item, surface, units)} splits from below is not known: the model finds "
        f"{found} of tension under it, of {stands} that the metal stands, but the floor yields where the model "
        'does not follow it, and that tension is no bound ([inelastic] zone = "boss" solves it). Punched out round the tip: '
        f"mean shear {shear}, {margin_words(punch.value)} of what it stands."
    )
    return Finding("floor", text)


def _floor_words(item: SetupResult, surface: PunchSurface, units: str) -> str:
    """The floor where the plug would shear, and how that goes with the case's floor_thickness where the two differ."""

    def length(value: float) -> str:
        return as_text(value, "length", units, 3)

    here, deepest = surface.height, item.setup.boss.floor_thickness
    if abs(here - deepest) < 0.005 * deepest:
        return f"a floor of {length(here)}"
    return (
        f"a floor of {length(here)}, measured at the tip's edge, {length(surface.radius)} from the axis (floor_thickness, "
        f"under the hole's deepest point, is {length(deepest)}),"
    )
