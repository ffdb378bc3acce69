"""The reports of compare, backoff and odds in a browser: no network, both units, both modes, narrow and wide, on paper."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.font_manager import findfont, get_font

from studwell.case import read_case
from studwell.show import theme
from studwell.show.odds import odds_lines, odds_sheets
from studwell.show.odds_page import odds_page
from studwell.show.report import report_text
from studwell.show.review_page import review_page
from studwell.show.review_sheet import review_sheet
from studwell.store.summary import summary
from studwell.study.compare import compare
from studwell.study.findings import findings

CASES = Path(__file__).parents[2] / "cases"
HOSTILE = (
    '</title></svg></style><script>document.title="run"</script><img src=x onerror="document.title=1"> --> & "x" 8 mm '
)
POUND_FORCE, INCH, PSI = 4.4482216152605, 25.4, 6.894757293168e-3
"""N, mm and MPa of a pound-force, an inch and a psi. Source: exact definitions of pound, inch and standard gravity."""


@pytest.fixture(scope="module")
def solved():
    case = read_case(CASES / "m6-cover.toml")
    setups = tuple(replace(s, history=replace(s.history, steps=9)) for s in case.setups)
    return compare(replace(case, setups=setups), refinement=0.5, band=False)


@pytest.fixture(scope="module")
def reports(solved, small_review, small_odds, tmp_path_factory):
    folder = tmp_path_factory.mktemp("reports")
    with theme.drawing():
        sheet = review_sheet(small_review)
    texts = {
        "compare": report_text(solved, findings(solved), {"numpy": "2"}, "a" * 64),
        "backoff": review_page(small_review, sheet),
        "odds": odds_page(small_odds, odds_lines(small_odds), odds_sheets(small_odds)),
    }
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: f"file://{folder / name}.html" for name in texts}


@pytest.fixture(scope="module")
def hostile(solved, tmp_path_factory):
    results = tuple(replace(r, setup=replace(r.setup, name=HOSTILE + r.name)) for r in solved.results)
    setups = tuple(r.setup for r in results)
    changed = replace(solved, results=results, case=replace(solved.case, title=HOSTILE, notes=HOSTILE, setups=setups))
    path = tmp_path_factory.mktemp("hostile") / "report.html"
    path.write_text(report_text(changed, findings(changed), {HOSTILE: HOSTILE}, HOSTILE), encoding="utf-8")
    return f"file://{path}"


NAMES = ("compare", "backoff", "odds")


@pytest.mark.parametrize("name", NAMES)
def test_a_report_opens_without_errors_and_asks_for_nothing_outside(reports, open_tab, name):
    tab = open_tab(reports[name])
    tab.page.wait_for_load_state("networkidle")
    assert tab.errors == [] and tab.outside == []
    assert tab.page.locator("h1").count() == 1 and tab.page.locator("main h2").first.inner_text() == "Verdict"


@pytest.mark.parametrize(
    ("name", "mode"),
    [
        ("compare", "light"),
        ("compare", "dark"),
        ("backoff", "light"),
        ("odds", "light"),
        pytest.param("backoff", "dark", marks=pytest.mark.slow),  # the same colours as compare's
        pytest.param("odds", "dark", marks=pytest.mark.slow),
    ],
)
def test_a_report_has_no_serious_fault_for_those_who_see_or_move_differently(
    reports, open_tab, serious_faults, name, mode
):
    tab = open_tab(reports[name], color_scheme=mode)
    tab.page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    tab.page.evaluate("document.querySelectorAll('svg[role=img] > g, svg defs').forEach(drawn => drawn.remove())")
    assert serious_faults(tab) == []  # of a picture its title and description count, which stay


@pytest.mark.parametrize("name", NAMES)
def test_no_page_is_wider_than_its_window_and_its_tables_scroll_in_their_boxes(reports, open_tab, name):
    tab = open_tab(reports[name])
    tab.page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    for width in (1280, 768, 375):
        tab.page.set_viewport_size({"width": width, "height": 800})
        assert tab.page.evaluate("document.documentElement.scrollWidth") <= width
    scrolling = "[...document.querySelectorAll('.wide')].filter(box => box.scrollWidth > box.clientWidth + 1).length"
    assert tab.page.evaluate(scrolling) > 3


def cells(tab, row):
    return [cell.inner_text() for cell in tab.page.locator("#verdict tbody tr").nth(row).locator("td, th").all()]


def test_the_switch_turns_numbers_to_inch_as_the_summary_has_them_and_back(reports, open_tab, solved):
    tab = open_tab(reports["compare"])
    before = cells(tab, 0)
    heads = [head.inner_text() for head in tab.page.locator("#verdict thead th").all()]
    tab.page.get_by_label("inch").check()
    shown = [head.inner_text() for head in tab.page.locator("#verdict thead th").all()]
    assert [h for h in heads if h.endswith("kN")] and not [h for h in shown if h.endswith(("kN", "mm", "MPa"))]
    for row, record in enumerate(summary(solved)["setups"]):
        found = dict(zip(shown, cells(tab, row), strict=True))
        assert found["Setup"] == record["name"]
        for head, value in (
            ("Clamp, assembled, lbf", record["clamp_assembled_N"] / POUND_FORCE),
            ("Clamp, least, lbf", record["clamp_min_N"] / POUND_FORCE),
            ("Thread load, most, lbf", record["thread_load_max_N"] / POUND_FORCE),
            ("Tip gap, least, in", record["tip_gap_min_mm"] / INCH),
            ("Floor stress, most, psi", record["floor_stress_max_MPa"] / PSI),
        ):
            assert float(found[head]) == pytest.approx(value, rel=5.1e-3, abs=1e-9)
    tab.page.get_by_label("metric").check()
    assert cells(tab, 0) == before


OUTLINES = """figure => [...figure.querySelectorAll('svg')].filter(drawn => drawn.checkVisibility()).map(drawn =>
  [...drawn.querySelectorAll('g[id*="text_"]')].map(text => [...text.querySelectorAll('use')].map(letter =>
    parseInt(letter.href.baseVal.split('-').pop(), 16))))"""
"""Of each drawing of a figure that is shown: the numbers of the outlines in each of its texts."""


def words_drawn(figure):
    """Return the texts, without blanks, of each drawing of a figure that is shown, read back from its letters' outlines.

    These are numbered as in the font, or in older versions of matplotlib by the letters: both readings are returned.
    """
    font = get_font(findfont("DejaVu Sans"))
    letters = {outline: chr(code) for code, outline in font.get_charmap().items()}
    return [
        [
            "".join(read(n) for n in text).replace(" ", "")
            for text in drawing
            for read in (lambda n: letters.get(n, "?"), chr)
        ]
        for drawing in figure.evaluate(OUTLINES)
    ]


@pytest.mark.parametrize(
    ("name", "title", "metric", "inch"),
    [
        ("compare", "Clamp, tip force and thread load through the cycle", "clamp, kN", "clamp, lbf"),
        ("compare", "What the stud does", "distance from the stud's axis, mm", "distance from the stud's axis, in"),
        ("compare", "The section as it is meshed", "distance from the stud's axis, mm", "distance from the stud's axis, in"),
        ("backoff", "The back-off rule reviewed", "turned back, mm of thread travel", "turned back, in of thread travel"),
    ],
)  # fmt: skip
def test_the_switch_changes_the_units_of_a_figures_axes_and_one_drawing_alone_is_shown(
    reports, open_tab, name, title, metric, inch
):
    tab = open_tab(reports[name])
    figure = tab.page.locator("figure").filter(has_text=title)
    tab.page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    for label, own, other in (("metric", metric, inch), ("inch", inch, metric), ("metric", metric, inch)):
        tab.page.get_by_label(label).check()
        (drawn,) = words_drawn(figure)
        assert own.replace(" ", "") in drawn and other.replace(" ", "") not in drawn
        assert figure.get_by_role("img").count() == 1  # of what readers of the screen meet


def test_a_figure_without_units_is_drawn_once(reports, open_tab):
    tab = open_tab(reports["compare"])
    figure = tab.page.locator("figure").filter(has_text="How near each setup comes to each limit")
    before = words_drawn(figure)
    tab.page.get_by_label("inch").check()
    assert figure.locator("svg").count() == 1 and words_drawn(figure) == before != []


def test_no_metric_number_is_left_in_words_after_the_switch(reports, open_tab):
    tab = open_tab(reports["compare"])
    tab.page.get_by_label("inch").check()
    tab.page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true; })")
    for section in ("found", "each", "threads", "cracks", "given"):
        words = tab.page.locator(f"#{section}").inner_text()
        left = re.findall(r"[^\n]{0,30}\b\d[\d.]* (?:kN|N|MPa|GPa|mm2?|N\*m|degC)\b(?!/)[^\n]{0,10}", words)
        assert left == []


def test_the_choice_of_units_outlives_a_reload(reports, open_tab):
    tab = open_tab(reports["compare"])
    tab.page.get_by_label("inch").check()
    tab.page.reload()
    assert tab.page.get_by_label("inch").is_checked()
    assert tab.page.locator("#verdict thead").inner_text().count("lbf") >= 4


def paper(tab):
    return tab.page.evaluate("getComputedStyle(document.body).backgroundColor")


def rgb(colour):
    return f"rgb({', '.join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5))})"


@pytest.mark.parametrize(("mode", "own", "other"), [("light", theme.LIGHT, "dark"), ("dark", theme.DARK, "light")])
def test_colours_follow_the_device_until_the_reader_chooses(reports, open_tab, mode, own, other):
    tab = open_tab(reports["odds"], color_scheme=mode)
    assert paper(tab) == rgb(own.paper)
    tab.page.get_by_label(other, exact=True).check()
    assert paper(tab) == rgb((theme.DARK if other == "dark" else theme.LIGHT).paper)
    tab.page.get_by_label("as the device").check()
    assert paper(tab) == rgb(own.paper)


def test_without_script_the_units_of_the_case_are_shown_and_the_switch_still_works(reports, open_tab):
    tab = open_tab(reports["compare"], java_script_enabled=False)
    assert "kN" in tab.page.locator("#verdict thead").inner_text()
    assert "lbf" not in tab.page.locator("#verdict thead").inner_text()
    tab.page.get_by_label("inch").check()
    assert "lbf" in tab.page.locator("#verdict thead").inner_text()


def test_keys_alone_reach_the_result_the_switches_and_the_tables(reports, open_tab):
    tab = open_tab(reports["compare"])
    tab.page.keyboard.press("Tab")
    assert tab.page.evaluate("document.activeElement.className") == "jump"
    tab.page.keyboard.press("Enter")
    assert tab.page.evaluate("location.hash") == "#verdict"
    tab.page.locator("#units-metric").focus()
    tab.page.keyboard.press("ArrowRight")
    assert tab.page.get_by_label("inch").is_checked()
    tab.page.locator(".wide").first.focus()
    assert tab.page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize(("name", "least", "most"), [("compare", 8, 16), ("backoff", 5, 11), ("odds", 4, 12)])
def test_what_is_folded_stays_off_paper_and_paper_says_so(reports, open_tab, name, least, most):
    tab = open_tab(reports[name], color_scheme="dark")
    assert not tab.page.locator(".on-paper").is_visible()
    folded = pages_of(tab.page.pdf(format="A4", prefer_css_page_size=True))
    assert least <= folded <= most
    tab.page.emulate_media(media="print")
    assert paper(tab) == "rgba(0, 0, 0, 0)"
    assert "are in the file" in tab.page.locator(".on-paper").inner_text()
    assert not tab.page.locator("nav").is_visible() and not tab.page.locator(".choices").is_visible()
    assert tab.page.locator("details:not([open])").count() >= 3
    marks = "[...document.querySelectorAll('summary')].map(s => [s.parentElement.open, getComputedStyle(s, '::after').content])"
    assert all(("in the file" in mark) != is_open for is_open, mark in tab.page.evaluate(marks))


def test_one_button_unfolds_all_for_paper_and_folds_it_again(reports, open_tab):
    tab = open_tab(reports["compare"])
    button = tab.page.get_by_role("button", name="all parts unfolded")
    short = pages_of(tab.page.pdf(format="A4", prefer_css_page_size=True))
    button.click()
    assert tab.page.locator("details:not([open])").count() == 0
    assert pages_of(tab.page.pdf(format="A4", prefer_css_page_size=True)) > short + 4
    button.click()
    assert tab.page.locator("details[open]").count() == 0


def test_on_paper_one_drawing_of_a_figure_is_printed_in_the_chosen_units(reports, open_tab):
    tab = open_tab(reports["compare"])
    tab.page.get_by_label("inch").check()
    tab.page.emulate_media(media="print")
    for figure in tab.page.locator("figure").all():
        assert len(words_drawn(figure)) == 1
    assert tab.page.locator(".metric svg").first.is_hidden() and tab.page.locator(".inch svg").first.is_visible()


def test_hostile_names_run_nothing_and_break_nothing(hostile, open_tab):
    tab = open_tab(hostile)
    assert tab.errors == [] and tab.outside == []
    assert tab.page.title().startswith("</title></svg></style><script>document.title")
    assert tab.page.locator("img").count() == 0 and tab.page.locator("script").count() == 1
    assert tab.page.locator("h1").inner_text().startswith("</title></svg></style><script>")
    assert tab.page.locator("main > section").count() == tab.page.locator("nav li").count()
    tab.page.get_by_label("inch").check()
    assert "8 mm" in tab.page.locator("#verdict tbody tr th").first.inner_text()
