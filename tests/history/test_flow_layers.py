"""Layers of the stack that yield and creep: what it does to forces, the reference path, and what is told of each body."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from studwell.case import Inelastic
from studwell.errors import Unknown
from studwell.joint.full import FullJoint
from studwell.parts.material import material_from, stock_material
from studwell.strength.outcomes import outcomes_of, plastic_strains
from studwell.strength.recovery import quadrature_stress
from studwell.strength.timeline import timeline_of

SOFT = material_from("soft", stock_material("a356-t6 sand"), {"yield_strength": 60.0, "ultimate_strength": 120.0})


@pytest.fixture(scope="module")
def lived(make_setup, build, live):
    """Function: [inelastic] (None: elastic), steps, material of the head -> BuiltJoint, HistoryResult."""

    @cache
    def function(wanted, steps=3, material=SOFT):
        setup = make_setup(steps=steps)
        stack = tuple(replace(one, material=material) if one.name == "head" else one for one in setup.stack)
        built = build(replace(setup, stack=stack, inelastic=wanted))
        return built, live(built)

    return function


HEAD = Inelastic(None, False, ("head",))
ALL = Inelastic(1.0, False, ("barrel", "head"))


def states_of(history):
    return (history.seated, *history.tightening, *history.run)


def test_a_soft_layer_yields_under_the_washers_edge_and_nowhere_else(lived):
    built, history = lived(HEAD)
    flow = history.run[-1].flow
    ring = next(ring for ring in built.layout.rings if ring.name == "head")
    bearing = built.layout.joinings[-2]
    assert (bearing.lower, bearing.upper) == ("head", "washer 1")
    r, z = flow.where["head"]
    assert flow.plastic["head"] > 5e-3 and set(flow.plastic) == {"head"}
    assert ring.top - z < 0.15 * (ring.top - ring.bottom) and bearing.inner < r < bearing.outer
    low = history.flowing.zones["head"].where[:, 1] < ring.bottom + 0.2 * (ring.top - ring.bottom)
    assert flow.zones["head"].plastic_strain[low].max() < 0.05 * flow.plastic["head"]


def test_a_layer_that_yields_loses_clamp_and_its_preload_stays_that_of_the_tightening(lived):
    (_, elastic), (_, flowed) = lived(None), lived(HEAD)
    assert np.all(flowed.run_forces.clamp[1:] < elastic.run_forces.clamp[1:] - 100.0)
    assert flowed.tightening_forces.tension[-1] == pytest.approx(elastic.tightening_forces.tension[-1], rel=1e-6)


def test_forces_of_a_yielding_layer_are_those_of_the_same_laws_on_the_whole_system(lived, live):
    firm = material_from("firm", SOFT, {"yield_strength": 130.0, "ultimate_strength": 260.0})
    built, reduced = lived(HEAD, steps=1, material=firm)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    reference = live(built, solver=full.solver)
    assert reduced.run[-1].flow.plastic["head"] > 5e-3
    for ours, theirs in zip(states_of(reduced), states_of(reference), strict=True):
        assert ours.forces == pytest.approx(theirs.forces, rel=1e-6, abs=1e-6 * np.abs(theirs.forces).max())
        assert ours.flow.plastic["head"] == pytest.approx(theirs.flow.plastic["head"], rel=1e-6)


def test_the_stress_at_a_layers_points_is_that_of_a_solution_of_the_whole_body(lived):
    built, history = lived(HEAD)
    _, _, stress = quadrature_stress(built, built.joint.body_index("head"), [history.run[-1]])
    flow = history.run[-1].flow
    assert stress[flow.elements["head"], :, :, 0].reshape(-1, 4) == pytest.approx(flow.zones["head"].stress, abs=1e-3)


def test_forces_balance_and_plastic_work_never_falls(lived):
    _, history = lived(ALL)
    forces = (history.seated_forces, history.tightening_forces, history.run_forces)
    assert max(f.balance.max() for f in forces) < 1e-8
    assert max(f.complementarity.max() for f in forces) < 1e-8
    for name in ("boss", "head"):
        points = history.run[-1].flow.zones[name]
        assert points.plastic_work.min() >= 0.0 and points.dissipation.min() >= 0.0
        assert points.plastic_work.max() > 0.0
        assert np.all(np.diff([state.flow.plastic[name] for state in states_of(history)]) >= 0.0)


def test_a_hard_layer_that_may_yield_and_does_not_changes_nothing(lived):
    hard = material_from("hard", SOFT, {"yield_strength": 600.0, "ultimate_strength": 700.0})
    (_, elastic), (_, still) = lived(None, material=hard), lived(HEAD, material=hard)
    assert still.run[-1].flow.plastic["head"] == 0.0
    assert still.run_forces.clamp == pytest.approx(elastic.run_forces.clamp, rel=1e-9)


def test_a_layer_creeps_in_time_where_it_is_hot(lived):
    (_, plastic), (_, creeping) = lived(HEAD), lived(replace(HEAD, creep=True))
    points = creeping.run[-1].flow.zones["head"]
    assert points.creep_strain.max() > 0.0
    assert creeping.run_forces.clamp[-1] < plastic.run_forces.clamp[-1] - 0.1


def test_outcomes_tell_the_layers_strain_where_it_is_and_why_the_boss_has_none(lived):
    built, history = lived(HEAD)
    outcomes = outcomes_of(built, timeline_of(history), np.zeros(len(timeline_of(history).states)))
    layer, floor = outcomes["layer_plastic_strain_max"], outcomes["floor_plastic_strain_max"]
    assert layer.value == history.run[-1].flow.plastic["head"] and "in the layer head" in layer.reason
    assert layer.when != "seated" and floor.value is None and "zone" in floor.reason
    built, history = lived(ALL)
    found = plastic_strains(timeline_of(history))
    assert set(found) == {"boss", "barrel", "head"} and found["barrel"].value == 0.0
    assert found["head"].when == "hot (10 min)"
    built, history = lived(None)
    elastic = outcomes_of(built, timeline_of(history))
    assert elastic["layer_plastic_strain_max"].value is None and "elastic" in elastic["layer_plastic_strain_max"].reason


def test_warnings_name_the_layer(lived):
    softer = material_from("softer", SOFT, {"yield_strength": 40.0, "ultimate_strength": 80.0})
    told = lived(HEAD, material=softer)[1].warnings
    assert any(text.startswith("head: ") and "beyond small strain" in text for text in told)
    own = material_from(
        "own",
        SOFT,
        {"creep_exponent": 5.0, "creep_coefficient": 1e-18, "creep_temperature_range": (100.0, 150.0)},
    )
    told = lived(replace(HEAD, creep=True), material=own)[1].warnings
    assert any(text.startswith("head: creep data hold from 100 to 150 degC") for text in told)


def test_a_layer_without_data_is_unknown_and_named(lived):
    with pytest.raises(Unknown, match="head: how 6061-t6 hardens is not known"):
        lived(HEAD, material=stock_material("6061-t6"))
