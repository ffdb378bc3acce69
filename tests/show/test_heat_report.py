"""The report of solved heat: its tables, its inputs, and that given temperatures get none of it."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from PIL import Image

from studwell.case import Inelastic
from studwell.show.heat_content import given_heat, heat_inputs, heat_tables
from studwell.show.page_content import material_rows
from studwell.show.page_inputs import different_histories, input_rows
from studwell.show.report import report_text
from studwell.show.results import FILM, write_comparison
from studwell.study.heat_numbers import retightening


class Words(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


@pytest.fixture(scope="module")
def text(solved_heat):
    return report_text(solved_heat, [], {}, "a" * 64, (), ("backed off, plain", FILM))


def test_heat_has_its_part_of_the_page_and_a_link_to_it(text):
    assert '<a href="#heat">' in text and '<section id="heat"' in text
    assert "Heat missing over heat exchanged" in text and FILM in text


def test_tables_of_heat_name_the_scope_of_their_heads_and_no_id_is_there_twice(text):
    tags = Words(text).tags
    assert all(attrs.get("scope") in ("col", "row") for tag, attrs in tags if tag == "th")
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))


def test_a_name_from_the_user_stays_text_in_the_tables_of_heat(solved_heat):
    hostile = '<script>alert("1")</script>'
    result = solved_heat.results[0]
    renamed = replace(result, setup=replace(result.setup, name=hostile))
    case = replace(solved_heat.case, setups=(renamed.setup,))
    page = report_text(replace(solved_heat, case=case, results=(renamed,)), [], {}, "a" * 64, (), (hostile, FILM))
    assert hostile not in page and "&lt;script&gt;" in page


def test_what_heat_is_solved_with_is_among_the_materials_with_its_source_and_else_left_out(solved_heat, comparison):
    rows = {(row[0], row[1]): row[2:] for row in material_rows(solved_heat)}
    value, status, source = rows["a356-t6 sand", "conductivity"]
    assert value.endswith("W/(m*K)") and status and source
    assert {name for _, name in rows} >= {"conductivity", "density", "heat capacity"}
    assert not {row[1] for row in material_rows(comparison)} & {"conductivity", "density", "heat capacity"}
    assert dict(input_rows(solved_heat))["heat: conductivity of gaskets"] == (("", "base gasket 0.35 W/(m*K)"),)


def test_given_temperatures_have_no_part_on_heat(comparison):
    assert heat_tables(comparison) == () and given_heat(comparison) == ()
    page = report_text(comparison, [], {}, "a" * 64, ())
    assert "#heat" not in page and "Heat and settling" not in page


def test_given_temperatures_have_no_inputs_on_heat(comparison):
    names = {name for name, _ in input_rows(comparison)}
    assert not names & {name for name, _ in heat_inputs("metric")}


def test_phases_and_surfaces_are_listed_and_not_the_solved_instants(solved_heat, text):
    tables = given_heat(solved_heat)
    assert different_histories(solved_heat) == []
    assert len(tables) == 2
    phases, surfaces = tables
    assert [row[0] for row in phases.rows] == ["warm-up", "full load", "shut-down soak", "cold start"]
    assert phases.heads[-3:] == ("cooling air", "hot gas side", "oil mist")
    assert phases.rows[1][1:] == ("30 min", "2 min", "1", "40 degC", "230 degC", "100 degC")
    assert ("barrel outer", "60 W/(m^2*K)", "cooling air") in surfaces.rows
    assert len(surfaces.rows) == 7
    assert "straight lines between the points" not in text and "Temperatures of" not in text


def test_films_and_temperatures_are_shown_in_the_units_of_the_case(solved_heat):
    inch = replace(solved_heat, case=replace(solved_heat.case, units="inch"))
    assert given_heat(inch)[0].rows[1][-3:] == ("104 degF", "446 degF", "212 degF")


def test_setups_with_other_phases_get_tables_of_their_own(solved_heat):
    first, *others = solved_heat.case.setups
    longer = replace(first.history.phases[0], duration=1200.0)
    changed = replace(first, history=replace(first.history, phases=(longer, *first.history.phases[1:])))
    tables = given_heat(replace(solved_heat, case=replace(solved_heat.case, setups=(changed, *others))))
    assert len(tables) == 4
    assert first.name in tables[0].caption and others[0].name in tables[2].caption


def test_settling_and_re_tightening_are_among_the_inputs(solved_heat):
    rows = dict(input_rows(solved_heat))
    assert ("backed off, settled and re-tightened", "0.003 mm") in rows["settling: embedding at each thread"]
    assert ("backed off, settled and re-tightened", "after the first heat") in rows["re-tightened"]
    assert rows["heat: conductance of closed faces and threads"] == (("", "5000 W/(m^2*K)"),)


def test_the_table_of_settling_has_the_clamp_before_and_after(solved_heat):
    table = next(table for table in heat_tables(solved_heat) if "settles" in table.caption)
    (row,) = table.rows
    again = retightening(solved_heat[row[0]])
    assert f"{again.before / 1000:.4g} kN" in row[2] and row[3] == f"{again.after / 1000:.4g} kN"
    assert row[4].count("kN") == solved_heat[row[0]].heat.cycles


def test_a_setup_that_settles_under_given_temperatures_gets_the_table_on_settling_alone(comparison, solved_heat):
    settling = solved_heat["backed off, settled and re-tightened"].setup.settling
    result = comparison["backed off, plain"]
    settled = replace(result, setup=replace(result.setup, settling=settling))
    tables = heat_tables(replace(comparison, results=(settled,)))
    assert len(tables) == 1 and tables[0].rows[0][2] == "not re-tightened"


def test_the_folder_of_solved_heat_holds_the_animation_and_its_figures(solved_heat, tmp_path):
    one = replace(solved_heat, results=solved_heat.results[:1])
    folder = write_comparison(one, tmp_path / "out", fields="none")
    assert Image.open(folder / FILM).is_animated
    names = {path.name for path in (folder / "figures").iterdir()}
    assert {"temperatures.png", "temperatures.svg", "temperature-field.png", "temperature-field.svg"} <= names
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert not re.search(r'(src|href)="(?!#|data:image/png)', page)


def test_the_folder_of_given_temperatures_holds_no_animation(comparison, tmp_path):
    one = replace(comparison, results=comparison.results[:1], failed=())
    folder = write_comparison(one, tmp_path / "out", fields="none")
    assert not (folder / FILM).exists()
    assert {path.stem for path in (folder / "figures").iterdir()} == {
        "margins",
        "section-stress",
        "history",
        "thread-shares",
        "section-mesh",
    }


def test_what_may_yield_is_listed_among_the_inputs(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    rows = dict(heat_inputs("metric"))
    assert rows["may yield"](setup) == rows["what may yield creeps"](setup) == ""
    some = replace(setup, inelastic=Inelastic(2.0, True, ("barrel", "head")))
    assert rows["may yield"](some) == "the boss within 2 mm of its corner fillet; layer barrel; layer head"
    assert rows["what may yield creeps"](some) == "yes"
    assert rows["may yield"](replace(setup, inelastic=Inelastic("boss", False))) == "the whole boss"
