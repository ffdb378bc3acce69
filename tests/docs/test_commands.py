"""The pages against the command line: every command and exit status is told, and no command that is not there."""

import re
from pathlib import Path

import pytest
from typer.main import get_command

from studwell.cli import app

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
INDEX = (ROOT / "docs" / "README.md").read_text()
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
COMMANDS = get_command(app).commands


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_its_line_in_the_index_of_the_docs(name):
    assert re.search(rf"^\| `studwell {name}\b", INDEX, flags=re.MULTILINE)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_a_page_names_no_command_and_no_option_that_is_not_there(page):
    for line in re.findall(r"(?:^    |`|^)studwell ([a-z]+)([^`\n]*)", page.read_text(), flags=re.MULTILINE):
        name, rest = line
        assert name in COMMANDS, f"studwell {name}"
        known = {option for parameter in COMMANDS[name].params for option in parameter.opts}
        for option in re.findall(r"(?<![\w-])(--[a-z-]+)", rest.split("#")[0]):
            assert option in known | {"--help"}, f"studwell {name} {option}"


def test_every_page_of_the_docs_is_in_their_index():
    for page in PAGES[1:]:
        assert page.name == "README.md" or f"]({page.name})" in INDEX, page.name


def test_the_index_tells_every_exit_status_that_help_tells():
    told = dict(re.findall(r"^\| (\d+) \| ([^|]+) \|", INDEX, flags=re.MULTILINE))
    epilog = app.info.epilog
    listed = re.findall(r"(\d+) ([^;.]+)[;.]", epilog.split("Exit status:")[1])
    assert {number for number, _ in listed} == set(told) and len(listed) == 5


def test_the_readme_keeps_its_order():
    marks = [
        "# Studwell",
        "pip install -e",
        "![Section",
        "## Cautions first",
        "## Three ways in",
        "## What it models",
        "## Limits",
    ]
    places = [README.index(mark) for mark in marks]
    assert places == sorted(places)
    assert len(README.splitlines()) <= 180
    for guide in ("guide-engineer.md", "guide-builder.md", "guide-reviewer.md", "docs/README.md", "docs/theory.md"):
        assert guide in README
