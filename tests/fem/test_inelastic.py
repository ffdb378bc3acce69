"""Bodies that flow and creep: methods that agree, records, warnings and refusals."""

import numpy as np
import pytest

import studwell.fem.inelastic as inelastic_module
from studwell.errors import NotConverged
from studwell.fem import (
    Backstress,
    Elastic,
    Increment,
    Inelastic,
    NortonCreep,
    Plasticity,
    solve_elastic,
    solve_elastoplastic,
)
from studwell.fem.fixed_point import fixed_point
from studwell.mesh.reference import fillet_corner, ring
from studwell.parts.material import Curve

E, NU = 70_000.0, 0.33
ROOM = 20.0
MIXED = Plasticity(150.0, 400.0, 40.0, 30.0, (Backstress(20_000.0, 300.0), Backstress(3_000.0)))
PERFECT = Plasticity(150.0)


def test_creep_under_a_steady_pull_grows_in_proportion_to_time():
    creep = NortonCreep(5.0, 1e-18, (0.0, 100.0))
    field = solve_elastoplastic(
        ring(0.0, 5.0, 10.0, (2, 2)),
        {"ring": Inelastic(E, NU, creep=creep)},
        [Increment(tractions={"top": (0.0, 80.0)}, duration=d) for d in (0.0, 1e4, 1e5)],
        start_temperature=ROOM,
        supports={"bottom": "z"},
    )
    exact = 80.0 / E + 1e-18 * 80.0**5 * np.array([0.0, 1e4, 1.1e5])
    assert field.displacement_at([[2.0, 10.0]])[:, 0, 1] / 10.0 == pytest.approx(exact, rel=1e-8)
    assert field.warnings == ()


def test_temperatures_beyond_the_data_are_told():
    material = Inelastic(
        E, NU, plasticity=Plasticity(Curve((20.0, 100.0), (150.0, 120.0))), creep=NortonCreep(5.0, 1e-20, (0.0, 90.0))
    )

    def told(change):
        mesh = ring(0.0, 5.0, 10.0, (1, 1))
        field = solve_elastoplastic(
            mesh, {"ring": material}, [Increment(temperature_change=change)], start_temperature=ROOM,
            supports={"bottom": "z"},
        )  # fmt: skip
        return " ".join(field.warnings)

    assert told(10.0) == ""
    assert "creep data hold from 0 to 90" in told(75.0)
    assert "yield_strength is known from 20 to 100" in told(90.0)


def thick(increments, law=PERFECT, supports=None, elements=12, **options):
    mesh = ring(10.0, 20.0, 1.0, (elements, 1))
    held = {"bottom": "z", "top": "z"} if supports is None else supports
    return solve_elastoplastic(
        mesh, {"ring": Inelastic(E, NU, 21.5e-6, law)}, increments, start_temperature=ROOM, supports=held, **options
    )


def test_an_elastic_body_gives_the_elastic_solution_with_ends_that_stay_plane():
    supports = {"bottom": "z", "top": "z uniform"}

    def heat(r, z):
        return 5.0 * (20.0 - r)

    field = thick([Increment({"bore": 20.0}, temperature_change=heat)], None, supports)
    same = solve_elastic(
        field.space.mesh, {"ring": Elastic(E, NU, 21.5e-6)}, supports, {"bore": 20.0}, temperature_change=heat
    )
    assert field.displacement[0] == pytest.approx(same.displacement, abs=1e-12)
    assert field.stress() == pytest.approx(same.quadrature_stress, abs=1e-8)
    assert field.reaction("bottom")[0] == pytest.approx(same.reaction("bottom"), abs=1e-6)
    assert field.records[0].factors == 0 and field.records[0].iterations == 1


def test_ends_that_stay_plane_carry_no_axial_force_when_the_wall_yields():
    field = thick([Increment({"bore": p}) for p in (60.0, 100.0)], supports={"bottom": "z", "top": "z uniform"})
    assert field.plastic_strain().max() > 1e-3
    weights = field.space.weights
    assert abs((weights * field.stress()[..., 2]).sum()) < 1e-6 * (weights * field.stress()[..., 1]).sum()


def test_a_block_in_plane_strain_yields_at_two_over_root_three():
    field = solve_elastoplastic(
        ring(1.0, 2.0, 1.0, (2, 2)),
        {"ring": Inelastic(E, NU, plasticity=PERFECT)},
        [Increment(supports={"top": ("z", u)}) for u in (0.002, 0.02)],
        start_temperature=ROOM,
        supports={"bottom": "z", "top": "z", "bore": "r"},
        axisymmetric=False,
    )
    # Hill 1950: the intermediate stress tends to the mean of the others, so that yield is at 2 Y / sqrt 3
    assert field.reaction("top")[:, 1] == pytest.approx([0.002 * E / (1 - NU**2), 300.0 / np.sqrt(3)], rel=2e-4)


