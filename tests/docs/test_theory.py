"""The theory page against the code: names that exist, every module of parts, every margin with its kind, every source."""

import ast
import importlib
import pkgutil
import re
from functools import cache
from pathlib import Path

import pytest

import studwell.parts
from studwell.strength.verdict import mode_names

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "theory.md").read_text()
BODY, SOURCES = PAGE.split("\n## Sources\n")
ROOMS = (
    "parts",
    "mesh",
    "fem",
    "section",
    "joint",
    "history",
    "crack",
    "strength",
    "study",
    "odds",
    "review",
    "choose",
)
NAMED = sorted(set(re.findall(rf"`((?:{'|'.join(ROOMS)})(?:\.\w+)+)`", PAGE)))
STANDARD = re.compile(
    r"\b(ISO \d+(?:-\d+)?|DIN \d+(?:-\d+)?|EN \d{4,5}|VDI \d+|ASME B[\d.]+\d|ASTM E\d+|FED-STD-H\d+|IAPWS R\d+)"
)
AUTHORS = re.compile(r"((?:[A-Z][\w']+(?:, | & | and )?)+) ((?:18|19|20)\d\d)\b")
NO_AUTHORS = {"ISO", "DIN", "EN", "Quarterly of Applied Mathematics", "International Journal of Fatigue"}


@cache
def docstrings(room):
    """(module, docstring) of everything in a room."""
    return tuple(_docstrings(room))


def _docstrings(room):
    for path in sorted((ROOT / "src" / "studwell" / room).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
                yield path.stem, " ".join((ast.get_docstring(node) or "").split())


def cited(room):
    """What the docstrings of a room name as their sources: standards, and authors with a year."""
    found = {}
    for module, text in docstrings(room):
        for source in re.findall(r"Source: (.*)", text):
            for standard in STANDARD.findall(source):
                found[standard] = module
            for authors, year in AUTHORS.findall(source):
                if authors not in NO_AUTHORS:
                    found[f"{authors} {year}"] = module
    return found


@pytest.mark.parametrize("name", NAMED)
def test_a_name_on_the_theory_page_is_in_the_code(name):
    parts = name.split(".")
    for cut in range(len(parts), 0, -1):
        try:
            at = importlib.import_module(".".join(["studwell", *parts[:cut]]))
        except ModuleNotFoundError:
            continue
        for part in parts[cut:]:
            at = getattr(at, part)
        return
    raise AssertionError(f"no module behind {name}")


def test_every_module_of_closed_forms_is_on_the_theory_page():
    modules = {module.name for module in pkgutil.iter_modules(studwell.parts.__path__)}
    named = {name.split(".")[1] for name in NAMED if name.startswith("parts.")}
    assert named == modules


def test_every_margin_has_a_row_with_its_kind_and_no_other_has(comparison):
    rows = re.findall(r"^\| ([a-z ()]+?) \| (damage|function) \|", BODY, flags=re.MULTILINE)
    known = {name: margin.kind for name, margin in comparison.results[0].verdict.margins.items()}
    assert tuple(known) == mode_names()
    assert dict(rows) == known and len(rows) == len(known)


@pytest.mark.parametrize("room", ROOMS)
def test_every_source_that_docstrings_name_is_in_the_list_of_sources(room):
    listed = SOURCES.replace("\n", " ")
    missing = {source: module for source, module in cited(room).items() if source not in listed}
    if room == "parts":
        assert len(cited(room)) > 40  # the search itself finds something
    assert not missing


def test_every_source_in_the_list_is_used_on_the_page_or_in_a_docstring():
    used = BODY + " ".join(text for room in ROOMS for _, text in docstrings(room))
    for entry in re.findall(r"^- (.+?):", SOURCES, flags=re.MULTILINE):
        first = re.split(r",| & | and | et al| \d", entry)[0]
        assert first in used, entry


def test_every_table_row_of_the_theory_page_has_as_many_cells_as_its_head():
    width = 0
    for line in PAGE.splitlines():
        if line.startswith("| ---"):
            width = line.count("|")
        elif line.startswith("|") and width:
            assert line.count("|") == width, line
        elif not line.startswith("|"):
            width = 0


def test_formulas_hold_no_escape_that_the_reader_of_markdown_eats_before_the_formula_is_set():
    formulas = re.findall(r"\$[^$\n]+\$", PAGE)
    assert len(formulas) > 150
    for formula in formulas:
        assert not re.search(r"\\[^A-Za-z]", formula), formula
        assert formula.count("{") == formula.count("}"), formula
        assert formula.count(r"\left") == formula.count(r"\right"), formula
