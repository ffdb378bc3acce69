"""The card's page in a browser: one sheet on either paper, no fault of access, nothing run or fetched, no sideways scroll."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.card.build import card_of
from studwell.card.page import card_page
from studwell.case import read_case
from studwell.study.compare import solve_setup

CASES = Path(__file__).parents[2] / "cases"
LONG = (
    ("hut-pump.toml", "repaired hole, backed off, three conical springs"),
    ("hut-pump.toml", "backed off, domed nut"),
    ("inch-bracket.toml", "bottomed"),
)
HOSTILE = "</h1></title><script>document.title = 'hit'</script><img src='http://example.invalid/x' onerror='alert(1)'>"


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """File of the card's page of every setup of LONG, and of one with a hostile name."""
    folder = tmp_path_factory.mktemp("cards")
    found = []
    for number, (file, name) in enumerate((*LONG, ("hut-pump.toml", "backed off, plain"))):
        case = read_case(CASES / file)
        setup = case.setup(name)
        setup = replace(setup, history=replace(setup.history, steps=6))
        if number == len(LONG):
            case, setup = replace(case, title=HOSTILE), replace(setup, name=HOSTILE)
        result = solve_setup(setup, refinement=0.4, band=False)
        path = folder / f"card-{number}.html"
        path.write_text(card_page(card_of(case, result, 0.4)), encoding="utf-8")
        found.append(path)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("number", range(len(LONG)))
def test_printed_it_is_one_sheet(open_tab, pages, number, paper):
    pdfium = pytest.importorskip("pypdfium2", reason="the PDF reader of the tests is missing: pip install -e '.[dev]'")
    tab = open_tab(pages[number].as_uri())
    document = pdfium.PdfDocument(tab.page.pdf(format=paper))
    assert len(document) == 1
    document.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_has_no_serious_fault_of_access(open_tab, serious_faults, pages, scheme):
    assert serious_faults(open_tab(pages[1].as_uri(), color_scheme=scheme)) == []


def test_a_narrow_screen_scrolls_one_way_only(open_tab, pages):
    tab = open_tab(pages[0].as_uri(), viewport={"width": 360, "height": 700})
    assert tab.page.evaluate("document.documentElement.scrollWidth") <= 360


def test_a_hostile_name_is_only_text(open_tab, pages):
    tab = open_tab(pages[-1].as_uri())
    assert tab.errors == [] and tab.outside == []
    assert tab.page.title().startswith("Job card") and tab.page.locator("script, main img").count() == 0
    assert "<script>" in tab.page.locator("h1").inner_text()


def test_nothing_is_fetched(open_tab, pages):
    for path in pages:
        tab = open_tab(path.as_uri())
        assert tab.errors == [] and [url for url in tab.outside if url != path.as_uri()] == []
