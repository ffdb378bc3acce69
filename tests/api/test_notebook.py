"""What a notebook and a terminal show of a result: words for verdicts, names escaped, colours of the page's own."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from studwell import api
from studwell.study.results import FailedSetup


class Cells(HTMLParser):
    """Text of every cell, row by row; a tag that is not closed fails."""

    def __init__(self, html):
        super().__init__()
        self.rows, self.open = [], []
        self.feed(html)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data


@pytest.fixture
def every(result, backoff, odds):
    return {"comparison": result, "setup": result["bottomed, plain"], "review": backoff, "odds": odds}


def test_a_comparison_shows_its_setups_ranked_with_a_word_for_each_verdict(result):
    rows = Cells(result._repr_html_()).rows
    assert [row[1] for row in rows[1:]] == [view.name for view in result.setups]
    words = {True: "safe", False: "fails", None: "unknown"}
    assert [row[2] for row in rows[1:]] == [words[view.safe] for view in result.setups]
    clamp = rows[0].index("clamp least, kN")
    assert float(rows[1][clamp]) == pytest.approx(result.setups[0].clamp_min.to("kN").magnitude, rel=5e-3)


def test_a_setup_shows_its_governing_margin_first_and_why_others_are_unknown(result):
    view = result["bottomed, plain"]
    rows = Cells(view._repr_html_()).rows
    assert rows[1][0] == view.governing
    unknown = {row[0]: row[2] for row in rows[1:] if row[3] == "unknown"}
    assert unknown and all(unknown.values())


def test_every_result_tells_itself_in_short_and_in_html_that_is_closed(every):
    for name, shown in every.items():
        assert Cells(shown._repr_html_()).rows, name
        assert repr(shown).startswith(f"<{type(shown).__name__} ") and len(repr(shown)) < 1500, name


def test_text_takes_the_colour_of_the_page_and_only_marks_have_their_own(every):
    for shown in every.values():
        for style in re.findall(r'style="([^"]*)"', shown._repr_html_()):
            own = re.findall(r"(?:^|;)(?:color|background):([^;]*)", style)
            assert set(own) <= {"inherit", "transparent"}, style


def test_names_are_escaped(result):
    record = result["bottomed, plain"].record
    odd = replace(record, setup=replace(record.setup, name='<b onclick="x">&'))
    lost = FailedSetup(record.setup, "<script>no</script>", "not-converged")
    html = api.ComparisonResult(replace(result.record, results=(odd,), failed=(lost,)))._repr_html_()
    assert "<b" not in html and "<script" not in html and "&lt;b onclick=&quot;x&quot;&gt;&amp;" in html
    assert ["-", lost.name, "not solved", lost.reason] == Cells(html).rows[2][:4]


def test_a_terminal_shows_rank_verdict_and_governing_margin(result):
    lines = repr(result).splitlines()
    assert len(lines) == 1 + len(result.setups)
    assert lines[1].strip().startswith(f"1. <SetupView '{result.setups[0].name}': ")
    assert "fails, false seat unbounded" in repr(result["backed off, domed nut"])


def test_outcomes_are_offered_for_completion(result):
    assert {"clamp_max", "tip_force_max", "plot_section", "why"} <= set(dir(result["bottomed, plain"]))
