"""Several bodies: contacts, air gaps, steady radiation, reduced modes, and what is refused."""

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studwell.errors import BadMesh, StudwellError
from studwell.fem import (
    AirGap,
    Bridge,
    Contact,
    Film,
    Flux,
    HeatSystem,
    Held,
    PointHistory,
    Source,
    ThermalBody,
    air_gap_conductance,
    krylov_fields,
    reduce_heat,
    reduction_error,
    solve_conduction,
    solve_steady,
    solve_transient,
)
from studwell.mesh import Block, build
from studwell.mesh.reference import ring
from studwell.parts.gasket import gasket_conductance, stock_gasket


def cylinder(name, inner, outer, height=20.0, cells=(3, 4), conductivity=150.0):
    return ThermalBody(name, ring(inner, outer, height, cells), {"ring": conductivity}, {"ring": 2.43})


def tube(name, inner, outer, low, high, cells, conductivity=150.0):
    corners = [[inner, low], [outer, low], [outer, high], [inner, high]]
    tags = {"south": "bottom", "north": "top", "west": "bore", "east": "outside"}
    return ThermalBody(name, build([Block(corners, cells, "ring", tags)]), {"ring": conductivity}, {"ring": 2.43})


# Contacts and gaps


def test_contact_lets_no_heat_through_open_edges():
    bodies = [cylinder("inner", 2.0, 5.0), cylinder("outer", 5.0, 9.0)]
    closed = Contact(("inner", "outside"), ("outer", "bore"), 3.0, name="joint")
    held = Held("inner", "bore", 100.0), Held("outer", "outside", 0.0)
    system = HeatSystem(bodies, [closed, *held])
    every = solve_steady(system).flows["joint"]
    half = system.with_conditions(Contact(closed.first, closed.second, 3.0, lambda t: np.array([1, 1, 0, 0]), "joint"))
    none = system.with_conditions(Contact(closed.first, closed.second, 3.0, 0.0, "joint"))
    resistances = np.log(5 / 2) / 150 + 1 / (3 * 5) + np.log(9 / 5) / 150
    assert every == pytest.approx(2 * np.pi * 20 * 100 / resistances, rel=1e-4)
    assert 0.5 * every < solve_steady(half).flows["joint"] < 0.8 * every
    assert solve_steady(none).flows["joint"] == 0.0


def test_contact_across_a_shift_takes_the_mean_of_both_areas():
    bodies = [cylinder("inner", 2.0, 4.9, conductivity=1e6), cylinder("outer", 5.1, 9.0, conductivity=1e6)]
    contact = Contact(("inner", "outside"), ("outer", "bore"), 3.0, name="joint")
    held = Held("inner", "outside", 1.0), Held("outer", "bore", 0.0)
    flow = solve_steady(HeatSystem(bodies, [contact, *held])).flows["joint"]
    assert flow == pytest.approx(3.0 * 2 * np.pi * 5.0 * 20, rel=1e-12)


def test_one_conductance_an_edge_acts_on_its_own_area():
    bodies = [cylinder("inner", 2.0, 5.0), cylinder("outer", 5.0, 9.0)]
    given_ones = np.array([1.0, 2.0, 4.0, 8.0])
    contact = Contact(("inner", "outside"), ("outer", "bore"), given_ones, name="joint")
    held = Held("inner", "outside", 1.0), Held("outer", "bore", 0.0)
    flow = solve_steady(HeatSystem(bodies, [contact, *held])).flows["joint"]
    assert flow == pytest.approx(15.0 * 2 * np.pi * 5 * 5, rel=1e-12)


@given(low=st.floats(-15, 15), cells=st.integers(1, 9), others=st.integers(1, 9), scale=st.floats(0.1, 3))
@settings(max_examples=25, deadline=None)
def test_heat_leaving_one_side_of_a_gap_arrives_on_the_other(low, cells, others, scale):
    bodies = [tube("rod", 1.0, 4.0, 0.0, 20.0, (1, cells)), tube("sleeve", 4.6, 7.0, low, low + 18.0, (1, others))]
    gap = AirGap(("rod", "outside"), ("sleeve", "bore"), 0.05, scale, "air")
    system = HeatSystem(bodies, [gap])
    field = np.random.default_rng(cells).random(system.n_nodes) * 100
    flow = system.equations.conductance(np.array([scale])) - system.equations.conductance(np.array([0.0]))
    leaves = flow @ field
    rod, sleeve = leaves[system.nodes_of("rod")].sum(), leaves[system.nodes_of("sleeve")].sum()
    assert rod == pytest.approx(-sleeve, rel=1e-9, abs=1e-9)
    assert rod == pytest.approx(scale * (system.equations.flows @ field)[0], rel=1e-9, abs=1e-9)
    step = system.field({"rod": 1.0, "sleeve": 0.0})
    overlap = max(0.0, min(20.0, low + 18.0) - max(0.0, low))
    assert (flow @ step)[system.nodes_of("rod")].sum() == pytest.approx(
        scale * 0.05 * 2 * np.pi * 4.3 * overlap, rel=1e-9
    )


