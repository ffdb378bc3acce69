"""Threadlocker and [repair] in case files: read, overridden, refused where they do not fit."""

# ruff: noqa: E501  (one wrong case a line)
from __future__ import annotations

import pytest
from pytest import approx

from studwell.case import case_from_text, inputs_sha256, starter_case
from studwell.case.records import Repair
from studwell.errors import BadCase

FRICTION = "tip_friction = 0.15"
CURED = FRICTION + '\nthreadlocker = "medium"\ncured = true\nthreadlocker_fill = 0.8'

# what is wrong : (text to replace, text put in its place, table and key named, words of the message, slug)
BAD = {
    "grade not in stock": (FRICTION, CURED.replace("medium", "mediun"), "[seating] threadlocker", "did you mean medium?", "unknown-name"),
    "torque and threadlocker": (FRICTION, CURED + '\nlock_torque = "2 N*m"', "[seating] lock_torque", "does not go with threadlocker", "bad-value"),
    "neither cured nor not": (FRICTION, FRICTION + '\nthreadlocker = "low"', "[seating] cured", "threadlocker needs it", "missing-key"),
    "cured without its share": (FRICTION, FRICTION + '\nthreadlocker = "low"\ncured = true', "[seating] threadlocker_fill", "cured = true needs it", "missing-key"),
    "a liquid with a share": (FRICTION, CURED.replace("true", "false"), "[seating] threadlocker_fill", "a liquid bonds nothing", "bad-value"),
    "share above one": (FRICTION, CURED.replace("0.8", "1.8"), "[seating] threadlocker_fill", "0 to 1", "out-of-range"),
    "cured in quotes": (FRICTION, CURED.replace("true", '"true"'), "[seating] cured", "true or false", "wrong-kind"),
    "cured without threadlocker": (FRICTION, FRICTION + "\ncured = true", "[seating] threadlocker", "cured needs it", "missing-key"),
    "tolerance negative": ("[nut]", '[repair]\ndrill_depth_tolerance = "-0.5 mm"\n[nut]', "[repair] drill_depth_tolerance", "negative", "out-of-range"),
    "tolerance of a slip": ("[nut]", '[repair]\nstack_tolerance = "0.5 m"\n[nut]', "[repair] stack_tolerance", "too large", "out-of-range"),
    "tolerance without unit": ("[nut]", "[repair]\nstud_length_tolerance = 0.5\n[nut]", "[repair] stud_length_tolerance", "bare number", "bad-quantity"),
    "tap of no kind": ("[nut]", '[repair]\ntap = "taper"\n[nut]', '[repair] tap = "taper"', '"bottoming" or "plug"', "bad-value"),
    "misspelt tolerance": ("[nut]", '[repair]\ndrill_tolerance = "0.5 mm"\n[nut]', "[repair] drill_tolerance", "did you mean drill_depth_tolerance?", "unknown-key"),
    "least floor negative": ("[nut]", '[repair]\nleast_floor = "-1 mm"\n[nut]', "[repair] least_floor", "negative", "out-of-range"),
    "engaged under two pitches": ('engaged_length = "12 mm"', 'engaged_length = "2.4 mm"', "[stud] engaged_length", "fewer than two pitches are engaged", "cannot-fit"),
    "backed off to under two pitches": (
        'mode = "bottomed"', 'mode = "backed off"\nback_off = "8 turn"\ncounted_from = "first contact"',
        "[seating] back_off", "leave 2 mm engaged, fewer than two pitches: no model of a thread holds there; allowed: at most 7.6 turns", "cannot-fit"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_wrong_case_is_refused_with_place_and_reason(name, good):
    old, new, place, words, slug = BAD[name]
    with pytest.raises(BadCase) as caught:
        case_from_text(good.replace(old, new, 1), "pump.toml")
    assert caught.value.slug == slug
    assert place in caught.value.line and words in caught.value.line


def test_threadlocker_is_read_with_its_strength(good):
    lock = case_from_text(good.replace(FRICTION, CURED)).setups[0].seating.threadlocker
    assert (lock.grade.name, lock.cured, lock.fill) == ("medium", True, 0.8)
    wet = FRICTION + '\nthreadlocker = "high"\ncured = false'
    assert case_from_text(good.replace(FRICTION, wet)).setups[0].seating.threadlocker.fill == 0.0


def test_a_setup_with_threadlocker_drops_an_inherited_lock_torque_and_the_other_way_round(good):
    text = good.replace(FRICTION, FRICTION + '\nlock_torque = "2 N*m"')
    text += '[setup."glued"]\nseating = { threadlocker = "low", cured = true, threadlocker_fill = 1.0 }\n'
    text += '[setup."given"]\n'
    case = case_from_text(text)
    assert (case.setup("glued").seating.lock_torque, case.setup("given").seating.lock_torque) == (0.0, 2000.0)
    assert case.setup("glued").seating.threadlocker.fill == 1.0 and case.setup("given").seating.threadlocker is None
    back = good.replace(FRICTION, CURED) + '[setup."torque"]\nseating = { lock_torque = "1 N*m" }\n'
    assert case_from_text(back).setups[0].seating.threadlocker is None


def test_what_repair_does_not_state_stays_unknown(good):
    table = '[repair]\ndrill_depth_tolerance = "0.5 mm"\n[nut]'
    assert case_from_text(good.replace("[nut]", table, 1)).setups[0].repair == Repair(0.5, None, None, None, None)
    assert case_from_text(good).setups[0].repair is None


def test_threadlocker_and_repair_are_in_the_fingerprint_only_where_they_are_used(good):
    plain = inputs_sha256(case_from_text(good))
    assert inputs_sha256(case_from_text(good.replace(FRICTION, CURED))) != plain
    assert inputs_sha256(case_from_text(good.replace("[nut]", "[repair]\n[nut]", 1))) != plain
    assert inputs_sha256(case_from_text(good)) == plain


def test_engaged_thread_is_what_the_turns_leave(good):
    off = good.replace('mode = "bottomed"', 'mode = "backed off"\nback_off = "2 turn"\ncounted_from = "first contact"')
    assert case_from_text(off).setups[0].engaged_thread == approx(12.0 - 2.5)
    assert case_from_text(good).setups[0].engaged_thread == approx(12.0)


def test_the_starters_commented_repair_table_is_one_that_is_read():
    text = starter_case()
    at = text.index("# [repair]")
    end = text.index("\n\n", at)
    lines = [line.removeprefix("# ") for line in text[at:end].splitlines()]
    repair = case_from_text(text[:at] + "\n".join(lines) + text[end:]).setups[0].repair
    assert repair == Repair(0.5, "bottoming", 0.5, 0.3, 3.0)
