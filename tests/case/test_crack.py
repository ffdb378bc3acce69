import pytest

from studwell.case import case_from_text, starter_case
from studwell.case.fingerprint import inputs_sha256
from studwell.errors import BadCase

CRACK = """
[crack]
flaw = "0.5 mm"
inspection_size = "1 mm"
cycles = 1e4
surface_factor = 0.8
residual_stress = "-20 MPa"
failure_probability = 0.001
stud_thread = "rolled after heat treatment"

[material.ours]
base = "a356-t6 sand"
fatigue_strength = "60 MPa"
threshold = "5 MPa*m^0.5"
growth_coefficient = "1e-8 mm/cycle"
growth_exponent = 3
growth_range = ["5 MPa*m^0.5", "12 MPa*m^0.5"]
growth_ratio = 0.1
walker_exponent = 0.6
weibull_modulus = 15
weibull_strength = "250 MPa"
weibull_volume = "1000 mm^3"

[boss] """
PLAIN = starter_case("M8")
TEXT = PLAIN.replace("[boss] ", CRACK, 1).replace('material = "a356-t6 sand"', 'material = "ours"', 1)


def test_what_a_case_says_of_cracks_is_read_in_inside_units():
    setup = case_from_text(TEXT, "case").setups[0]
    crack, material = setup.crack, setup.boss.material
    assert (crack.flaw, crack.inspection_size, crack.cycles, crack.residual_stress) == (0.5, 1.0, 1e4, -20.0)
    assert crack.stud_thread == "rolled after heat treatment"
    assert material.growth_coefficient == pytest.approx(1e-11)  # m per cycle
    assert (material.growth_low, material.growth_high, material.weibull_volume) == (5.0, 12.0, 1000.0)
    assert (material.growth_ratio, material.walker_exponent) == (0.1, 0.6)
    assert material.source("threshold") == ("given by the user", "given by the user")


def test_without_the_table_nothing_is_said_and_the_fingerprint_is_another():
    plain = case_from_text(PLAIN, "case")
    assert plain.setups[0].crack is None
    only = case_from_text(PLAIN.replace("[boss] ", '[crack]\nflaw = "0.5 mm"\n\n[boss] ', 1), "case")
    assert inputs_sha256(only) != inputs_sha256(plain)


@pytest.mark.parametrize(
    ("old", "new", "place", "problem", "allowed"),
    [
        ('flaw = "0.5 mm"', 'flaw = "9 mm"', '[crack] flaw = "9 mm"', "as large as the floor, 6 mm", "less than 6 mm"),
        ('"1 mm"\ncycles', '"7 mm"\ncycles', "[crack] inspection_size", "broken through", "less than 6 mm"),
        ("cycles = 1e4", "cycles = 0", "[crack] cycles = 0", "zero", "1 to 1e12"),
        ('threshold = "5', 'threshold = "-5', "[material.ours] threshold", "negative", "from 0.1"),
        ('threshold = "5', 'threshold = "18', "[material.ours] threshold", "not below the fracture toughness", "17.3"),
        ('threshold = "5', 'threshold = "14', "[material.ours] threshold", "above the whole growth_range", "less than 12"),
        ('["5 MPa*m^0.5", "12', '["13 MPa*m^0.5", "12', "[material.ours] growth_range", "does not rise", "rising"),
        ('["5 MPa*m^0.5", "12', '["18 MPa*m^0.5", "19', "[material.ours] growth_range", "begins above the fracture", "17.3"),
        ("growth_exponent = 3\n", "", "[material.ours] growth_exponent", "a law of growth needs it", ""),
        ('weibull_volume = "1000 mm^3"\n', "", "[material.ours] weibull_volume", "a strength belongs to a volume", ""),
        ("growth_ratio = 0.1\n", "", "[material.ours] growth_ratio", "missing: walker_exponent needs it", ""),
        ("growth_ratio = 0.1", "growth_ratio = 1.0", "[material.ours] growth_ratio = 1", "too large", "-10 to 0.95"),
        ("exponent = 0.6", "exponent = 1.2", "[material.ours] walker_exponent", "too large", "0.01 to 1"),
        ('"-20 MPa"', '"900 MPa"', '[crack] residual_stress = "900 MPa"', "not below the tensile strength", "less than"),
        ('"-20 MPa"', '"-900 MPa"', '[crack] residual_stress = "-900 MPa"', "not below the tensile strength", "either way"),
        ('"rolled after heat treatment"', '"cut"', "[crack] stud_thread", "not one of the choices", "rolled before"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_key_value_and_what_is_allowed(old, new, place, problem, allowed):
    assert old in CRACK
    with pytest.raises(BadCase) as caught:
        case_from_text(TEXT.replace(CRACK, CRACK.replace(old, new)), "case")
    line = str(caught.value)
    assert line.startswith("case: " + place)
    assert problem in line and allowed in line
