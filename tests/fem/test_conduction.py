"""Steady conduction against closed forms, and balance of heat."""

import numpy as np
import pytest

from studwell.errors import BadMesh, StudwellError
from studwell.fem import Space, solve_conduction
from studwell.fem.conduction import capacity_matrix, conductivity_matrix
from studwell.mesh import Block, build
from studwell.mesh.reference import ring


def test_hollow_cylinder_with_films_matches_its_resistances():
    # Hollow cylinder with convection on both faces: thermal resistances in series (Incropera, conduction chapter)
    mesh = ring(10.0, 20.0, 5.0, (8, 1))
    field = solve_conduction(mesh, {"ring": 150.0}, films={"bore": (0.5, 200.0), "outside": (0.05, 20.0)})
    resistances = [1 / (500 * 2 * np.pi * 0.01), np.log(2) / (2 * np.pi * 150), 1 / (50 * 2 * np.pi * 0.02)]
    flow = 180 / sum(resistances)
    inside, outside = field.at([[10.0, 2.0], [20.0, 2.0]])
    assert inside == pytest.approx(200 - flow * resistances[0], rel=1e-6)
    assert outside == pytest.approx(20 + flow * resistances[2], rel=1e-6)
    assert flow == pytest.approx(938.862, abs=5e-4)


def test_radial_heat_flow_converges_at_twice_the_element_degree():
    def error(cells):
        field = solve_conduction(ring(10.0, 20.0, 5.0, (cells, 1)), {"ring": 150.0}, {"bore": 100.0, "outside": 0.0})
        return abs(field.flow("bore") / (2 * np.pi * 150 * 5 * 100 / np.log(2)) - 1)

    errors = [error(cells) for cells in (4, 8, 16)]
    assert errors[-1] < 1e-7
    assert np.log2(errors[-2] / errors[-1]) > 3.7


def test_flux_and_source_leave_through_the_held_face():
    mesh = ring(0.0, 5.0, 20.0, (2, 6))
    field = solve_conduction(mesh, {"ring": 50.0}, {"top": 20.0}, fluxes={"bottom": 0.3}, sources={"ring": 0.01})
    entered = 0.3 * np.pi * 25 + 0.01 * np.pi * 25 * 20
    assert field.flow("top") == pytest.approx(-entered, rel=1e-11)
    exact = 20 + 0.3 * 20 / 50 + 0.01 * 20**2 / (2 * 50)
    assert field.at([[2.0, 0.0]]) == pytest.approx([exact], rel=1e-11)


def test_two_conductivities_in_series_meet_at_the_exact_temperature():
    rod = build([Block([[0, 0], [4, 0], [4, 10], [0, 10]], (1, 2), "steel", {"south": "cold"}),
                 Block([[0, 10], [4, 10], [4, 30], [0, 30]], (1, 2), "aluminium", {"north": "hot"})])  # fmt: skip
    field = solve_conduction(rod, {"steel": 45.0, "aluminium": 150.0}, {"cold": 0.0, "hot": 100.0})
    assert field.at([[1.0, 10.0]]) == pytest.approx([100 * (10 / 45) / (10 / 45 + 20 / 150)], rel=1e-11)


def test_matrices_hold_the_body_s_capacity_and_no_flow_at_uniform_temperature():
    space = Space(ring(2.0, 5.0, 3.0, (3, 2)))
    ones = np.ones(space.n_nodes)
    assert ones @ capacity_matrix(space, 2.43) @ ones == pytest.approx(2.43 * np.pi * 21 * 3, rel=1e-12)
    assert np.abs(conductivity_matrix(space, 150.0) @ ones).max() < 1e-10


def test_conduction_without_a_level_or_a_conductivity_is_refused():
    mesh = ring(1.0, 2.0, 1.0, (2, 2))
    with pytest.raises(StudwellError, match="temperature"):
        solve_conduction(mesh, {"ring": 150.0}, fluxes={"bore": 1.0})
    with pytest.raises(BadMesh, match="no conductivity"):
        solve_conduction(mesh, {}, {"bore": 1.0})
