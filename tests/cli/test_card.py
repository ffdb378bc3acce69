"""The command `studwell card`: what it prints, leaves and returns."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from studwell import api
from studwell.card import pdf
from studwell.cli import app
from studwell.errors import Unknown

CASES = Path(__file__).parents[2] / "cases"


def run(tmp_path, *options, case="m6-cover.toml"):
    arguments = ["card", str(CASES / case), "--out", str(tmp_path / "out"), "--refinement", "0.5", *options]
    return CliRunner().invoke(app, arguments)


def test_it_prints_the_card_and_leaves_page_pdf_and_summary(tmp_path):
    result = run(tmp_path, "--setup", "a quarter turn back")
    assert result.exit_code == 0, result.output
    assert "NOT PROVEN SAFE" in result.output and "0.25 turn = 90° = 0.25 mm" in result.output
    assert "Order: follow 1, 2, 3, 4, 5, 6 in the picture" in result.output and "1-4-2" not in result.output
    assert "† common practice, no source" in result.output
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {"card.html", "card.pdf", "summary.json", "run.json"}
    record = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert record["setup"] == "a quarter turn back" and record["verdict"] == "unknown"
    assert (tmp_path / "out" / "card.pdf").read_bytes().startswith(b"%PDF-")


def test_the_api_makes_the_same_card(tmp_path):
    assert run(tmp_path, "--setup", "bottomed").exit_code == 0
    made = api.card(CASES / "m6-cover.toml", "bottomed", refinement=0.5)
    assert made.html == (tmp_path / "out" / "card.html").read_text()
    assert made.pdf == (tmp_path / "out" / "card.pdf").read_bytes()
    assert made.summary() == json.loads((tmp_path / "out" / "summary.json").read_text())
    assert made.record.line("clamp_max_N").value == made.solution.value("clamp_max")
    solved = api.solve(CASES / "m6-cover.toml", "bottomed", refinement=0.5)["bottomed"]
    assert made.record.line("clamp_max_N").value == pytest.approx(solved.clamp_max.to("N").magnitude, rel=1e-9)
    assert made.record.headline.governing == solved.governing


def test_the_paper_is_that_which_is_asked_for_and_another_is_bad_input(tmp_path):
    result = run(tmp_path, "--setup", "bottomed", "--paper", "letter")
    assert result.exit_code == 0 and "for US Letter" in result.output
    assert json.loads((tmp_path / "out" / "summary.json").read_text())["paper"] == "letter"
    assert "size: letter" in (tmp_path / "out" / "card.html").read_text()
    result = run(tmp_path, "--setup", "bottomed", "--paper", "A5")
    assert result.exit_code == 2 and "--paper A5: no such paper; it is a4 or letter" in result.output
    assert "solved" not in result.output


def test_an_unknown_setup_is_bad_input_and_the_nearest_is_named(tmp_path):
    result = run(tmp_path, "--setup", "a quarter turn bak")
    assert result.exit_code == 2 and "did you mean a quarter turn back?" in result.output
    assert not (tmp_path / "out").exists()


def test_a_card_needs_its_setup(tmp_path):
    result = run(tmp_path)
    assert result.exit_code == 2 and "--setup" in result.output


def test_a_setup_without_solution_gets_no_card_and_ends_with_3(tmp_path, monkeypatch):
    def none(*arguments, **options):
        raise Unknown("the stud breaks on tightening")

    monkeypatch.setattr(api, "card", none)
    result = run(tmp_path, "--setup", "bottomed")
    assert result.exit_code == 3 and "the stud breaks on tightening" in result.output and "no card" in result.output
    assert not (tmp_path / "out" / "card.html").exists()


def test_without_typst_the_page_is_there_and_the_message_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf, "find_spec", lambda name: None)
    result = run(tmp_path, "--setup", "bottomed")
    assert result.exit_code == 0 and "pip install 'studwell[card]'" in result.output
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"card.html", "summary.json", "run.json"}


def test_the_summary_goes_elsewhere_if_asked(tmp_path):
    place = tmp_path / "here.json"
    assert run(tmp_path, "--setup", "bottomed", "--json", str(place)).exit_code == 0
    assert json.loads(place.read_text())["schema"] == 1 and not (tmp_path / "out" / "summary.json").exists()
    result = run(tmp_path, "--setup", "bottomed", "--json", str(tmp_path / "no" / "here.json"))
    assert result.exit_code == 2 and "there is no folder" in result.output


def test_a_place_that_cannot_be_written_is_told_before_anything_is_solved(tmp_path):
    (tmp_path / "out").write_text("a file")
    result = run(tmp_path, "--setup", "bottomed")
    assert result.exit_code == 2 and "is a file" in result.output and "solved" not in result.output
