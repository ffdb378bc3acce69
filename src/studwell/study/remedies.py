"""What to change in a setup that fails, from all its margins together: nothing that raises a load which has no room left."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from studwell.case.records import Setup
from studwell.parts.fastener import property_class, property_class_names
from studwell.strength.margin import Margin
from studwell.study.finding import margin_words

WORTH_A_CHANGE = 0.7
"""Share of its limit from which a mode that governs is told what to change. Our own choice."""

NEAR = 0.8
"""Share of its limit from which a mode has no room left: no change may raise its load. Our own choice."""

_THREADS = ("boss thread strip", "insert thread strip", "nut thread strip")
_STUD = ("stud proof", "stud yield", "stud break")
_CLAMPED = (*_STUD, *_THREADS, "bearing pressure")
_FLOOR = ("floor breakthrough", "floor punch", "floor split", "boss crack (once)", "boss crack (repeated)")
_WEDGE = ("tip crushing", "seat crushing", "floor punch", "floor split", "seat split")
_CRACKS = ("boss crack (once)", "boss crack (repeated)")
_DRIVEN = ("floor punch", "floor split", "seat split", "boss crack (once)", "tip crushing", "seat crushing")


def _always(setup: Setup) -> bool:
    return True


def _bottomed(setup: Setup) -> bool:
    return setup.seating.mode == "bottomed"


def _driven(setup: Setup) -> bool:
    """Whether less of the seating torque leaves less of a wedge."""
    return bool(setup.seating.torque) and (_bottomed(setup) or setup.seating.counted_from == "driven seat")


def _pressed(setup: Setup) -> bool:
    """Whether the stud presses on its seat, or may."""
    return _bottomed(setup) or setup.seating.counted_from == "driven seat"


def _wet(setup: Setup) -> bool:
    return setup.pocket.filled


def _plain_hole(setup: Setup) -> bool:
    return setup.boss.insert is None


def _open_nut(setup: Setup) -> bool:
    return setup.nut.kind != "domed"


def _sealing(setup: Setup) -> bool:
    """Whether it is a gasket that says what clamp is needed."""
    return setup.limits.minimum_clamp is None and any(layer.gasket is not None for layer in setup.stack)


def _stronger_class(setup: Setup) -> bool:
    diameter = setup.stud.thread.nominal_diameter
    own = property_class(setup.stud.property_class, diameter).proof_stress
    return any(property_class(name, diameter).proof_stress > own for name in property_class_names())


@dataclass(frozen=True)
class Change:
    """One change of the joint.

    words  : as it is told;  helps: modes whose margin it makes smaller
    raises : modes whose margin it makes larger, or may
    fits   : whether a setup can be changed so;  torque: "more" or "less" where it is the nut's torque
    bounded : True where it helps only a margin that is not unbounded
    pressed : what it raises beside `raises` where the stud presses on its seat
    """

    words: str
    helps: tuple[str, ...]
    raises: tuple[str, ...] = ()
    fits: Callable[[Setup], bool] = _always
    torque: str = ""
    bounded: bool = False
    pressed: tuple[str, ...] = ()

    def raised(self, setup: Setup) -> tuple[str, ...]:
        """The modes whose margin it makes larger in a setup, or may."""
        return (*self.raises, *self.pressed) if _pressed(setup) else self.raises


# fmt: off
CHANGES = (
    Change("more torque", ("leak",),
           (*_CLAMPED, "boss crack (once)", "boss crack (repeated)", "stud fatigue", "washer flat"),
           torque="more", pressed=("hold",)),
    Change("less torque", _CLAMPED, ("leak", *_WEDGE), torque="less", pressed=_CRACKS),
    Change("spring washers that are not flat (and a stud long enough for them)",
           ("leak", *_STUD, "stud fatigue", "boss crack (repeated)")),
    Change("a gasket that needs less pressure", ("leak",), (), _sealing, bounded=True),
    Change("a stronger class of stud", _STUD, (), _stronger_class),
    Change("a larger stud", (*_STUD, "boss thread strip", "stud fatigue")),
    Change("a longer engagement", ("boss thread strip",), _FLOOR),
    Change("a thread insert", ("boss thread strip",), _FLOOR, _plain_hole),
    Change("a longer insert", ("insert thread strip",), _FLOOR),
    Change("a taller nut", ("nut thread strip",)),
    Change("more stud in the nut", ("nut thread strip",), ("false seat",), _open_nut),
    Change("a wider washer", ("bearing pressure",)),
    Change("a thicker washer", ("bearing pressure",), ("nut thread strip",)),
    Change("a shorter stud", ("false seat",), ("nut thread strip", "boss thread strip", "insert thread strip")),
    Change("a deeper dome", ("false seat",)),
    Change("a washer under the nut", ("false seat",), ("nut thread strip",)),
    Change("a bottoming tap", ("floor breakthrough",)),
    Change("a stop on the drill", ("floor breakthrough",)),
    Change("a shallower hole", ("floor breakthrough",), ("boss thread strip", "insert thread strip")),
    Change("the stud backed off its seat",
           ("boss crack (once)", "boss crack (repeated)", "floor punch", "floor split", "seat split"), ("hold",), _bottomed),
    Change("less seating torque", _DRIVEN, ("hold",), _driven),
    Change("more metal under the hole", ("floor punch", "floor split", "boss crack (once)", "boss crack (repeated)")),
    Change("a hole blown out dry before the stud goes in", ("wall burst",), (), _wet),
    Change("a wider tip", ("floor punch",), (), _bottomed),
    Change("a thread cut deeper than the stud goes, so that its tip or nothing seats", ("seat split",),
           ("floor breakthrough", "floor punch", "floor split", "tip crushing")),
    Change("a longer stud", ("stud fatigue",), ("false seat",)),
    Change("a waisted stud", ("stud fatigue",), _STUD),
    Change("threads rolled after heat treatment", ("stud fatigue",)),
)
# fmt: on
"""Every change that is ever told, in the order in which it is. What moves which load: the balance of a tightened joint
(clamp, tension and thread load rise together with the torque) and the geometry of a blind hole in a boss that is given
(more thread, or a deeper hole, leaves less floor). The nut's pull lifts a driven stud off its
seat: with less of it the tip presses harder, with more of it the seat holds less of the torque that turns the stud."""

NOTHING = ("nothing known here that does not raise another load which has no room left",)


@dataclass(frozen=True)
class Advice:
    """What to change.

    wanted : the modes that it is for: all that fail, or the one that governs
    told   : mode -> changes that help it and raise nothing that has no room left
    held   : "more" or "less" torque that would help, modes that ask for it, modes that have no room for it; None where
             nothing asks for a torque that it cannot have
    """

    wanted: tuple[str, ...]
    told: Mapping[str, tuple[str, ...]]
    held: tuple[str, tuple[str, ...], tuple[str, ...]] | None = None

    def sentence(self, margins: Mapping[str, Margin]) -> str:
        """Return the advice in words, "" where there is none to give."""
        if not self.wanted:
            return ""
        said = [_torque(self.held, margins)] if self.held is not None else []
        if len(self.wanted) == 1:
            said.append(f"To change it: {_either(self.told[self.wanted[0]])}.")
            return " ".join(said)
        groups: dict[tuple[str, ...], list[str]] = {}
        for mode in self.wanted:
            groups.setdefault(self.told[mode], []).append(mode)
        parts = [f"against {_and(modes)}, {_either(words)}" for words, modes in groups.items()]
        said.append(f"To change it: {'; '.join(parts)}.")
        return " ".join(said)


def _torque(held: tuple[str, tuple[str, ...], tuple[str, ...]], margins: Mapping[str, Margin]) -> str:
    way, asking, full = held
    named = [f"{mode} ({margin_words(margins[mode].value)})" for mode in full]
    ask, leave = ("asks" if len(asking) == 1 else "ask"), ("leaves" if len(full) == 1 else "leave")
    return f"No change of torque serves: {_and(asking)} {ask} for {way}, and {_and(named)} {leave} no room for it."


def advice(margins: Mapping[str, Margin], setup: Setup) -> Advice:
    """Return what to change in a setup: for all damage modes that fail, or for the one that governs where it is near.

    margins : mode -> Margin, all of the setup's
    No change is told that raises a load which is at NEAR of its limit or beyond, whose limit under the torque is not known, or
    which the rise that the failing mode asks for would bring to its limit.
    """
    damage = [m for m in margins.values() if m.kind == "damage" and m.applies and m.value is not None]
    failing = sorted((m for m in damage if m.fails), key=lambda m: -(m.value or 0.0))
    if any(m.mode == "false seat" for m in failing):
        failing = [
            m for m in failing if m.mode != "leak"
        ]  # the nut pulls on the stud alone: no clamp that torque would raise
    once, repeated = (margins.get(mode) for mode in ("boss crack (once)", "boss crack (repeated)"))
    if once is not None and once.fails and repeated is not None and repeated.fails and repeated.value == once.value:
        failing = [m for m in failing if m is not repeated]  # a flaw that breaks at once: no smaller range mends it
    wanted = failing
    if not failing:
        most = max(damage, key=lambda m: m.value or 0.0, default=None)
        wanted = [most] if most is not None and round(most.value or 0.0, 2) >= WORTH_A_CHANGE else []
    told: dict[str, tuple[str, ...]] = {}
    held: dict[str, tuple[list[str], list[str]]] = {}
    for margin in wanted:
        words = []
        for change in CHANGES:
            if margin.mode not in change.helps or not change.fits(setup):
                continue
            if change.bounded and margin.value == math.inf:
                continue
            full = [mode for mode in change.raised(setup) if _no_room(margins.get(mode), margin)]
            if not full:
                words.append(change.words + _open(change, margins))
            elif change.torque:
                asking, blocking = held.setdefault(change.torque, ([], []))
                asking.append(margin.mode)
                blocking += [mode for mode in full if mode not in blocking]
        told[margin.mode] = tuple(words) or NOTHING
    way = next((way for way in ("more", "less") if way in held), None)
    barred = None if way is None else (way, tuple(held[way][0]), tuple(held[way][1]))
    return Advice(tuple(m.mode for m in wanted), told, barred)


def _no_room(margin: Margin | None, helped: Margin) -> bool:
    """Whether a margin may not grow while another, `helped`, is brought below its limit."""
    if margin is None or not margin.applies or margin.mode == helped.mode:
        return False
    if margin.value is None:
        return margin.mode in _CLAMPED
    asked = helped.value or 0.0
    return margin.value >= NEAR or (margin.mode in _CLAMPED and 1.0 <= asked < math.inf and margin.value * asked >= 1.0)


def _open(change: Change, margins: Mapping[str, Margin]) -> str:
    """What a change does that nobody knows, in brackets; cracks and fatigue, told as unknown anyway, are left out."""
    raised = [margins[mode] for mode in change.raises if mode in ("leak", "floor breakthrough") and mode in margins]
    unknown = [margin.mode for margin in raised if margin.unknown]
    return f" (what that does to {_and(unknown)} is not known)" if unknown else ""


def _either(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
