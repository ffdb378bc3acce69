"""The card: its numbers are the solution's, what is unknown says why, page and PDF show every line of it on one sheet."""

import html
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from math import radians, tan

import pytest
from pytest import approx

from studwell.card import pdf as pdf_module
from studwell.card.build import card_of
from studwell.card.drawing import outside, overlapping
from studwell.card.drilling import OVERSIZE, faults, own_floor
from studwell.card.fit import TYPE_LEAST, TYPE_MOST, type_size
from studwell.card.hole_steps import practice
from studwell.card.letters import lacks, missing
from studwell.card.one_page import TYPE_READABLE
from studwell.card.page import card_page
from studwell.card.pdf import card_data, card_pdf
from studwell.card.section_drawing import dimensions
from studwell.card.write import MadeCard, card_record, make_card, write_card
from studwell.case.records import Repair
from studwell.data import STATUSES, source_of, table
from studwell.errors import StudwellError
from studwell.parts.repair import hole_drill
from studwell.strength.outcomes import tip_gaps
from studwell.study.compare import solve_setup
from studwell.study.fitted import fitted, out_of_nut
from studwell.study.heat_numbers import retightening
from studwell.study.repair import drill_depth, repair_plan

HOSTILE = '</title><script>window.hit = 1</script> #panic("x") $1/0$ *b* _i_ @ref \\ "q" & <img src=x onerror=hit()>'