def test_a_gap_between_unlike_meshes_carries_a_linear_difference_exactly():
    # sides at z^2 and z: the heat is h 2 pi r_m times the integral of z^2 - z, whatever the elements
    bodies = [tube("rod", 1.0, 4.0, 0.0, 3.0, (1, 5)), tube("sleeve", 4.6, 7.0, 1.0, 4.0, (1, 2))]
    system = HeatSystem(bodies, [AirGap(("rod", "outside"), ("sleeve", "bore"), 0.05)])
    field = system.field({"rod": lambda r, z: z**2, "sleeve": lambda r, z: z})
    exact = 0.05 * 2 * np.pi * 4.3 * ((27 - 1) / 3 - (9 - 1) / 2)
    assert (system.equations.flows @ field)[0] == pytest.approx(exact, rel=1e-12)


def stacked(name, low, conductivity):
    return tube(name, 2.0, 6.0, low, low + 10.0, (2, 3), conductivity)


def test_a_bridge_carries_its_conductance_times_the_difference_of_the_means():
    # a hot and a cold ring of 10 mm with 40 mW/K between their ends: resistances in series, 10/(k A) + 1/G + 10/(k A)
    bodies = [stacked("lower", 0.0, 150.0), tube("upper", 1.0, 7.0, 15.0, 25.0, (3, 2), 45.0)]
    held = Held("lower", "bottom", 100.0), Held("upper", "top", 0.0)
    system = HeatSystem(bodies, [Bridge(("lower", "top"), ("upper", "bottom"), 40.0, name="spring"), *held])
    found = solve_steady(system)
    area, other = np.pi * (6.0**2 - 2.0**2), np.pi * (7.0**2 - 1.0**2)
    flow = 100.0 / (10.0 / (150.0 * area) + 1 / 40.0 + 10.0 / (45.0 * other))
    assert found.flows["spring"] == pytest.approx(flow, rel=1e-9)
    assert found.flows["lower/bottom"] == pytest.approx(flow, rel=1e-9)
    assert found.flows["upper/top"] == pytest.approx(-flow, rel=1e-9)
    with pytest.raises(ValueError, match="not below zero"):
        HeatSystem(bodies, [Bridge(("lower", "top"), ("upper", "bottom"), -1.0)])


def test_a_bridge_takes_the_mean_over_the_area_and_leaves_each_side_as_much_heat():
    bodies = [stacked("lower", 0.0, 150.0), stacked("upper", 15.0, 150.0)]
    system = HeatSystem(bodies, [Bridge(("lower", "top"), ("upper", "bottom"), 7.0, name="spring")])
    field = system.field({"lower": lambda r, z: r**2, "upper": 0.0})
    mean = (6.0**4 - 2.0**4) / 4 / ((6.0**2 - 2.0**2) / 2)
    assert (system.equations.flows @ field)[0] == pytest.approx(7.0 * mean, rel=1e-9)
    leaves = (system.equations.conductance(np.ones(1)) - system.equations.conductance(np.zeros(1))) @ field
    assert leaves[system.nodes_of("lower")].sum() == pytest.approx(7.0 * mean, rel=1e-9)
    assert leaves[system.nodes_of("upper")].sum() == pytest.approx(-7.0 * mean, rel=1e-9)


