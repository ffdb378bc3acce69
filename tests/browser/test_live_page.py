import re
import statistics
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from live_tab import REFINEMENT, SETUP, TITLE, WAIT, answered, move, shown

from studwell.case import case_from_text
from studwell.live.page_words import margin_state
from studwell.show.page_content import quantity_text
from studwell.study.compare import solve_setup

sync = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install -e '.[dev]'")
expect = sync.expect


def test_sliders_change_the_numbers_to_what_the_api_gives_for_the_case_that_is_taken_away(tab):
    page = tab().page
    before = shown(page)
    move(page, "nut_torque", 6200.0)
    answered(page, 1)
    move(page, "floor_thickness", 4.5)  # another mesh
    answered(page, 2)
    with page.expect_download() as download:
        page.get_by_role("button", name="Case file").click()
    case = case_from_text(Path(download.value.path()).read_text(), "taken away")
    setup = case.setups[-1]
    assert setup.name == f"{SETUP}, changed"
    assert setup.tightening.torque == pytest.approx(6200.0) and setup.boss.floor_thickness == pytest.approx(4.5)
    result = solve_setup(setup, refinement=REFINEMENT, band=False)
    outcomes, margins = shown(page)
    assert outcomes == {
        name: "unknown" if outcome.value is None else quantity_text(outcome.value, outcome.unit, "metric")
        for name, outcome in result.outcomes.items()
        if not outcome.absent
    }
    wanted = {mode: margin_state(m.value) for mode, m in result.verdict.margins.items() if m.applies}
    assert margins == {mode: ["" if text == "unknown" else text, state] for mode, (state, text) in wanted.items()}
    assert before[0] != outcomes and before[1] != margins


def test_names_of_a_case_are_text_and_never_markup(tab):
    page = tab().page
    assert page.title() == TITLE
    expect(page.locator("h1")).to_have_text(TITLE)
    expect(page.locator("#setup option").first).to_have_text(SETUP)
    page.get_by_role("button", name="Pin this beside").click()
    expect(page.locator(".beside thead")).to_contain_text(SETUP)
    assert page.evaluate("window.hurt") is None
    assert page.locator(".live img, .live script, .live b").count() == 0


def test_two_browsers_do_not_mix_their_states(tab):
    one, other = tab().page, tab().page
    expected = shown(other)
    for count, torque in enumerate((5500.0, 6500.0, 7500.0), start=1):
        move(one, "nut_torque", torque)
        answered(one, count)
    assert shown(one) != expected and shown(other) == expected
    move(other, "nut_torque", 7500.0)
    answered(other, 1)
    assert shown(other) == shown(one)


def test_a_link_opens_the_same_state_and_a_hostile_one_the_start_with_a_plain_message(tab, served):
    page = tab().page
    start = shown(page)
    move(page, "nut_torque", 6400.0)
    answered(page, 1)
    expect(page).to_have_url(re.compile("nut_torque=6400"), timeout=WAIT)
    again = tab(urlsplit(page.url).query and f"?{urlsplit(page.url).query}").page
    assert shown(again) == shown(page) != start
    expect(again.get_by_label("Nut torque", exact=True)).to_have_value("6400")
    hostile = tab("?setup=%3Cimg%20src=x%20onerror=alert(1)%3E&nut_torque=1e99").page
    expect(hostile.get_by_role("alert")).to_contain_text("This link cannot be opened here")
    assert shown(hostile) == start
    move(hostile, "nut_torque", 6400.0)
    answered(hostile, 1)
    expect(hostile.get_by_role("alert")).to_have_count(0)


def test_pinned_setups_stand_beside_and_keep_their_numbers(tab):
    page = tab().page
    move(page, "nut_torque", 5500.0)
    answered(page, 1)
    clamp = shown(page)[0]["clamp_max"]
    page.get_by_role("button", name="Pin this beside").click()
    move(page, "nut_torque", 7000.0)
    answered(page, 2)
    row = page.locator(".beside tr", has=page.get_by_role("rowheader", name="clamp max"))
    expect(row.locator("td")).to_have_text([shown(page)[0]["clamp_max"], clamp])
    assert page.locator("path.pinned-0").count() == 3
    page.get_by_label("Units").select_option("inch")
    expect(row.locator("td").nth(1)).to_contain_text("lbf")
    expect(page).to_have_url(
        re.compile("units=inch.*nut_torque%3D5500"), timeout=WAIT
    )  # the address follows a moment later
    again = tab(f"?{urlsplit(page.url).query}").page  # what is pinned comes with the link
    beside = again.locator(".beside tr", has=again.get_by_role("rowheader", name="clamp max")).locator("td")
    expect(beside).to_have_text(row.locator("td").all_text_contents(), timeout=WAIT)
    page.get_by_role("button", name="Take A away").click()
    expect(page.locator(".beside")).to_be_hidden()
    assert page.locator("path.pinned-0").count() == 0


