"""The shipped data: every entry says where it comes from, and nothing can change it."""

from importlib.resources import files

import pytest

from studwell.data import STATUSES, TABLES, assumption, source_of, table


def entries_with_a_value(node, path=()):
    if "value" in node or "values" in node:
        yield path, node
    else:
        for key, inner in node.items():
            if hasattr(inner, "items"):
                yield from entries_with_a_value(inner, (*path, key))


@pytest.mark.parametrize("name", ["materials", "assumptions", "fluids"])
def test_every_value_has_unit_source_and_status(name):
    found = list(entries_with_a_value(table(name)))
    assert len(found) > 5
    for path, entry in found:
        source, status = source_of(entry)
        assert entry["unit"] and len(source) > 5 and status in STATUSES, path
        assert set(entry) <= {"value", "values", "temperatures", "unit", "source", "status"}, path


def test_every_strength_of_a_threadlocker_has_unit_source_and_status():
    found = list(entries_with_a_value(table("threadlockers")))
    assert len(found) == len(table("threadlockers")) == 3
    for path, entry in found:
        assert entry["unit"] == "MPa" and source_of(entry)[1] == "from memory", path


@pytest.mark.parametrize("name", ["threads", "property_classes", "nuts", "plain_washers", "springs", "drills", "taps"])
def test_every_row_of_a_standard_has_unit_source_and_status(name):
    for owner in table(name).values():
        assert owner["unit"]
        source_of(owner)
        for row in owner.get("rows", {}).values():
            source, status = source_of(row if hasattr(row, "get") else {}, owner)
            assert source and status in STATUSES


def test_no_value_claims_to_be_confirmed_while_its_source_says_from_memory():
    for name in ("materials", "assumptions", "fluids"):
        for path, entry in entries_with_a_value(table(name)):
            assert not ("from memory" in entry["source"] and entry["status"] == "confirmed"), path


def test_the_list_of_tables_is_the_list_of_files():
    shipped = {
        path.name.removesuffix(".toml") for path in files("studwell.data").iterdir() if path.name.endswith(".toml")
    }
    assert shipped == set(TABLES)


def test_a_table_cannot_be_written_to():
    with pytest.raises(TypeError):
        table("nuts")["hex"]["rows"]["M8"]["height"] = 1.0
    with pytest.raises(TypeError):
        table("nuts")["square"] = {}


def test_an_unknown_table_or_assumption_is_refused_with_the_known_ones():
    with pytest.raises(ValueError, match=r"bolts.*materials"):
        table("bolts")
    with pytest.raises(ValueError, match=r"shear_ratio.*shear_strength_ratio"):
        assumption("shear_ratio")


def test_an_entry_without_source_is_refused():
    with pytest.raises(ValueError, match="source"):
        source_of({"value": 1.0, "status": "confirmed"})
    with pytest.raises(ValueError, match="status"):
        source_of({"source": "a book", "status": "sure"})


def test_a_row_without_its_own_status_takes_its_tables():
    assert source_of({}, {"source": "a table", "status": "confirmed"}) == ("a table", "confirmed")
    assert source_of({"status": "from memory"}, {"source": "t", "status": "confirmed"}) == ("t", "from memory")
