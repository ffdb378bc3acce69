"""The repaired hole end to end: what its insert gains, what the page draws, heat that passes through it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from studwell.case import case_from_text
from studwell.errors import BadCase
from studwell.mesh.files import write_mesh
from studwell.parts.thread import minor_diameter
from studwell.section.boss import boss_mesh
from studwell.section.layout import lay_out
from studwell.show.mesh_drawing import plot_mesh
from studwell.study.compare import compare, solve_setup
from studwell.study.findings import findings

CASES = Path(__file__).parents[2] / "cases"
REPAIRED = "repaired hole, backed off, three conical springs"
PLAIN = "backed off, three conical springs"


@pytest.fixture(scope="module")
def repaired(comparison):
    return comparison[REPAIRED]


def told(comparison, kind="insert"):
    return [item.text for item in findings(comparison) if item.kind == kind]


def test_the_repaired_hole_holds_more_than_the_plain_one_at_the_same_clamp(comparison, repaired):
    plain = comparison[PLAIN]
    assert repaired.value("insert_load_max") == approx(repaired.value("thread_load_max"), rel=1e-9)
    assert repaired.value("clamp_assembled") == approx(plain.value("clamp_assembled"), rel=1e-3)
    ours, theirs = repaired.verdict.margins["insert thread strip"], plain.verdict.margins["boss thread strip"]
    assert 0.6 < ours.value / theirs.value < 0.9
    assert not plain.verdict.margins["insert thread strip"].applies
    assert plain.outcomes["insert_load_max"].value is None and "no insert" in plain.outcomes["insert_load_max"].reason


def test_findings_give_the_gain_over_the_plain_hole_and_the_most_loaded_pitch(comparison, repaired):
    (text,) = told(comparison)
    assert text.startswith(f"{REPAIRED}: round the insert 1.203 times as much")
    assert f"in {PLAIN} that makes" in text
    share = 100.0 * repaired.value("insert_pitch_share_max")
    assert f"passes on up to {share:.2g} %" in text
    assert not [line for line in told(comparison, "caution") if "bottoming tap" in line]


def test_a_hole_too_shallow_for_its_tap_and_an_insert_set_down_too_far_are_cautions(comparison, repaired):
    boss = repaired.setup.boss
    odd = replace(boss, hole_depth=16.5, insert=replace(boss.insert, set_down=2.5))
    short = replace(repaired.setup.stud, engaged_length=9.0)
    changed = replace(repaired, setup=replace(repaired.setup, boss=odd, stud=short))
    texts = " ".join(told(replace(comparison, results=(changed,)), "caution"))
    assert "wants 17 mm with a bottoming tap and 23.5 mm with a plug tap" in texts
    assert "set down 2.5 mm; usual is 0.938 mm to 1.88 mm" in texts
    assert "of the insert has no thread of the stud in it" in texts


def test_an_insert_that_stands_partly_empty_names_the_key_and_the_length_that_the_hole_would_give(comparison, repaired):
    stud, boss = repaired.setup.stud, repaired.setup.boss
    # from the tip's end to the insert's upper end, the tip on its seat: hole depth less set-down and tip
    room = boss.hole_depth - boss.insert.set_down - repaired.setup.tip_seat_z - stud.tip_length
    long = stud.tip_length + room + 1.0

    def said(**changed):
        setup = replace(repaired.setup, stud=replace(stud, **changed))
        texts = told(replace(comparison, results=(replace(repaired, setup=setup),)), "caution")
        return next(line for line in texts if "no thread of the stud in it" in line)

    text = said(engaged_length=9.0, boss_thread_length=long)
    assert "[stud] engaged_length says 9 mm" in text and f"give {float(f'{room:.3g}'):g} mm; 9 mm is taken" in text
    assert "is all that boss_thread_length allows" in said(engaged_length=9.0, boss_thread_length=9.0 + stud.tip_length)


def test_the_drawing_shows_the_insert_with_its_length_and_the_studs_engagement(repaired):
    ax = plot_mesh(repaired.built)
    text = " | ".join(each.get_text().replace("\n", " ") for each in ax.texts)
    assert "insert, 11.1 mm long" in text and "engaged 11.1 mm" in text


def test_a_boss_mesh_of_the_users_own_takes_an_insert_if_its_thread_is_that_of_the_insert(tmp_path):
    text = (CASES / "hut-pump.toml").read_text().replace("steps = 100", "steps = 6")
    setup = case_from_text(text, "own.toml", tmp_path).setup(REPAIRED)
    write_mesh(tmp_path / "own.vtu", boss_mesh(lay_out(setup, 0.3).boss))
    mine = text.replace('hole_depth = "17 mm" ', 'mesh = "own.vtu"\nhole_depth = "17 mm" ')
    assert mine != text
    again = case_from_text(mine, "own.toml", tmp_path).setup(REPAIRED)
    first = solve_setup(setup, refinement=0.3, band=False)
    second = solve_setup(again, refinement=0.3, band=False)
    for name in ("clamp_max", "clamp_min", "insert_load_max", "insert_pitch_share_max"):
        assert second.value(name) == approx(first.value(name), rel=1e-6), name
    plain = replace(setup, boss=replace(setup.boss, insert=None, drill_diameter=float(minor_diameter(8.0, 1.25))))
    write_mesh(tmp_path / "own.vtu", boss_mesh(lay_out(plain, 0.3).boss))
    with pytest.raises(BadCase, match=r"the pitch diameter of M8x1\.25.s hole for an insert"):
        case_from_text(mine, "own.toml", tmp_path)


def test_solved_heat_passes_from_the_stud_through_the_insert_into_the_boss():
    text = (CASES / "hut-pump-cycle.toml").read_text()
    table = '[setup."with insert".boss]\nhole_depth = "17 mm"\nthread_depth = "14.5 mm"\nfloor_thickness = "4 mm"\n'
    table += '[setup."with insert".boss.insert]\nlength = "1.5 d"\nset_down = "1 mm"\n'
    table += '[setup."with insert".stud]\nengaged_length = "13.8 mm"\n'
    setup = case_from_text(text + table, "cycle").setup("with insert")
    history = replace(setup.history, steps=12, cycles=1, until_periodic=None)
    result = solve_setup(replace(setup, history=history), refinement=0.2, band=False)
    fields = result.heat.fields
    hottest = int(np.argmax(fields["stud"].mean(axis=1)))
    tip = fields["stud"][hottest].min()
    assert fields["boss"][hottest].mean() < fields["insert"][hottest].mean() < fields["stud"][hottest].mean()
    assert fields["insert"][hottest].mean() < tip + 30.0
    assert result.equilibrium_residual < 1e-8
    assert result.heat.imbalance < 1e-4


def test_only_setups_with_an_insert_speak_of_one(hut_pump):
    case = replace(hut_pump, setups=tuple(s for s in hut_pump.setups if s.name == PLAIN))
    assert not told(compare(case, refinement=0.2, band=False))