class Shown(HTMLParser):
    """Text of a page's body as a reader sees it."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.parts, self.hidden = [], []

    def handle_starttag(self, tag, attributes):
        if tag in ("style", "script", "desc", "head"):
            self.hidden.append(tag)

    def handle_endtag(self, tag):
        if self.hidden and self.hidden[-1] == tag:
            self.hidden.pop()

    def handle_data(self, text):
        if not self.hidden:
            self.parts.append(text)


def page_text(text):
    reader = Shown()
    reader.feed(text)
    return squeezed("".join(reader.parts))


def pdf_pages(content):
    pdfium = pytest.importorskip("pypdfium2", reason="the PDF reader of the tests is missing: pip install -e '.[dev]'")
    document = pdfium.PdfDocument(content)
    pages = [(page.get_size(), page.get_textpage().get_text_range()) for page in document]
    document.close()
    return pages


def squeezed(text):
    """Text without white space and breaking marks, so that line ends do not matter."""
    return re.sub(r"[\s\u200b\ufffe\x02]+", "", text)


def test_numbers_of_the_card_are_those_of_the_solution(cards):
    made = cards["hut-pump", "backed off, three conical springs"]
    result, card = made.result, made.card
    for key, outcome in (
        ("clamp_assembled_N", "clamp_assembled"),
        ("clamp_max_N", "clamp_max"),
        ("clamp_min_N", "clamp_min"),
        ("tip_gap_min_mm", "tip_gap_min"),
    ):
        assert card.line(key).value == result.value(outcome)
    setup = result.setup
    assert card.line("torque_Nmm").value == setup.tightening.torque
    assert card.line("back_off_turn").value == 0.22
    assert card.line("back_off_turn").text == "0.22 turn = 79° = 0.275 mm (0.0108 in)"
    assert "like the hour hand at about twenty past nine" in card.line("back_off_turn").note
    assert card.line("hole_depth_mm").value == 15.0 and card.line("floor_mm").value == 6.0
    assert card.line("drill_mm").text == "6.8 mm" and card.line("thread_depth_mm").value == 13.0
    assert card.line("engaged_mm").value == setup.engaged_thread
    assert card.line("stud_above_face_mm").value == approx(setup.stud_top_z - setup.boss.hole_depth)
    assert card.line("clamp_needed_N").value == result.verdict.margins["leak"].load
    assert card.line("hold").value == result.verdict.margins["hold"].value
    assert card.headline.governing == result.verdict.governing
    assert card.headline.margin == result.verdict.margins[result.verdict.governing].value


def test_texts_of_forces_read_back_as_their_values(cards):
    from studwell.units import force

    for key, made in cards.items():
        for line in made.card.expected.lines:
            if line.unit == "N" and line.value is not None:
                first, _, other = line.text.removesuffix(")").partition(" (")
                assert force(first) == approx(line.value, rel=6e-3, abs=1e-3), key
                assert force(other) == approx(line.value, rel=6e-3, abs=1e-3), key


def test_the_verdict_is_in_words_on_top_of_page_and_pdf(cards):
    words = {"safe": "SAFE IN THIS MODEL", "fails": "DO NOT BUILD", "unknown": "NOT PROVEN SAFE"}
    seen = set()
    for made in cards.values():
        safe = made.result.verdict.safe
        word = "unknown" if safe is None else "safe" if safe else "fails"
        assert made.card.headline.word == word and made.card.headline.banner.startswith(words[word])
        seen.add(word)
    assert seen == set(words)


def test_a_setup_that_fails_says_why_and_what_to_change_twice_over(cards):
    card = cards["hut-pump", "backed off, domed nut"].card
    assert card.headline.sentences[0].startswith("It fails: false seat unbounded")
    assert "shorter stud" in card.headline.sentences[1]
    assert card.footer[0].startswith("DO NOT BUILD")
    assert card.line("dome_room_mm").text.startswith("NONE")
    assert card.line("hold").text == "THE STUD TURNS WITH THE NUT" and card.line("hold").value is None
    assert card_record(card)["margin"] == "unbounded"


def test_what_is_unknown_says_so_with_its_reason_and_without_a_number(cards, key):
    made = cards[key]
    card = made.card
    for step in (*card.steps, card.expected):
        for line in step.lines:
            if line.text == "unknown":
                assert len(line.note) > 10, line
                assert line.value is None or line.key == "studs"
    for margin in made.result.verdict.margins.values():
        if margin.unknown and margin.kind == "damage":
            assert any(text.startswith(f"Unknown, {margin.mode}: ") for text in card.headline.sentences)


def test_floors_without_a_tolerance_have_no_least(cards):
    assert "least unknown: [repair] drill_depth_tolerance" in cards["m6-cover", "bottomed"].card.line("floor_mm").note
    # 6 mm less 0.5 mm of tolerance and 2.043 mm, the point of 118 deg of a drill of 6.8 mm
    assert "least 3.46 mm" in cards["hut-pump", "bottomed, plain"].card.line("floor_mm").note


def read_mm(words, text):
    """The length, mm, that follows some words in a text."""
    return float(re.search(re.escape(words) + r" (-?[\d.]+) mm", text)[1])


def read_mm_before(words, text):
    """The length, mm, that stands before some words in a text."""
    return float(re.search(r"([\d.]+) mm " + re.escape(words), text)[1])


def test_the_floor_is_told_at_the_depth_of_the_stop_and_at_any_other_depth_that_is_named(cards, crowded):
    short = 0
    for made in (*(each for each in cards.values() if each.case.units == "metric"), crowded):
        setup, card = made.result.setup, made.card
        stop, note = card.line("hole_depth_mm").value, card.line("floor_mm").note
        cut = own_floor(setup, stop, "metric")
        assert read_mm("this drill's point", note) == approx(cut.under_point, rel=6e-3)
        if cut.least is not None:
            assert read_mm("least", note) == approx(cut.least, rel=6e-3)
        need = drill_depth(setup)
        told = [line for line in (*card.steps[0].lines, *card.left_out) if line.key == "drill_to_mm"]
        assert bool(told) == (need.needed > stop + 1e-9)
        for line in told:
            short += 1
            depth = read_mm_before("would do for any", line.text)
            assert depth == approx(need.needed, abs=5e-3) and line.value == need.needed
            assert read_mm("leaves", line.note) == approx(own_floor(setup, depth, "metric").under_point, abs=0.02)
    assert short > 5


def test_the_point_is_that_of_the_drill_which_the_card_names(cards):
    # M8: drill 6.8 mm, point of 118 deg 3.4 mm / tan 59 deg = 2.043 mm; 6 mm of floor, 0.5 mm of tolerance
    made = cards["hut-pump", "bottomed, plain"]
    assert made.card.line("drill_mm").value == 6.8
    left = own_floor(made.result.setup, 15.0, "metric")
    assert left.under_point == approx(6.0 - 2.0429, abs=1e-4) and left.least == approx(5.5 - 2.0429, abs=1e-4)
    note = made.card.line("hole_depth_mm").note
    assert read_mm("a pointed drill only to", note) == approx(15.0 - 2.0429, abs=5e-3)
    # a cone's floor is given under the point of the thread's minor diameter, 8.376 mm; the drill is 8.5 mm
    cone = cards["m10-anchor", "on the cone"]
    floor = own_floor(cone.result.setup, 22.0, "metric").under_point
    assert floor == approx(8.0 - 0.5 * (8.5 - 8.3762) / tan(radians(59.0)), abs=1e-4)


def test_plan_card_and_margin_count_with_one_and_the_same_drill(cards):
    for made in cards.values():
        setup, units = made.result.setup, made.case.units
        plan = {line.key: line.value for line in repair_plan(made.result, units)}
        drill, named = plan["drill_mm"], made.card.line("drill_mm").text
        if units == "inch":
            drill = hole_drill(setup.stud.thread, setup.boss.insert is not None).inch
        assert named == (f"{drill:g} mm" if units == "metric" else plan["drill_inch"])
        point = 0.5 * drill / tan(radians((setup.boss.cone_angle or 118.0) / 2.0))
        left = setup.boss.height - plan["drill_to_mm"] - point
        assert plan["floor_under_point_mm"] == approx(left, abs=1e-6)
        assert own_floor(setup, plan["drill_to_mm"], units).under_point == approx(left, abs=1e-6)
        margin = made.result.verdict.margins["floor breakthrough"]
        if margin.value is not None and (units == "inch") == (setup.stud.thread.form == "unified"):
            depth = plan["drill_to_mm"] if setup.boss.insert is not None else setup.boss.hole_depth
            least = own_floor(setup, depth, units).least
            assert setup.boss.floor_thickness - margin.load == approx(least, abs=1e-6)


def with_repair(made, **changes):
    """The card of a solved setup whose boss or [repair] is another."""
    setup = made.result.setup
    repair = replace(setup.repair or Repair(None, None, None, None, None), **changes.pop("repair", {}))
    setup = replace(setup, repair=repair, boss=replace(setup.boss, **changes))
    result = replace(made.result, setup=setup, built=replace(made.result.built, setup=setup))
    return card_of(made.case, result, 0.4)


def test_a_deeper_hole_through_which_the_drill_comes_is_forbidden_in_words(cards):
    card = with_repair(cards["wet-hole", "dry"], floor_thickness=2.5)
    line = card.line("drill_to_mm")
    # 22.5 mm high, 20.5 mm drilled, point 2.043 mm of 118 deg on 6.8 mm
    assert line.text == "NOT deeper than 20 mm" and read_mm("THROUGH by", line.note) == approx(0.043, abs=1e-3)
    assert read_mm("this drill's point", card.line("floor_mm").note) == approx(0.457, abs=1e-3)
    assert card.headline.word == "unknown"


def test_a_deeper_hole_that_only_its_tolerance_lets_through_is_forbidden_too(cards):
    card = with_repair(cards["wet-hole", "dry"], floor_thickness=2.9, repair={"drill_depth_tolerance": 0.5})
    line = card.line("drill_to_mm")
    assert line.text.startswith("NOT deeper") and "at the tolerance of its depth" in line.note
    assert read_mm("THROUGH by", line.note) == approx(0.143, abs=1e-3)
    assert read_mm("least", card.line("floor_mm").note) == approx(0.357, abs=1e-3)


@pytest.mark.parametrize(
    ("floor", "repair", "words"),
    [
        (2.0, {}, "comes THROUGH by 0.0429 mm"),
        (2.5, {"drill_depth_tolerance": 0.5}, "THROUGH by 0.0429 mm at the tolerance of its depth"),
        (6.0, {"least_floor": 4.0}, "leaves 3.96 mm, not more than the least floor of 4 mm"),
        (6.0, {"least_floor": 3.5, "drill_depth_tolerance": 0.5}, "leaves 3.46 mm at the tolerance of its depth"),
    ],
)
def test_a_card_whose_own_drilling_spoils_the_floor_fails_loudly(cards, floor, repair, words):
    # the model does not know it: the case has no [repair]
    made = cards["wet-hole", "dry"]
    assert made.result.verdict.margins["floor breakthrough"].unknown and made.card.headline.word == "unknown"
    card = with_repair(made, floor_thickness=floor, repair=repair)
    assert (card.headline.word, card.headline.banner) == ("fails", "DO NOT DRILL")
    assert words in card.headline.sentences[0]
    assert all(line.struck == line.order for step in card.steps for line in step.lines)
    assert len(pdf_pages(card_pdf(card))) == 1 and card_record(card)["verdict"] == "fails"


def test_no_card_leaves_less_floor_than_its_margin_assumed(cards):
    known = 0
    for made in cards.values():
        setup, margin = made.result.setup, made.result.verdict.margins["floor breakthrough"]
        if margin.value is None:
            continue
        known += 1
        left = own_floor(setup, setup.boss.hole_depth, made.case.units).least
        assert left > setup.boss.floor_thickness - margin.load - OVERSIZE
        worse = faults(setup, replace(margin, load=margin.load - 2.0 * OVERSIZE - 3.0), made.case.units)
        assert [banner for banner, _ in worse] == ["DO NOT DRILL"] and "its margin was computed with" in worse[0][1]
    assert known > 3


def test_a_hole_in_which_no_tap_cuts_the_thread_fails_the_card(cards, crowded):
    made = cards["wet-hole", "dry"]
    card = with_repair(made, thread_depth=19.0)  # 0.8 pitches left, the shortest form has 1
    assert (card.headline.word, card.headline.banner) == ("fails", "CANNOT BE TAPPED")
    assert "No tap cuts full thread to 19 mm" in card.headline.sentences[0]
    assert card.line("thread_depth_mm").text.endswith("NO TAP")
    assert with_repair(made, thread_depth=18.75).headline.word == "unknown"  # one pitch
    assert crowded.card.headline.word != "fails"
    short = with_repair(crowded, hole_depth=15.0)  # the insert wants 14.5 mm
    assert short.headline.banner == "CANNOT BE TAPPED" and "a shorter insert" in short.headline.sentences[0]


@pytest.mark.parametrize("setup", ["bottomed, plain", "repaired hole, backed off, three conical springs"])
def test_a_tap_that_is_not_stated_is_a_bottoming_one(cards, setup):
    made = cards["hut-pump", setup]
    none, bottoming = (with_repair(made, hole_depth=14.9, repair={"tap": tap}) for tap in (None, "bottoming"))
    assert "bottoming tap taken" in none.line("thread_depth_mm").note
    for key in ("hole_depth_mm", "floor_mm", "drill_to_mm"):
        assert none.line(key) == bottoming.line(key)


def test_a_plug_tap_that_the_hole_is_too_short_for_names_the_others(cards):
    made = cards["hut-pump", "repaired hole, backed off, three conical springs"]
    card = with_repair(made, repair={"tap": "plug"})
    assert card.line("drill_to_mm").value == 23.5 and card.line("drill_to_mm").text.startswith("NOT deeper")
    note = card.line("thread_depth_mm").note
    assert "NOT a plug tap (3 to 5 pitches of chamfer)" in note
    assert "form E, bottoming or form F always does" in note and "grind" in note


def test_the_tap_that_is_needed_is_named_and_grinding_only_where_the_numbers_say_so(cards):
    # demo hole: 15 mm, full thread 13 mm, 1.25 mm of pitch: 1.6 pitches of chamfer
    line = cards["hut-pump", "bottomed, plain"].card.line("thread_depth_mm")
    assert "chamfer 1.6 pitches (2 mm) at most" in line.text
    assert "form F always does; a bottoming tap or form E only if so short: measure it or grind it back" in line.note
    # M10: 22 mm, full thread 19 mm, 1.5 mm of pitch: 2 pitches
    note = cards["m10-anchor", "on the cone"].card.line("thread_depth_mm").note
    assert "any bottoming tap (1 to 2 pitches of chamfer) cuts it" in note and "grind" not in note
    deep = with_repair(cards["wet-hole", "dry"], repair={"tap": "plug"}, thread_depth=13.75)  # 5 pitches
    assert "any plug tap (3 to 5 pitches of chamfer) cuts it" in deep.line("thread_depth_mm").note


def test_every_form_of_tap_has_the_full_thread_that_its_chamfer_leaves(cards):
    for made in cards.values():
        setup = made.result.setup
        pitch, depth = setup.stud.thread.pitch, setup.boss.hole_depth
        record = {each["tap"]: each for each in card_record(made.card)["taps"]}
        assert set(record) == {"taper", "plug", "bottoming", "form C", "form D", "form E", "form F"}
        for each in record.values():
            least, most = each["chamfer_pitches"]
            assert each["full_thread_mm"] == approx([max(depth - n * pitch, 0.0) for n in (most, least)], rel=1e-4)
            if setup.boss.insert is None:
                fits = ["never", "short", "always"]
                cut = sum(full >= setup.boss.thread_depth - 1e-6 for full in each["full_thread_mm"])
                assert each["cuts_the_thread"] == fits[cut]
    text = next(each for each in cards["hut-pump", "bottomed, plain"].card.steps[0].lines if "leaves" in each.label)
    assert text.text == "bottoming 12.5 to 13.8 mm" and "form C 11.2 to 12.5" in text.note


def test_an_insert_set_down_outside_the_usual_is_told(cards):
    made = cards["hut-pump", "repaired hole, backed off, three conical springs"]
    assert "usual" not in made.card.line("set_down_mm").note
    insert = made.result.setup.boss.insert
    for depth in (0.6, 2.5):
        note = with_repair(made, insert=replace(insert, set_down=depth)).line("set_down_mm").note
        assert "OUTSIDE the usual 0.938 mm to 1.88 mm" in note


@pytest.mark.parametrize(("pitches", "words"), [(1.0, "1 pitch inside"), (2.5, "2.5 pitches inside")])
def test_a_nut_that_the_stud_does_not_fill_is_a_warning_on_top(cards, pitches, words):
    made = cards["hut-pump", "backed off, plain"]
    setup = made.result.setup
    shorter = setup.protrusion - setup.nut.height + pitches * setup.stud.nut_thread.pitch
    setup = replace(setup, stud=replace(setup.stud, length=setup.stud.length - shorter))
    card = card_of(made.case, replace(made.result, setup=setup), 0.4)
    (told,) = [text for text in card.headline.sentences if "WARNING" in text]
    assert words in told and "last threads are empty" in told
    assert card.line("protruding_pitches").text == f"ends {words.replace('inside', 'INSIDE')}"
    assert not any("WARNING" in text for text in made.card.headline.sentences)


def struck_lines(card):
    return [line for step in card.steps for line in step.lines if line.struck]


def test_a_card_not_to_build_strikes_out_its_orders_and_says_so(cards):
    seen = set()
    for made in cards.values():
        card, fails = made.card, made.card.headline.word == "fails"
        seen.add(fails)
        orders = [line for step in card.steps for line in step.lines if line.order]
        assert struck_lines(card) == (orders if fails else [])
        assert not any(line.note for line in struck_lines(card))
        assert ("DO NOT TIGHTEN, see the top" in card.steps[4].title) is fails
        for step in card.steps:
            assert ("see the top" in step.title) is any(line.struck for line in step.lines)
        struck = re.findall(r"<s>(.*?)</s>", card_page(card))
        assert struck == ([html.escape(line.text, quote=False) for line in orders] if fails else [])
        for record in (card_data(card), card_record(card)):
            lines = [line for each in record["steps"] for line in each["lines"]]
            assert [line["text"] for line in lines if line.get("struck")] == (
                [line.text for line in orders] if fails else []
            )
        for picture in card.pictures:
            assert ("Crossed out" in picture.note) is fails and picture.told.startswith("Crossed out") is fails
    assert seen == {True, False}


TORQUE = re.compile(r"N m\b|lbf (ft|in)\b")
FACTS = {"bond_torque_Nmm", "lock_torque_Nmm"}
"""Lines that tell what a bond holds, not what to do."""


def failing(made):
    """The card of a solved setup of which one damage margin is said to be over its limit."""
    verdict = made.result.verdict
    margin = replace(verdict.margins["stud yield"], value=1.2)
    verdict = replace(verdict, margins={**verdict.margins, "stud yield": margin}, governing="stud yield", safe=False)
    return card_of(made.case, replace(made.result, verdict=verdict), 0.4)


def test_no_torque_of_a_setup_that_fails_stands_as_an_instruction(cards, crowded):
    torques = 0
    for made in (*cards.values(), crowded):
        card = made.card if made.result.verdict.safe is False else failing(made)
        assert card.headline.banner == "DO NOT BUILD"
        for line in [line for step in card.steps for line in step.lines]:
            if TORQUE.search(line.text + line.note) and line.key not in FACTS:
                assert line.struck, line
                torques += 1
        assert not TORQUE.search(" ".join(card.headline.sentences))
        keys = {line.key for line in struck_lines(card)}
        seating = made.result.setup.seating
        if seating.torque is not None and seating.mode == "bottomed":
            assert "seating_torque_Nmm" in keys
        assert {"drill_mm", "hole_depth_mm"} <= keys
        assert ("back_off_turn" in keys) is (seating.mode == "backed off")
        told = " ".join(line.text for line in struck_lines(card))
        assert not re.search(r"\b(not|no|never)\b", told, flags=re.IGNORECASE)  # struck out it would read as leave
        assert len(pdf_pages(card_pdf(card))) == 1
    assert torques > 40


def test_what_works_not_as_meant_is_in_the_verdict_that_stands_on_top(cards):
    seen = set()
    for made in cards.values():
        missed = any(each.fails and each.kind == "function" for each in made.result.verdict.margins.values())
        told = made.card.headline.banner.endswith("DOES NOT WORK")
        assert told is (missed and made.card.headline.word != "fails")
        seen.add(told)
    assert seen == {True, False}


def test_threads_that_overlap_further_than_the_case_says_are_told(cards):
    made = cards["hut-pump", "bottomed, plain"]
    assert "overlap" not in made.card.line("engaged_mm").note
    setup = made.result.setup
    short = replace(setup, stud=replace(setup.stud, engaged_length=9.0))
    note = card_of(made.case, replace(made.result, setup=short), 0.4).line("engaged_mm").note
    # from the tip's end at 2.2 mm to the chamfer 0.5 mm under a mouth at 15 mm
    assert "the threads overlap 12.3 mm: check engaged_length" in note


@pytest.mark.parametrize(
    ("name", "printed", "codes"),
    [
        ("日本", "[2 letters missing]", "U+65E5, U+672C"),
        ("pump 한국어, cover", "pump [3 letters missing], cover", "U+D55C, U+AD6D, U+C5B4"),
        ("a \U00020000 b 日", "a [1 letter missing] b [1 letter missing]", "U+20000, U+65E5"),
    ],
)
def test_letters_that_the_type_lacks_print_as_a_count_with_a_notice(cards, name, printed, codes):
    made = cards["hut-pump", "backed off, plain"]
    setup = replace(made.result.setup, name=name)
    card = card_of(replace(made.case, title=name), replace(made.result, setup=setup), 0.4)
    ((_, text),) = pdf_pages(card_pdf(card))
    assert squeezed(text).count(squeezed(printed)) == 2 and not any(lacks(letter) for letter in squeezed(text))
    assert f"NOTICE: this card's type has no {codes}." in card.headline.sentences[-1]
    assert squeezed(card.headline.sentences[-1]) in squeezed(text)
    page = card_page(card)
    assert f"<title>Job card: {name}: {name}</title>" in page and "NOTICE" in page
    assert re.sub(r'<span class="paper">.*?</span>|</?span[^>]*>', "", page).count(name) == 4  # head, heading, case
    assert squeezed(re.sub(r'<span class="screen">.*?</span>|<[^>]*>', "", page)).count(squeezed(printed)) == 2
    assert card_record(card)["case"] == name == card_record(card)["setup"]


def test_letters_that_the_type_has_need_no_notice(cards, crowded):
    made = cards["hut-pump", "backed off, plain"]
    setup = replace(made.result.setup, name="Кожух ∅ 8 – Größe 😀 \u0301")
    card = card_of(made.case, replace(made.result, setup=setup), 0.4)
    for each in (card, crowded.card, *(one.card for one in cards.values())):
        assert missing(each.texts) == () and not any("NOTICE" in text for text in each.headline.sentences)


def test_inch_cases_stand_in_inches_first(cards):
    card = cards["inch-bracket", "80 degrees back"].card
    assert card.line("hole_depth_mm").text == "0.625 in (15.9 mm)"
    assert card.line("torque_Nmm").text == "11 lbf ft = 132 lbf in (14.9 N m)"
    assert card.line("drill_mm").text == "letter F"
    assert card.line("back_off_turn").text.startswith("0.222 turn = 80°")


def test_a_preload_gives_the_torque_of_the_long_form_as_a_check_only(cards):
    made = cards["m10-anchor", "80 degrees back"]
    assert made.card.line("preload_N").value == 18_000.0
    torques = made.result.history.torques
    long_form = 18_000.0 * (torques.nut_thread + torques.bearing)
    assert made.card.line("torque_for_preload_Nmm").value == approx(long_form)
    with pytest.raises(KeyError):
        made.card.line("torque_Nmm")
    assert made.card.line("studs").text == "unknown"


def test_a_wet_hole_is_a_caution_with_its_pressure(cards):
    made = cards["wet-hole", "oil, filled again after backing off"]
    line = made.card.line("pocket_pressure_MPa")
    assert line.label == "CAUTION" and line.value == made.result.value("pocket_pressure_max") > 1.0
    with pytest.raises(KeyError):
        cards["wet-hole", "dry"].card.line("pocket_pressure_MPa")


def test_turns_that_only_undo_the_drive_leave_no_gap_and_say_so(cards):
    made = cards["hut-pump", "bottomed, plain"]
    seating = replace(made.result.setup.seating, mode="backed off", turns=0.01, counted_from="driven seat")
    result = solve_setup(replace(made.result.setup, seating=seating), refinement=0.4, band=False)
    card = card_of(made.case, result, 0.4)
    assert "the tip does not come free" in [line.text for line in card.steps[2].lines]
    assert "gap at the tip" not in card.section.told and card.line("back_off_turn").value == 0.01


def test_steps_of_the_torque_are_shares_of_it(cards):
    card = cards["hut-pump", "bottomed, plain"].card
    (line,) = [line for step in card.steps for line in step.lines if line.label == "In steps"]
    shares = [table("workshop")[key]["value"] for key in ("torque_step_first", "torque_step_second")]
    torque = card.line("torque_Nmm").value / 1000.0
    told = [float(number) for number in re.findall(r"([\d.]+) N m", line.text)]
    assert told == approx([share * torque for share in shares], rel=5e-3)
    assert "40 / 70 / 100 %†" in line.note


def test_everything_at_once_is_told(crowded):
    card, result = crowded.card, crowded.result
    assert card.line("insert_mm").value == 12.0 and card.line("set_down_mm").value == 1.0
    assert "medium strength on 80 % of the thread" in card.line("threadlocker_fill").text
    assert card.line("threadlocker_cure_h").text.startswith("24 h") and "250 °C" in card.line("bond_torque_Nmm").note
    assert "driven seat" in card.line("back_off_turn").note and "after 1 whole turn" in card.line("back_off_turn").note
    assert card.line("seating_torque_Nmm").value == 6_000.0
    found = retightening(result)
    lost = card.line("settling_lost_N").value
    assert lost == approx(result.value("clamp_assembled") - found.before) and lost > 0.0
    assert "small ends" in card.steps[3].lines[0].text and "1 whole turn and 108°" in card.line("back_off_turn").text
    lift = -result.history.seating.travel
    assert 0.0 < lift < 1.3 * 1.25
    assert fitted(result).lift == approx(lift, abs=1e-4)


def keys_of(step):
    return [line.key for line in step.lines]


def test_threadlocker_cures_after_the_stud_was_turned_back_and_before_the_nut(crowded):
    clean, stud = crowded.card.steps[1:3]
    assert "threadlocker_fill" in keys_of(clean) and "24 h" not in crowded.card.line("threadlocker_fill").note
    order = [keys_of(stud).index(key) for key in ("seating_torque_Nmm", "back_off_turn", "threadlocker_cure_h")]
    assert order == sorted(order)
    assert "once turned back, before the nut" in crowded.card.line("threadlocker_cure_h").note
    seating = replace(crowded.result.setup.seating, mode="bottomed")
    card = card_of(crowded.case, replace(crowded.result, setup=replace(crowded.result.setup, seating=seating)), 0.4)
    assert "once driven" in card.line("threadlocker_cure_h").note


def shown_mm(text):
    return float(re.match(r"([\d.]+) mm", text)[1])


def test_the_card_has_one_gap_under_the_tip_and_one_end_of_the_stud(cards, held_up):
    with_gap = with_held = 0
    for made in (*cards.values(), *held_up.values()):
        card, result = made.card, made.result
        stands, told = fitted(result), {each.words: each.value for each in dimensions(result.built, fitted(result))}
        # the solved seated state, from which the outcomes' least gap starts
        assert stands.gap == approx(tip_gaps(result.built, result.timeline)[0], abs=1e-4)
        assert told.get("gap at the tip", 0.0) == stands.gap
        if "turned back" in told:
            with_held += 1
            held = next(value for words, value in told.items() if words.startswith("held up"))
            assert held + told["turned back"] == approx(stands.gap) and held == result.built.seat.clearance
        if stands.gap > 0.0 and made.case.units == "metric" and card.expected.lines[-1].key == "tip_gap_min_mm":
            with_gap += 1
            seated = float(re.search(r"as fitted ([\d.]+) mm", card.expected.lines[-1].note)[1])
            assert seated == approx(stands.gap, rel=6e-3)
        assert card.line("stud_above_face_mm").value == approx(told["stud above the boss"])
        assert card.line("engaged_mm").value == told["engaged"]
        if result.setup.nut.kind == "hex":
            line, pitch = card.line("protruding_pitches"), result.setup.stud.nut_thread.pitch
            assert line.value == approx(told["beyond the nut"] / pitch)
            if made.case.units == "metric":
                assert shown_mm(line.text) == approx(told["beyond the nut"], rel=6e-3)
    assert with_gap > 5 and with_held > 1


def test_a_run_out_that_holds_the_tip_up_is_in_the_gap_and_drawn_as_its_own_part(held_up):
    # full thread ends 2 mm over the floor, the stud's point is 1.8 mm long: 0.2 mm; then 0.22 turn of 1.25 mm
    made = held_up["back"]
    assert fitted(made.result).held == approx(0.2) and fitted(made.result).gap == approx(0.475, abs=1e-4)
    words = [shape.text for shape in made.card.section.words]
    assert {"gap at the tip", "held up: run-out", "turned back"} <= set(words)
    for part in ("gap at the tip 0.475 mm", "held up: run-out 0.2 mm", "turned back 0.275 mm"):
        assert part in made.card.section.told
    assert overlapping(made.card.section) == [] == outside(made.card.section)
    driven = held_up["driven"]
    assert (
        0.0 < fitted(driven.result).gap < 0.2 and "The seat holds the tip 0.2 mm up, less" in driven.card.section.note
    )
    assert "held up" not in driven.card.section.told


@pytest.mark.parametrize(
    ("pitches", "shown", "judged"),
    [
        (2.92, "2.9 pitches", "within"), (3.004, "3.004 pitches", "more"), (3.0 + 1e-9, "3 pitches", "within"),
        (2.999, "3 pitches", "within"), (0.996, "0.996 pitches", "fewer"),
        (1.0, "1 pitch", "within"), (0.88, "0.88 pitches", "fewer"),
    ],
)  # fmt: skip
def test_a_rounded_figure_never_contradicts_how_it_is_judged(pitches, shown, judged):
    assert out_of_nut(pitches) == (shown, f"{judged} {'' if judged == 'within' else 'than '}the 1 to 3")


def test_a_wet_hole_stands_on_top_and_nothing_is_driven_into_it(cards):
    seen = 0
    for (_, name), made in cards.items():
        fluid, card = made.result.setup.pocket.fluid, made.card
        assert ("WET HOLE" in card.headline.banner) is (fluid is not None and card.headline.word != "fails"), name
        stud = card.steps[2].lines
        if fluid is None:
            assert "STOP" not in [line.label for line in stud] and "dry hole" not in stud[0].text
            continue
        seen += 1
        assert card.headline.sentences[0].startswith("WET HOLE") and "dry the hole" in card.headline.sentences[0]
        assert f"{made.result.value('pocket_pressure_max'):.3g} MPa" in card.headline.sentences[0]
        assert stud[0].label == "STOP" and not stud[0].order
        assert stud[1].label == "Screw in" and stud[1].text.startswith("in a dry hole only: ")
    assert seen > 3


def test_a_vented_liquid_is_a_wet_hole_too(cards):
    made = cards["wet-hole", "oil, filled again after backing off"]
    setup = made.result.setup
    result = solve_setup(replace(setup, pocket=replace(setup.pocket, seal="vented")), refinement=0.4, band=False)
    card = card_of(made.case, result, 0.4)
    assert "WET HOLE" in card.headline.banner and "vented" in card.headline.sentences[0]


METRIC = re.compile(r"[\d.] (mm|MPa|N|kN|mm²|N m)(?!\w)")


def test_a_card_in_inches_has_metric_figures_only_in_brackets_and_of_metric_tools(cards):
    for (stem, _), made in cards.items():
        if made.case.units != "inch":
            continue
        for step in (*made.card.steps, made.card.expected):
            for line in step.lines:
                for text in (line.text, line.note):
                    bare = re.sub(r"\([^()]*\)", "", text).replace("metric series 6.6 mm", "")
                    assert not METRIC.search(bare), (stem, line)
        assert not METRIC.search(" ".join(made.card.headline.sentences))
        assert "in²" in made.card.line("clamp_needed_N").note or made.result.setup.limits.minimum_clamp is not None


def test_a_deeper_hole_says_that_this_card_then_no_longer_holds(cards):
    line = cards["hut-pump", "bottomed, plain"].card.line("drill_to_mm")
    assert "on a new card" in line.text and "put it into the case first" in line.note and not line.order


def test_no_unknown_is_ever_an_order_and_none_is_struck(cards):
    for made in cards.values():
        card = made.card if made.card.headline.word == "fails" else failing(made)
        assert not any(
            line.order or line.struck for step in card.steps for line in step.lines if line.text == "unknown"
        )


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_card_with_more_than_a_page_gives_up_what_it_can_spare_and_says_so(cards, paper):
    made = cards["hut-pump", "bottomed, plain"]
    verdict, long = made.result.verdict, "a reason that is far longer than it need be " * 8
    margins = {
        name: replace(m, value=None, reason=long) if m.kind == "damage" else m for name, m in verdict.margins.items()
    }
    result = replace(made.result, verdict=replace(verdict, margins=margins, governing=None, safe=None))
    card = card_of(made.case, result, 0.4, paper)
    assert card.type_size >= TYPE_READABLE and len(pdf_pages(card_pdf(card))) == 1
    assert card.left_out and not any(line.order for line in card.left_out)
    shown = [line for step in card.steps for line in step.lines]
    assert not set(shown) & set(card.left_out)
    assert all(line.label in " ".join(card.footer) for line in card.left_out)
    assert [each["label"] for each in card_record(card)["left_out"]] == [line.label for line in card.left_out]
    (unknown,) = [text for text in card.headline.sentences if text.startswith("Unknown, ")]
    assert "in the report of studwell compare" in unknown
    assert all(m.mode in unknown for m in margins.values() if m.kind == "damage" and m.unknown)
    assert {"hole_depth_mm", "floor_mm", "torque_Nmm", "engaged_mm"} <= {line.key for line in shown}


SHEETS = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}
"""pt; ISO 216 and 8 1/2 in by 11 in."""


def test_the_pdf_is_one_sheet_that_shows_every_line(cards, key):
    card = cards[key].card
    assert card.paper == ("letter" if cards[key].case.units == "inch" else "a4")
    pages = pdf_pages(card_pdf(card))
    assert len(pages) == 1
    size, text = pages[0]
    assert size == approx(SHEETS[card.paper], abs=0.1)
    shown = squeezed(text)
    for part in card.texts:
        assert squeezed(part) in shown, part
    for drawing in (card.section, *card.pictures):
        for words in drawing.words:
            assert squeezed(words.text) in shown, words.text


@pytest.mark.parametrize("paper", SHEETS)
def test_either_paper_takes_the_whole_card_on_one_sheet(cards, key, paper):
    made = cards[key]
    card = card_of(made.case, made.result, 0.4, paper)
    ((size, text),) = pdf_pages(card_pdf(card))
    assert card.paper == paper == card_record(card)["paper"] and size == approx(SHEETS[paper], abs=0.1)
    assert squeezed(card.footer[-1]) in squeezed(text) and squeezed(card.steps[-1].lines[-1].text) in squeezed(text)
    page = {"a4": "A4", "letter": "letter"}[paper]
    assert f"@page {{ size: {page}; margin: 7mm; }}" in card_page(card)


def test_an_unknown_paper_is_refused_before_anything_is_solved(cards):
    made = cards["hut-pump", "backed off, plain"]
    with pytest.raises(StudwellError, match="a5: no such paper; it is a4 or letter"):
        make_card(made.case, "backed off, plain", paper="a5")


def test_the_page_shows_every_line(cards, key):
    card = cards[key].card
    shown = page_text(card_page(card))
    for part in card.texts:
        assert squeezed(part) in shown, part


def test_the_longest_card_fits_one_sheet_in_readable_type(crowded):
    assert len(pdf_pages(card_pdf(crowded.card))) == 1
    assert TYPE_READABLE <= crowded.card.type_size <= TYPE_MOST


def test_the_shipped_cases_are_set_in_type_of_seven_points_or_more(cards):
    assert min(made.card.type_size for made in cards.values()) >= 7.0


def test_forty_washers_are_cut_short_on_the_card_and_whole_in_its_record(cards):
    made = cards["hut-pump", "backed off, three conical springs"]
    setup = replace(made.result.setup, washers=made.result.setup.washers * 20)
    card = card_of(made.case, replace(made.result, setup=setup), 0.4)
    assert len(pdf_pages(card_pdf(card))) == 1
    assert overlapping(card.section) == [] == outside(card.section)
    assert card_record(card)["pictures"]["pile"].count("plain washer") == 20
    (line,) = [line for step in card.steps for line in step.lines if line.label == "From the stack up"]
    assert line.text.endswith("…") and line.text.count("plain washer") < 10


def test_a_page_that_no_type_fits_is_set_in_the_smallest(crowded):
    assert type_size(replace(crowded.card, cautions=crowded.card.cautions * 12)) == TYPE_LEAST


def test_the_same_card_gives_the_same_bytes(cards):
    made = cards["hut-pump", "backed off, plain"]
    again = card_of(made.case, made.result, 0.4)
    assert again == made.card
    assert card_pdf(again) == card_pdf(made.card) and card_page(again) == card_page(made.card)


def test_hostile_names_are_shown_and_do_nothing(cards):
    made = cards["hut-pump", "backed off, plain"]
    setup = replace(made.result.setup, name=HOSTILE)
    case = replace(made.case, title=HOSTILE + "\u202e\x07", setups=(setup,))
    card = card_of(case, replace(made.result, setup=setup), 0.4)
    page = card_page(card)
    assert "<script" not in page and "<img" not in page
    assert html.escape("<script>window.hit", quote=False) in page
    text = squeezed(pdf_pages(card_pdf(card))[0][1])
    assert squeezed('#panic("x")$1/0$') in text and "<script>window.hit=1</script>" in text
    assert "\u202e" not in page and "\x07" not in page
    assert squeezed(card.case) in page_text(page)


def test_texts_reach_the_template_as_data_alone(cards):
    template = pdf_module.files("studwell.card").joinpath("card.typ").read_text(encoding="utf-8")
    assert "eval(" not in template and template.count("sys.inputs.card") == 2
    card = cards["hut-pump", "backed off, plain"].card
    assert json.loads(json.dumps(card_data(card)))["setup"] == card.setup


def test_without_typst_the_page_is_written_and_an_old_pdf_goes(cards, tmp_path, monkeypatch):
    made = cards["hut-pump", "backed off, plain"]
    whole = MadeCard(made.card, "hut-pump.toml", made.result)
    write_card(whole, tmp_path)
    names = {"card.html", "card.pdf", "summary.json", "run.json"}
    assert {path.name for path in tmp_path.iterdir()} == names
    monkeypatch.setattr(pdf_module, "find_spec", lambda name: None)
    write_card(whole, tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == names - {"card.pdf"}
    assert json.loads((tmp_path / "run.json").read_text())["pdf"] is False


def test_the_record_holds_every_line_with_its_number(cards):
    card = cards["hut-pump", "backed off, three conical springs"].card
    record = json.loads(json.dumps(card_record(card), allow_nan=False))
    lines = {line["key"]: line for step in record["steps"] for line in step["lines"] if "key" in line}
    assert lines["clamp_max_N"]["value"] == approx(card.line("clamp_max_N").value, rel=1e-5)
    assert lines["settling_lost_N"]["value"] is None and "[settling]" in lines["settling_lost_N"]["note"]
    assert record["verdict"] == "safe" and record["pictures"]["order"].endswith("1, 3, 2, 4.")
    assert len(lines) == len([1 for step in (*card.steps, card.expected) for line in step.lines if line.key])


def test_workshop_practice_has_source_and_status_and_claims_no_source_that_it_lacks():
    for key, entry in table("workshop").items():
        source, status = source_of(entry)
        assert len(source) > 10 and status in STATUSES, key
        assert ("value" in entry and "unit" in entry) != ("text" in entry), key
        assert status == "from memory", key
        assert practice(key)["source"] == source
