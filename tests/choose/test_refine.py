import importlib.util
from pathlib import Path

import numpy as np
import pytest

from studwell.case import case_from_text
from studwell.choose.candidates import candidates
from studwell.choose.refine import lengths_between, own_heat, refine_protrusion
from studwell.choose.search import gathered, row_of, search_plan
from studwell.choose.study import choose
from studwell.runs import execute
from studwell.study.compare import solve_setup

spec = importlib.util.spec_from_file_location("choose_conftest", Path(__file__).parent / "conftest.py")
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture
def few(monkeypatch):
    for name, count in (("SPREAD", 2), ("DOWNHILL", 2), ("ROWS", 8)):
        monkeypatch.setattr(f"studwell.choose.search.{name}", count)


def test_lengths_lie_half_way_from_the_best_to_its_neighbours():
    assert lengths_between([2.0, 5.0, 8.0], 5.0) == (3.5, 6.5)
    assert lengths_between([2.0, 5.0, 8.0], 2.0) == (3.5,)
    assert lengths_between([5.0], 5.0) == ()


def test_the_protrusion_is_halved_twice_round_the_best_and_nothing_gets_worse(few, tmp_path):
    case = made.open_case('[bounds]\nnut = ["domed"]\nprotrusion = ["2 mm", "8 mm"]\ntorque = ["10 N*m", "11 N*m"]\n')
    fitting, _ = candidates(case.bounds, "metric")
    plan = search_plan(case, fitting, 0.3, {})
    rows = gathered(plan, execute(plan, tmp_path / "search.rows", workers=1).rows.chunks())
    found = refine_protrusion(
        case, rows, 0.3, {}, lambda p, where: execute(p, where, workers=1), tmp_path / "search.rows"
    )
    assert found.lengths == pytest.approx((3.5, 2.75))  # 5 and 8 mm would close the dome
    assert min(found.rows.keys)[:6] <= min(rows.keys)[:6] and len(found.rows) > len(rows)
    assert (tmp_path / "search-protrusion-1.rows").exists()
    for row in (0, len(found.rows) - 1):  # rows still belong to their candidates
        candidate, at = found.rows.where(row)
        alone = row_of(solve_setup(candidate.setup(at), refinement=0.3, band=False, fields=False), at)
        modes = found.rows.margins.shape[1]
        assert np.allclose(alone[3 : 3 + modes], found.rows.margins[row], atol=2e-3, equal_nan=True)


def test_given_temperatures_leave_no_heat_to_solve_again(choice):
    found = own_heat(choice.rows, lambda rows: [0, 1], 0.4)
    assert found.rows is choice.rows and found.resolved == ()


@pytest.mark.slow
def test_what_is_shown_has_the_heat_of_its_own_setting(few):
    text = (CASES / "hut-pump-cycle.toml").read_text()
    text += (
        '\n[bounds]\nsetup = "backed off, plain"\ntorque = ["10 N*m", "12 N*m"]\nback_off = ["0.02 turn", "0.5 turn"]\n'
    )
    found = choose(
        case_from_text(text, "cycle.toml"),
        versions={},
        refinement=0.3,
        search_refinement=0.3,
        workers=1,
        odds_samples=0,
    )
    assert set(found.shown) <= set(found.own_heat) and found.recommended in found.own_heat
    assert any("their own" in reason for reason in found.reasons)
    for row in found.shown:
        candidate, at = found.rows.where(row)
        alone = row_of(solve_setup(candidate.setup(at), refinement=0.3, band=False, fields=False), at)
        assert np.allclose(
            alone[3 : 3 + found.rows.margins.shape[1]], found.rows.margins[row], rtol=1e-6, equal_nan=True
        )
