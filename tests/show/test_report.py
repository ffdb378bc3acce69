"""The report: one file, no network, nothing of a user's unescaped, the same bytes each time."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, replace
from html.parser import HTMLParser

import numpy as np
import pytest

from studwell.show.figures import sheets_of, stress_sheet
from studwell.show.page_content import (
    CAUTIONS,
    default_rows,
    headline,
    material_rows,
    quantity_text,
    source_tables,
)
from studwell.show.report import draw_figures, report_text, write_report

HOSTILE = '</title></svg><script>alert("1")</script> "><img src=x onerror=alert(1)> --> & $x_{ </style> 8 mm '
VERSIONS = {"studwell": "0.1.0", "numpy": "2.4"}


@dataclass(frozen=True)
class Said:
    text: str


class Page(HTMLParser):
    """Collects tags, attributes and text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture(scope="module")
def sheets(comparison):
    return sheets_of(comparison)


@pytest.fixture(scope="module")
def text(comparison, sheets):
    said = [Said("The tip never touches."), Said("<b>heat</b>")]
    return report_text(comparison, said, VERSIONS, "a" * 64, sheets)


@pytest.fixture(scope="module")
def page(text):
    return Page(text)


@pytest.fixture(scope="module")
def hostile(comparison):
    def renamed(result):
        return replace(result, setup=replace(result.setup, name=HOSTILE + result.name))

    results = tuple(renamed(result) for result in comparison.results)
    case = replace(comparison.case, title=HOSTILE, notes=HOSTILE, setups=tuple(r.setup for r in results))
    failed = tuple(replace(f, reason=HOSTILE) for f in comparison.failed)
    changed = replace(comparison, case=case, results=results, failed=failed)
    return Page(report_text(changed, [Said(HOSTILE)], {HOSTILE: HOSTILE}, HOSTILE))


def test_hostile_names_run_no_script(hostile):
    assert len(hostile.all("script")) == 1  # ours
    assert hostile.all("img") == []
    assert len([tag for tag, _ in hostile.tags if tag == "title"]) == 1 + len(hostile.all("svg"))
    assert any(HOSTILE in words for words in hostile.words)


def test_hostile_names_open_no_attribute(hostile):
    assert not any(key.startswith("on") or key == "alert" for _, attrs in hostile.tags for key in attrs)


def test_the_page_asks_the_network_for_nothing(page, text):
    for _, attrs in page.tags:
        for key in ("src", "href", "xlink:href", "data", "action", "srcset", "poster"):
            value = attrs.get(key)
            assert value is None or value.startswith(("#", "data:image/png;base64,")), value
    assert "@import" not in text and "<link" not in text
    assert not re.search(r"url\((?!#)", text)


def test_every_inner_link_and_reference_has_its_target_and_no_id_is_there_twice(page, text):
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    wanted = {attrs.get(key) for _, attrs in page.tags for key in ("href", "xlink:href")}
    wanted |= set(re.findall(r"url\((#[^)]+)\)", text))
    for reference in wanted - {None}:
        if reference.startswith("#"):
            assert reference[1:] in ids


def test_findings_are_text(page, text):
    assert "The tip never touches." in text
    assert "<b>heat</b>" not in text and "&lt;b&gt;heat&lt;/b&gt;" in text


def test_the_verdict_comes_first_and_ranks_every_setup(comparison, text):
    heads = re.findall(r"<h2[^>]*>([^<]+)</h2>", text)
    assert heads[0] == "Verdict"
    ranked = text[text.index('id="verdict"') : text.index('id="found"')]
    places = [ranked.index(f'<th scope="row">{result.name}</th>') for result in comparison.results]
    assert places == sorted(places)
    assert comparison.failed[0].reason in ranked


def test_every_margin_of_every_setup_is_listed_with_its_reason_or_method(comparison, text):
    from markupsafe import escape

    for result in comparison.results:
        for margin in result.verdict.margins.values():
            assert str(escape(margin.mode)) in text
            for words in (margin.method, margin.reason):
                assert str(escape(words)) in text


def test_every_figure_is_drawn_in_the_page_with_words_for_those_who_do_not_see_it(page, sheets):
    drawings = page.all("svg")
    twice = [sheet.name for sheet in sheets if sheet.other is not None]
    assert len(sheets) == 5 and twice == ["section-stress", "history", "section-mesh"]
    assert len(drawings) == len(sheets) + len(twice)
    ids = {attrs.get("id") for _, attrs in page.tags}
    for attrs in drawings:
        assert attrs["role"] == "img"
        assert all(name in ids for name in attrs["aria-labelledby"].split())


