"""The page of checks: every check by subject, those that differ said in words, in the frame of all pages."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from studwell.show.verification import result_word, verification_page
from studwell.verify.registry import all_checks
from studwell.verify.run import CheckResult, run_check


@pytest.fixture(scope="module")
def results():
    chosen = [item for item in all_checks() if item.subject in ("fasteners", "springs") and not item.slow][:3]
    stopped = CheckResult(replace(all_checks()[0], title="<b>stopped</b>"), (), False, "ValueError: <i>why</i>")
    return [*map(run_check, chosen or all_checks()[:2]), stopped]


def test_every_check_and_every_row_stands_on_the_page(results):
    page = verification_page(results, {"numpy": "2"})
    assert f"{sum(r.passed for r in results)} of {len(results)} checks agree" in page
    assert page.count("<tbody>") == sum(bool(r.rows) for r in results) >= 1
    assert len(re.findall(r'<th scope="row">', page)) == sum(len(r.rows) for r in results)
    assert all(result_word(r) in page for r in results)


def test_what_stopped_says_why_and_is_text(results):
    page = verification_page(results, {})
    assert "&lt;b&gt;stopped&lt;/b&gt;" in page and "Stopped: ValueError: &lt;i&gt;why&lt;/i&gt;" in page


def test_it_has_the_frame_of_all_pages_but_no_choice_of_units(results):
    page = verification_page(results, {})
    assert "colours-dark" in page and "units-inch" not in page and "Content-Security-Policy" in page
    listed = re.findall(r'<li><a href="#([\w-]+)">', page)
    assert listed == re.findall(r'<section id="([\w-]+)"', page)
