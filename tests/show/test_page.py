"""The frame of all pages: who may run what, both modes of colour, the switches, words for names of regions."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re

import pytest
from markupsafe import Markup

from studwell.show import theme
from studwell.show.assumptions import assumptions
from studwell.show.glossary import COLUMNS, MODES
from studwell.show.odds import odds_lines, odds_sheets
from studwell.show.odds_page import odds_page
from studwell.show.page import in_words
from studwell.show.page_content import RANKED, ranked_heads
from studwell.show.report import report_text
from studwell.show.review_page import review_page
from studwell.show.review_sheet import review_sheet
from studwell.strength.verdict import mode_names


@pytest.fixture(scope="module")
def pages(comparison, small_review, small_odds):
    with theme.drawing():
        sheet = review_sheet(small_review)
    return {
        "compare": report_text(comparison, [], {"numpy": "2"}, "a" * 64, ()),
        "backoff": review_page(small_review, sheet),
        "odds": odds_page(small_odds, odds_lines(small_odds), odds_sheets(small_odds)),
    }


NAMES = ("compare", "backoff", "odds")


@pytest.mark.parametrize("name", NAMES)
def test_one_script_runs_and_the_policy_knows_it_by_its_hash(pages, name):
    (script,) = re.findall(r"<script>(.*?)</script>", pages[name], flags=re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', pages[name])
    policy = policy.replace("&#39;", "'")
    assert f"script-src 'sha256-{digest}';" in policy and policy.startswith("default-src 'none';")


@pytest.mark.parametrize("name", NAMES)
def test_all_pages_have_the_same_frame_and_the_sections_that_they_list(pages, name):
    text = pages[name]
    listed = re.findall(r'<li><a href="#([\w-]+)">', text)
    assert listed == re.findall(r'<section id="([\w-]+)"', text)
    assert listed[0] == "verdict" and {"assumed", "given", "rests-on", "care", "trust"} <= set(listed)
    for shared in ("[0-9a-f]{64}", "units-inch", "colours-dark", "prefers-color-scheme: dark", "@media print", "jump"):
        assert re.search(shared, text)[0]
    assert "mesh CASE --study" in text and "fingerprint of the values given" in text


@pytest.mark.parametrize("name", NAMES)
def test_every_table_has_a_caption_in_a_named_box_that_scrolls(pages, name):
    text = re.sub(r"<svg.*?</svg>", "", pages[name], flags=re.DOTALL)
    boxes = re.findall(
        r'<div class="wide[^"]*" role="region" aria-label="([^"]+)" tabindex="0">\s*<table>\s*<caption>', text
    )
    assert len(boxes) == text.count("<table>") > 5
    assert not any("span class" in box for box in boxes)
    assert all("scope=" in head for head in re.findall(r"<th\b[^>]*>", text))


@pytest.mark.parametrize("name", NAMES)
def test_headings_do_not_skip_and_no_id_is_there_twice(pages, name):
    text = pages[name]
    levels = [int(level) for level in re.findall(r"<h([1-6])", text)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    ids = re.findall(r'\sid="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_the_case_decides_which_units_are_shown_first(pages, inch):
    assert re.search(r'id="units-metric" value="metric" checked', pages["compare"])
    other = report_text(inch, [], {}, "a" * 64, ())
    assert re.search(r'id="units-inch" value="inch" checked', other) and ".metric { display: none; }" in other


def test_numbers_of_the_ranked_table_stand_in_both_units(pages, comparison):
    best = comparison.results[0]
    clamp = best.value("clamp_max")
    metric, inch = f"{clamp / 1000:.3g}", f"{clamp / 4.4482216152605:.3g}"
    assert float(inch) > 1000  # three digits and a zero, which %g writes with an exponent
    assert f'<span class="metric">{metric}</span><span class="inch">{float(inch):.0f}</span>' in pages["compare"]


def test_what_a_region_is_called_is_what_is_shown_first():
    text = Markup('Loads, <span class="metric">kN</span><span class="inch">lbf</span> &amp; more')
    assert in_words(text, "metric") == "Loads, kN & more" and in_words(text, "inch") == "Loads, lbf & more"
    assert in_words("a < b", "inch") == "a < b"


def test_every_mode_and_every_column_is_explained():
    assert list(MODES) == list(mode_names())
    words = " ".join(head.lower() for head, _ in COLUMNS)
    assert len(ranked_heads("metric")) == len(RANKED)
    for head, _, _ in RANKED:
        assert all(word.strip(",") in words for word in head.lower().split())
    assert "hold" in words and "clamp built" in words


def test_assumptions_name_the_setups_that_they_hold_for(comparison, make_setup):
    lines = assumptions(comparison.case.setups)
    assert any("stays elastic" in line and not line.endswith(")") for line in lines)
    oily = make_setup('pocket = { contents = "oil", fill = 0.5, fill_at = "as fitted", seal = "sealed" }')
    both = assumptions((comparison.case.setups[0], oily))
    assert any("shut in is only the case's word" in line and line.endswith(f"({oily.name})") for line in both)
