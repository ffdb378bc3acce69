"""What to change in a setup that fails: nothing that raises a load which has no room left, whatever fails together."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studwell.card.build import headline
from studwell.case import case_from_text, starter_case
from studwell.strength.margin import Margin, absent_margin, unknown_margin
from studwell.strength.verdict import mode_names
from studwell.study.compare import solve_setup
from studwell.study.findings import findings
from studwell.study.remedies import CHANGES, NEAR, NOTHING, WORTH_A_CHANGE, advice

FUNCTION = ("hold", "tip crushing", "washer flat", "seat crushing", "insert turning")
CASE = case_from_text(starter_case(), "starter.toml")
SETUP, OFF = CASE.setup("bottomed"), CASE.setup("backed off")

AGAINST = {
    "more torque": ("stud proof", "stud yield", "stud break", "boss thread strip", "insert thread strip",
                    "nut thread strip", "bearing pressure", "boss crack (once)", "stud fatigue", "washer flat", "hold"),
    "less torque": ("leak", "tip crushing", "seat crushing", "floor punch", "floor split", "seat split", "boss crack (once)",
                    "boss crack (repeated)"),
    "a longer engagement": ("floor breakthrough", "floor punch", "floor split", "boss crack (once)"),
    "a thread insert": ("floor breakthrough", "floor punch", "floor split", "boss crack (once)"),
    "a longer insert": ("floor breakthrough", "floor punch", "floor split", "boss crack (once)"),
    "a thread cut deeper": ("floor breakthrough", "floor punch", "floor split", "tip crushing"),
    "a shallower hole": ("boss thread strip", "insert thread strip"),
    "a shorter stud": ("nut thread strip", "boss thread strip", "insert thread strip"),
    "a waisted stud": ("stud proof", "stud yield", "stud break"),
    "a longer stud": ("false seat",),
    "more stud in the nut": ("false seat",),
    "a washer under the nut": ("nut thread strip",),
    "the stud backed off its seat": ("hold",),
    "less seating torque": ("hold",),
}  # fmt: skip
"""Change -> modes whose load it raises: by balance of the tightened joint, by a hole in a boss of a given height, and by the
pull that lifts a bottomed stud off its seat."""


def margins_of(**values: float | None) -> dict[str, Margin]:
    """Margins by mode, words joined by _; those not named are far from their limits."""
    named = {mode.replace(" ", "_").replace("(", "").replace(")", ""): mode for mode in mode_names()}
    given_ = {named[name]: value for name, value in values.items()}
    assert len(given_) == len(values)
    return {
        mode: Margin(mode, "function" if mode in FUNCTION else "damage", given_.get(mode, 0.1)) for mode in mode_names()
    }


@pytest.mark.parametrize(
    ("values", "never", "said"),
    [
        ({"leak": math.inf, "bearing_pressure": 2.17, "stud_yield": 1.33, "boss_thread_strip": 1.09},
         ("more torque", "less torque"), "No change of torque serves: leak asks for more, and"),
        ({"leak": 1.2, "stud_yield": 0.9}, ("more torque",), "stud yield (0.90) leaves no room for it"),
        ({"leak": 1.5, "stud_yield": 0.7}, ("more torque",), "stud yield (0.70) leaves no room for it"),
        ({"leak": 1.2, "boss_thread_strip": None}, ("more torque",), "boss thread strip (unknown) leaves no room for it"),
        ({"stud_yield": 1.1, "leak": 0.95}, ("less torque",),
         "No change of torque serves: stud yield asks for less, and leak (0.95) leaves no room"),
        ({"stud_yield": 0.92, "tip_crushing": 1.42}, ("less torque",),
         "No change of torque serves: stud yield asks for less, and tip crushing (1.42) leaves no room for it"),
        ({"bearing_pressure": 1.1, "seat_crushing": 1.1}, ("less torque",), "seat crushing (1.10) leaves no room for it"),
        ({"stud_yield": 1.1, "boss_crack_once": 0.9}, ("less torque",), "boss crack (once) (0.90) leaves no room for it"),
        ({"leak": 1.2, "hold": 1.1}, ("more torque",), "hold (1.10) leaves no room for it"),
        ({"boss_thread_strip": 1.1, "floor_breakthrough": 1.1}, ("longer engagement", "insert", "shallower"), "larger stud"),
        ({"boss_thread_strip": 1.1, "floor_punch": 0.9, "leak": 0.9}, ("engagement", "insert", "less torque"), "a larger stud"),
        ({"nut_thread_strip": 1.2, "false_seat": 1.1}, ("more stud", "shorter stud", "washer under"), "a taller nut"),
        ({"boss_crack_once": 1.1, "hold": 1.2}, ("backed off", "seating torque"), "more metal under the hole"),
        ({"stud_fatigue": 1.1, "stud_proof": 0.9, "false_seat": 0.9}, ("waisted", "a longer stud"), "threads rolled"),
    ],
)  # fmt: skip
def test_no_change_is_told_that_raises_what_has_no_room_left(values, never, said):
    margins = margins_of(**values)
    text = advice(margins, SETUP).sentence(margins)
    changes = text.partition("To change it: ")[2]
    assert said in text and changes and not [words for words in never if words in changes]


@given(st.dictionaries(st.sampled_from(mode_names()), st.one_of(st.none(), st.floats(0.0, 3.0), st.just(math.inf))))
def test_whatever_fails_together_no_change_raises_a_load_that_is_near_its_limit(values):
    margins = {
        mode: Margin(mode, "function" if mode in FUNCTION else "damage", values.get(mode, 0.1)) for mode in mode_names()
    }
    found = advice(margins, SETUP)
    for mode, changes in found.told.items():
        for words, raised in AGAINST.items():
            if any(change.startswith(words) for change in changes):
                full = [other for other in raised if other != mode and (margins[other].value or 0.0) >= NEAR]
                assert not full, f"{words} against {mode} with {full}"
        assert changes
    text = found.sentence(margins)
    assert all(mode in text for mode in found.wanted) or len(found.wanted) == 1


@pytest.mark.parametrize("setup", [SETUP, OFF], ids=["bottomed", "backed off"])
def test_whatever_a_change_of_torque_raises_in_the_solved_joint_is_known_as_raised_by_it(setup):
    def solved(share):
        tightening = replace(setup.tightening, torque=share * setup.tightening.torque)
        made = replace(setup, tightening=tightening, history=replace(setup.history, steps=8))
        return solve_setup(made, refinement=0.2, band=False).verdict.margins

    least, less, now, more = (solved(share) for share in (0.5, 0.7, 1.0, 1.3))
    for words, before, after in (("less torque", now, less), ("less torque", less, least), ("more torque", now, more)):
        change = next(each for each in CHANGES if each.words == words)
        rise = {
            mode: after[mode].value - was.value
            for mode, was in before.items()
            if was.value is not None and after[mode].value is not None
        }
        raised = {mode for mode, grown in rise.items() if grown > 1e-4}
        assert raised and raised <= set(change.raised(setup)), words
        assert all(rise[mode] < 0.0 for mode in change.helps if mode in rise), words
    assert setup is OFF or least["tip crushing"].value > 1.01 * less["tip crushing"].value


def test_less_torque_is_told_of_a_stud_that_clears_its_floor_whatever_its_corner_bears():
    margins = margins_of(stud_yield=1.1, boss_crack_once=0.9)
    assert "less torque" in advice(margins, OFF).told["stud yield"]


def test_a_torque_that_has_room_is_told_as_before():
    margins = margins_of(leak=1.3, stud_yield=0.5)
    assert advice(margins, SETUP).sentence(margins).startswith("To change it: more torque or ")
    margins = margins_of(stud_yield=1.05)
    assert advice(margins, SETUP).sentence(margins).startswith("To change it: less torque, ")
    margins = margins_of(stud_yield=1.05, leak=None)
    assert "less torque (what that does to leak is not known)" in advice(margins, SETUP).sentence(margins)
    margins = margins_of(boss_thread_strip=1.05, floor_breakthrough=None)
    assert "a longer engagement (what that does to floor breakthrough is not known)" in advice(margins, SETUP).sentence(
        margins
    )


def test_nothing_is_told_far_from_every_limit_nor_what_the_setup_is_already():
    margins = margins_of(stud_yield=WORTH_A_CHANGE - 0.02)
    assert advice(margins, SETUP).sentence(margins) == ""
    margins = margins_of(boss_crack_once=1.2)
    assert "backed off" in advice(margins, SETUP).sentence(margins)
    assert "backed off" not in advice(margins, OFF).sentence(margins)
    strongest = replace(SETUP, stud=replace(SETUP.stud, property_class="12.9"))
    margins = margins_of(stud_yield=1.05)
    assert "stronger" in advice(margins, SETUP).sentence(margins)
    assert "stronger" not in advice(margins, strongest).sentence(margins)


def test_a_gasket_that_needs_less_does_not_serve_where_no_clamp_is_left():
    free = replace(SETUP, limits=replace(SETUP.limits, minimum_clamp=None))
    for value, told in ((1.3, True), (math.inf, False)):
        margins = margins_of(leak=value)
        assert ("gasket" in advice(margins, free).sentence(margins)) is told
        assert "gasket" not in advice(margins, SETUP).sentence(margins)


def test_a_mode_that_nothing_known_helps_says_so():
    margins = margins_of(insert_thread_strip=1.2, leak=1.2, floor_punch=1.2)
    found = advice(margins, SETUP)
    assert found.told["insert thread strip"] == NOTHING and NOTHING[0] in found.sentence(margins)
    margins["leak"] = absent_margin("leak", "damage", "no such part")
    margins["floor punch"] = unknown_margin("floor punch", "damage", "not known")
    assert "less torque" in advice(margins, SETUP).told["insert thread strip"]


def test_findings_and_card_tell_the_same_of_a_setup_that_fails_two_ways(comparison):
    item = comparison["bottomed, plain"]
    margins = item.verdict.margins | {
        "leak": Margin("leak", "damage", 1.4, when="cold"),
        "stud yield": Margin("stud yield", "damage", 1.2, when="hot"),
    }
    worse = replace(item, verdict=replace(item.verdict, margins=margins, governing="leak", safe=False))
    said = advice(margins, item.setup).sentence(margins)
    assert said.startswith("No change of torque serves: leak asks for more, and") and "more torque" not in said
    assert said in headline(worse).sentences
    texts = [each.text for each in findings(replace(comparison, results=(worse,))) if each.kind == "governing"]
    assert said in texts[0]


def test_a_nut_that_pulls_on_the_stud_alone_is_not_tightened_more_against_its_leak():
    told = advice(margins_of(false_seat=math.inf, leak=math.inf), SETUP)
    assert told.wanted == ("false seat",)
    assert "torque" not in told.sentence(margins_of(false_seat=math.inf, leak=math.inf))
