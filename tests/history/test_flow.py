"""Histories of a boss that yields and creeps, on coarse meshes: what it does to forces, and the reference path."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from studwell.case import Inelastic
from studwell.errors import NotConverged, Unknown
from studwell.fem.elasticity import elastic_matrix
from studwell.history.cycles import many_cycles, prepared_cycle
from studwell.history.zone_cycles import worst_verdict, zone_verdict
from studwell.joint.flow_zones import flowing_bodies, inelastic_material
from studwell.joint.full import FullJoint
from studwell.parts.material import material_from, stock_material
from studwell.strength.recovery import quadrature_stress
from studwell.strength.timeline import first_principal, stresses, timeline_of

BACKED_OFF = 'seating = { mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }'


@pytest.fixture(scope="module")
def lived(make_setup, build, live):
    """Function: override, zone (None: elastic), creep, changes of the boss -> BuiltJoint, HistoryResult."""

    @cache
    def function(override="", zone=None, creep=False, steps=6, **boss):
        setup = make_setup(override, steps=steps)
        setup = replace(
            setup,
            boss=replace(setup.boss, **boss),
            inelastic=None if zone is None else Inelastic(zone, creep),
        )
        built = build(setup)
        return built, live(built)

    return function


def states_of(history):
    return (history.seated, *history.tightening, *history.run)


def tips(history):
    return np.concatenate([history.seated_forces.tip, history.tightening_forces.tip, history.run_forces.tip])


@pytest.mark.parametrize("zone", [2.0, "boss"])
def test_yielding_lowers_tip_force_and_floor_stress_and_never_raises_them(lived, zone):
    built, elastic = lived()
    _, flowed = lived(zone=zone)
    before, after = tips(elastic), tips(flowed)
    assert np.all(after <= before + 1e-6 * before.max()) and after[-1] < before[-1] - 1.0
    stress = [
        first_principal(stresses(built.joint, timeline_of(history), "boss", "floor corner")).max(axis=1)
        for history in (elastic, flowed)
    ]
    assert np.all(stress[1] <= stress[0] + 1e-6) and stress[1][0] < 0.8 * stress[0][0]


def test_a_backed_off_stud_leaves_the_floor_without_plastic_strain(lived):
    _, history = lived(BACKED_OFF, 1.0)
    assert all(state.flow.plastic["boss"] == 0.0 for state in states_of(history))
    assert tips(history).max() < 1e-6


def test_a_drive_before_backing_off_leaves_its_dent(lived):
    override = BACKED_OFF.replace("first contact", "driven seat")
    _, history = lived(override, 1.0)
    assert history.seated.flow.plastic["boss"] > 1e-3


def test_plastic_work_and_dissipation_never_fall_and_are_never_negative(lived, build, live):
    _built, history = lived(zone="boss")
    flowing = history.flowing
    points = history.run[-1].flow.zones["boss"]
    assert points.plastic_work.min() >= 0.0 and points.dissipation.min() >= 0.0
    largest = [state.flow.plastic["boss"] for state in states_of(history)]
    assert np.all(np.diff(largest) >= 0.0)
    assert flowing.zones["boss"].weights @ points.plastic_work > 0.0


def test_more_wedge_force_is_lost_over_a_thinner_floor(lived):
    lost = []
    for thickness in (12.0, 8.0, 6.0):
        before, after = (tips(lived(zone=zone, floor_thickness=thickness)[1]) for zone in (None, "boss"))
        lost.append(float(np.max(before - after)))
    assert 0.0 < lost[0] < lost[1] < lost[2]


def test_forces_are_those_of_the_same_laws_on_the_whole_system(lived, live):
    built, reduced = lived(zone="boss", steps=3)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    reference = live(built, solver=full.solver)
    assert reduced.run[-1].flow.plastic["boss"] > 0.01
    for ours, theirs in zip(states_of(reduced), states_of(reference), strict=True):
        assert ours.forces == pytest.approx(theirs.forces, rel=1e-6, abs=1e-6 * np.abs(theirs.forces).max())
        assert ours.flow.plastic["boss"] == pytest.approx(theirs.flow.plastic["boss"], rel=1e-6)


def test_forces_balance_in_every_state_of_a_flowing_bodies(lived):
    for zone in (2.0, "boss"):
        _, history = lived(zone=zone)
        forces = (history.seated_forces, history.tightening_forces, history.run_forces)
        assert max(f.balance.max() for f in forces) < 1e-8
        assert max(f.complementarity.max() for f in forces) < 1e-8


def test_stress_at_the_paths_is_elastic_where_nothing_flows(lived):
    built, elastic = lived(BACKED_OFF)
    _, still = lived(BACKED_OFF, 1.0)
    places = [name for name in built.joint.bodies[0].stress if name.startswith("floor path")]
    for place in places:
        one, other = (stresses(built.joint, timeline_of(h), "boss", place)[-1] for h in (elastic, still))
        assert other == pytest.approx(one, abs=1e-6)


def test_creep_takes_wedge_force_in_time_and_warns_outside_its_data(lived):
    built, creeping = lived(zone=2.0, creep=True)
    assert not any("creep data" in text for text in creeping.warnings)
    own = material_from(
        "own",
        built.setup.boss.material,
        {"creep_exponent": 5.0, "creep_coefficient": 3e-17, "creep_temperature_range": (100.0, 200.0)},
    )
    _, narrow = lived(zone=2.0, creep=True, material=own)
    assert tips(narrow)[-1] < tips(creeping)[-1] - 1.0
    assert any("creep data hold from 100 to 200 degC and were used from -15 to 110" in text for text in narrow.warnings)


def test_strain_beyond_small_strain_and_a_zone_too_small_are_told(lived):
    assert any("edge of the zone" in text for text in lived(zone=1.0)[1].warnings)
    assert any("beyond small strain" in text for text in lived(zone="boss", floor_thickness=4.0)[1].warnings)


def test_a_floor_that_cannot_carry_the_drive_is_said_to(lived):
    with pytest.raises(NotConverged, match="may not be able to carry"):
        lived(zone="boss", floor_thickness=2.0)


@pytest.mark.parametrize(
    ("name", "creep", "told"),
    [
        ("6061-t6", False, "how 6061-t6 hardens is not known"),
        ("a380 die cast", True, ""),
        ("steel 8.8", False, "hardens"),
    ],
)
def test_an_alloy_without_data_is_unknown_with_its_reason(name, creep, told):
    if not told:
        assert inelastic_material(stock_material(name), creep).creep is not None
        return
    with pytest.raises(Unknown, match=told):
        inelastic_material(stock_material(name), creep)


def test_a_tensile_strength_below_yield_would_soften_and_is_refused():
    with pytest.raises(Unknown, match="softening is not solved"):
        inelastic_material(material_from("own", "a356-t6 sand", {"yield_strength": 300.0}), False)
    with pytest.raises(ValueError, match="softening is not solved"):
        material_from("own", "a356-t6 sand", {"hardening_modulus": -1.0})


@pytest.mark.parametrize("name", ["a356-t6 sand", "a319-t6", "adc12 die cast"])
def test_the_flow_stress_of_a_cast_alloy_rises_from_yield_to_tensile_strength(name):
    metal = stock_material(name)
    law = inelastic_material(metal, False).plasticity
    size = law.strength(np.array([0.0, 1.0]), np.array([150.0, 150.0]))[0]
    back = law.backstresses[0]
    moved = float(back.modulus.at(150.0)) / back.recall
    assert size[0] == pytest.approx(float(metal.yield_strength.at(150.0)))
    assert size[1] + moved == pytest.approx(float(metal.ultimate_strength.at(150.0)))


def test_repeated_heat_shakes_a_seated_boss_down_and_counts_its_cycles(lived):
    built, history = lived(zone="boss")
    repeated = prepared_cycle(built.joint, history.course, None, 0)
    crept = np.zeros(built.joint.n_ports)
    length = float(history.times[-1] - history.times[0])
    result = many_cycles(
        built.joint, repeated, history.run[1:], None, crept, done=1, cycles=1000, start=length, flowing=history.flowing
    )
    zone = result.zones["boss"]
    assert result.verdict == zone.verdict == "shakes down" and zone.strain > 0.01
    assert result.solved < 100 and result.reached == result.marks[-1].cycle == 1000
    assert zone.increments[-1] <= 1e-6


def test_creep_never_comes_to_rest_so_that_a_stated_number_of_cycles_is_solved(lived, monkeypatch):
    monkeypatch.setattr("studwell.history.cycles.FLOWING_CYCLES", 3)
    built, history = lived(zone=1.0, creep=True)
    repeated = prepared_cycle(built.joint, history.course, None, 0)
    result = many_cycles(
        built.joint, repeated, history.run[1:], None, np.zeros(built.joint.n_ports),
        done=1, cycles=1000, start=5400.0, solved_cycles=2, flowing=history.flowing,
    )  # fmt: skip
    assert result.reached == result.marks[-1].cycle == 4 and result.solved == 3 and result.error == 0.0


@pytest.mark.parametrize(
    ("strain", "increments", "one_way", "verdict"),
    [
        (0.0, (), 0.0, "elastic"),
        (0.01, (1e-3, 0.0), 0.0, "shakes down"),
        (0.01, (1e-3, 5e-4, 2.5e-4), 1.0, "shakes down"),
        (0.01, (1e-3, 1e-3, 1e-3), 0.0, "cycles plastically"),
        (0.01, (1e-3, 1e-3, 1e-3), 1.0, "ratchets"),
        (0.01, (1e-3, 1e-3), 0.5, "ratchets"),
    ],
)
def test_increments_of_plastic_strain_decide_the_verdict(strain, increments, one_way, verdict):
    assert zone_verdict(strain, increments, one_way) == verdict


def test_the_worst_of_stud_and_boss_is_the_verdict():
    assert worst_verdict(["elastic", "cycles plastically", "shakes down"]) == "cycles plastically"


def test_a_zone_takes_in_the_bands_that_are_judged(lived):
    built, _ = lived(zone=2.0)
    flowing = flowing_bodies(Inelastic(0.05, False), built.layout, built.bodies, built.joint)
    mesh = built.bodies[0].spec.mesh
    assert set(mesh.elements_of("fillet floor side")) <= set(flowing.zones["boss"].elements)


def test_recovered_fields_are_those_of_the_zones_points_and_its_band_average(lived):
    built, history = lived(zone=2.0)
    timeline = timeline_of(history)
    space, _, stress = quadrature_stress(built, 0, [history.run[-1]])
    flow = history.run[-1].flow
    found = stress[flow.elements["boss"], :, :, 0].reshape(-1, 4)
    assert found == pytest.approx(flow.zones["boss"].stress, abs=1e-3)
    band = built.bodies[0].spec.mesh.elements_of("fillet floor side")
    weights = space.weights[band]
    mean = np.einsum("mq,mqc->c", weights, stress[band, :, :, 0]) / weights.sum()
    assert stresses(built.joint, timeline, "boss", "floor corner")[-1, 0] == pytest.approx(mean, abs=1e-3)
    beyond = [n for n in built.joint.bodies[0].stress if n.startswith("floor path")]
    points = built.joint.bodies[0].stress[beyond[0]].where[-3:]
    element, _local = space.locate(points)
    assert not np.isin(element, flow.elements["boss"]).any()
    body = built.bodies[0].spec
    _, moved, _ = quadrature_stress(built, 0, [history.run[-1]])
    own = np.asarray(space.strain_operator(points) @ moved).reshape(3, 4)
    heat = history.run[-1].heat
    own[:, :3] -= heat.amplitudes[0][0]
    hooke = elastic_matrix(body.youngs_modulus, body.poisson) * heat.modulus_ratio[0]
    assert stresses(built.joint, timeline, "boss", beyond[0])[-1, -3:] == pytest.approx(own @ hooke, abs=1e-3)
