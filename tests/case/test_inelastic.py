"""What a case may say of bodies that yield: [inelastic], and the flow data of a material of one's own."""

import pytest

from studwell.case import Inelastic, case_from_text, inputs_sha256
from studwell.errors import BadCase

OWN = '\n[material.own]\nbase = "a356-t6 sand"\n'


def with_lines(good, lines):
    return case_from_text(good + "\n" + lines, "pump.toml")


def refusal(good, lines):
    with pytest.raises(BadCase) as caught:
        with_lines(good, lines)
    return caught.value.line


def test_a_case_without_the_table_is_elastic(good):
    assert all(setup.inelastic is None for setup in case_from_text(good).setups)


@pytest.mark.parametrize(
    ("lines", "read"),
    [
        ('zone = "2 mm"', Inelastic(2.0, False)),
        ('zone = "0.1 in"\ncreep = true', Inelastic(pytest.approx(2.54), True)),
        ('zone = "boss"\ncreep = false', Inelastic("boss", False)),
        ('layers = ["barrel"]\ncreep = true', Inelastic(None, True, ("barrel",))),
        ('zone = "2 mm"\nlayers = ["barrel"]', Inelastic(2.0, False, ("barrel",))),
        ('zone = "2 mm"\nlayers = []', Inelastic(2.0, False)),
    ],
)
def test_zone_layers_and_creep_are_read(good, lines, read):
    assert with_lines(good, f"[inelastic]\n{lines}").setups[0].inelastic == read


def test_a_setup_may_widen_the_zone_of_the_case(good):
    case = with_lines(good, '[inelastic]\nzone = "2 mm"\ncreep = true\n[setup.wide.inelastic]\nzone = "boss"')
    assert case.setup("wide").inelastic == Inelastic("boss", True)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("[inelastic]\ncreep = true", "[inelastic] zone: missing"),
        ('[inelastic]\nzone = "floor"', '"boss", or a distance from the corner fillet'),
        ("[inelastic]\nzone = 2", "bare number"),
        ("[inelastic]\nlayers = []", "[inelastic] zone: missing"),
        (
            '[inelastic]\nlayers = ["barel"]',
            '[inelastic] layers = "barel": no layer of the stack has this name; did you mean barrel?',
        ),
        ('[inelastic]\nlayers = ["washer 1"]', "no layer of the stack has this name; allowed: barrel"),
        ('[inelastic]\nlayers = ["gasket"]', "this layer is a gasket"),
        ('[inelastic]\nlayers = "barrel"', "a list of names is needed"),
        ('[inelastic]\nlayers = ["barrel", "barrel"]', "named twice"),
        ('[inelastic]\nzone = "2 mm"\ncreep = "yes"', "a bare true or false is needed"),
        ('[inelastic]\nzone = "2 mm"\ncrep = true', "did you mean creep?"),
        (OWN + 'hardening_modulus = "-1 MPa"', "a material that softens as it flows is not solved"),
        (OWN + "creep_exponent = 0.5", "1 to 50"),
        (OWN + 'creep_temperature_range = ["100 degC"]', "too few entries"),
        (OWN + 'creep_temperature_range = ["1 degC", "2 degC", "3 degC"]', "too many entries"),
    ],
)
def test_a_wrong_line_is_refused_in_plain_words(good, lines, told):
    assert told in refusal(good, lines)


def test_a_setup_may_take_back_the_layers_of_the_case(good):
    case = with_lines(good, '[inelastic]\nzone = "2 mm"\nlayers = ["barrel"]\n[setup.own.inelastic]\nlayers = []')
    assert case.setup("own").inelastic == Inelastic(2.0, False)
    told = refusal(good, '[inelastic]\nlayers = ["barrel"]\n[setup.own.inelastic]\nlayers = []')
    assert told.startswith("pump.toml: [setup.own.inelastic] zone: missing") or "zone: missing" in told


def test_a_case_without_layers_keeps_its_fingerprint_and_layers_change_it(good):
    zone = '[inelastic]\nzone = "2 mm"\n'
    plain, empty, named = (
        inputs_sha256(with_lines(good, zone + more)) for more in ("", "layers = []\n", 'layers = ["barrel"]\n')
    )
    assert plain == empty != named


def test_a_layer_that_is_to_yield_may_not_bear_the_name_of_another_body(good):
    renamed = good.replace('name = "barrel"', 'name = "nut"', 1)
    assert "cannot be called nut" in refusal(renamed, '[inelastic]\nlayers = ["nut"]')


@pytest.mark.parametrize(
    "lines",
    [
        "creep_exponent = 4",
        'creep_coefficient = "1e-16 /s"',
        'creep_exponent = 4\ncreep_coefficient = "1e-16 /s"\ncreep_temperature_range = ["200 degC", "100 degC"]',
    ],
)
def test_creep_data_that_make_no_law_are_refused(good, lines):
    swapped = good.replace('material = "a356-t6 sand"', 'material = "own"', 1)
    assert "creep" in refusal(swapped, OWN + lines)


def test_flow_data_of_ones_own_reach_the_boss_and_its_fingerprint_only_where_it_may_yield(good):
    swapped = good.replace('material = "a356-t6 sand"', 'material = "own"', 1)
    stated = OWN + 'hardening_modulus = "500 MPa"\ncreep_coefficient = "3.6e-13 /h"\n'
    stated += 'creep_temperature_range = ["100 degC", "200 degC"]\n'
    case = with_lines(swapped, stated)
    metal = case.setups[0].boss.material
    assert metal.hardening.modulus == 500.0 and metal.source("hardening_modulus")[1] == "given by the user"
    assert metal.creep.rate(1.0, 150.0) == pytest.approx(1e-16) and metal.creep.valid == (100.0, 200.0)
    assert metal.creep.exponent == 5.0  # the base's
    other = with_lines(swapped, stated.replace("500 MPa", "600 MPa"))
    assert inputs_sha256(case) == inputs_sha256(other)
    zone = '[inelastic]\nzone = "2 mm"\n'
    assert inputs_sha256(with_lines(swapped, stated + zone)) != inputs_sha256(
        with_lines(swapped, stated.replace("500 MPa", "600 MPa") + zone)
    )
