"""The errors themselves: every slug is explained, and lines say what they should."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from studwell import errors

MESSAGES = (Path(__file__).parents[2] / "docs" / "messages.md").read_text(encoding="utf-8")
SOURCES = Path(errors.__file__).parent


def test_every_slug_has_exactly_one_heading_in_messages_and_no_heading_is_stray():
    assert re.findall(r"^## (.+)$", MESSAGES, re.MULTILINE) == sorted(errors.SLUGS)


@pytest.mark.parametrize("slug", sorted(errors.SLUGS))
def test_every_slug_is_explained_by_a_paragraph(slug):
    paragraph = MESSAGES.partition(f"## {slug}\n")[2].partition("\n## ")[0]
    assert len(paragraph.split()) >= 12


def test_every_slug_is_raised_somewhere_in_the_package():
    text = "\n".join(path.read_text(encoding="utf-8") for path in SOURCES.rglob("*.py") if path.name != "errors.py")
    defaults = {
        kind.slug for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, errors.StudwellError)
    }
    assert {slug for slug in errors.SLUGS if f'"{slug}"' not in text} <= defaults


def test_a_slug_that_is_not_explained_cannot_be_used():
    with pytest.raises(ValueError, match="made-up"):
        errors.StudwellError("anything", slug="made-up")


def test_a_bad_case_names_file_key_value_and_what_is_allowed():
    error = errors.BadCase("pump.toml", "[stud] length", "95", "a length", "bad-quantity", "no unit")
    assert error.line == 'pump.toml: [stud] length = "95": no unit; allowed: a length'
    assert str(error).splitlines()[-1].endswith("bad-quantity")


def test_a_long_value_is_cut_in_the_message():
    assert len(errors.shown("x" * 500)) == 60


def test_each_error_carries_the_slug_of_its_kind():
    assert errors.BadMesh("edge").slug == "bad-mesh"
    assert errors.OutOfBody("point").slug == "out-of-body"
    assert errors.Unknown("thread root").reason == "thread root"
    assert errors.NotConverged({"stage": "heat"}).record == {"stage": "heat"}
    assert all(isinstance(error, errors.StudwellError) for error in (errors.BadMesh("a"), errors.Unknown("b")))
