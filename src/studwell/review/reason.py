"""The sentence on the reason: which mechanism makes what turning back relieves, of what the largest margin is made of."""

from __future__ import annotations

from collections.abc import Mapping

from studwell.review.codes import SAME, SPARES
from studwell.review.mechanisms import COLD, HOTTER, LIQUID, STACK, STEADY, WEDGE, Apart, governing_quantity
from studwell.review.told import Sentence, Told
from studwell.strength.timeline import at_instant

MOSTLY = 0.5
"""Share of what the mechanisms add to what turning back relieves from which on one of them is the reason."""

KIND = {"floor stress": "pressure", "thread load": "force"}

SLIGHT = 0.005
"""Share of the driven stud's load below which turning back relieves nothing worth a reason. Our choice."""

MAIN = {
    "nothing": "Turning back relieves nothing there, so there is no mechanism to name.",
    "the wedge": "The main reason is the wedge force that driving leaves, not different expansion.",
    "expansion": "The main reason is that stud and boss expand differently, as is usually said.",
    "the liquid": "The main reason is the liquid under the tip.",
    "the stack": "The main reason is the growth of the stack.",
    "several": "No single mechanism is the reason.",
}
STANDS = {
    "nothing": MAIN["nothing"],
    "the wedge": "What turning back relieves, and the boss stands anyway, is the wedge force that driving leaves.",
    "expansion": "What turning back relieves, and the boss stands anyway, comes from stud and boss expanding differently.",
    "the liquid": "What turning back relieves, and the boss stands anyway, comes from the liquid under the tip.",
    "the stack": "What turning back relieves, and the boss stands anyway, comes from the growth of the stack.",
    "several": "What turning back relieves, and the boss stands anyway, comes from no single mechanism.",
}
"""The same where the boss stands about as well when driven hard."""


def parts_of(share: Mapping[str, float]) -> dict[str, float]:
    """Return the shares of mechanisms gathered: the wedge, expansion of stud and boss, the liquid, the stack."""
    return {
        "the wedge": share[WEDGE],
        "expansion": share[STEADY] + share[HOTTER] + share[COLD],
        "the liquid": share[LIQUID],
        "the stack": share[STACK],
    }


def reason_code(parts: Mapping[str, float], driven: float) -> str:
    """Return the part that makes at least MOSTLY of what all parts add, "several", or "nothing".

    parts : what each makes of the load that turning back relieves;  driven: the driven stud's load, in the same unit
    """
    added = sum(max(value, 0.0) for value in parts.values())
    if sum(parts.values()) <= SLIGHT * abs(driven):
        return "nothing"
    return next((part for part, value in parts.items() if value >= MOSTLY * added), "several")


def reason_sentence(told: Told, code: str) -> Sentence:
    """Return the sentence on the reason. code: the verdict's word."""
    apart = told.apart[told.stated]
    wanted = governing_quantity(told.driven)
    name = wanted if wanted in apart.relieved else "thread load"
    found, kind = apart.relieved[name], KIND[name]
    whole = apart.shares[name]
    parts = parts_of(found.share)
    reason = reason_code(parts, whole.everything)

    def listed(shares: Mapping[str, float]) -> str:
        words = {
            "the wedge": "the wedge has", "expansion": "different expansion of stud and boss",
            "the liquid": "the liquid", "the stack": "growth of the stack",
        }  # fmt: skip
        there = [each for each in words if each != "the liquid" or apart.amplitudes[LIQUID]]
        return ", ".join(f"{words[each]} {told.signed(shares[each], kind)}" for each in there)

    taken = (
        f"takes {told.text(found.total, kind)} off the driven stud's {told.text(whole.everything, kind)}"
        if found.total >= 0.0
        else f"adds {told.text(-found.total, kind)} to the driven stud's {told.text(whole.everything, kind)}"
    )
    lead = STANDS if code in (SAME, SPARES) else MAIN
    text = (
        f"{lead[reason]} The largest margin is made of {name}: {at_instant(apart.when)} "
        f"turning back {taken}; of {told.signed(found.total, kind)} relieved {listed(parts)}. "
        f"Of the {told.signed(whole.total, kind)} that all mechanisms add to the driven stud, gap or not, "
        f"{listed(parts_of(whole.share))}."
    )
    numbers: dict[str, float | None] = {
        "relieved": found.total, "wedge": parts["the wedge"], "expansion": parts["expansion"],
        "liquid": parts["the liquid"], "stack": parts["the stack"], "total": whole.total,
    }  # fmt: skip
    numbers |= {f"driven_{part.removeprefix('the ')}": value for part, value in parts_of(whole.share).items()}
    if told.teeth is not None and name in told.teeth.relieved:
        toothed = parts_of(told.teeth.relieved[name].share)
        text += (
            f" With meshed teeth it takes {told.text(told.teeth.relieved[name].total, kind)} off, of which the wedge has "
            f"{told.signed(toothed['the wedge'], kind)}, expansion {told.signed(toothed['expansion'], kind)}."
        )
        numbers |= {"wedge_teeth": toothed["the wedge"], "expansion_teeth": toothed["expansion"]}
    if name != "floor stress":
        more, floor = _floor(told)
        text += more
        numbers |= floor
    rule = (
        f"the reason has at least {MOSTLY:g} of what mechanisms add to the load that turning back relieves: Shapley's shares "
        "of the driven stud's load less the turned back one's, same heat"
    )
    return Sentence("reason", reason, text, rule, numbers)


def _floor(told: Told) -> tuple[str, dict[str, float | None]]:
    """What is told of the floor's stress where the thread governs."""

    def size(one: Apart) -> float:
        return one.shares["floor stress"].everything

    floor = max((one for one in told.apart if "floor stress" in one.relieved), key=size, default=None)
    if floor is None:
        return "", {}
    found = floor.relieved["floor stress"]
    text = (
        f" The floor's stress is largest {at_instant(floor.when)}: turning back takes {told.text(found.total, 'pressure')} off "
        f"{told.text(size(floor), 'pressure')}, of which the wedge has {told.signed(found.share[WEDGE], 'pressure')}."
    )
    return text, {"floor_wedge": found.share[WEDGE], "floor_relieved": found.total}
