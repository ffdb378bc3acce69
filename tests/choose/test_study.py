import csv
import importlib.util
import io
import json
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from studwell.case import case_from_text
from studwell.choose.candidates import UNHELD, candidates
from studwell.choose.objectives import order_keys
from studwell.choose.reasons import best_by
from studwell.choose.search import search_plan
from studwell.choose.study import _odds, _springs_and_nut, choose
from studwell.errors import BadCase, BadMesh, NotConverged
from studwell.runs import execute
from studwell.show.choice import choice_lines, choice_table, plot_choice, write_choice
from studwell.store.choice_record import choice_record, compromises_csv, setup_text
from studwell.strength.verdict import mode_names
from studwell.study.compare import solve_setup

spec = importlib.util.spec_from_file_location("choose_conftest", Path(__file__).parent / "conftest.py")
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)


def margin(choice, row, mode):
    return choice.rows.margins[row, mode_names().index(mode)]


def test_nothing_that_was_solved_ranks_before_the_recommended_setup(choice):
    keys = order_keys(choice.rows.margins)
    assert keys[choice.recommended] == min(keys)


def test_the_search_finds_no_worse_a_torque_than_a_sweep_of_every_newton_metre(choice):
    candidate, at = choice.rows.where(choice.recommended)
    swept = []
    for place in range(0, candidate.axes[0].count + 1, 20):
        result = solve_setup(candidate.setup((place, at[1])), refinement=0.4, band=False, fields=False)
        swept.append(result.verdict.worst_damage)
    here = solve_setup(candidate.setup(at), refinement=0.4, band=False, fields=False).verdict.worst_damage
    assert here <= min(swept) + 0.002
    assert here < max(swept) - 0.1


def test_the_recommended_torque_balances_two_modes(choice):
    told = next(reason for reason in choice.reasons if reason.startswith("torque"))
    candidate, (place, _) = choice.rows.where(choice.recommended)
    assert 0 < place < candidate.axes[0].count
    low, high = told.split(": at ", 1)[1].split(", at ")
    assert low.rstrip("0123456789.").split(" ", 2)[2] != high.rstrip("0123456789.").split(" ", 2)[2]


def test_the_reasons_say_what_other_washers_come_to(choice):
    told = next(reason for reason in choice.reasons if reason.startswith("washers"))
    assert "2 in series" in told and "plain:" in told


def test_every_compromise_is_beaten_by_no_solved_setup(choice):
    from studwell.choose.objectives import objectives

    steps = np.round(objectives(choice.rows.margins) / 0.001)
    ranks = np.array([rank[:8] for rank in choice.rows.ranks])  # what ranks beside the objectives
    weighed = np.concatenate([steps, np.round(ranks / 0.001)], axis=1)
    for row in choice.front:
        assert not np.any(np.all(weighed <= weighed[row], axis=1) & np.any(weighed < weighed[row], axis=1))
    assert choice.recommended in choice.front
    assert choice.shown[0] == choice.recommended and set(choice.shown[1:]) <= set(choice.front.tolist())


def test_more_torque_leaks_less_and_loads_the_stud_more(choice):
    rows = [row for row in range(len(choice.rows)) if choice.rows.candidate[row] == 1]
    rows.sort(key=lambda row: choice.rows.place[row, 0])
    assert margin(choice, rows[0], "leak") > 2.0 * margin(choice, rows[-1], "leak")
    assert margin(choice, rows[0], "stud yield") < margin(choice, rows[-1], "stud yield")


def test_the_pasted_setup_is_the_recommended_one(choice):
    pasted = case_from_text(made.own_tables() + setup_text(choice.name, choice.overrides), "pasted.toml").setups[0]
    assert pasted == choice.result.setup


def test_a_name_that_is_taken_is_numbered():
    from studwell.choose.study import free_name

    case = case_from_text(made.own_tables() + "[setup.recommended]\n")
    assert free_name(case) == "recommended 2"


def test_texts_of_a_setup_read_back_as_they_were_written():
    tables = {
        "stud": {"length": "95 mm"},
        "washer": [{"kind": "spring", "series": 2}],
        "odd key": {'q"': True, "f": 0.5},
    }
    assert tomllib.loads(setup_text('it\'s "best"', tables)) == {"setup": {'it\'s "best"': tables}}


def test_the_rows_do_not_depend_on_the_workers_and_are_taken_up(case, tmp_path, monkeypatch):
    for name, few in (("SPREAD", 2), ("DOWNHILL", 4), ("ROWS", 10)):
        monkeypatch.setattr(f"studwell.choose.search.{name}", few)
    fitting, _ = candidates(case.bounds, "metric")
    plan = search_plan(case, fitting, 0.4, {})
    alone = execute(plan, tmp_path / "one", workers=1).rows.digest()

    def stop(pace):
        raise KeyboardInterrupt

    run = execute(plan, tmp_path / "two", workers=2, progress=stop)
    assert run.stopped and not run.complete
    again = execute(plan, tmp_path / "two", workers=2, resume=True)
    assert again.taken_up == 10 and again.rows.digest() == alone


