"""What the review takes for granted: the rule's turn, feel, chips and scatter, each with its source and status."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from studwell.case.records import Case, Setup
from studwell.data import source_of, table
from studwell.errors import BadCase

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
    """Refuse a rule whose range does not hold it. Raises BadCase."""
    least, rule, most = (inputs[key].value for key in ("rule_least", "rule", "rule_most"))
    if not least <= rule <= most:
        key = "rule_least" if least > rule else "rule_most"
        raise BadCase(
            case.file,
            f"[review] {key}",
            f"{inputs[key].value:g} turn",
            f"rule_least <= rule <= rule_most; the rule is {rule:g} turn",
            "out-of-range",
            "the range does not hold the rule",
        )
