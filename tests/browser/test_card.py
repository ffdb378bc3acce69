"""The card's page in a browser: one sheet on either paper, no fault of access, nothing run or fetched, no sideways scroll."""

from dataclasses import replace
from pathlib import Path

import pytest

from studwell.card.build import card_of
from studwell.card.page import card_page
from studwell.card.pdf import card_pdf
from studwell.case import read_case
from studwell.study.compare import solve_setup

CASES = Path(__file__).parents[2] / "cases"
LONG = (
    ("hut-pump.toml", "repaired hole, backed off, three conical springs"),
    ("hut-pump.toml", "backed off, domed nut"),
    ("inch-bracket.toml", "bottomed"),
)
HOSTILE = "</h1></title><script>document.title = 'hit'</script><img src='http://example.invalid/x' onerror='alert(1)'>"


ALL = [(file.name, setup.name) for file in sorted(CASES.glob("*.toml")) for setup in read_case(file).setups]
SHEETS = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}
"""pt; ISO 216 and 8 1/2 in by 11 in."""


def sheets_of(tab, **options):
    """Sizes of the sheets of a page as it is printed, pt."""
    pdfium = pytest.importorskip("pypdfium2", reason="the PDF reader of the tests is missing: pip install -e '.[dev]'")
    document = pdfium.PdfDocument(tab.page.pdf(**options))
    found = [page.get_size() for page in document]
    document.close()
    return found


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
    assert len(sheets_of(open_tab(pages[number].as_uri()), format=paper)) == 1


@pytest.mark.parametrize("number", range(len(LONG)))
def test_it_asks_for_its_own_paper(open_tab, pages, number):
    (size,) = sheets_of(open_tab(pages[number].as_uri()), prefer_css_page_size=True)
    inch = LONG[number][0].startswith("inch")
    assert size == pytest.approx(SHEETS["letter" if inch else "a4"], abs=1.0)


@pytest.mark.slow
@pytest.mark.parametrize(("file", "name"), ALL, ids=" | ".join)
def test_every_setup_of_every_case_is_one_sheet_on_either_paper(open_tab, tmp_path, file, name):
    case = read_case(CASES / file)
    result = solve_setup(case.setup(name), refinement=0.4, band=False)
    pdfium = pytest.importorskip("pypdfium2", reason="the PDF reader of the tests is missing: pip install -e '.[dev]'")
    for paper, wanted in SHEETS.items():
        card = card_of(case, result, 0.4, paper)
        path = tmp_path / f"{paper}.html"
        path.write_text(card_page(card), encoding="utf-8")
        (size,) = sheets_of(open_tab(path.as_uri()), prefer_css_page_size=True)
        assert size == pytest.approx(wanted, abs=1.0)
        document = pdfium.PdfDocument(card_pdf(card))
        assert [page.get_size() for page in document] == [pytest.approx(wanted, abs=0.1)]
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
