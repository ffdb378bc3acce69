"""Settling, creep of gaskets and cylinder pressure in samples solved side by side, against the path of single setups."""

import numpy as np
import pytest

from studwell.case.reading import case_from_text
from studwell.case.spread_keys import SpreadKey, spread_keys
from studwell.case.spread_record import Distribution, Spread
from studwell.odds.limits import COLUMNS
from studwell.odds.lives import short
from studwell.odds.model import SetupModel
from studwell.odds.node import SIDE_BY_SIDE, Node
from studwell.odds.scalar import solved_alone, varied
from studwell.study.compare import built_joint

from .conftest import CASES

TEXT = (CASES / "hut-pump.toml").read_text()
HEAD = TEXT[: TEXT.index("\n[spread]")]
LOADS = """
[settling]
embedding_thread = "3 um"
embedding_bearing = "4 um"
embedding_inner = "2 um"
embedding_tip = "3 um"
gasket_relaxation = 0.08

[pressure]
peak = "4 MPa"
bore = "60 mm"
"""
BASE = HEAD[: HEAD.index('[setup."bottomed, plain"]')] + LOADS


def _node(setup: str) -> Node:
    case = case_from_text(BASE + setup)
    return Node(case.setups[0], spread_keys(case), 0.4)


def _agrees(node: Node, values: dict[str, np.ndarray]) -> np.ndarray:
    count = len(next(iter(values.values())))
    table, how = node.rows(values, count)
    assert np.all(how == SIDE_BY_SIDE)
    for sample in range(count):
        one = varied(node.setup, node.keys, {name: float(each[sample]) for name, each in values.items()})
        expected = solved_alone(node.built, short(one, node.lives.instants), cracks=False)
        for column, name in enumerate(COLUMNS):
            if not np.isnan(expected[name]):
                assert table[sample, column] == pytest.approx(expected[name], rel=1e-8, abs=1e-7), name
    return table


def test_settling_creep_and_pressure_agree_with_the_scalar_path_in_every_outcome_and_margin():
    table = _agrees(
        _node("\n[setup.one]\n"),
        {"tightening.torque": np.array([14e3, 15e3, 17e3]), "history.scale": np.array([0.9, 1.0, 1.1])},
    )
    clamp = {name: table[1, COLUMNS.index(name)] for name in ("clamp_assembled", "clamp_end")}
    assert clamp["clamp_end"] < 0.95 * clamp["clamp_assembled"]  # it did settle


def test_spread_embedding_and_pressure_agree_with_the_scalar_path_and_take_clamp():
    node = _node(
        '\n[setup.one]\nseating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }\n'
    )
    table = _agrees(
        node,
        {
            "settling.embedding_thread": np.array([3e-3, 9e-3, 3e-3, 3e-3, 3e-3]),
            "settling.embedding_bearing": np.array([4e-3, 4e-3, 9e-3, 4e-3, 0.0]),
            "settling.embedding_inner": np.array([2e-3, 2e-3, 2e-3, 2e-3, 7e-3]),
            "pressure.peak": np.array([4.0, 4.0, 4.0, 6.0, 0.0]),
        },
    )
    end, least = table[:, COLUMNS.index("clamp_end")], table[:, COLUMNS.index("clamp_min")]
    assert end[1] < end[0] - 50.0 and end[2] < end[0] - 50.0
    assert least[3] < least[0] - 100.0


def test_the_tips_embedding_counts_where_the_stud_stands_on_the_floor():
    node = _node("\n[setup.one]\n")
    table = _agrees(node, {"settling.embedding_tip": np.array([0.0, 8e-3])})
    assert table[1, COLUMNS.index("leak")] != table[0, COLUMNS.index("leak")]
    backed = case_from_text(
        BASE
        + '\n[setup.one]\nseating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }\n'
    )
    assert spread_keys(backed)["settling.embedding_tip"].get(backed.setups[0]) is None


def test_a_springs_cone_height_and_thickness_reach_the_clamp_as_in_a_section_of_its_own(demo):
    name = "backed off, three conical springs"
    spread = Spread(
        (
            ("washer.cone_height", Distribution("normal", sd=0.03)),
            ("washer.spring_thickness", Distribution("normal", sd=0.02)),
        )
    )
    keys = spread_keys(demo)
    model = SetupModel(demo.setup(name), spread, keys, 0.4)
    own = [each.own for each in model.sampler.marginals]
    sizes = np.array([[own[0] + 0.03, own[1]], [own[0], own[1] + 0.02]])
    near, _ = model.rows(sizes)
    for row, size in zip(near, sizes, strict=True):
        exact = _exact(model, keys, size)
        for name in ("clamp_min", "washer_flat_share_max"):
            assert row[COLUMNS.index(name)] == pytest.approx(exact[name], rel=2e-3)
    own_share = model.base.rows({}, 1)[0][0, COLUMNS.index("washer_flat_share_max")]
    assert near[0, COLUMNS.index("washer_flat_share_max")] < 0.97 * own_share


def _exact(model: SetupModel, keys: dict[str, SpreadKey], size: np.ndarray) -> dict[str, float]:
    setup = varied(model.setup, keys, dict(zip(model.names, size, strict=True)))
    built = built_joint(setup, refinement=0.4, cache=dict(model.cache), fields=False)
    return solved_alone(built, setup, cracks=False)


def test_a_spring_dimension_belongs_to_spring_washers_alone(demo):
    key = spread_keys(demo)["washer.cone_height"]
    assert key.get(demo.setup("bottomed, plain")) is None
    setup = demo.setup("backed off, three conical springs")
    assert key.get(key.put(setup, 0.6)) == 0.6
    assert [w for w in key.put(setup, 0.6).washers if w not in setup.washers] == list(key.put(setup, 0.6).springs)