def test_another_case_or_mesh_is_another_search(case):
    fitting, _ = candidates(case.bounds, "metric")
    hashes = {
        search_plan(case, fitting, 0.4, {}).hash, search_plan(case, fitting, 0.5, {}).hash,
        search_plan(case, fitting, 0.4, {"numpy": "3"}).hash, search_plan(case, fitting[:1], 0.4, {}).hash,
    }  # fmt: skip
    assert len(hashes) == 4


def test_a_case_without_bounds_is_refused_by_what_is_missing():
    case = case_from_text(made.own_tables(), "hut.toml")
    with pytest.raises(BadCase, match=r"hut.toml: \[bounds\]: missing table"):
        choose(case, versions={})


def test_bounds_within_which_nothing_goes_together_are_refused():
    case = made.open_case('[[bounds.washer]]\nkind = "spring"\nsize = "DIN 6796 M8"\nseries = [9, 10]\n')
    with pytest.raises(BadCase, match="nothing fits"):
        choose(case, versions={})


def test_bounds_within_which_nothing_has_a_solution_say_so(monkeypatch):
    def fails(*arguments, **options):
        raise BadMesh("no mesh")

    monkeypatch.setattr("studwell.choose.search.solve_setup", fails)
    case = made.open_case('[bounds]\ntorque = ["8 N*m", "9 N*m"]\n')
    with pytest.raises(NotConverged, match="no setup within"):
        choose(case, versions={}, workers=1)


def test_the_recommended_setup_gets_odds_where_the_case_has_a_spread(choice):
    spread = case_from_text(
        made.own_tables() + '[spread]\n"tightening.torque" = { distribution = "normal", sd = "3 N*m" }\n'
    ).spread
    found, note = _odds(replace(choice.case, spread=spread), choice.result, 64)
    assert found is not None and found.tally.samples == 64
    assert 0.0 <= found.any_damage.low <= found.any_damage.value <= found.any_damage.high <= 1.0
    told = choice_record(replace(choice, odds=found, odds_note=note))
    assert told["odds"]["samples"] == 64 and "leak" in told["odds"]["modes"] and told["seed"] == 1
    assert any("[spread]" in line for line in choice_lines(replace(choice, odds=found, odds_note=note)))


def test_the_summary_holds_the_recommended_setup_and_what_it_was_chosen_from(choice):
    record = choice_record(choice)
    assert json.loads(json.dumps(record, allow_nan=False)) == record
    assert record["setups"][0]["name"] == record["recommended"]["setup"] == "recommended"
    assert record["searched"]["solved"] == len(choice.rows) and record["searched"]["combinations"] == 2
    assert len(record["searched"]["combinations_that_do_not_fit"]) == 1
    assert record["compromises"][0]["torque"] == record["recommended"]["torque"]
    assert record["odds"] is None and "no [spread]" in record["unknown"]["odds"]
    assert 0.0 <= record["recommended"]["search_error"] < 0.2


def test_the_csv_has_a_line_a_solved_setup_and_marks_one(choice):
    lines = list(csv.DictReader(io.StringIO(compromises_csv(choice))))
    assert len(lines) == len(choice.rows)
    assert sum(line["recommended"] == "1" for line in lines) == 1
    assert sum(line["not_beaten"] == "1" for line in lines) == len(choice.front)
    plain = [line for line in lines if line["washers"] == "plain"]
    assert plain and all(line["washer flat"] == "" for line in plain)


def test_the_table_marks_the_recommended_setup_and_the_lines_hold_its_text(choice):
    table = choice_table(choice)
    assert next(iter(table.columns[0].cells)) == "*" and table.row_count == len(choice.shown)
    lines = "\n".join(choice_lines(choice))
    assert "[setup.recommended]" in lines and "do not go together" in lines


def test_the_figure_shows_every_solved_setup_inside_its_frame_and_rings_one(choice):
    ax = plot_choice(choice)
    drawn = [line for line in ax.lines if line.get_linestyle() == "None"]
    points = sum(len(line.get_xdata()) for line in drawn)
    assert points == len(choice.rows) + 1
    ring = next(line for line in drawn if line.get_label() == "recommended")
    assert ring.get_xdata()[0] == margin(choice, choice.recommended, "leak")
    assert "leak" in ax.get_xlabel()


