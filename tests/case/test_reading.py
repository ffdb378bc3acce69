"""What a case becomes: plain records, setups with their overrides, defaults from the data."""

from __future__ import annotations

import math
import re
from dataclasses import FrozenInstanceError
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studwell.case import PlainWasher, SpringWasher, case_from_text, inputs_sha256, read_case, starter_case
from studwell.data import assumption
from studwell.errors import BadCase
from studwell.parts.nut import stock_nut
from studwell.units import as_text

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))


def only(text: str):
    """Return the single setup of a case's text."""
    (setup,) = case_from_text(text).setups
    return setup


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_case_in_the_cases_folder_is_accepted_and_says_that_it_is_invented(path):
    case = read_case(path)
    assert len(case.setups) >= 2
    assert "nvented" in case.notes


def test_the_pump_case_shows_seven_kinds_of_setup():
    case = read_case(CASES[0].parent / "hut-pump.toml")
    shown = {
        (s.seating.mode, s.nut.kind, sum(spring.series for spring in s.springs), s.boss.insert is not None)
        for s in case.setups
    }
    assert shown == {
        ("bottomed", "hex", 0, False), ("bottomed", "hex", 1, False), ("backed off", "hex", 0, False),
        ("backed off", "hex", 1, False), ("backed off", "hex", 3, False), ("backed off", "domed", 0, False),
        ("backed off", "hex", 3, True),
    }  # fmt: skip


def test_the_domed_nut_of_the_pump_case_closes_on_the_stud_before_it_clamps():
    setup = read_case(CASES[0].parent / "hut-pump.toml").setup("backed off, domed nut")
    assert setup.protrusion > setup.nut.usable_thread_depth


def test_values_arrive_in_newton_millimetre_megapascal_degree_and_second(good):
    setup = only(good)
    assert setup.stud.length == 95.0
    assert setup.seating.torque == pytest.approx(10e3)
    assert setup.tightening.torque == pytest.approx(12 * 0.45359237 * 9.80665 * 304.8)
    assert setup.history.at("nut") == (20.0, 165.0)
    assert setup.history.times == (0.0, 600.0)
    assert setup.boss.material.youngs_modulus.at(20.0) == pytest.approx(72400.0)


def test_heights_add_up_from_the_floor_to_the_top_of_the_stud(good):
    setup = only(good)
    assert setup.tip_z == 0.0
    assert setup.stack_top_z == pytest.approx(15.0 + 0.5 + 60.0)
    assert setup.nut_face_z == pytest.approx(75.5 + 1.6)  # ISO 7089, M8: 1.6 mm
    assert setup.protrusion == pytest.approx(95.0 - 77.1)
    assert setup.boss.height == pytest.approx(21.0)


def test_a_tip_on_a_cone_lies_below_the_shoulder_by_the_cone_s_geometry(good):
    text = good.replace('hole_end = "flat"', 'hole_end = "cone"\ncone_angle = "90 deg"')
    setup = only(text.replace('engaged_length = "12 mm"', 'engaged_length = "11 mm"'))
    drill = 8.0 - 5 / 4 * math.sqrt(3) / 2 * 1.25  # ISO 724, minor diameter of the internal thread
    assert setup.tip_z == pytest.approx(-(drill - 5.5) / 2)
    assert setup.boss.height == pytest.approx(15.0 + drill / 2 + 6.0)


def test_an_insert_makes_the_hole_larger_and_counts_its_length_in_diameters(good):
    text = good.replace("[nut]", '[boss.insert]\nlength = "1.25 d"\nset_down = "1 mm"\n[nut]', 1)
    setup = only(text.replace('engaged_length = "12 mm"', 'engaged_length = "10 mm"'))
    assert setup.boss.insert.length == 10.0
    assert setup.boss.drill_diameter > setup.stud.thread.nominal_diameter


def test_floor_and_height_are_two_ways_of_saying_the_same(good):
    assert only(good.replace('floor_thickness = "6 mm"', 'height = "21 mm"')).boss == only(good).boss


def test_a_file_without_setups_is_one_setup(good):
    assert [setup.name for setup in case_from_text(good).setups] == ["as written"]


