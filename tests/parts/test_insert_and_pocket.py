"""Inserts and the liquid shut in under a stud."""

import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx

from studwell.parts.insert import (
    assembled_length,
    coil_stiffness,
    hole_excess,
    insert_hole,
    insert_length,
    least_drilled_depth,
    set_down_range,
    wire_share,
)
from studwell.parts.pocket import (
    air_cushion_rise,
    cylinder_bore_tension,
    cylinder_give,
    cylinder_limit_pressure,
    heated_pocket_pressure,
    sphere_give,
)
from studwell.parts.thread import minor_diameter, parse_thread, pitch_diameter

OIL = (7e-4, 1500.0, 21.5e-6)


@given(d=floats(3, 30), slenderness=floats(5, 12))
def test_insert_hole_is_an_internal_thread_of_a_larger_size(d, slenderness):
    p = d / slenderness
    hole = insert_hole(d, p)
    assert minor_diameter(hole.major_diameter, p) == approx(hole.minor_diameter, rel=1e-12)
    assert pitch_diameter(hole.major_diameter, p) == approx(hole.pitch_diameter, rel=1e-12)
    assert hole.minor_diameter > d


def test_insert_hole_of_m8_and_its_drill():
    hole = insert_hole(8.0, 1.25)
    ours = [float(hole.minor_diameter), float(hole.pitch_diameter), float(hole.major_diameter)]
    assert ours == approx([8.2706, 8.8119, 9.6238], abs=5e-5)
    assert hole_excess(25.4 * 21 / 64, 8.0, 1.25) == approx(0.064, abs=5e-4)
    assert hole_excess(8.2, 8.0, 1.25) < 0


@pytest.mark.parametrize(
    ("size", "bottoming", "depth"), [("M8", True, 17.0), ("M8", False, 23.5), ("M10", True, 18.0), ("M10", False, 21.0)]
)
def test_least_drilled_depth_of_a_twelve_millimetre_insert(size, bottoming, depth):
    assert least_drilled_depth(parse_thread(size), 12.0, bottoming) == approx(depth)


def test_assembled_length_set_down_and_stock_lengths():
    assert assembled_length(12.0, 1.25) == approx([11.0625, 11.375])
    assert set_down_range(1.25) == approx([0.9375, 1.875])
    assert insert_length(8.0, 1.5) == 12.0
    with pytest.raises(ValueError, match=r"1, 1\.5, 2, 2\.5, 3"):
        insert_length(8.0, 1.75)


def test_the_wire_fills_all_but_a_thirty_second_of_its_ring():
    assert wire_share() == approx(31.0 / 32.0, rel=1e-12)


@given(d=floats(5, 12), slenderness=floats(5, 12), compliance=floats(1.5, 3.0))
def test_coils_are_as_stiff_as_their_wire_and_softer_with_a_coarser_pitch(d, slenderness, compliance):
    p = d / slenderness
    stiffness = coil_stiffness(d, p, 195e3, compliance)
    assert coil_stiffness(d, p, 390e3, compliance) == approx(2.0 * stiffness, rel=1e-12)
    # of one slenderness all sizes are alike: the stiffness per length is a modulus times a number
    assert coil_stiffness(2.0 * d, 2.0 * p, 195e3, compliance) == approx(stiffness, rel=1e-9)
    assert stiffness > 3.14159 * d / p * 195e3 / compliance


def test_a_coil_stiffer_than_the_squeeze_of_its_ring_is_refused():
    with pytest.raises(ValueError, match="less than the ring's own"):
        coil_stiffness(8.0, 1.25, 195e3, 0.1)


def test_heated_oil_in_three_pockets():
    shape = (4.0, 10.0, 70e3, 0.33)
    assert heated_pocket_pressure(*OIL, 0.0, 150) == approx(142.99, abs=5e-3)
    assert heated_pocket_pressure(*OIL, cylinder_give(*shape), 150) == approx(133.38, abs=5e-3)
    assert heated_pocket_pressure(*OIL, sphere_give(*shape), 150) == approx(136.55, abs=5e-3)


@given(nu=floats(0.0, 0.45))
def test_a_pocket_in_a_wide_wall_gives_way_as_in_an_infinite_solid(nu):
    # closed-end cylinder: 2 (1 + nu)/E; sphere: 3 (1 + nu)/(2E)
    assert cylinder_give(1.0, 1e5, 1.0, nu) == approx(2 * (1 + nu), rel=1e-6)
    assert sphere_give(1.0, 1e5, 1.0, nu) == approx(1.5 * (1 + nu), rel=1e-6)


def test_air_takes_up_the_first_heat():
    assert air_cushion_rise(0.1, 7e-4, 21.5e-6) == approx(157, abs=0.5)
    with pytest.raises(ValueError, match="growth"):
        air_cushion_rise(0.1, 1e-6, 21.5e-6)


@given(a=floats(1.0, 20.0), thin=floats(1e-5, 1e-3))
def test_a_thin_wall_carries_its_pressure_as_a_hoop(a, thin):
    # hoop p a/t; a tube that cannot lengthen yields at 2/sqrt(3) of the yield strength (von Mises)
    assert cylinder_bore_tension(a, a * (1.0 + thin), 1.0) * thin == approx(1.0, rel=2e-3)
    assert cylinder_limit_pressure(a, a * (1.0 + thin), 1.0) == approx(2.0 / 3.0**0.5 * thin, rel=2e-3)


@given(a=floats(1.0, 20.0), wide=floats(1.1, 5.0))
def test_a_wall_stands_more_than_the_pressure_at_which_its_bore_starts_to_yield(a, wide):
    # Hill 1950: first yield at (1 - a^2/b^2) / sqrt(3) of the yield strength in a tube that cannot lengthen
    first = (1.0 - wide**-2) / 3.0**0.5
    assert cylinder_limit_pressure(a, a * wide, 1.0) > first


def test_a_wall_inside_out_is_refused():
    for wall in (cylinder_limit_pressure, cylinder_bore_tension):
        with pytest.raises(ValueError, match="outer_radius"):
            wall(10.0, 4.0, 100.0)
    for give in (cylinder_give, sphere_give):
        with pytest.raises(ValueError, match="outer_radius"):
            give(10.0, 4.0, 70e3, 0.33)