def test_a_sheet_between_two_contacts_lets_through_what_resistances_in_series_do():
    bodies = [stacked("lower", 0.0, 150.0), stacked("upper", 10.5, 45.0)]
    sheet = gasket_conductance(stock_gasket("fibre sheet 0.5"), 5.0)
    held = Held("lower", "bottom", 100.0), Held("upper", "top", 0.0)
    flow = solve_steady(
        HeatSystem(bodies, [Contact(("lower", "top"), ("upper", "bottom"), sheet, name="s"), *held])
    ).flows
    through = 10.0 / 150.0 + 1 / 5.0 + 0.5 / stock_gasket("fibre sheet 0.5").conductivity + 1 / 5.0 + 10.0 / 45.0
    assert flow["s"] == pytest.approx(100.0 * np.pi * (6.0**2 - 2.0**2) / through, rel=1e-9)


def test_conditions_that_time_does_not_change_are_the_same_at_every_moment():
    bodies = [stacked("lower", 0.0, 150.0), stacked("upper", 10.0, 45.0)]
    joint = Contact(("lower", "top"), ("upper", "bottom"), 5.0, name="joint")
    film = Film("lower", "outside", 2.0, lambda t: 10.0 * t, name="film")
    system = HeatSystem(bodies, [joint, film, Held("upper", "top", 3.0)])
    first, later = system.moment(1.0), system.moment(2.0)
    assert (first.scales == later.scales).all() and first.scales is not later.scales
    assert (first.loads.tolist(), later.loads.tolist()) == ([20.0], [40.0])
    assert first.held.tolist() == later.held.tolist() == [3.0]
    other = system.with_conditions(Held("upper", "top", 4.0))
    assert other.moment(1.0).held.tolist() == [4.0] and system.moment(1.0).held.tolist() == [3.0]


def test_still_air_between_cylinders_conducts_by_the_logarithm_of_their_radii():
    mean = 0.5 * (4.0 + 5.0)
    assert 2 * np.pi * mean * air_gap_conductance(0.03, 4.0, 5.0) == pytest.approx(2 * np.pi * 0.03 / np.log(1.25))
    with pytest.raises(ValueError, match="allowed"):
        air_gap_conductance(0.03, 5.0, 4.0)


def test_source_heats_its_region_at_its_own_rate():
    system = HeatSystem([cylinder("rod", 0.0, 5.0)], [Source("rod", "ring", PointHistory([0, 10], [0.0, 1.0]))])
    history = solve_transient(system, system.field(20.0), np.linspace(0.0, 10.0, 11))
    assert history.temperature[-1] == pytest.approx(20.0 + 5.0 / 2.43, rel=1e-10)


def test_conditions_of_new_histories_share_matrices_and_other_places_are_refused():
    system = HeatSystem([cylinder("rod", 2.0, 5.0)], [Film("rod", "bore", 1.0, 20.0), Film("rod", "outside", 1.0, 0.0)])
    warmer = system.with_conditions(Film("rod", "bore", 2.0, 40.0))
    assert warmer.equations is system.equations
    alone = HeatSystem([system.bodies["rod"]], [Film("rod", "bore", 2.0, 40.0), Film("rod", "outside", 1.0, 0.0)])
    assert solve_steady(warmer).temperature == pytest.approx(solve_steady(alone).temperature, rel=1e-12)
    with pytest.raises(ValueError, match="no condition named 'rod/top'"):
        system.with_conditions(Film("rod", "top", 1.0, 20.0))
    with pytest.raises(ValueError, match="only histories"):
        system.with_conditions(Film("rod", "outside", 1.0, 20.0, name="rod/bore"))


def test_a_pickled_system_marches_as_before():
    system = HeatSystem([cylinder("rod", 2.0, 5.0)], [Film("rod", "bore", 1.0, 80.0)])
    first = solve_transient(system, system.field(20.0), [0.0, 1.0, 2.0])
    again = pickle.loads(pickle.dumps(system))
    assert np.array_equal(solve_transient(again, again.field(20.0), [0.0, 1.0, 2.0]).temperature, first.temperature)


# Radiation


@given(emissivity=st.floats(0.05, 1.0), hot=st.floats(100.0, 1500.0), around=st.floats(-270.0, 90.0))
@settings(max_examples=20, deadline=None)
def test_radiating_disc_balances_conduction_with_the_fourth_powers(emissivity, hot, around):
    # Stefan-Boltzmann constant: CODATA 2018
    mesh = ring(0.0, 5.0, 20.0, (2, 4))
    field = solve_conduction(mesh, {"ring": 15.0}, {"bottom": hot}, radiating={"top": (emissivity, around)})
    surface = field.at([[2.0, 20.0]])[0]
    conducted = 15.0 * (hot - surface) / 20.0
    radiated = emissivity * 5.670374419e-11 * ((surface + 273.15) ** 4 - (around + 273.15) ** 4)
    assert conducted == pytest.approx(radiated, rel=1e-9)
    assert field.flow("bottom") == pytest.approx(radiated * np.pi * 25, rel=1e-9)