def test_a_setup_without_overrides_equals_the_case_as_written(good):
    (setup,) = case_from_text(good + "\n[setup.plain]\n").setups
    assert (setup.boss, setup.stud, setup.stack, setup.nut) == (
        only(good).boss,
        only(good).stud,
        only(good).stack,
        only(good).nut,
    )


def test_an_override_changes_its_own_setup_and_no_other(good):
    overrides = """
[setup.plain]
[setup."backed off"]
seating = { mode = "backed off", back_off = "80 deg", counted_from = "first contact" }
[setup."backed off".stack.barrel]
thickness = "58 mm"
[setup.preload.tightening]
preload = "9 kN"
[setup.springs]
washer = [{ kind = "plain", size = "M8" }, { kind = "spring", size = "DIN 6796 M8", series = 2 }]
[setup.bare]
washer = []
"""
    case = case_from_text(good + overrides)
    plain, back, preload, springs, bare = case.setups
    assert (plain.seating.turns, back.seating.turns) == (0.0, pytest.approx(80 / 360))
    assert back.seating.torque == plain.seating.torque  # inherited
    assert (plain.stack[1].thickness, back.stack[1].thickness) == (60.0, 58.0)
    assert back.stack[1].material == plain.stack[1].material
    assert (preload.tightening.preload, preload.tightening.torque) == (9000.0, None)
    assert [type(washer) for washer in springs.washers] == [PlainWasher, SpringWasher]
    assert bare.washers == ()


def test_a_setup_may_return_to_bottomed_from_a_case_that_is_backed_off(good):
    text = good.replace('"bottomed"', '"backed off"\nback_off = "0.2 turn"\ncounted_from = "first contact"')
    back, driven = case_from_text(text + '[setup.a]\n[setup.b.seating]\nmode = "bottomed"\n').setups
    assert (back.seating.turns, driven.seating.turns) == (0.2, 0.0)


def test_a_nut_of_another_kind_does_not_inherit_the_dimensions_of_the_first(good):
    text = good.replace('size = "M8"\n\n[seating]', 'size = "M8"\nheight = "6 mm"\n\n[seating]')
    domed = case_from_text(text + '[setup.x.nut]\nkind = "domed"\n').setup("x").nut
    assert domed.height == stock_nut("domed", "M8").height
    assert domed.usable_thread_depth == stock_nut("domed", "M8").usable_thread_depth


def test_washers_and_nut_may_have_dimensions_of_their_own(good):
    text = good.replace(
        'kind = "plain"\nsize = "M8"',
        'kind = "spring"\nouter_diameter = "18 mm"\ninner_diameter = "8.5 mm"\nthickness = "1 mm"\n'
        'cone_height = "0.5 mm"\nparallel = 2\nseries = 3\nedge_friction = 0.02',
    ).replace('kind = "hex"\nsize = "M8"', 'kind = "hex"\nheight = "8 mm"')
    setup = only(text)
    (spring,) = setup.springs
    assert spring.height == pytest.approx(3 * (0.5 + 2 * 1.0))
    assert spring.least_height == pytest.approx(6.0)
    assert spring.friction == pytest.approx(0.02 + assumption("spring_surface_friction"))
    assert (setup.nut.height, setup.nut.bearing_diameter) == (8.0, stock_nut("hex", "M8").bearing_diameter)


def test_a_material_of_the_user_replaces_only_what_it_states(good):
    own = '[material.mine]\nbase = "a356-t6 sand"\nexpansion = "25e-6 /K"\n'
    setup = only(good.replace('material = "a356-t6 sand"\nouter', 'material = "mine"\nouter', 1) + own)
    assert setup.boss.material.expansion.at(100.0) == pytest.approx(25e-6)
    assert setup.boss.material.poisson == setup.stack[1].material.poisson
    assert setup.boss.material.name == "mine"


def test_the_share_of_torsion_that_stays_comes_from_the_data_unless_given(good):
    assert only(good).tightening.locked_torsion_share == assumption("locked_torsion_share")
    given_share = good.replace("bearing_friction = 0.14", "bearing_friction = 0.14\nlocked_torsion_share = 0.3")
    assert only(given_share).tightening.locked_torsion_share == 0.3