def test_colours_are_held_by_a_switch(tab):
    page = tab().page
    page.get_by_label("hold the colours").check()
    answered(page, 1)
    expect(page.get_by_label("hold the colours")).to_be_checked()
    ends = page.locator(".scale").inner_text()
    move(page, "nut_torque", 9500.0)
    answered(page, 2)
    assert page.locator(".scale").inner_text() == ends
    page.get_by_label("hold the colours").uncheck()
    answered(page, 3)
    assert page.locator(".scale").inner_text() != ends


def test_sliders_are_moved_by_the_keyboard_and_say_their_value_with_its_unit(tab):
    page = tab().page
    slider = page.get_by_role("slider", name="Nut torque")
    slider.focus()
    page.keyboard.press("ArrowRight")
    answered(page, 1)
    expect(slider).to_have_attribute("aria-valuetext", "5.1 N*m")
    assert slider.evaluate("(range) => getComputedStyle(range).outlineStyle") == "solid"
    edge = slider.evaluate(
        "(range) => range.getBoundingClientRect().top - parseFloat(getComputedStyle(range).outlineWidth)"
        " - parseFloat(getComputedStyle(range).outlineOffset)"
    )
    field = page.get_by_label("Nut torque, exact in N*m").bounding_box()
    assert edge >= field["y"] + field["height"], "the mark of the focus covers the field above it"
    exact = page.get_by_label("Nut torque, exact in N*m")
    exact.fill("6.3")
    page.keyboard.press("Tab")
    answered(page, 2)
    expect(slider).to_have_value("6300")
    exact.fill("6300")
    page.keyboard.press("Tab")
    expect(page.get_by_text("6300: not taken; allowed: 0.1 N*m to 10.0 N*m")).to_be_visible()
    expect(slider).to_have_value("6300")
    expect(exact).to_have_value("6.3")  # not the number that was refused
    page.get_by_label("Turned back", exact=True).press("ArrowRight")
    answered(page, 3)
    expect(page.get_by_text("6300: not taken")).to_be_visible()
    slider.press("ArrowRight")
    answered(page, 4)
    expect(page.get_by_text("6300: not taken")).to_be_hidden()
    slider.press("ArrowLeft")
    answered(page, 5)
    page.get_by_label("Units").select_option("inch")
    expect(slider).to_have_attribute("aria-valuetext", re.compile(r"^4\.6\d lbf\*ft$"))


@pytest.mark.parametrize("look", ["light", "dark"])
def test_the_accessibility_checker_finds_no_serious_fault(tab, serious_faults, look):
    found = tab(color_scheme=look)
    page = found.page
    page.get_by_role("button", name="Pin this beside").click()
    expect(page.locator(".beside")).to_be_visible()
    page.locator("#outcomes summary").click()
    assert serious_faults(found) == []
    if look == "dark":  # the page's own choice goes before the system's
        page.get_by_label("Look").select_option("light")
        paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert sum(map(int, re.findall(r"\d+", paper))) > 600
        assert serious_faults(found) == []


def test_a_phone_shows_the_page_without_scrolling_sideways(tab):
    page = tab(viewport={"width": 375, "height": 667}).page
    page.locator("#outcomes summary").click()
    page.get_by_role("button", name="Pin this beside").click()
    expect(page.locator(".beside")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 375
    page.get_by_role("slider", name="Nut torque").scroll_into_view_if_needed()
    expect(page.locator(".band")).to_be_in_viewport()


@pytest.mark.slow
def test_moves_are_followed_and_their_median_is_printed(tab, capsys):
    page = tab().page
    script = """async (count) => {
      const root = document.querySelector(".live"), range = document.getElementById("control-nut_torque"), found = [];
      for (let k = 0; k < count; k += 1) {
        const was = root.dataset.answered, start = performance.now();
        const done = new Promise((resolve) => {
          const seen = new MutationObserver(() => { if (root.dataset.answered !== was) { seen.disconnect(); resolve(); } });
          seen.observe(root, { attributes: true });
        });
        range.value = 3000 + 100 * ((17 * k) % count);
        range.dispatchEvent(new Event("input", { bubbles: true }));
        await done;
        found.push(performance.now() - start);
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      return found;
    }"""
    times = page.evaluate(script, 50)
    with capsys.disabled():
        print(
            f"\n50 moves: median {statistics.median(times):.0f} ms, longest {max(times):.0f} ms from slider to numbers"
        )
    assert len(times) == 50


@pytest.mark.slow
def test_report_and_card_of_the_state_can_be_taken_away(tab):
    page = tab().page
    move(page, "nut_torque", 6200.0)
    answered(page, 1)
    for name, part in (("Report", "report.html"), ("Job card", "card.html"), ("Job card as PDF", "card.pdf")):
        with page.expect_download(timeout=300_000) as download:
            page.get_by_role("button", name=name, exact=True).click()
        content = Path(download.value.path()).read_bytes()
        assert download.value.suggested_filename == f"cover-{part}"
        assert len(content) > 10_000
        if part == "report.html":
            assert b"6.2 N*m" in content and b"<script>window.hurt" not in content
