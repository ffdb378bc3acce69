"""Samples solved side by side against the path of single setups."""

from dataclasses import replace

import numpy as np
import pytest

from studwell.odds.limits import COLUMNS, MODES
from studwell.odds.lives import not_side_by_side, short
from studwell.odds.node import ALONE, SIDE_BY_SIDE
from studwell.odds.scalar import solved_alone, varied


def _alone(model, inputs):
    setup = varied(model.setup, model.keys, dict(zip(model.names, inputs, strict=True)))
    return solved_alone(model.base.built, short(setup, model.base.lives.instants))


@pytest.mark.parametrize("which", ["plain", "sprung", "flattened"])
def test_every_outcome_and_margin_agrees_with_the_scalar_path_on_a_random_subset(which, request):
    model = request.getfixturevalue(which)
    inputs = model.sampler.draw(11, 0, 64)
    table, how = model.rows(inputs)
    assert np.all(how == SIDE_BY_SIDE)
    compared = 0
    for sample in np.random.default_rng(2).choice(64, 5, replace=False):
        expected = _alone(model, inputs[sample])
        for column, name in enumerate(COLUMNS):
            there = expected[name]
            if np.isnan(there):
                assert np.isnan(table[sample, column]), name
                continue
            assert table[sample, column] == pytest.approx(there, rel=1e-8, abs=1e-7), name
            compared += 1
    assert compared > 5 * 18


def test_a_shifted_temperature_of_one_node_agrees_with_the_scalar_path(demo):
    from studwell.case.spread_keys import spread_keys
    from studwell.odds.node import Node

    keys = spread_keys(demo)
    node = Node(demo.setup("backed off, plain"), keys, 0.4)
    values = {"history.barrel.offset": np.array([-9.0, 0.0, 14.0]), "history.scale": np.array([1.0, 0.9, 1.1])}
    table, how = node.rows(values, 3)
    assert np.all(how == SIDE_BY_SIDE)
    for sample in range(3):
        one = varied(node.setup, keys, {name: float(each[sample]) for name, each in values.items()})
        expected = solved_alone(node.built, short(one, node.lives.instants))
        assert table[sample, COLUMNS.index("clamp_max")] == pytest.approx(expected["clamp_max"], rel=1e-8)
        assert table[sample, COLUMNS.index("bearing pressure")] == pytest.approx(expected["bearing pressure"], rel=1e-8)


def test_a_row_does_not_depend_on_the_rows_beside_it(plain):
    inputs = plain.sampler.draw(5, 0, 40)
    whole, _ = plain.rows(inputs)
    part, _ = plain.rows(inputs[17:20])
    assert np.allclose(whole[17:20], part, rtol=1e-8, atol=1e-7, equal_nan=True)


def test_samples_that_do_not_converge_side_by_side_are_solved_alone_and_counted(plain, monkeypatch):
    from studwell.odds import batch

    inputs = plain.sampler.draw(7, 0, 3)
    expected, _ = plain.rows(inputs)
    monkeypatch.setattr(batch, "MOST_ITERATIONS", 1)
    table, how = plain.rows(inputs)
    assert np.all(how == ALONE)
    assert np.allclose(table, expected, rtol=1e-7, atol=1e-6, equal_nan=True)


def test_yielding_studs_keep_their_stretch(plain):
    inputs = plain.sampler.draw(3, 0, 32)
    inputs[:, plain.names.index("tightening.torque")] *= 1.5
    table, _ = plain.rows(inputs)
    assert np.nanmax(table[:, COLUMNS.index("stud_stretch_max")]) > 1e-3
    assert np.nanmax(table[:, COLUMNS.index("stud yield")]) < 1.2  # yielding holds the stress near its limit


def test_setups_outside_the_fast_model_say_why(demo, plain):
    built = plain.base.built
    assert not_side_by_side(built) == ""
    wet = replace(built, setup=replace(built.setup, history=replace(built.setup.history, phases=(1,))))
    assert not_side_by_side(wet) == "solved heat"


def test_modes_without_their_part_stay_unknown(plain):
    table, _ = plain.rows(plain.sampler.draw(1, 0, 2))
    assert np.all(np.isnan(table[:, COLUMNS.index("washer flat")]))
    assert set(MODES) <= set(COLUMNS)


def test_a_wedge_that_turns_only_partly_relieve_is_solved_alone_and_left(demo):
    from studwell.case.spread_keys import spread_keys
    from studwell.odds.node import Node

    setup = demo.setup("backed off, plain")
    node = Node(replace(setup, seating=replace(setup.seating, counted_from="driven seat")), spread_keys(demo), 0.4)
    table, how = node.rows({"seating.back_off": np.array([0.22, 0.01, 0.0])}, 3)
    assert list(how) == [SIDE_BY_SIDE, ALONE, ALONE]
    tip = table[:, COLUMNS.index("tip_force_max")]
    assert tip[0] == 0.0 and 0.1 * tip[2] < tip[1] < 0.9 * tip[2]
