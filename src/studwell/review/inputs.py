"""What the review takes for granted: the rule's turn, feel, chips and scatter, each with its source and status."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from studwell.case.records import Case, Setup
from studwell.data import source_of, table
from studwell.errors import BadCase
from studwell.parts.fastener import property_class
from studwell.parts.thread import root_diameter
from studwell.units import as_text

FROM_DATA = {
    "rule": "review_rule_turn",
    "rule_least": "review_rule_turn_least",
    "rule_most": "review_rule_turn_most",
    "feel": "review_feel_turn",
    "chip": "review_chip",
    "temperature_scatter": "review_temperature_scatter",
    "expansion_scatter": "review_expansion_scatter",
    "pitch_scatter": "review_pitch_scatter",
    "friction_scatter": "review_friction_scatter",
    "cold": "review_cold_climate",
    "flaw": "review_flaw",
}
"""Key of [review] -> key of the data's assumptions that it replaces."""


FLOOR_DIAMETERS = 10.0
"""Stud diameters beyond which a floor's thickness changes nothing more. Our choice."""


@dataclass(frozen=True)
class Given:
    """One input: value in the unit named, where it is from and how far that is trusted."""

    name: str
    value: float
    unit: str
    source: str
    status: str


Inputs = Mapping[str, Given]


def review_inputs(setup: Setup) -> Inputs:
    """Return all inputs of a setup's review by their keys in [review]; those of the case before those of the data."""
    own = setup.review
    entries = table("assumptions")
    found = {}
    for key, name in FROM_DATA.items():
        value = None if own is None else getattr(own, key)
        entry = entries[name]
        unit = str(entry["unit"])
        if value is not None:
            found[key] = Given(key, float(value), unit, f"the case, [review] {key}", "given")
        elif key == "flaw" and setup.crack is not None and setup.crack.flaw is not None:
            found[key] = Given(key, setup.crack.flaw, unit, "the case, [crack] flaw", "given")
        else:
            source, status = source_of(entry)
            found[key] = Given(key, float(entry["value"]), unit, source, status)
    return found


def seating_torque(case: Case) -> float:
    """Return the torque (N mm) with which studs of a case are driven: the first that a setup states.

    raises BadCase : none does
    """
    for setup in case.setups:
        if setup.seating.torque:
            return float(setup.seating.torque)
    raise BadCase(
        case.file,
        "[seating] torque",
        None,
        'a torque, such as "10 N*m"',
        "missing-key",
        "no setup states how hard its stud is driven, which the review of the back-off needs",
    )


def check_rule(case: Case, inputs: Inputs) -> None:
    """Refuse a rule whose range does not hold it, and what no stud and boss of this case can have. Raises BadCase."""
    least, rule, most = (inputs[key].value for key in ("rule_least", "rule", "rule_most"))
    if not least <= rule <= most:
        key = "rule_least" if least > rule else "rule_most"
        limit = inputs[key]
        if limit.status != "given" and inputs["rule"].status == "given":
            raise BadCase(
                case.file,
                "[review] rule",
                f"{rule:g} turn",
                f"rule_least <= rule <= rule_most, here {least:g} to {most:g} turn: {key} is not in the case, and its default, "
                f"{limit.value:g} turn, does not fit; state it as well",
                "out-of-range",
                "the range does not hold the rule",
            )
        raise BadCase(
            case.file,
            f"[review] {key}",
            f"{limit.value:g} turn" + ("" if limit.status == "given" else ", by default"),
            f"rule_least <= rule <= rule_most; the rule is {rule:g} turn",
            "out-of-range",
            "the range does not hold the rule",
        )
    _check_sizes(case, inputs)


def twist_off_torque(setup: Setup) -> float:
    """Return the torque (N mm) at which a stud's thread root yields through in torsion: no stud can be driven harder.

    Source: plastic torsion of a round bar, pi d^3 / 12 times the shear strength, tensile strength over sqrt 3 (von Mises).
    """
    thread = setup.stud.thread
    strength = property_class(setup.stud.property_class, thread.nominal_diameter).ultimate_strength
    root = float(root_diameter(thread.nominal_diameter, thread.pitch))
    return math.pi * root**3 / 12.0 * strength / math.sqrt(3.0)


def _check_sizes(case: Case, inputs: Inputs) -> None:
    setup = case.setups[0]
    stud, own = setup.stud, setup.review
    pitch, engaged = stud.thread.pitch, stud.engaged_length

    def refuse(key: str, value: float, kind: str, most: float, why: str) -> None:
        if value > most:
            said, allowed = (as_text(each, kind, case.units, 3) for each in (value, most))
            raise BadCase(case.file, f"[review] {key}", said, f"up to {allowed}", "out-of-range", why)

    for key in ("rule", "rule_most"):
        refuse(key, inputs[key].value, "turn", engaged / pitch, "so many turns back leave no thread engaged")
    refuse("feel", inputs["feel"].value, "turn", 0.5, "first contact is not felt at all within so much")
    refuse("chip", inputs["chip"].value, "length", pitch, "no stud is driven onto chips thicker than its pitch")
    if own is None:
        return
    for torque in own.seating_torques or ():
        refuse("seating_torques", torque, "torque", twist_off_torque(setup), "it twists the stud off")
    widest = max(FLOOR_DIAMETERS * stud.thread.nominal_diameter, 2.0 * setup.boss.floor_thickness)
    for floor in own.floors or ():
        refuse("floors", floor, "length", widest, "a floor as thick as this is no floor any more, but a block")
