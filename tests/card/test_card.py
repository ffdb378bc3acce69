"""The card: its numbers are the solution's, what is unknown says why, page and PDF show every line of it on one sheet."""

import html
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from pytest import approx

from studwell.card import pdf as pdf_module
from studwell.card.build import card_of
from studwell.card.drawing import outside, overlapping
from studwell.card.fit import TYPE_LEAST, TYPE_MOST, type_size
from studwell.card.hole_steps import practice
from studwell.card.page import card_page
from studwell.card.pdf import card_data, card_pdf
from studwell.card.write import MadeCard, card_record, write_card
from studwell.case.records import Repair
from studwell.data import STATUSES, source_of, table
from studwell.study.compare import solve_setup
from studwell.study.heat_numbers import retightening
from studwell.study.repair import drill_depth, floor_at

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
        assert made.card.headline.word == word and made.card.headline.banner == words[word]
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
    assert "least 3.5 mm" in cards["hut-pump", "bottomed, plain"].card.line("floor_mm").note


def read_mm(words, text):
    """The length, mm, that follows some words in a text."""
    return float(re.search(re.escape(words) + r" (-?[\d.]+) mm", text)[1])


def test_the_floor_is_told_at_the_depth_of_the_stop_and_at_any_other_depth_that_is_named(cards, crowded):
    short = 0
    for made in (*(each for each in cards.values() if each.case.units == "metric"), crowded):
        setup, card = made.result.setup, made.card
        stop, note = card.line("hole_depth_mm").value, card.line("floor_mm").note
        cut = floor_at(setup, stop)
        if setup.boss.hole_end == "cone":
            assert cut.under_point == approx(card.line("floor_mm").value)
        else:
            assert read_mm("drill's point", note) == approx(cut.under_point, rel=6e-3)
        if cut.least is not None:
            assert read_mm("least", note) == approx(cut.least, rel=6e-3)
        need = drill_depth(setup)
        told = [line for line in card.steps[0].lines if line.key == "drill_to_mm"]
        assert bool(told) == (need.needed > stop + 1e-9)
        for line in told:
            short += 1
            depth = read_mm("drill to", line.note)
            assert depth == approx(need.needed, abs=5e-3) and line.value == need.needed
            assert read_mm("leaves", line.note) == approx(floor_at(setup, depth).under_point, abs=0.02)
            assert f"keep {stop:g} mm" in line.note and "too short for full thread" in line.text
            assert read_mm("full thread only to", line.note) == approx(stop - (need.needed - need.tapped), abs=5e-3)
    assert short > 5


def with_repair(made, **changes):
    """The card of a solved setup whose boss or [repair] is another."""
    setup = made.result.setup
    repair = replace(setup.repair or Repair(None, None, None, None, None), **changes.pop("repair", {}))
    setup = replace(setup, repair=repair, boss=replace(setup.boss, **changes))
    result = replace(made.result, setup=setup, built=replace(made.result.built, setup=setup))
    return card_of(made.case, result, 0.4)


def test_a_deeper_hole_through_which_the_drill_comes_is_forbidden_in_words(cards):
    card = with_repair(cards["wet-hole", "dry"], floor_thickness=3.5)
    note = card.line("drill_to_mm").note
    # 23.5 mm high, 21.75 mm drilled, point 1.997 mm of 118 deg on 6.647 mm
    assert "NOT deeper" in note and read_mm("THROUGH by", note) == approx(0.247, abs=1e-3)
    assert read_mm("drill's point", card.line("floor_mm").note) == approx(1.503, abs=6e-3)


def test_a_deeper_hole_that_only_its_tolerance_lets_through_is_forbidden_too(cards):
    made = cards["wet-hole", "dry"]
    card = with_repair(made, floor_thickness=4.0, repair={"drill_depth_tolerance": 0.5})
    note = card.line("drill_to_mm").note
    assert "NOT deeper" in note and "at the tolerance of its depth" in note
    assert read_mm("THROUGH by", note) == approx(0.247, abs=1e-3)
    assert "least 1.5 mm" in card.line("floor_mm").note