def test_radiation_alone_sets_the_level_of_a_heated_body():
    mesh = ring(0.0, 5.0, 20.0, (2, 4))
    field = solve_conduction(mesh, {"ring": 1e4}, fluxes={"bottom": 0.05}, radiating={"top": (0.9, 20.0)})
    exact = (0.05 / (0.9 * 5.670374419e-11) + 293.15**4) ** 0.25 - 273.15
    assert field.at([[2.0, 20.0]]) == pytest.approx(exact, abs=1e-6)


# Reduced


@pytest.fixture(scope="module")
def warm_up():
    bodies = [cylinder("rod", 0.0, 5.0, cells=(5, 8), conductivity=45.0), cylinder("sleeve", 5.0, 12.0, cells=(6, 8))]
    conditions = [
        Film("sleeve", "outside", 0.05, 20.0),
        Film("rod", "bottom", 2.0, PointHistory([0, 20, 100, 110, 200], [20, 180, 180, 60, 60])),
        Flux("rod", "top", PointHistory([0, 100, 100, 200], [0.2, 0.2, 0, 0])),
        Held("sleeve", "bottom", PointHistory([0, 50, 200], [20, 90, 40])),
        Contact(("rod", "outside"), ("sleeve", "bore"), 1.0, PointHistory([0, 60, 60, 200], [1, 1, 0.2, 0.2])),
    ]
    system = HeatSystem(bodies, conditions)
    return solve_transient(system, system.field(20.0), np.linspace(0.0, 200.0, 201))


def test_a_dozen_modes_follow_the_full_solution_within_a_fiftieth_of_a_kelvin(warm_up):
    rows = np.random.default_rng(3).random((4, warm_up.system.n_nodes)) / warm_up.system.n_nodes
    errors = [reduction_error(reduce_heat(warm_up.system, warm_up.temperature, m), warm_up, rows) for m in (4, 8, 12)]
    assert [error.modes for error in errors] == [4, 8, 12]
    assert errors[0].largest > 5 * errors[1].largest > 25 * errors[2].largest
    assert errors[2].largest < 0.02 and errors[2].functionals < 1e-4  # tried: 0.012 K of 159, 3.5e-6


def test_modes_made_without_any_history_follow_one_too(warm_up):
    system = warm_up.system
    fields = krylov_fields(system, system.field(20.0), [0.5, 5.0, 50.0], times=(0.0, 70.0))
    error = reduction_error(reduce_heat(system, fields, 24), warm_up)
    assert error.relative < 1e-3


def test_modes_learnt_from_one_history_serve_another(warm_up):
    system = warm_up.system
    reduced = reduce_heat(system, warm_up.temperature, 16)
    other = system.with_conditions(
        Film("rod", "bottom", 2.0, PointHistory([0, 5, 60, 61, 200], [20, 150, 150, 20, 20]))
    )
    full = solve_transient(other, other.field(20.0), np.linspace(0.0, 200.0, 201))
    error = reduction_error(reduced.with_system(other), full)
    assert error.relative < 0.02
    with pytest.raises(ValueError, match="with_conditions"):
        reduced.with_system(HeatSystem(list(system.bodies.values()), system.conditions))


def test_reduced_model_s_heat_balances_over_all_bodies(warm_up):
    reduced = reduce_heat(warm_up.system, warm_up.temperature, 8)
    rows = np.ones((1, warm_up.system.n_nodes))
    history = solve_transient(reduced, warm_up.system.field(20.0), warm_up.step_times, rows=rows)
    assert np.abs(history.ledger.missing()).max() < 1e-9 * history.ledger.exchanged[-1]
    assert history.functionals[:, 0] == pytest.approx(history.temperature.sum(axis=1), rel=1e-10)


