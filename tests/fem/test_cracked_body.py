import numpy as np
import pytest

from studwell.fem.crack_tip import face_loads, williams
from studwell.fem.cracked_body import CrackedBody, pushed_open
from studwell.mesh.blocks import Block, build
from studwell.mesh.ring_crack import cracked_mesh

MODULUS, POISSON = 70_000.0, 0.33


def bar(way=(-1.0, 0.0), length=1.2):
    block = Block(
        corners=[(0.0, -10.0), (4.0, -10.0), (4.0, 10.0), (0.0, 10.0)],
        divisions=(2, 6),
        tags={"south": "bottom", "north": "top"},
    )
    return cracked_mesh(build([block]), (4.0, 0.0), way, length)


@pytest.fixture(scope="module")
def straight():
    return CrackedBody(bar(), MODULUS, POISSON)


@pytest.fixture(scope="module")
def slanted():
    return CrackedBody(bar((-1.0, -0.7)), MODULUS, POISSON)


def pulled(stress=100.0):
    return {"top": (0.0, stress), "bottom": (0.0, -stress)}


def test_the_fields_round_a_tip_are_in_balance_and_have_the_slopes_of_their_displacements():
    rho, theta, step = np.array([0.3]), np.array([0.8]), 1e-6
    x, y = rho * np.cos(theta), rho * np.sin(theta)

    def fields(dx, dy):
        return williams(np.hypot(x + dx, y + dy), np.arctan2(y + dy, x + dx), MODULUS, POISSON)

    for axis, shift in enumerate(((step, 0.0), (0.0, step))):
        plus, minus = fields(*shift), fields(-shift[0], -shift[1])
        slope = (plus[0] - minus[0]) / (2 * step)
        assert slope == pytest.approx(fields(0.0, 0.0)[1][..., axis], rel=1e-6)
    along = (fields(step, 0.0)[2] - fields(-step, 0.0)[2]) / (2 * step)
    across = (fields(0.0, step)[2] - fields(0.0, -step)[2]) / (2 * step)
    assert along[..., 0] + across[..., 2] == pytest.approx(0.0, abs=1e-6)
    assert along[..., 2] + across[..., 1] == pytest.approx(0.0, abs=1e-6)


def test_pulling_the_ends_opens_a_crack_as_much_as_pressing_its_faces_with_the_same_stress(slanted):
    far = slanted.solve(tractions=pulled())
    normal, way = slanted.crack.normal, slanted.crack.direction
    n = len(slanted.crack.faces)
    pressed = slanted.solve(
        face_pressure=np.full(n, 100.0 * normal[1] ** 2), face_shear=np.full(n, 100.0 * normal[1] * way[1])
    )
    assert pressed.opening == pytest.approx(far.opening, rel=2e-4)
    assert pressed.sliding == pytest.approx(far.sliding, rel=5e-4)
    assert abs(far.sliding) > 0.2 * far.opening


def test_a_slanted_crack_has_both_intensities_from_its_contours_as_from_its_face_jumps(slanted):
    found = slanted.solve(tractions=pulled())
    assert found.displacement == pytest.approx([found.opening, found.sliding], rel=0.02)
    assert found.spread < 0.002


def test_a_face_load_of_one_megapascal_is_its_area_and_leaves_the_body_in_balance(straight):
    n = len(straight.crack.faces)
    loads = face_loads(straight.space, straight.crack) @ np.repeat([1.0, 0.0], n)
    upper = straight.crack.faces[:, 0]
    assert straight.crack.normal[1] * loads[2 * upper + 1].sum() == pytest.approx(np.pi * (4.0**2 - 2.8**2), rel=1e-3)
    assert loads[1::2].sum() == pytest.approx(0.0, abs=1e-9)


def test_a_crack_pressed_shut_has_no_stress_intensity_and_its_faces_touch(straight):
    found = straight.solve(tractions=pulled(-100.0))
    assert found.closed and found.opening == pytest.approx(0.0, abs=0.01)
    through = straight.solve(tractions=pulled(-100.0), contact=False)
    assert through.opening < -3.0


def test_weights_give_every_load_the_intensity_that_a_solve_gives_it(slanted):
    n = len(slanted.crack.faces)
    pressure, shear = np.linspace(50.0, 120.0, n), np.linspace(-20.0, 40.0, n)
    solved = slanted.solve(face_pressure=pressure, face_shear=shear)
    found, closed = slanted.weights().of(pressure[None], shear[None])
    assert found[0] == pytest.approx([solved.opening, solved.sliding], rel=1e-9)
    assert closed[0] == solved.closed


def test_uniform_heating_of_a_free_body_does_nothing_to_a_crack(slanted):
    found = slanted.solve(free_strain=np.full(slanted.space.n_nodes, 2.4e-3))
    assert np.abs(found.contours).max() < 1e-8 * MODULUS * 2.4e-3


def test_pushed_open_leaves_no_overlap_and_no_force_at_a_gap():
    push = np.array([[2.0, 1.0, 0.2], [1.0, 2.0, 0.5], [0.2, 0.5, 1.0]])
    gaps = np.array([-1.0, -0.1, 0.4])
    force = pushed_open(push, gaps)
    after = push @ force + gaps
    assert (force >= 0.0).all() and (after > -1e-9).all()
    assert force @ after == pytest.approx(0.0, abs=1e-9)
    assert force[0] > 0.0