@pytest.mark.parametrize("setup", ["bottomed, plain", "repaired hole, backed off, three conical springs"])
def test_a_tap_that_is_not_stated_is_a_bottoming_one(cards, setup):
    made = cards["hut-pump", setup]
    none, bottoming = (with_repair(made, hole_depth=14.9, repair={"tap": tap}) for tap in (None, "bottoming"))
    assert "bottoming tap taken" in none.line("thread_depth_mm").note
    for key in ("hole_depth_mm", "floor_mm", "drill_to_mm"):
        assert none.line(key) == bottoming.line(key)


def test_a_plug_tap_that_the_hole_is_too_short_for_names_the_other_one(cards):
    made = cards["hut-pump", "repaired hole, backed off, three conical springs"]
    line = with_repair(made, repair={"tap": "plug"}).line("drill_to_mm")
    assert line.value == 23.5 and "NOT deeper" in line.note and "all of it with a bottoming tap" in line.note


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


def test_a_card_not_to_build_strikes_out_its_torque_and_says_so(cards):
    seen = set()
    for made in cards.values():
        card, fails = made.card, made.card.headline.word == "fails"
        seen.add(fails)
        step = card.steps[4]
        assert ("DO NOT TIGHTEN, see the top" in step.title) is fails
        page = card_page(card)
        struck = re.findall(r"<s>(.*?)</s>", page)
        orders = [line.text for line in step.lines if line.key != "hold"]
        assert struck == ([html.escape(text, quote=False) for text in orders] if fails else [])
        for record in (card_data(card), card_record(card)):
            lines = [line for each in record["steps"] for line in each["lines"]]
            assert [line["text"] for line in lines if line.get("struck")] == (orders if fails else [])
    assert seen == {True, False}


def test_threads_that_overlap_further_than_the_case_says_are_told(cards):
    made = cards["hut-pump", "bottomed, plain"]
    assert "overlap" not in made.card.line("engaged_mm").note
    setup = made.result.setup
    short = replace(setup, stud=replace(setup.stud, engaged_length=9.0))
    note = card_of(made.case, replace(made.result, setup=short), 0.4).line("engaged_mm").note
    # from the tip's end at 2.2 mm to the chamfer 0.5 mm under a mouth at 15 mm
    assert "the threads overlap 12.3 mm: check engaged_length" in note


@pytest.mark.parametrize("name", ["日本", "pump 😀 \u0301", "한국어 العربية"])
def test_letters_that_the_type_lacks_break_nothing(cards, name):
    made = cards["hut-pump", "backed off, plain"]
    setup = replace(made.result.setup, name=name)
    card = card_of(replace(made.case, title=name), replace(made.result, setup=setup), 0.4)
    assert len(pdf_pages(card_pdf(card))) == 1
    assert html.escape(name) in card_page(card)


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
    assert "24 h" in card.line("threadlocker_fill").note and "250 °C" in card.line("bond_torque_Nmm").note
    assert "driven seat" in card.line("back_off_turn").note and "after 1 whole turn" in card.line("back_off_turn").note
    assert card.line("seating_torque_Nmm").value == 6_000.0
    found = retightening(result)
    lost = card.line("settling_lost_N").value
    assert lost == approx(result.value("clamp_assembled") - found.before) and lost > 0.0
    assert "small ends" in card.steps[3].lines[0].text and "1 whole turn and 108°" in card.line("back_off_turn").text
    gap = -result.history.seating.travel
    assert 0.0 < gap < 1.3 * 1.25
    assert f"gap at the tip {gap:.3g} mm"[:18] in card.section.told


def test_the_pdf_is_one_sheet_that_shows_every_line(cards, key):
    card = cards[key].card
    pages = pdf_pages(card_pdf(card))
    assert len(pages) == 1
    size, text = pages[0]
    assert size == approx((595.3, 841.9), abs=0.1)
    shown = squeezed(text)
    for part in card.texts:
        assert squeezed(part) in shown, part
    for drawing in (card.section, *card.pictures):
        for words in drawing.words:
            assert squeezed(words.text) in shown, words.text


def test_the_page_shows_every_line(cards, key):
    card = cards[key].card
    shown = page_text(card_page(card))
    for part in card.texts:
        assert squeezed(part) in shown, part


def test_the_longest_card_fits_one_sheet_in_readable_type(crowded):
    assert len(pdf_pages(card_pdf(crowded.card))) == 1
    assert 6.0 <= crowded.card.type_size <= TYPE_MOST


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
