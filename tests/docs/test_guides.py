"""The guides' examples run as printed and print what stands under them; the tool that runs them sees what differs."""

import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDES = sorted((ROOT / "docs").glob("guide-*.md"))
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]

GUIDE = """Text.

<!-- run: keep="^kept" rows table="^│ wide" exit=3 columns=77 -->
```sh
echo kept 1.50 kN
echo dropped
exit 3
```
```text
kept 1.51 kN
...
```
<!-- end -->

It says 2.0<!--= results/a : first, setup : margins : leak--> and 12<!--= results/a : first, setup : clamp_N : k -->.
"""


@pytest.mark.parametrize("path", GUIDES, ids=lambda p: p.stem)
def test_the_quick_examples_of_a_guide_print_what_stands_under_them(guides, path):
    assert not guides.run_guide(path.read_text(), slow=False).complaints


@pytest.mark.slow
@pytest.mark.parametrize("path", GUIDES, ids=lambda p: p.stem)
def test_all_examples_of_a_guide_print_what_stands_under_them_and_its_numbers_are_those_of_its_runs(guides, path):
    report = guides.run_guide(path.read_text())
    assert not report.complaints
    assert all(output is not None for output in report.outputs) and all(n is not None for n in report.numbers)


def test_there_is_a_guide_for_each_of_the_three_readers_with_examples_that_print_something(guides):
    assert [path.stem for path in GUIDES] == ["guide-builder", "guide-engineer", "guide-reviewer"]
    for path in GUIDES:
        examples = guides.examples_of(path.read_text())
        assert len([each for each in examples if each.output and len(each.output) > 200]) >= 3, path
        assert path.read_text().count("<!-- run:") == len(examples), f"{path}: an example that the tool cannot read"


def test_an_example_is_read_with_its_options_and_its_numbers_with_their_places(guides):
    (example,) = guides.examples_of(GUIDE)
    assert example.keep == ("^kept",) and example.tables == ("^│ wide",) and example.rows and not example.slow
    assert (example.status, example.columns) == (3, 77)
    leak, clamp = guides.ties_of(GUIDE)
    assert leak.keys == ("first, setup", "margins", "leak") and clamp.keys[-1] == "k"


def test_an_example_runs_in_the_shell_and_keeps_the_lines_asked_for(guides, tmp_path):
    (example,) = guides.examples_of(GUIDE)
    printed, complaint = guides.run_example(example, tmp_path)
    assert complaint == ""
    assert guides.kept(printed, example) == "kept 1.50 kN\n...\n"
    wrong = guides.examples_of(GUIDE.replace("exit=3", "exit=0"))[0]
    assert "exit status 3, not 0" in guides.run_example(wrong, tmp_path)[1]


def test_a_changed_word_is_a_difference_and_so_is_a_number_off_by_more_than_its_last_figure(guides):
    assert guides.differences("clamp 1.50 kN", "clamp  1.51 kN") == []
    assert guides.differences("clamp 1.50 kN", "clamp 1.52 kN") == ["1.50 stands, 1.52 found"]
    assert guides.differences("clamp 180 MPa", "clamp 184 MPa") == []
    assert guides.differences("clamp 180 MPa", "clamp 194 MPa")
    assert "words differ" in guides.differences("clamp 1.5 kN", "tension 1.5 kN")[0]
    assert "words differ" in guides.differences("clamp 1.5 kN", "clamp 1.5 kN more")[0]


def test_a_number_of_the_text_is_looked_up_in_the_summary_that_a_run_left(guides, tmp_path):
    leak, clamp = guides.ties_of(GUIDE)
    assert guides.looked_up(leak, tmp_path) is None
    (tmp_path / "results" / "a").mkdir(parents=True)
    record = {"setups": [{"name": "first, setup", "margins": {"leak": 2.04}, "clamp_N": 11_600.0}]}
    (tmp_path / "results" / "a" / "summary.json").write_text(json.dumps(record))
    assert guides.looked_up(leak, tmp_path) == 2.04 and guides.looked_up(clamp, tmp_path) == 11.6
    assert not guides.figures_differ("2.0", 2.04) and guides.figures_differ("2.0", 2.06)


def test_rewriting_puts_in_what_was_printed_and_touches_nothing_else(guides):
    report = guides.Report(outputs=["kept 1.50 kN\n...\n"], numbers=[2.06, None])
    changed = guides.rewritten(GUIDE, report)
    assert changed == GUIDE.replace("kept 1.51 kN", "kept 1.50 kN").replace("says 2.0<", "says 2.1<")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_link_and_picture_of_a_page_leads_somewhere(page):
    text = page.read_text()
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if target.startswith("http"):
            continue
        name, _, anchor = target.partition("#")
        place = (page.parent / name).resolve() if name else page
        assert place.exists(), target
        if anchor:
            heads = re.findall(r"^#+ (.+)$", place.read_text(), flags=re.MULTILINE)
            slugs = {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}
            assert anchor in slugs, target


def test_every_picture_of_the_docs_is_shown_somewhere_and_small():
    shown = {Path(target).name for page in PAGES for target in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", page.read_text())}
    pictures = sorted((ROOT / "docs").glob("*.png"))
    assert len(pictures) >= 5
    for picture in pictures:
        assert picture.name in shown, picture
        assert picture.stat().st_size < 150_000, picture
