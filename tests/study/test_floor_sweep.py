"""Floors from thin to thick: which way governs, and the closed forms beside the mesh."""

import pytest
from pytest import approx

from studwell.study.floor_sweep import floor_sweep


@pytest.fixture(scope="module")
def sweep(make_setup):
    return floor_sweep(make_setup('stud = { engaged_length = "10 mm" }'), (2.5, 4.0, 8.0, 12.0), refinement=0.3)


def test_the_plug_of_the_closed_form_carries_the_same_shear_as_the_mesh(sweep):
    for row in sweep.rows:
        assert row.punch == approx(row.plug_punch, rel=1e-6)


def test_a_thick_floor_is_punched_before_it_splits_and_the_change_lies_between_the_rows(sweep):
    assert [row.governs for row in sweep.rows] == ["floor split", "floor split", "floor punch", "floor punch"]
    ((thickness, way),) = sweep.changes
    assert 4.0 < thickness < 8.0 and way == "floor punch"
    assert sweep.closed_change > 0.0


def test_a_thin_floor_bends_between_what_a_ring_and_an_even_patch_do_to_a_disc(make_setup):
    (row,) = floor_sweep(make_setup('stud = { engaged_length = "10 mm" }'), (1.0,), refinement=0.5).rows
    assert row.ring_split < row.split < row.disc_split


def test_every_stress_falls_with_thickness(sweep):
    for name in ("punch", "split", "corner"):
        values = [getattr(row, name) for row in sweep.rows]
        assert values == sorted(values, reverse=True), name


def test_thicknesses_that_do_not_rise_are_refused(make_setup):
    with pytest.raises(ValueError, match="must rise"):
        floor_sweep(make_setup(), (4.0, 3.0))
