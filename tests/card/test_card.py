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
from studwell.data import STATUSES, source_of, table
from studwell.study.compare import solve_setup
from studwell.study.heat_numbers import retightening

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
    assert "about twenty past nine" in card.line("back_off_turn").note
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
    assert card.line("seating_torque_Nmm").value == 10_000.0
    found = retightening(result)
    lost = card.line("settling_lost_N").value
    assert lost == approx(result.value("clamp_assembled") - found.before) and lost > 0.0
    assert "once drilled to 17 mm for the tap" in card.line("floor_mm").note
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