def test_a_figure_with_units_is_there_in_both_and_tells_what_it_shows_in_its_own(text, comparison):
    told = dict(re.findall(r'<desc id="history-(metric|inch)-told">(.*?)</desc>', text))
    best = comparison.results[0]
    clamp = best.value("clamp_max")
    assert f"{best.name}: clamp " in told["metric"] and f"to {clamp / 1000:.3g} kN" in told["metric"]
    assert f"to {float(f'{clamp / 4.4482216152605:.3g}'):.0f} lbf" in told["inch"]  # N of a pound-force, by definition
    assert " kN" not in told["inch"] and " lbf" not in told["metric"]
    assert re.search(r'<div class="metric"><svg[^>]*"history-metric-title', text)
    assert 'id="margins-title"' in text  # margins have no unit: one drawing serves both


def test_bars_of_stress_have_round_bounds_in_both_systems(comparison):
    sheet = stress_sheet(comparison)
    for figure in (sheet.figure, sheet.other().figure):
        bar = figure.axes[-1]
        (unit,) = re.findall(r"MPa|psi", bar.get_xlabel())
        steps = np.diff(bar.get_xticks())
        mantissa = float(f"{steps[0]:e}".split("e")[0])
        assert np.allclose(steps, steps[0]) and round(4 * mantissa, 6) in {4 * n for n in range(1, 10)} | {6, 10}, unit


def test_rows_of_what_is_not_known_of_a_material_are_one_row_that_names_them_all(comparison):
    rows = source_tables(comparison)[0].rows
    unknown = [row for row in rows if row[3] == "unknown"]
    missing = [(row[0], row[1]) for row in material_rows(comparison) if row[3] == "unknown"]
    assert len({row[0] for row in unknown}) == len(unknown) < len(missing)
    assert sorted(missing) == sorted((row[0], words) for row in unknown for words in row[1].split("; "))
    known = [row[:4] for row in material_rows(comparison) if row[3] != "unknown"]
    assert [row[:4] for row in rows if row[3] != "unknown"] == known


def test_every_table_head_says_its_scope_and_headings_do_not_skip(page):
    assert all(attrs.get("scope") in ("col", "row") for attrs in page.all("th"))
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    assert page.all("html")[0]["lang"] == "en"


def test_the_page_follows_light_and_dark_and_prints_light(text):
    assert "prefers-color-scheme: dark" in text and "@media print" in text and "#colours-dark:checked" in text
    assert "var(--ink" in text


def test_the_page_carries_cautions_sources_evidence_and_fingerprint(text):
    from markupsafe import escape

    for words in (*CAUTIONS, "from memory", "confirmed", "forces out of balance", "a" * 64, "numpy 2.4"):
        assert str(escape(words)) in text


def test_the_same_results_give_the_same_bytes(comparison, text):
    again = report_text(comparison, [Said("The tip never touches."), Said("<b>heat</b>")], VERSIONS, "a" * 64)
    assert again == text


def test_a_report_is_written_whole_and_names_its_path(comparison, sheets, tmp_path):
    path = write_report(tmp_path / "out" / "report.html", comparison, [], VERSIONS, "b" * 64, sheets)
    assert path.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert [item.name for item in path.parent.iterdir()] == ["report.html"]


def test_figures_are_written_as_png_and_svg(comparison, sheets, tmp_path):
    paths = draw_figures(comparison, tmp_path, sheets)
    assert sorted(path.name for path in paths) == sorted(f"{s.name}.{end}" for s in sheets for end in ("png", "svg"))
    for path in paths:
        start = path.read_bytes()[:100]
        assert start.startswith(b"\x89PNG") if path.suffix == ".png" else start.startswith(b"<?xml")
        assert b"<dc:date>" not in path.read_bytes()


def test_a_comparison_without_a_solved_setup_still_has_its_report(comparison):
    text = report_text(replace(comparison, results=()), [], VERSIONS, "c" * 64)
    assert "could be solved" in text and comparison.failed[0].name in text


def test_the_headline_counts_failing_and_open_setups(comparison):
    words = headline(comparison)
    assert "1 setup fails" in words and "5 of 7 setups fail no known damage limit" in words
    assert words.startswith("1 of 7 setups stay below every damage limit")
    assert "1 setup could not be solved" in words


def test_every_material_property_names_a_status_and_a_source(comparison):
    rows = material_rows(comparison)
    assert {row[0] for row in rows} >= {"a356-t6 sand"}
    assert all(
        status in ("confirmed", "computed", "from memory", "given by the user", "unknown") for *_, status, _ in rows
    )
    assert all(source for *_, source in rows)
    assert all(source and status for *_, status, source in default_rows())


@pytest.mark.parametrize(
    ("value", "unit", "units", "expected"),
    [
        (10903.23, "N", "metric", "10.9 kN"),
        (10903.23, "N", "inch", "2450 lbf"),
        (0.276, "mm", "metric", "0.276 mm"),
        (241.2, "MPa", "inch", "35000 psi"),
        (-3e-9, "N", "metric", "0 kN"),
        (float("inf"), "N", "metric", "unbounded"),
        (None, "N", "metric", ""),
        (0.5, "", "metric", "0.5"),
    ],
)
def test_a_number_is_written_in_the_units_of_the_case(value, unit, units, expected):
    assert quantity_text(value, unit, units, 3) == expected