def test_snapshots_that_do_not_fit_are_refused(warm_up):
    with pytest.raises(ValueError, match="snapshots"):
        reduce_heat(warm_up.system, np.zeros((3, 4)))
    with pytest.raises(ValueError, match="modes"):
        reduce_heat(warm_up.system, warm_up.temperature, 0)
    with pytest.raises(ValueError, match="time scales"):
        krylov_fields(warm_up.system, warm_up.system.field(20.0), [0.0])


# Refusals


@pytest.mark.parametrize("value", [0.0, -150.0, float("nan"), float("inf")])
def test_conductivity_or_capacity_that_is_not_positive_is_refused(value):
    mesh = ring(1.0, 2.0, 1.0, (1, 1))
    with pytest.raises(ValueError, match="conductivity of region 'ring'"):
        ThermalBody("rod", mesh, {"ring": value}, {"ring": 2.43})
    with pytest.raises(ValueError, match="heat capacity of region 'ring'"):
        ThermalBody("rod", mesh, {"ring": 150.0}, {"ring": value})
    with pytest.raises(ValueError, match="conductivity of region 'ring'"):
        solve_conduction(mesh, {"ring": value}, {"bore": 1.0})


def test_a_film_without_ambient_is_refused():
    with pytest.raises(ValueError, match="no ambient"):
        Film("rod", "outside", 1.0)
    mesh = ring(1.0, 2.0, 1.0, (1, 1))
    with pytest.raises(ValueError, match="no fluid temperature"):
        solve_conduction(mesh, {"ring": 1.0}, films={"bore": 0.5})
    with pytest.raises(ValueError, match="not below zero"):
        solve_conduction(mesh, {"ring": 1.0}, films={"bore": (-0.5, 20.0)})
    with pytest.raises(ValueError, match="emissivity"):
        solve_conduction(mesh, {"ring": 1.0}, radiating={"bore": (1.2, 20.0)})


def test_names_that_do_not_exist_or_exist_twice_are_refused():
    rod = cylinder("rod", 2.0, 5.0)
    with pytest.raises(BadMesh, match="no boundary named 'rim'"):
        HeatSystem([rod], [Film("rod", "rim", 1.0, 20.0)])
    with pytest.raises(ValueError, match="no body named 'bar'"):
        HeatSystem([rod], [Film("bar", "outside", 1.0, 20.0)])
    with pytest.raises(ValueError, match="two conditions"):
        HeatSystem([rod], [Film("rod", "bore", 1.0, 20.0), Flux("rod", "bore", 1.0)])
    with pytest.raises(ValueError, match="two bodies"):
        HeatSystem([rod, rod], [])
    with pytest.raises(ValueError, match="'rod' has no temperature"):
        HeatSystem([rod], []).field({})
    with pytest.raises(ValueError, match="no heat capacity"):
        ThermalBody("rod", rod.mesh, {"ring": 150.0}, {})


def test_contacts_and_gaps_that_do_not_meet_are_refused():
    inner, unlike = cylinder("inner", 2.0, 5.0), cylinder("outer", 5.0, 9.0, cells=(3, 5))
    with pytest.raises(BadMesh, match="do not match"):
        HeatSystem([inner, unlike], [Contact(("inner", "outside"), ("outer", "bore"), 1.0)])
    like = cylinder("outer", 5.0, 9.0)
    with pytest.raises(ValueError, match="conductances"):
        HeatSystem([inner, like], [Contact(("inner", "outside"), ("outer", "bore"), [1.0, 2.0])])
    with pytest.raises(ValueError, match="scale of shape"):
        wrong = Contact(("inner", "outside"), ("outer", "bore"), 1.0, lambda t: np.ones(3))
        solve_steady(HeatSystem([inner, like], [wrong, Held("inner", "bore", 0.0)]))
    with pytest.raises(BadMesh, match="overlap"):
        HeatSystem(
            [inner, tube("far", 6.0, 8.0, 30.0, 40.0, (1, 2))], [AirGap(("inner", "outside"), ("far", "bore"), 1)]
        )
    with pytest.raises(BadMesh, match="does not run along z"):
        HeatSystem([inner, like], [AirGap(("inner", "top"), ("outer", "bore"), 1.0)])


def test_a_body_whose_temperature_nothing_sets_has_no_steady_state():
    bodies = [cylinder("inner", 2.0, 5.0), cylinder("outer", 5.0, 9.0)]
    with pytest.raises(StudwellError, match="temperature"):
        solve_steady(HeatSystem(bodies, [Film("inner", "bore", 1.0, 20.0)]))
