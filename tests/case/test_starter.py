"""Every option that a starter case holds as a comment is one that is read and fits, alone and all at once."""

import re

import pytest

from studwell.case import case_from_text, starter_case

STARTERS = [
    ("M5", "hex"), ("M6", "hex"), ("M8", "hex"), ("M8x1", "hex"), ("M10", "domed"), ("M10x1.25", "hex"), ("M12", "hex"),
    ("M12", "domed"), ("1/4-20 UNC", "hex"), ("1/4-28 UNF", "hex"), ("5/16-18 UNC", "hex"), ("5/16-24 UNF", "hex"),
    ("3/8-16 UNC", "hex"), ("3/8-24 UNF", "hex"),
]  # fmt: skip

KEY = re.compile(r"^# (\w+ = .*)$")
TABLE = re.compile(r"^# (\[\w+\])")


def options(text):
    """Lines of a starter case that are options in a comment, as (line numbers, text): a table's in one piece with it."""
    found, block = [], []
    for number, line in enumerate(text.splitlines()):
        if TABLE.match(line) or (block and KEY.match(line)):
            block.append(number)
            continue
        if block:
            found.append(tuple(block))
            block = []
        if KEY.match(line):
            found.append((number,))
    return found


def opened(text, *blocks):
    """A starter case with some of its comments made part of it; a pocket's are for a liquid."""
    lines = text.splitlines()
    for block in blocks:
        for number in block:
            lines[number] = lines[number].removeprefix("# ")
            if lines[number].startswith(("fill", "seal")):
                lines = [line.replace('contents = "empty"', 'contents = "oil"') for line in lines]
                lines = [re.sub(r"^# (fill|fill_at|seal) = ", r"\1 = ", line) for line in lines]
    return "\n".join(lines)


def test_the_options_are_found():
    found = [starter_case().splitlines()[block[0]].split()[1] for block in options(starter_case())]
    assert found == [
        "insert", "nut_thread_model", "fill", "fill_at", "seal", "[repair]", "[review]", "[crack]", "[inelastic]",
    ]  # fmt: skip


@pytest.mark.parametrize(("thread", "nut"), STARTERS)
def test_every_commented_option_of_a_starter_case_fits_alone_and_with_the_others(thread, nut):
    text = starter_case(thread, nut)
    blocks = options(text)
    for block in blocks:
        case_from_text(opened(text, block), text.splitlines()[block[0]])
    made = case_from_text(opened(text, *blocks))
    for setup in made.setups:
        assert setup.boss.insert is not None and setup.repair.tap == "bottoming" and setup.pocket.fill == 1.0
        assert setup.engaged_thread > 2.0 * setup.stud.thread.pitch


@pytest.mark.parametrize(("thread", "nut"), STARTERS)
def test_choices_that_a_starter_case_names_in_words_fit(thread, nut):
    text = starter_case(thread, nut)
    for old, new in (
        ('hole_end = "flat"', 'hole_end = "cone"\ncone_angle = "118 deg"'),
        ('thread_model = "layer"', 'thread_model = "grooves"'),
        ('thread_model = "layer"', 'thread_model = "bonded"'),
        ('lock_torque = "0 N*m"', 'threadlocker = "medium"\ncured = true\nthreadlocker_fill = 0.8'),
        ('contents = "empty"', 'contents = "vented"'),
    ):
        assert old in text
        case_from_text(text.replace(old, new, 1), new)
