"""[pocket]: what a user may write of a liquid under the tip, and how a wrong line is refused."""

import pytest
from pytest import approx

from studwell.case import case_from_text
from studwell.case.fingerprint import inputs_sha256
from studwell.errors import BadCase

OIL = 'contents = "oil"\nfill = 0.9\nfill_at = "as fitted"\nseal = "sealed"\n'
OWN = OIL.replace('"oil"', '"own fluid"') + 'bulk_modulus = "1200 MPa"\nexpansion = "9e-4 /K"\n'

BAD = {
    "contents of no kind": ('contents = "petrol"\n', "[pocket] contents", '"own fluid"', "bad-value"),
    "no fill": (OIL.replace("fill = 0.9\n", ""), "[pocket] fill", "0 to 1", "missing-key"),
    "more than full": (OIL.replace("0.9", "1.1"), "[pocket] fill = 1.1", "0 to 1", "out-of-range"),
    "less than nothing": (OIL.replace("0.9", "-0.1"), "[pocket] fill = -0.1", "negative", "out-of-range"),
    "fill in quotes": (OIL.replace("0.9", '"0.9"'), "[pocket] fill", "without quotes", "wrong-kind"),
    "nobody says when it counts": (OIL.replace('fill_at = "as fitted"\n', ""), "[pocket] fill_at", "needs it", "missing-key"),
    "counted at no moment": (OIL.replace("as fitted", "later"), "[pocket] fill_at", '"first contact"', "bad-value"),
    "no seal": (OIL.replace('seal = "sealed"\n', ""), "[pocket] seal", "needs it", "missing-key"),
    "leak without a time": (OIL.replace('"sealed"', '"leaking"'), "[pocket] leak_time", "needs it", "missing-key"),
    "leak of no time": (OIL.replace('"sealed"', '"leaking"\nleak_time = "0 s"'), "[pocket] leak_time", "zero", "out-of-range"),
    "time of a tight seal": (OIL + 'leak_time = "5 min"\n', "[pocket] leak_time", "does not go with", "bad-value"),
    "fill of nothing": ('contents = "empty"\nfill = 0.5\n', "[pocket] fill", 'contents = "empty"', "bad-value"),
    "own liquid without stiffness": (
        OWN.replace('bulk_modulus = "1200 MPa"\n', ""), "[pocket] bulk_modulus", '"own fluid" needs it', "missing-key"),
    "own liquid without expansion": (
        OWN.replace('expansion = "9e-4 /K"\n', ""), "[pocket] expansion", '"own fluid" needs it', "missing-key"),
    "stiffness without a unit": (OWN.replace("1200 MPa", "1200"), "[pocket] bulk_modulus", "without a unit", "bad-quantity"),
    "expansion of a slip": (OWN.replace("9e-4", "9"), "[pocket] expansion", "too large", "out-of-range"),
    "misspelt key": (OIL.replace("fill_at", "fil_at"), "[pocket] fil_at", "did you mean fill_at?", "unknown-key"),
}  # fmt: skip


def with_pocket(good, lines):
    return good.replace("[nut]", f"[pocket]\n{lines}\n[nut]", 1)


@pytest.mark.parametrize("what", BAD)
def test_a_wrong_pocket_is_refused_with_place_reason_and_slug(what, good):
    lines, where, words, slug = BAD[what]
    with pytest.raises(BadCase) as caught:
        case_from_text(with_pocket(good, lines), "pump.toml")
    assert where in caught.value.line and words in caught.value.line, caught.value.line
    assert caught.value.slug == slug


def test_a_liquid_of_the_data_and_one_of_the_users_own(good):
    oil = case_from_text(with_pocket(good, OIL), "pump.toml").setups[0].pocket
    assert oil.filled and oil.fluid.bulk_modulus.at(20.0) == 1500.0 and oil.fill == 0.9
    own = case_from_text(with_pocket(good, OWN), "pump.toml").setups[0].pocket
    assert own.fluid.bulk_modulus.at(20.0) == approx(1200.0) and own.fluid.expansion == approx(9e-4)
    stiff = case_from_text(with_pocket(good, OIL + 'bulk_modulus = "250 ksi"\n'), "pump.toml").setups[0].pocket
    assert stiff.fluid.bulk_modulus.at(20.0) == approx(250.0 * 6.894757, rel=1e-6)
    vented = case_from_text(with_pocket(good, OIL.replace("sealed", "vented")), "pump.toml").setups[0].pocket
    assert not vented.filled and vented.fluid is not None


def test_an_empty_pocket_leaves_the_fingerprint_as_it_was(good):
    plain = inputs_sha256(case_from_text(good, "pump.toml"))
    assert inputs_sha256(case_from_text(with_pocket(good, 'contents = "empty"'), "pump.toml")) == plain
    assert inputs_sha256(case_from_text(with_pocket(good, OIL), "pump.toml")) != plain
