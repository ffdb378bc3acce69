"""The reference of all keys: it is what the models say, and leaves out none of their tables and keys."""

from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from studwell.case.bounds_model import BoundsTable
from studwell.case.key_reference import TABLES, key_reference
from studwell.case.key_words import KEY_WORDS, TABLE_NOTES
from studwell.case.model import CaseTable, SetupTables, table_keys

DOCS = Path(__file__).parents[2] / "docs"


def tables_in(annotation):
    """All models that an annotation names, and those that their keys name."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        for info in annotation.model_fields.values():
            yield from tables_in(info.annotation)
    for inner in get_args(annotation):
        yield from tables_in(inner)


def test_the_page_on_disk_is_what_the_models_give():
    assert (DOCS / "keys.md").read_text(encoding="utf-8") == key_reference()


def test_every_table_that_a_case_may_hold_has_its_place():
    known = {table for start in (CaseTable, SetupTables, BoundsTable) for table in tables_in(start)} - {SetupTables}
    assert known == set(TABLES.values())


@pytest.mark.parametrize("name", TABLES)
def test_words_are_given_for_the_keys_of_a_table_and_for_no_others(name):
    keys = ["NODE" if key == "nodes" else key for key in table_keys(TABLES[name])]
    assert list(KEY_WORDS[name]) == keys
    assert all(KEY_WORDS[name].values())


def test_notes_stand_under_tables_that_exist():
    assert set(TABLE_NOTES) <= set(TABLES) and set(KEY_WORDS) == set(TABLES)


def test_a_row_tells_kind_default_and_meaning():
    lines = key_reference().splitlines()
    assert '| `thread_model` | `"layer"`, `"bonded"`, `"grooves"` | `"layer"` |' in "\n".join(lines)
    hole = next(line for line in lines if line.startswith("| `hole_depth`"))
    assert "length such as" in hole and "| needed |" in hole and "mouth face" in hole
