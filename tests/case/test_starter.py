"""Every option that a starter case holds as a comment is one that is read and fits, alone and all at once."""

import re
from dataclasses import replace

import pytest

from studwell.case import case_from_text, starter_case
from studwell.errors import BadCase
from studwell.parts.insert import set_down_range
from studwell.parts.repair import protruding_pitches
from studwell.study.compare import solve_setup
from studwell.study.fitted import LEAST_PROTRUSION, MOST_PROTRUSION
from studwell.study.repair import drill_depth, stud_first_of

STARTERS = [
    ("M5", "hex"), ("M6", "hex"), ("M8", "hex"), ("M8x1", "hex"), ("M10", "domed"), ("M10x1.25", "hex"), ("M12", "hex"),
    ("M12", "domed"), ("1/4-20 UNC", "hex"), ("1/4-28 UNF", "hex"), ("5/16-18 UNC", "hex"), ("5/16-24 UNF", "hex"),
    ("3/8-16 UNC", "hex"), ("3/8-24 UNF", "hex"),
]  # fmt: skip

OFFERED = [
    *STARTERS, ("M5x0.5", "hex"), ("M5", "domed"), ("M6", "domed"), ("M6x0.75", "hex"), ("M8", "domed"), ("M8x0.75", "domed"),
    ("M10", "hex"), ("M10x1", "hex"), ("M10x0.75", "domed"), ("M12x1.5", "hex"), ("M12x1.25", "hex"), ("M12x1", "domed"),
]  # fmt: skip
"""The same and the rest of what is stocked, by pitch or by nut."""

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
        (
            re.search(r'lock_torque = "0 [^"]*"', text)[0],
            'threadlocker = "medium"\ncured = true\nthreadlocker_fill = 0.8',
        ),
        ('contents = "empty"', 'contents = "vented"'),
    ):
        assert old in text
        case_from_text(text.replace(old, new, 1), new)


@pytest.mark.parametrize("insert", [False, True], ids=["bare", "insert"])
@pytest.mark.parametrize(("thread", "nut"), OFFERED)
def test_a_starter_case_is_a_joint_that_can_be_made_with_its_tap_its_insert_and_its_nut(thread, nut, insert):
    # the rules of the repair plan and of what is said of inserts: a bottoming tap's chamfer, set-down of 0.75 to 1.5 pitches
    text = starter_case(thread, nut)
    for setup in case_from_text(text.replace("# insert =", "insert =", 1) if insert else text).setups:
        stud, boss = setup.stud, setup.boss
        pitch = stud.thread.pitch
        assert drill_depth(setup).short == 0.0
        assert (
            stud.tip_length >= boss.hole_depth - boss.thread_depth - 1e-9
        )  # no full thread of the stud below the hole's
        assert boss.hole_depth <= stud.boss_thread_length + setup.tip_gap  # the shank stays above the face
        assert (boss.insert is not None) == insert
        if boss.insert is not None:
            low, high = set_down_range(pitch)
            assert low - 1e-9 <= boss.insert.set_down <= high + 1e-9
            assert boss.insert.assembled - setup.engaged_thread <= pitch
        else:
            assert setup.engaged_thread >= 1.5 * stud.thread.nominal_diameter - setup.tip_gap
        if setup.nut.kind == "hex":
            out = protruding_pitches(setup.protrusion, setup.nut.height, stud.nut_thread.pitch)
            assert LEAST_PROTRUSION <= out <= MOST_PROTRUSION
        assert setup.nut_face_least_z >= setup.stud_top_z - stud.nut_thread_length


@pytest.mark.parametrize("thread", dict.fromkeys(thread for thread, _ in OFFERED))
def test_the_stud_of_a_starter_case_breaks_before_its_thread_strips_seated_or_backed_off(thread):
    for setup in case_from_text(starter_case(thread)).setups:
        setup = replace(setup, history=replace(setup.history, steps=3))
        name, first = stud_first_of(solve_setup(setup, refinement=0.1, band=False))
        assert name == "boss thread" and setup.engaged_thread >= first.hot


@pytest.mark.parametrize("thread", ["M6", "M8", "M10", "5/16-18 UNC"])
def test_the_preload_that_a_starter_case_offers_is_that_of_its_thread(thread):
    # half of the proof load by ISO 898-1 and SAE J429, to two digits: 8.8 has 11.6, 21.2, 33.7 kN; grade 5 4450 lbf
    half = {"M6": 11_600.0, "M8": 21_200.0, "M10": 33_700.0, "5/16-18 UNC": 4450.0 * 4.4482}[thread] / 2.0
    text = starter_case(thread)
    offered = re.search(r'torque = "[^"]*" +# or (preload = "[^"]*")', text)
    case = case_from_text(text.replace(offered[0], offered[1]))
    assert case.setups[0].tightening.preload == pytest.approx(half, rel=0.05)


@pytest.mark.parametrize(
    ("thread", "nut", "words"),
    [
        ("5/16-18 UNC", "domed", "no domed nut of 5/16 in stock; allowed: with a domed nut a thread of M5, M6, M8, M10, M12; "
         "or this thread with a hex nut"),
        ("7/16-14 UNC", "hex", "no hex nut of 7/16 in stock; allowed: with a hex nut a thread of M5, M6, M8, M10, M12, 1/4, "
         "5/16, 3/8"),
    ],
)  # fmt: skip
def test_a_nut_that_is_not_stocked_is_told_with_the_thread_that_was_typed(thread, nut, words):
    with pytest.raises(BadCase) as refused:
        starter_case(thread, nut)
    assert refused.value.line == f'starter case: [stud] thread = "{thread}": {words}'


IN_METRIC = re.compile(r'"-?[\d.]+ (mm|N\*m|kN|degC|MPa|um)"')
IN_INCHES = re.compile(r'"-?[\d.]+ (in|lbf\*ft|lbf|degF|psi)"')


@pytest.mark.parametrize(("thread", "nut"), STARTERS)
def test_a_starter_case_is_in_the_units_of_its_thread_but_for_the_line_of_examples(thread, nut):
    text = "".join(line for line in starter_case(thread, nut).splitlines(True) if not line.startswith("# Quantities"))
    inch = "-" in thread
    assert bool(IN_METRIC.search(text)) is not inch and bool(IN_INCHES.search(text)) is inch
    case = case_from_text(text)
    assert case.units == ("inch" if inch else "metric")
    assert case.setups[0].stud.property_class == ("SAE 5" if inch else "8.8")


def test_the_starter_of_an_inch_thread_has_the_loads_of_its_grade():
    # SAE J429 grade 5: proof 85 ksi, 586 MPa; 5/16-18 has 0.0524 in^2 (ASME B1.1); half of it, torque by 0.2 of d, two digits
    preload = 0.5 * 85_000.0 * 0.0524
    text = starter_case("5/16-18 UNC")
    assert f'torque = "{0.2 * preload * 0.3125 / 12.0:.2g} lbf*ft"' in text
    assert f'minimum_clamp = "{round(0.3 * preload, -1):.0f} lbf"' in text
    assert case_from_text(text).setups[0].history.assembly_temperature == pytest.approx(20.0)