def test_the_figure_has_a_title_explains_its_marks_and_ends_where_its_points_do(choice):
    ax = plot_choice(choice)
    assert ax.get_title(loc="left") or ax.get_title()
    labels = " ".join(text.get_text().replace("\n", " ") for text in ax.get_legend().get_texts())
    marks = [line for line in ax.lines if line.get_linestyle() == "None" and len(line.get_xdata())]
    kinds = set()
    for mark in marks:
        if mark.get_label() != "recommended" and (mark.get_xdata() <= 1.6).all() and (mark.get_ydata() <= 1.6).all():
            large, hollow = mark.get_markersize() > 3.0, mark.get_markerfacecolor() == "none"
            kinds.add("small" if not large else "open" if hollow else "filled")
    assert kinds and {word for word in ("small", "open", "filled") if f"{word}: " in labels} == kinds
    shown = np.concatenate([line.get_xdata() for line in marks])
    shown = shown[shown <= 1.6]
    low, high = ax.get_xlim()
    assert low <= shown.min() and shown.max() <= high <= max(1.0, shown.max()) + 0.1
    assert shown.min() - low < 0.11 or low == 0.0


def test_every_setting_that_the_search_could_try_is_accounted_for(choice):
    rows = choice.rows
    (told,) = [line for line in choice_lines(choice) if "settings that the search could try" in line]
    of, solved, misfits, unsolved, left = (int(word) for word in re.findall(r"\d+", told))
    assert of == 24 * len(rows.candidates) and solved == len(rows)
    assert of == solved + misfits + unsolved + left and left > 0


def test_its_folder_holds_whole_files(choice, tmp_path):
    write_choice(choice, tmp_path / "out")
    names = {path.name for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert names == {
        "summary.json", "compromises.csv", "recommended.toml", "run.json", "compromises.png", "compromises.svg",
    }  # fmt: skip


def inside(choice, row, millimetres):
    """The choice's rows, in which the stud of one row's candidate ends inside its nut."""
    number = int(choice.rows.candidate[row])
    short = replace(choice.rows.candidates[number])
    short.__dict__["_beyond"] = (-millimetres, -millimetres)
    listed = tuple(short if i == number else each for i, each in enumerate(choice.rows.candidates))
    return replace(choice.rows, candidates=listed)


def test_a_stud_that_ends_inside_its_nut_ranks_behind_one_that_fills_it_and_is_warned_of(choice):
    rows = inside(choice, choice.recommended, 1.25).with_more(
        choice.rows
    )  # every setup twice, once with a nut that is full
    order = sorted(range(len(rows)), key=lambda row: rows.keys[row])
    same = [row for row in order if rows.keys[row][:4] == rows.keys[order[0]][:4]]
    empty = [rows.beyond_nut(row) < 0.0 for row in same]
    assert any(empty) and empty == sorted(empty)
    assert rows.margins[order[0]] == pytest.approx(choice.rows.margins[choice.recommended], nan_ok=True)
    (warning,) = [text for text in _springs_and_nut(rows, choice.recommended) if text.startswith("warning")]
    assert "ends 1.2 mm (1 pitch) inside the nut" in warning and "longer stud" in warning
    assert "whose stud fills its nut" in best_by(rows, order[0])
    assert not any("warning" in reason for reason in choice.reasons)


def test_a_failing_or_less_known_setup_gains_nothing_by_filling_its_nut(choice):
    rows = inside(choice, choice.recommended, 1.0)
    for row, key in enumerate(rows.keys):
        if key[:4] > choice.rows.keys[choice.recommended][:4]:
            assert key > rows.keys[choice.recommended], row


def test_how_the_springs_lie_is_among_the_reasons(choice):
    assert choice.result.setup.springs[0].orientation == "crown down"
    assert sum("crown down" in reason for reason in choice.reasons) == 1
    assert 'orientation = "crown down"' in setup_text(choice.name, choice.overrides)


def test_combinations_whose_springs_are_not_held_are_counted_apart(choice):
    loose = replace(choice, refused={**choice.refused, "three": f"{UNHELD}: the rim hangs over"})
    lines = "\n".join(choice_lines(loose))
    assert "1 combinations do not go together" in lines
    assert (
        "1 combinations were left out, such as three: an edge of its springs is not held: the rim hangs over" in lines
    )
    assert "were left out" not in "\n".join(choice_lines(choice))


def test_meshes_are_compared_only_where_they_differ(choice):
    assert choice.refinement == choice.search_refinement
    assert not any("coarse mesh" in line for line in choice_lines(choice))
    finer = replace(choice, refinement=1.0)
    assert any("by less than 0.01" in line for line in choice_lines(replace(finer, search_error=0.002)))
    assert any("by at most 0.03" in line for line in choice_lines(replace(finer, search_error=0.031)))
