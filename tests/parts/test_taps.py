"""Forms of taps: chamfers as printed, and the full thread that they leave."""

import pytest
from pytest import approx

from studwell.data import source_of, table
from studwell.parts.taps import full_thread, tap_form, tap_forms

# DIN 2197 as tap catalogues reprint it; hand taps to American practice
PRINTED = {
    "form A": (6.0, 8.0),
    "form B": (3.5, 5.5),
    "form C": (2.0, 3.0),
    "form D": (3.5, 5.0),
    "form E": (1.5, 2.0),
    "form F": (1.0, 1.5),
    "taper": (7.0, 10.0),
    "plug": (3.0, 5.0),
    "bottoming": (1.0, 2.0),
}


@pytest.mark.parametrize(("name", "chamfer"), PRINTED.items())
def test_chamfers_are_the_printed_ones(name, chamfer):
    form = tap_form(name)
    assert (form.least, form.most) == chamfer
    assert form.blind is (name not in ("form A", "form B"))


def test_forms_stand_longest_first_and_each_has_a_source():
    forms = tap_forms()
    assert {form.name for form in forms} == set(PRINTED)
    assert [form.most for form in forms] == sorted((form.most for form in forms), reverse=True)
    assert all(source_of(owner)[1] == "confirmed" and owner["unit"] == "pitches" for owner in table("taps").values())


def test_full_thread_ends_a_chamfer_above_the_end_of_the_hole():
    assert full_thread(15.0, 2.0, 1.25) == approx(12.5)
    assert full_thread(15.0, 13.0, 1.25) == 0.0
    with pytest.raises(ValueError, match="form F"):
        tap_form("form G")
    with pytest.raises(ValueError, match="depth"):
        full_thread(0.0, 2.0, 1.25)
