"""Texts with units: the spellings users write, what each becomes, and what is refused with a reason."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studwell import units
from studwell.errors import BadQuantity

POUND_FORCE_FOOT = 0.45359237 * 9.80665 * 0.3048 * 1000  # N mm; exact definitions of pound, gravity and foot

READ = [
    ("length", "8 mm", 8.0), ("length", "8mm", 8.0), ("length", "5/16 in", 7.9375), ("length", "1 1/2 in", 38.1),
    ("length", "1-1/2 in", 38.1), ("length", "0.25 inch", 6.35), ("length", "2 cm", 20.0), ("length", "10 um", 0.01),
    ("length", "10 µm", 0.01), ("length", "1e-1 mm", 0.1), ("length", ".5 mm", 0.5), ("length", '3/8"', 9.525),
    ("length", "-2 mm", -2.0), ("length", "\N{MINUS SIGN}2 mm", -2.0),
    ("torque", "10 Nm", 10e3), ("torque", "10 N*m", 10e3), ("torque", "10 N m", 10e3), ("torque", "10 N·m", 10e3),
    ("torque", "10 N-m", 10e3), ("torque", "500 N*mm", 500.0),
    *(("torque", f"12 {spelling}", 12 * POUND_FORCE_FOOT)
      for spelling in ("lbf*ft", "ft-lb", "ft lb", "lb-ft", "ft*lbf", "ft lbf", "lbf ft", "ftlb", "ft-lbs")),
    ("torque", "12 lbf*in", POUND_FORCE_FOOT), ("torque", "12 in-lb", POUND_FORCE_FOOT),
    ("force", "3 kN", 3000.0), ("force", "250 N", 250.0), ("force", "1 lbf", 4.4482216152605),
    ("pressure", "205 MPa", 205.0), ("pressure", "72.4 GPa", 72400.0), ("pressure", "20 bar", 2.0),
    ("pressure", "205 N/mm^2", 205.0), ("pressure", "205 N/mm²", 205.0), ("pressure", "1 ksi", 6.894757293168361),
    ("temperature", "110 degC", 110.0), ("temperature", "110 °C", 110.0), ("temperature", "110°C", 110.0),
    ("temperature", "110 C", 110.0), ("temperature", "-15 degC", -15.0), ("temperature", "212 degF", 100.0),
    ("temperature", "273.15 K", 0.0), ("temperature", "0 K", -273.15),
    ("temperature_difference", "15 K", 15.0),
    ("turn", "0.22 turn", 0.22), ("turn", "80 deg", 80 / 360), ("turn", "1/4 turn", 0.25), ("turn", "90°", 0.25),
    ("angle", "118 deg", 118.0), ("angle", "0.5 turn", 180.0), ("angle", "1 rad", math.degrees(1.0)),
    ("time", "10 min", 600.0), ("time", "90 s", 90.0), ("time", "1.5 h", 5400.0),
    ("expansion", "21.5e-6 /K", 21.5e-6), ("expansion", "21.5e-6 1/K", 21.5e-6),
    ("expansion", "21.5 um/(m*K)", 21.5e-6),
    ("expansion", "1.0e-5 /degF", 1.8e-5),
    ("toughness", "17.3 MPa*m^0.5", 17.3), ("toughness", "17.3 MPa*m**0.5", 17.3),
    ("toughness", "1 ksi*in^0.5", 1.0988434941),
    ("conductivity", "155 W/(m*K)", 155.0), ("conductivity", "155 W/m/K", 155.0),
    ("film", "40 W/(m^2*K)", 0.04), ("film", "40 W/(m² K)", 0.04), ("film", "0.04 N/(mm*s*K)", 0.04),
    ("conductance", "5 kW/(m^2*K)", 5.0), ("conductance", "5000 W/m²K", 5.0),
    ("heat_flux", "20 kW/m^2", 20.0), ("heat_flux", "-500 W/m²", -0.5), ("heat_flux", "2 W/cm^2", 20.0),
    ("density", "2.68 g/cm^3", 2680.0), ("density", "2680 kg/m³", 2680.0),
    ("heat_capacity", "963 J/(kg*K)", 963.0), ("heat_capacity", "0.963 kJ/(kg*K)", 963.0),
]  # fmt: skip

REFUSED = [
    ("length", "1,5 mm", 'write "1.5 mm"'), ("length", "1,500 mm", 'write "1500 mm" or "1.500 mm"'),
    ("length", "8", "without a unit"), ("length", 8, "bare number"), ("length", 8.0, "bare number"),
    ("length", True, "text in quotes"), ("length", None, "text in quotes"), ("length", ["8 mm"], "text in quotes"),
    ("length", "", "start with a number"), ("length", "mm", "start with a number"),
    ("length", "nan mm", "not a finite number"), ("length", "inf mm", "not a finite number"),
    ("length", "-inf mm", "not a finite number"), ("length", "1e999 mm", "not a finite number"),
    ("length", "5/0 in", "over zero"), ("length", "8 MM", "did you mean mm?"), ("length", "8 furlong", "not known"),
    ("length", "10 N*m", "N*m is a unit of torque, not of length"), ("length", "8 mm 9 mm", "not known"),
    ("torque", "12 mm", "mm is a unit of length, not of torque"), ("torque", "12 J", "energy, not of torque"),
    ("torque", "12 joules", "energy, not of torque"), ("torque", "10 nm", "did you mean Nm?"), ("torque", 10, "bare"),
    ("force", "12 kg", "a mass, not a force"), ("force", "12 MPa", "unit of pressure"),
    ("temperature", "-300 degC", "below absolute zero"), ("temperature", "-1 K", "below absolute zero"),
    ("temperature", "-460 degF", "below absolute zero"), ("temperature", "110", "without a unit"),
    ("temperature_difference", "15 degC", "no zero point"), ("temperature_difference", "15 °C", "no zero point"),
    ("temperature_difference", "27 degF", "no zero point"),
    ("film", "40 W/m^2", "unit of heat flux, not of film coefficient"), ("film", 40, "bare number"),
    ("heat_flux", "40 W/(m^2*K)", "unit of film coefficient, not of heat flux"), ("heat_flux", "40 W", "not known"),
    ("turn", "0.22", "without a unit"), ("turn", 0.22, "bare number"), ("turn", "1 mm", "unit of length"),
    ("expansion", "21.5e-6", "without a unit"), ("expansion", "21.5e-6 K", "not of thermal expansion"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "text", "inside"), READ)
def test_text_becomes_the_number_that_its_definition_gives(kind, text, inside):
    assert units.read(text, kind) == pytest.approx(inside, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("kind", "text", "reason"), REFUSED)
def test_text_that_is_not_the_quantity_is_refused_with_the_reason_and_an_example(kind, text, reason):
    with pytest.raises(BadQuantity) as caught:
        units.read(text, kind)
    assert reason in caught.value.line
    assert len(caught.value.line) < 220 and "\n" not in caught.value.line
    assert caught.value.allowed


@pytest.mark.parametrize("kind", units.KINDS)
def test_example_of_each_kind_is_accepted_by_its_own_reader(kind):
    assert math.isfinite(units.read(units.KINDS[kind].example, kind))


@pytest.mark.parametrize(
    "kind",
    [
        "length",
        "force",
        "torque",
        "pressure",
        "temperature",
        "temperature_difference",
        "turn",
        "angle",
        "time",
        "expansion",
        "toughness",
        "conductivity",
        "film",
        "density",
        "heat_capacity",
    ],
)
def test_the_reader_named_after_a_kind_reads_that_kind(kind):
    example = units.KINDS[kind].example
    assert getattr(units, kind)(example) == units.read(example, kind)


@pytest.mark.parametrize("kind", units.KINDS)
def test_every_spelling_of_a_kind_has_the_dimension_of_the_kind(kind):
    for spelling in units.KINDS[kind].spellings:
        assert math.isfinite(units.read(f"300 {spelling}", kind)), spelling


@pytest.mark.parametrize("kind", units.KINDS)
@pytest.mark.parametrize("system", ["metric", "inch"])
@given(value=st.floats(1e-3, 1e3))
def test_shown_text_reads_back_to_the_value_within_its_digits(kind, system, value):
    text = units.as_text(value, kind, system, digits=9)
    if kind in ("expansion", "density", "heat_capacity") and system == "inch":
        return  # their inch labels are for reading, not for writing
    assert units.read(text, kind) == pytest.approx(value, rel=1e-7, abs=3e-7)


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9))
def test_any_finite_decimal_in_the_inside_unit_comes_through_unchanged(value):
    assert units.length(f"{value!r} mm") == value


@given(st.text(max_size=12))
def test_any_text_is_either_a_finite_length_or_a_bad_quantity(text):
    with contextlib.suppress(BadQuantity):
        assert math.isfinite(units.length(text))


@pytest.mark.parametrize(
    ("count", "text"), [(191234.0, "190 000"), (1e6, "1 000 000"), (12.4, "12"), (0.37, "0.37"), (3.2e11, "3.2e11")]
)
def test_a_number_of_events_is_written_out(count, text):
    assert units.count_text(count) == text


@pytest.mark.parametrize(
    ("value", "kind", "system", "text"),
    [(12345.0, "force", "metric", "12.35 kN"), (25.4, "length", "inch", f"1{units.INCH_MARK}in"),
     (100.0, "temperature", "inch", "212 degF"),
     (0.0, "force", "metric", "0 kN"), (600.0, "time", "metric", "10 min"), (12e3, "torque", "metric", "12 N*m"),
     (0.22, "turn", "metric", "0.22 turn"), (21.5e-6, "expansion", "metric", "21.5 um/(m*K)"),
     (200.0, "length", "metric", "200 mm"), (-0.05, "length", "metric", "-0.05 mm")],
)  # fmt: skip
def test_values_are_shown_in_the_units_of_the_chosen_system(value, kind, system, text):
    assert units.as_text(value, kind, system) == text


def test_a_system_of_units_that_is_not_known_is_refused():
    with pytest.raises(ValueError, match="metric"):
        units.as_text(1.0, "length", "imperial")


def test_quantities_of_the_api_carry_the_unit_of_the_value():
    clamp = units.quantity(3000.0, "force")
    assert clamp.to("kN").magnitude == pytest.approx(3.0)
    assert units.quantity(np.array([1.0, 25.4]), "length").to("inch").magnitude[1] == pytest.approx(1.0)
    assert units.quantity(0.5, "share").dimensionless