def test_the_key_of_an_override_is_named_with_its_setup(good):
    with pytest.raises(BadCase) as caught:
        case_from_text(good + '[setup."very cold".history]\nassembly_temperature = "-300 degC"\n', "pump.toml")
    assert caught.value.line.startswith('pump.toml: [setup."very cold".history] assembly_temperature = "-300 degC"')


def test_an_inherited_key_that_no_longer_fits_is_named_with_the_setup_in_brackets(good):
    with pytest.raises(BadCase) as caught:
        case_from_text(good + '[setup.thick.stack.barrel]\nthickness = "75 mm"\n', "pump.toml")
    assert caught.value.line.startswith('pump.toml: [stud] length = "95 mm"')
    assert '(setup "thick")' in caught.value.line


def test_records_cannot_be_changed_and_can_be_keys(good):
    setup = only(good)
    with pytest.raises(FrozenInstanceError):
        setup.stud.length = 1.0
    assert {setup: 1}[only(good)] == 1


def test_the_fingerprint_does_not_depend_on_layout_spelling_or_file_name(good):
    other = "# a comment\r\n" + good.replace('"95 mm"', '"9.5 cm"').replace("\n", "\r\n")
    assert inputs_sha256(case_from_text(good, "a.toml")) == inputs_sha256(case_from_text(other, "b.toml"))


@given(length=st.floats(0.5, 7.5))
def test_the_fingerprint_depends_on_every_length_of_the_stud(length):
    text = starter_case("M8")
    own = re.search(r'^length = "([\d.]+) mm"', text, re.MULTILINE)
    changed = text.replace(own[0], f'length = "{float(own[1]) + length!r} mm"', 1)
    assert changed != text
    assert inputs_sha256(case_from_text(text)) != inputs_sha256(case_from_text(changed))


def test_a_byte_order_mark_is_read_over(tmp_path, good):
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + good.encode())
    assert read_case(path).title == "Invented pump"


@pytest.mark.parametrize("nut", ["hex", "domed"])
@pytest.mark.parametrize("thread", ["M5", "M6", "M8", "M8x1", "M10", "M12"])
def test_a_starter_case_is_accepted_and_its_nut_clamps(thread, nut):
    case = case_from_text(starter_case(thread, nut))
    for setup in case.setups:
        assert setup.nut.kind == nut
        assert nut == "hex" or setup.protrusion < setup.nut.usable_thread_depth
        assert setup.stud.thread.name.startswith(thread)
        assert setup.seating.mode in ("bottomed", "backed off")


def test_a_starter_case_says_that_its_figures_are_invented_and_comments_every_table():
    text = starter_case()
    assert "invented" in text.lower()
    assert len([line for line in text.splitlines() if "#" in line]) > 25


@pytest.mark.parametrize(("thread", "nut", "where"), [("M9", "hex", "[stud] thread"), ("M8", "wing", "[nut] kind")])
def test_a_starter_case_of_what_is_not_in_stock_is_refused(thread, nut, where):
    with pytest.raises(BadCase) as caught:
        starter_case(thread, nut)
    assert where in caught.value.line


@given(engaged=st.floats(6.0, 20.0), depth=st.floats(8.0, 20.0), tip=st.floats(0.5, 4.0), chamfer=st.floats(0.05, 2.0))
def test_whatever_is_accepted_has_its_engaged_thread_inside_the_hole(engaged, depth, tip, chamfer):
    values = {"engaged_length": engaged, "thread_depth": depth, "tip_length": tip, "mouth_chamfer": chamfer}
    lines = starter_case("M8").splitlines()
    for number, line in enumerate(lines):
        key = line.partition(" = ")[0]
        if key in values:
            lines[number] = f'{key} = "{as_text(values[key], "length", digits=9)}"'
    try:
        setup = case_from_text("\n".join(lines)).setups[0]
    except BadCase as error:
        assert error.slug == "cannot-fit"
        return
    top = setup.tip_z + setup.stud.tip_length + setup.stud.engaged_length
    assert top <= setup.boss.hole_depth - setup.boss.mouth_chamfer + 1e-6
    assert setup.stud.engaged_length <= setup.boss.thread_depth