def test_both_methods_agree_and_newton_takes_few_iterations():
    steps = [Increment({"bore": p}) for p in (70.0, 105.0, 115.0, 20.0)]
    frozen, newton = thick(steps, MIXED), thick(steps, MIXED, method="tangent")
    assert frozen.displacement == pytest.approx(newton.displacement, abs=1e-9)
    assert max(record.iterations for record in newton.records) <= 9
    assert all(record.method == "accelerated" and record.factors == 0 for record in frozen.records)
    assert max(record.back_solves for record in frozen.records) <= 25


def test_a_hole_whose_floor_is_pushed_yields_at_its_corner_within_some_tens_of_back_solves():
    mesh = fillet_corner(4.0, 0.5, 15.0, 6.0, 12.0)
    region = next(iter(mesh.regions))
    field = solve_elastoplastic(
        mesh,
        {region: Inelastic(E, NU, plasticity=PERFECT)},
        [Increment({"floor": p}) for p in (60.0, 120.0, 180.0, 220.0)],
        start_temperature=ROOM,
        supports={"mouth": "z"},
    )
    strain = field.plastic_strain()
    r, z = field.space.points.reshape(-1, 2)[strain.argmax()]
    assert strain.max() > 1e-3 and np.hypot(r - 4.0, z) < 0.7
    assert all(record.method == "accelerated" and record.back_solves <= 40 for record in field.records)


def test_more_than_the_limit_pressure_is_refused_with_the_record(monkeypatch):
    monkeypatch.setattr(inelastic_module, "MOST_HALVINGS", 2)
    limit = 2 / np.sqrt(3) * 150.0 * np.log(2.0)
    with pytest.raises(NotConverged) as caught:
        thick([Increment({"bore": 0.5 * limit}), Increment({"bore": 1.05 * limit})], elements=4)
    record = caught.value.record
    assert record.method == "tangent" and record.halvings > 0 and record.factors > 0
    assert record.misfit > 1e-8 and "halvings" in str(record)


def test_an_increment_that_does_not_converge_is_halved_and_told(monkeypatch):
    law = Plasticity(150.0, linear=5_000.0)
    steps = [Increment({"bore": 60.0}), Increment({"bore": 110.0})]
    whole = thick(steps, law)
    monkeypatch.setattr(inelastic_module, "ACCELERATED_ITERATIONS", 5)
    monkeypatch.setattr(inelastic_module, "TANGENT_ITERATIONS", 4)
    pieces = thick(steps, law)
    assert pieces.records[-1].halvings > 0 and whole.records[-1].halvings == 0
    assert pieces.displacement[-1] == pytest.approx(whole.displacement[-1], rel=2e-3, abs=1e-9)


def test_a_halved_increment_keeps_its_duration(monkeypatch):
    mesh = ring(0.0, 5.0, 10.0, (1, 1))
    material = Inelastic(E, NU, creep=NortonCreep(5.0, 1e-18, (0.0, 100.0)))
    steps = [Increment(tractions={"top": (0.0, 80.0)}), Increment(tractions={"top": (0.0, 80.0)}, duration=1e6)]
    monkeypatch.setattr(inelastic_module, "ACCELERATED_ITERATIONS", 3)
    monkeypatch.setattr(inelastic_module, "TANGENT_ITERATIONS", 4)
    field = solve_elastoplastic(mesh, {"ring": material}, steps, start_temperature=ROOM, supports={"bottom": "z"})
    assert field.records[-1].halvings > 0
    assert field.displacement_at([[2.0, 10.0]])[-1, 0, 1] / 10 == pytest.approx(80 / E + 1e-12 * 80**5, rel=1e-8)


def test_large_plastic_strain_is_marked_as_outside_small_strain():
    driven_far = [Increment(supports={"bore": ("r", u)}) for u in (0.1, 1.5)]
    field = thick(driven_far, supports={"bottom": "z", "top": "z", "bore": "r"})
    assert "beyond small strain" in " ".join(field.warnings)
    assert thick(driven_far[:1], supports={"bottom": "z", "top": "z", "bore": "r"}).warnings == ()


@pytest.mark.parametrize(
    ("increment", "options", "text"),
    [
        (Increment(supports={"outside": "r"}), {}, "holds other unknowns"),
        (Increment(duration=-1.0), {}, "duration"),
        (Increment(), {"method": "guess"}, "method"),
        (Increment(), {"free_axially": True}, "axially"),
    ],
)
def test_increments_that_cannot_be_meant_are_refused(increment, options, text):
    with pytest.raises(ValueError, match=text):
        thick([increment], **options)


def test_acceleration_finds_the_fixed_point_of_a_map_that_alone_diverges():
    matrix = np.diag([-1.5, 0.9, 0.5, -0.3])
    target = np.array([1.0, 2.0, 3.0, 4.0])

    def change(x):
        step = matrix @ (x - target) - (x - target)
        return step, float(np.abs(step).max())

    x, record = fixed_point(change, np.zeros(4), 1e-10, 20)
    assert x == pytest.approx(target, abs=1e-8) and record.iterations <= 8
    with pytest.raises(NotConverged, match="iterations"):
        fixed_point(change, np.zeros(4), 1e-10, 3)
