"""A stud on a flat floor, in a drill cone and on a radius, driven alike."""

import numpy as np
import pytest
from pytest import approx

from studwell.parts.thread import pitch_diameter
from studwell.parts.torque import cone_tip_torque_factor, flat_tip_torque_factor, wedge_force
from studwell.study.hole_ends import hole_ends


@pytest.fixture(scope="module")
def setup(make_setup):
    return make_setup('stud = { engaged_length = "10 mm" }')


@pytest.fixture(scope="module")
def rows(setup):
    found = hole_ends(setup, cone_angle=118.0, end_radius=2.0, frictions=(0.0, 0.15), refinement=0.25)
    return {(row.end, row.friction): row for row in found}


def test_each_end_is_touched_as_it_should_be(rows):
    assert {row.end: row.seat for row in rows.values()} == {
        "flat": "tip on floor",
        "cone": "tip on cone",
        "radiused": "tip on radius",
    }
    assert rows["flat", 0.0].slope == 0.0
    assert rows["cone", 0.0].slope == approx(31.0)
    assert 31.0 < rows["radiused", 0.0].slope < 60.0


def test_the_steeper_the_contact_the_less_a_torque_wedges_and_the_more_it_spreads(setup, rows):
    # solid pivot and cone clutch, Shigley ch. 16
    stud, seating = setup.stud, setup.seating
    d2 = pitch_diameter(stud.thread.nominal_diameter, stud.thread.pitch)
    for end in ("flat", "cone"):
        row = rows[end, 0.0]
        factor = flat_tip_torque_factor(0.5 * stud.tip_diameter, seating.tip_friction)
        if end == "cone":
            factor = cone_tip_torque_factor(0.5 * stud.tip_diameter - 0.1, np.radians(59.0), seating.tip_friction)
        expected = wedge_force(seating.torque, stud.thread.pitch, d2, seating.thread_friction, factor)
        assert row.wedge_force == approx(float(expected), rel=1e-6)
    wedges = [rows[end, 0.0].wedge_force for end in ("flat", "cone", "radiused")]
    assert wedges == sorted(wedges, reverse=True)
    for row in rows.values():
        assert row.outward == approx(row.wedge_force * np.tan(np.radians(row.slope)), abs=1e-6)


def test_a_sloping_end_spares_the_corner_and_the_underside(rows):
    assert rows["radiused", 0.0].floor_stress < rows["flat", 0.0].floor_stress
    for end in ("cone", "radiused"):
        assert rows[end, 0.0].split < 0.5 * rows["flat", 0.0].split


def test_friction_in_the_plane_does_not_change_what_a_turning_drive_leaves(rows):
    for end in ("flat", "cone", "radiused"):
        assert rows[end, 0.15].wedge_force == approx(rows[end, 0.0].wedge_force, rel=1e-9)
    # it holds the edge on its slope once heat and nut pull: the corner's worst stress is another one
    assert rows["radiused", 0.15].floor_stress != approx(rows["radiused", 0.0].floor_stress, rel=1e-3)
