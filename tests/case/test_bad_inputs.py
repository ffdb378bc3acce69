"""Wrong case files: each is refused in one or a few plain lines that name the place and what is allowed."""

# ruff: noqa: E501  (one wrong case a line)
from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studwell.case import case_from_text, read_case, starter_case
from studwell.errors import BadCase

# what is wrong : (text to replace, text put in its place, table and key named, words of the message, slug)
BAD = {
    "misspelt key": ("engaged_length", "engagd_length", "[stud] engagd_length", "did you mean engaged_length?", "unknown-key"),
    "key of no table": ('shank = "full"', 'shank = "full"\ncolour = "red"', "[stud] colour", "unknown key; allowed: thread", "unknown-key"),
    "misspelt table": ("[tightening]", "[tightning]", "[tightning]", "did you mean tightening?", "unknown-key"),
    "unknown bound": ("[nut]", '[bounds]\nx = "1 mm"\n[nut]', "[bounds] x", "unknown key; allowed: setup", "unknown-key"),
    "missing key": ('length = "95 mm"\n', "", "[stud] length", "missing; allowed: a length with its unit", "missing-key"),
    "missing table": ('[nut]\nkind = "hex"\nsize = "M8"\n', "", "[nut]", "missing table", "missing-key"),
    "bare number": ('length = "95 mm"', "length = 95", "[stud] length = 95", "bare number", "bad-quantity"),
    "number without unit": ('"95 mm"', '"95"', '[stud] length = "95"', "without a unit", "bad-quantity"),
    "decimal comma": ('"0.5 mm"', '"0,5 mm"', "[boss] mouth_chamfer", 'write "0.5 mm"', "bad-quantity"),
    "length for torque": ('"10 N*m"', '"10 mm"', "[seating] torque", "mm is a unit of length, not of torque", "bad-quantity"),
    "joules for torque": ('"10 N*m"', '"10 J"', "[seating] torque", "joule is a unit of energy", "bad-quantity"),
    "friction with quotes": ("tip_friction = 0.15", 'tip_friction = "0.15"', "[seating] tip_friction", "bare number is needed", "wrong-kind"),
    "friction above one": ("tip_friction = 0.15", "tip_friction = 15", "[seating] tip_friction = 15", "0 to 1", "out-of-range"),
    "friction not a number": ("tip_friction = 0.15", "tip_friction = nan", "[seating] tip_friction", "not a finite", "out-of-range"),
    "negative size": ('"95 mm"', '"-95 mm"', "[stud] length", "negative; allowed: length from 1 um to 2 m", "out-of-range"),
    "zero size": ('"95 mm"', '"0 mm"', "[stud] length", "zero", "out-of-range"),
    "huge size": ('"95 mm"', '"95 m"', "[stud] length", "too large; allowed: length from 1 um to 2 m", "out-of-range"),
    "tiny size": ('"0.3 mm"', '"0.3 um"', "[boss] corner_radius", "too small", "out-of-range"),
    "size not a number": ('"95 mm"', '"nan mm"', "[stud] length", "not a finite number", "bad-quantity"),
    "no floor": ('"6 mm"', '"0 mm"', "[boss] floor_thickness", "zero", "out-of-range"),
    "negative floor": ('"6 mm"', '"-1 mm"', "[boss] floor_thickness", "negative", "out-of-range"),
    "floor not given": ('floor_thickness = "6 mm"\n', "", "[boss] floor_thickness", "give floor_thickness, height", "missing-key"),
    "hole through the boss": ('floor_thickness = "6 mm"', 'height = "14 mm"', "[boss] height", "the hole pierces the floor", "cannot-fit"),
    "cone through the floor": (
        'floor_thickness = "6 mm"\nhole_end = "flat"', 'height = "16 mm"\nhole_end = "cone"\ncone_angle = "118 deg"',
        "[boss] height", "hole and drill cone pierce the floor, 17 mm below", "cannot-fit"),
    "height that disagrees": ('floor_thickness = "6 mm"', 'floor_thickness = "6 mm"\nheight = "30 mm"', "[boss] height", "allowed: 21 mm", "cannot-fit"),
    "cone without angle": ('"flat"', '"cone"', "[boss] cone_angle", 'hole_end = "cone" needs it', "missing-key"),
    "angle without cone": ('hole_end = "flat"', 'hole_end = "flat"\ncone_angle = "118 deg"', "[boss] cone_angle", "does not go with", "bad-value"),
    "radius beyond a ball": (
        'hole_end = "flat"\ncorner_radius = "0.3 mm"', 'hole_end = "radiused"\ncorner_radius = "4 mm"',
        "[boss] corner_radius", "at most 3.323 mm, a ball end", "cannot-fit"),
    "counterbore and chamfer": (
        'mouth_chamfer = "0.5 mm"', 'mouth_chamfer = "0.5 mm"\nmouth_counterbore_diameter = "9 mm"\nmouth_counterbore_depth = "1 mm"',
        "[boss] mouth_chamfer", "does not go with mouth_counterbore_diameter", "bad-value"),
    "engaged length zero": ('engaged_length = "12 mm"', 'engaged_length = "0 mm"', "[stud] engaged_length", "zero", "out-of-range"),
    "engaged beyond the thread": ('engaged_length = "12 mm"', 'engaged_length = "14 mm"', "[stud] engaged_length", "exceeds the thread depth, 13 mm", "cannot-fit"),
    "engaged beyond the mouth": ('engaged_length = "12 mm"', 'engaged_length = "12.8 mm"', "[stud] engaged_length", "allowed: at most 12.5 mm", "cannot-fit"),
    "engaged beyond the hole": ('tip_length = "2.2 mm"', 'tip_length = "3.2 mm"', "[stud] engaged_length", "the hole holds 11.3 mm", "cannot-fit"),
    "thread beyond the hole": ('thread_depth = "13 mm"', 'thread_depth = "16 mm"', "[boss] thread_depth", "deeper than the hole", "cannot-fit"),
    "boss thread too short": ('boss_thread_length = "16 mm"', 'boss_thread_length = "14 mm"', "[stud] boss_thread_length", "at least 14.2 mm", "cannot-fit"),
    "tip longer than its thread": ('tip_length = "2.2 mm"', 'tip_length = "16 mm"', "[stud] tip_length", "less than boss_thread_length", "cannot-fit"),
    "corner that holds the tip off": ('"0.3 mm"', '"0.7 mm"', "[boss] corner_radius", "meets the corner before the floor", "cannot-fit"),
    "tip wider than the root": ('tip_diameter = "5.5 mm"', 'tip_diameter = "7 mm"', "[stud] tip_diameter", "wider than the root", "cannot-fit"),
    "boss narrower than the hole": ('"28 mm"', '"8 mm"', "[boss] outer_diameter", "no wall is left", "cannot-fit"),
    "stud too short for the nut": ('"95 mm"', '"80 mm"', "[stud] length", "the nut needs 5.44 mm", "cannot-fit"),
    "threads longer than the stud": ('nut_thread_length = "24 mm"', 'nut_thread_length = "90 mm"', "[stud] length", "two threads together", "cannot-fit"),
    "nut meets the thread's end": ('nut_thread_length = "24 mm"', 'nut_thread_length = "12 mm"', "[stud] nut_thread_length", "end of its thread", "cannot-fit"),
    "full shank too thick": ('shank_diameter = "8 mm"', 'shank_diameter = "8.5 mm"', "[stud] shank_diameter", "full shank", "cannot-fit"),
    "waisted shank too thick": ('"full"', '"waisted"', "[stud] shank_diameter", "thinner than the thread's root", "cannot-fit"),
    "thread not in stock": ('"M8x1.25"', '"M8x1.3"', "[stud] thread", "did you mean M8x1", "unknown-name"),
    "thread that is no thread": ('"M8x1.25"', '"coarse"', "[stud] thread", "not a thread in stock", "unknown-name"),
    "class not in stock": ('"8.8"', '"8.9"', "[stud] property_class", "did you mean 8.8?", "unknown-name"),
    "nut of another thread": ('[nut]\nkind = "hex"\nsize = "M8"', '[nut]\nkind = "hex"\nsize = "M10"', "[nut] size", 'whose nut end is M8x1.25; allowed: "M8"', "cannot-fit"),
    "nut of another pitch": ('[nut]\nkind = "hex"', '[nut]\nthread = "M8x1"\nkind = "hex"', "[nut] thread", "does not fit the stud", "cannot-fit"),
    "nut of no kind": ('kind = "hex"', 'kind = "wing"', '[nut] kind = "wing"', '"hex" or "domed"', "bad-value"),
    "washer too small": ('kind = "plain"\nsize = "M8"', 'kind = "plain"\nsize = "M6"', '[[washer]] 1 size = "M6"', "does not go over the stud", "cannot-fit"),
    "washer not in stock": ('kind = "plain"\nsize = "M8"', 'kind = "plain"\nsize = "M9"', "[[washer]] 1 size", "no plain washer", "unknown-name"),
    "washer half described": ('kind = "plain"\nsize = "M8"', 'kind = "plain"\ninner_diameter = "8.4 mm"', "[[washer]] 1 outer_diameter", "give size, or all dimensions", "missing-key"),
    "spring too small": ('kind = "plain"\nsize = "M8"', 'kind = "spring"\nsize = "DIN 2093 A 12.5x6.2x0.7"', "[[washer]] 1 size", "a spring with a bore of 6.2 mm", "cannot-fit"),
    "spring not in stock": ('kind = "plain"\nsize = "M8"', 'kind = "spring"\nsize = "DIN 6796 M9"', "[[washer]] 1 size", "did you mean DIN 6796 M", "unknown-name"),
    "plain washer in series": ('kind = "plain"', 'kind = "plain"\nseries = 3', "[[washer]] 1 series", 'does not go with kind = "plain"', "bad-value"),
    "springs in half series": ('kind = "plain"\nsize = "M8"', 'kind = "spring"\nsize = "DIN 6796 M8"\nseries = 1.5', "[[washer]] 1 series", "not a whole number", "wrong-kind"),
    "two groups of springs": (
        'kind = "plain"\nsize = "M8"', 'kind = "spring"\nsize = "DIN 6796 M8"\n[[washer]]\nkind = "spring"\nsize = "DIN 6796 M8"',
        "[[washer]] 2 kind", "only one is solved", "cannot-fit"),
    "spring on a gasket": (
        '[[washer]]\nkind = "plain"\nsize = "M8"',
        '[[stack]]\nname = "soft"\ngasket = "fibre sheet 1.0"\nouter_diameter = "22 mm"\ninner_diameter = "9 mm"\nnode = "barrel"\n'
        '[[washer]]\nkind = "spring"\nsize = "DIN 6796 M8"',
        "[[washer]] 1 kind", 'lies on the gasket "soft"', "cannot-fit"),
    "layer bored too small": ('inner_diameter = "9 mm"\nnode = "barrel"', 'inner_diameter = "7 mm"\nnode = "barrel"', '[[stack]] "barrel" inner_diameter', "does not pass", "cannot-fit"),
    "layer inside out": ('"22 mm"', '"8.5 mm"', '[[stack]] "barrel" outer_diameter', "not larger than inner_diameter", "cannot-fit"),
    "layer inside the bore of another": ('outer_diameter = "24 mm"\ninner_diameter = "9 mm"', 'outer_diameter = "26 mm"\ninner_diameter = "23 mm"', '[[stack]] "barrel" inner_diameter', 'does not lie on the layer "gasket"', "cannot-fit"),
    "springs too high to start the nut": (
        'kind = "plain"\nsize = "M8"', 'kind = "spring"\nouter_diameter = "20 mm"\ninner_diameter = "8.5 mm"\nthickness = "0.5 mm"\ncone_height = "1 mm"\nseries = 13',
        "[stud] length", "the nut cannot be started", "cannot-fit"),
    "gasket pressure without gasket": (
        "[nut]", '[limits]\nminimum_gasket_pressure = "8 MPa"\n[setup.x.stack.gasket]\nmaterial = "6061-t6"\nthickness = "1 mm"\n[nut]',
        "[limits] minimum_gasket_pressure", 'no layer of the stack is a gasket (setup "x")', "cannot-fit"),
    "washer of a setup": (
        "[nut]", '[[setup.x.washer]]\nkind = "plain"\nsize = "M8"\n[[setup.x.washer]]\nkind = "plain"\nsize = "M6"\n[nut]',
        '[[setup.x.washer]] 2 size = "M6"', "does not go over the stud", "cannot-fit"),
    "stack of a setup": (
        "[nut]", '[[setup.x.stack]]\nname = "plate"\nmaterial = "6061-t6"\nthickness = "60"\nouter_diameter = "22 mm"\ninner_diameter = "9 mm"\nnode = "barrel"\n[nut]',
        '[[setup.x.stack]] "plate" thickness = "60"', "without a unit", "bad-quantity"),
    "setup without what its mode needs": (
        "[nut]", '[setup.x.seating]\nmode = "backed off"\n[nut]', "[setup.x.seating] back_off", 'mode = "backed off" needs it', "missing-key"),
    "two layers of one name": ('name = "barrel"', 'name = "gasket"', '[[stack]] "gasket" name', "another layer", "duplicate-name"),
    "layer of nothing": ('material = "a356-t6 sand"\nthickness', "thickness", '[[stack]] "barrel" material', "give material or gasket", "missing-key"),
    "material not in stock": ('material = "a356-t6 sand"\nouter', 'material = "a356 sand"\nouter', "[boss] material", "did you mean a356-t6 sand?", "unknown-name"),
    "gasket not in stock": ('"fibre sheet 0.5"', '"fiber sheet 0.5"', '[[stack]] "gasket" gasket', "did you mean fibre sheet 0.5?", "unknown-name"),
    "own material on nothing": ("[nut]", '[material.mine]\nbase = "brass"\n[nut]\nmaterial = "mine"', "[material.mine] base", "no material of this name", "unknown-name"),
    "node without temperatures": ('node = "barrel"', 'node = "head"', '[[history.point]] "assembled" head', 'the node of layer "barrel" has no temperature', "missing-key"),
    "node that nothing follows": ('barrel = "180 degC"', 'barrel = "180 degC"\nhead = "90 degC"', '[[history.point]] "hot" head', "no such temperature node", "unknown-key"),
    "below absolute zero": ('"165 degC"', '"-300 degC"', '[[history.point]] "hot" nut', "below absolute zero", "out-of-range"),
    "far too hot": ('"165 degC"', '"1650 degC"', '[[history.point]] "hot" nut', "too large", "out-of-range"),
    "time that stands still": ('"10 min"', '"0 s"', '[[history.point]] "hot" time', "more than 0 min", "time-order"),
    "one point of history": ("[[history.point]]\ntime = \"10 min\"", '[[history.pint]]\ntime = "10 min"', "[history] pint", "unknown key; did you mean point?", "unknown-key"),
    "too few steps": ("steps = 10", "steps = 0", "[history] steps", "1 to 100000", "out-of-range"),
    "torque and preload": ('torque = "12 lbf*ft"', 'torque = "12 lbf*ft"\npreload = "9 kN"', "[tightening] torque", "not both", "bad-value"),
    "own metal that breaks before it yields": (
        "[nut]", '[material.soft]\nbase = "a356-t6 sand"\nultimate_strength = "100 MPa"\n[setup.b.boss]\nmaterial = "soft"\n[nut]',
        '[material.soft] ultimate_strength = "100 MPa"', "below the yield strength, 165 MPa; allowed: at least 165 MPa", "cannot-fit"),
    "own metal that stands more again and again than once": (
        "[nut]", '[material.odd]\nbase = "a356-t6 sand"\nfatigue_strength = "500 MPa"\n[setup.b.boss]\nmaterial = "odd"\n[nut]',
        '[material.odd] fatigue_strength = "500 MPa"', "not below the ultimate strength, 235 MPa; allowed: less than 235 MPa", "cannot-fit"),
    "own metal as soft as rubber": (
        "[nut]", '[material.odd]\nbase = "a356-t6 sand"\nyoungs_modulus = "1 MPa"\n[setup.b.boss]\nmaterial = "odd"\n[nut]',
        '[material.odd] youngs_modulus = "1 MPa"', "from 0.5 GPa to 2000 GPa", "out-of-range"),
    "own metal that yields after it breaks": (
        "[nut]", '[material.hard]\nbase = "a356-t6 sand"\nyield_strength = "400 MPa"\n[setup.b.boss]\nmaterial = "hard"\n[nut]',
        '[material.hard] yield_strength = "400 MPa"', "above the ultimate strength", "cannot-fit"),
    "neither torque nor preload": ('torque = "12 lbf*ft"\n', "", "[tightening] torque", "give torque or preload", "missing-key"),
    "bottomed without torque": ('torque = "10 N*m"\n', "", "[seating] torque", 'mode = "bottomed" needs it', "missing-key"),
    "backed off by nothing": ('"bottomed"', '"backed off"', "[seating] back_off", "needs it", "missing-key"),
    "backed off out of the hole": (
        'mode = "bottomed"', 'mode = "backed off"\nback_off = "10 turn"\ncounted_from = "first contact"',
        "[seating] back_off", "no thread is left; allowed: less than 9.6 turns", "cannot-fit"),
    "text for a table": ("[nut]", 'limits = 3\n[nut]', "[[washer]] 1 limits", "unknown key", "unknown-key"),
    "filled pocket": ("[nut]", '[pocket]\ncontents = "oil"\n[nut]', "[pocket] fill", 'contents = "oil" needs it', "missing-key"),
    "later schema": ("schema = 1", "schema = 2", "[case] schema = 2", "allowed: 1", "bad-value"),
    "no schema": ("schema = 1\n", "", "[case] schema", "missing", "missing-key"),
    "units of no system": ('"metric"', '"imperial"', "[case] units", '"metric" or "inch"', "bad-value"),
    "override of no layer": ("[nut]", '[setup.x.stack.barel]\nthickness = "61 mm"\n[nut]', "[setup.x.stack.barel]", "did you mean barrel?", "unknown-name"),
    "override with misspelt key": ("[nut]", '[setup.x.seating]\ntork = "1 N*m"\n[nut]', "[setup.x.seating] tork", "did you mean torque?", "unknown-key"),
    "override of no table": ("[nut]", '[setup.x.seeting]\ntorque = "1 N*m"\n[nut]', "[setup.x.seeting]", "did you mean seating?", "unknown-key"),
    "override in a layer": ("[nut]", '[setup.x.stack.barrel]\nthickness = "61"\n[nut]', "[setup.x.stack.barrel] thickness", "without a unit", "bad-quantity"),
    "override of case": ("[nut]", '[setup.x.case]\ntitle = "y"\n[nut]', "[setup.x.case]", "unknown table", "unknown-key"),
    "override that does not fit": ("[nut]", '[setup.x.stack.barrel]\nthickness = "75 mm"\n[nut]', "[stud] length", '(setup "x")', "cannot-fit"),
    "setup that is no table": ("[case]", 'setup = 3\n[case]', "[setup] = 3", "a table is needed", "wrong-kind"),
    "two setups of one name": ("[nut]", "[setup.x]\n[setup.x]\n[nut]", "[setup.x]", "there already", "duplicate-name"),
    "one key twice": ('length = "95 mm"', 'length = "95 mm"\nlength = "96 mm"', 'length = "96 mm"', "there already", "duplicate-name"),
    "text without quotes": ('"95 mm"', "95 mm", "length = 95 mm", "not TOML", "not-toml"),
    "quote left open": ('"95 mm"', '"95 mm', 'length = "95 mm', "not TOML", "not-toml"),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD)
def test_a_wrong_case_is_refused_with_place_reason_and_slug(what, good):
    old, new, where, words, slug = BAD[what]
    assert old in good
    with pytest.raises(BadCase) as caught:
        case_from_text(good.replace(old, new, 1), "pump.toml")
    error = caught.value
    assert error.line.startswith("pump.toml: "), error.line
    assert where in error.line, error.line
    assert words in error.line, error.line
    assert error.slug == slug
    assert len(str(error).splitlines()) <= 5 and "\n" not in error.line and len(error.line) < 400


def test_an_unknown_key_is_refused_in_one_line_with_the_nearest_known_key(good):
    with pytest.raises(BadCase) as caught:
        case_from_text(good.replace("engaged_length", "engagd_length"), "hut-pump.toml")
    assert caught.value.line == "hut-pump.toml: [stud] engagd_length: unknown key; did you mean engaged_length?"
    assert not caught.value.also


def test_several_wrong_values_are_told_at_once(good):
    wrong = good.replace('"95 mm"', '"95"').replace('"10 N*m"', '"10 J"').replace('"28 mm"', "28")
    with pytest.raises(BadCase) as caught:
        case_from_text(wrong, "pump.toml")
    assert {line.split("=")[0].strip() for line in str(caught.value).splitlines()[:-1]} == {
        "pump.toml: [stud] length", "pump.toml: [seating] torque", "pump.toml: [boss] outer_diameter",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "no such file"),
        (b"", "the file is empty"),
        (b" \n\n", "the file is empty"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b'title = "caf\xe9"', "line 1: not UTF-8"),
        (b"hello", "not TOML"),
        (b"\x00\x01\x02", "not TOML"),
        (b"# nothing but a comment\n", "[case]: missing table"),
        (b"[" * 5000, "not TOML"),
        (b"a = " + b"[" * 5000, "nested too deeply"),
        (b"case = 3", "[case]: a table is needed"),
        (b"[case]\nschema = 1", "[case] title: missing"),
    ],
)
def test_a_file_that_holds_no_case_is_refused_in_plain_words(tmp_path, content, words):
    path = tmp_path / "pump.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(BadCase) as caught:
        read_case(path)
    assert words in caught.value.line
    assert "pump.toml" in caught.value.line and "\n" not in caught.value.line


def test_a_directory_is_refused_as_one(tmp_path):
    with pytest.raises(BadCase, match="a directory, not a file"):
        read_case(tmp_path)


def test_a_path_with_a_zero_byte_is_refused():
    with pytest.raises(BadCase):
        read_case("pump\0.toml")


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_any_value_in_place_of_another_is_accepted_or_refused_with_its_place(good, data):
    lines = good.splitlines()
    number = data.draw(st.sampled_from([n for n, line in enumerate(lines) if " = " in line]))
    key = lines[number].partition(" = ")[0]
    value = data.draw(st.sampled_from(
        ["3", "-1", "0", "true", "nan", "[]", "{}", '""', '"8 mm"', '"-8 mm"', '"1 km"', '"110 degC"', '"M8"', "[1, 2]",
         '{ a = 1 }', "1979-05-27", '"1 N*m"', '"a356-t6 sand"', '"\\u0000"', "9" * 40, '"1e400 mm"']
    ))  # fmt: skip
    lines[number] = f"{key} = {value}"
    try:
        case_from_text("\n".join(lines), "pump.toml")
    except BadCase as error:
        assert re.match(r"pump\.toml: (\[|line)", error.line), error.line
        assert "\n" not in error.line


@pytest.mark.parametrize(
    ("added", "told"),
    [
        ('[material.mine]\nyoungs_modulus = "70 GPa"\n', "[material.mine] base"),
        ('[material.mine]\nbase = "a356-t6 sand"\n', "no part is made of it"),
        ('[material."a356-t6 sand"]\nbase = "a380 die cast"\n', "a stocked material has this name"),
    ],
    ids=["no base", "unused", "name of a stocked one"],
)
def test_an_own_material_that_is_incomplete_unused_or_hides_a_stocked_one_is_refused(added, told):
    with pytest.raises(BadCase, match=re.escape(told)):
        case_from_text(starter_case() + "\n" + added)


def test_a_floor_thinner_than_a_skin_is_refused_with_its_least():
    text = re.sub(r'floor_thickness = "[^"]*"', 'floor_thickness = "0.3 mm"', starter_case(), count=1)
    with pytest.raises(BadCase, match=r"floor_thickness.*at least 0\.66"):
        case_from_text(text)


def test_a_tip_whose_edge_would_jam_against_the_wall_of_a_ball_end_is_refused(good):
    text = good.replace(
        'hole_end = "flat"\ncorner_radius = "0.3 mm"', 'hole_end = "radiused"\ncorner_radius = "3.3 mm"'
    )
    text = text.replace('tip_diameter = "5.5 mm"', 'tip_diameter = "5.9 mm"')
    with pytest.raises(BadCase, match="steeper than 60 deg") as caught:
        case_from_text(text, "pump.toml")
    assert "[stud] tip_diameter" in str(caught.value) and "at most 5.7" in str(caught.value)


def test_a_name_of_hundreds_of_letters_is_not_echoed_in_full(good):
    name = "".join(f"{number:03d}" for number in range(140))
    with pytest.raises(BadCase) as caught:
        case_from_text(f"{good}\n[setup.x{name}]\n", "pump.toml")
    assert len(caught.value.line) < 260 and name[:40] in caught.value.line and "..." in caught.value.line


def test_what_cannot_fit_is_told_in_the_units_of_the_case():
    text = starter_case("5/16-18 UNC")
    length = next(line for line in text.splitlines() if line.startswith("length"))
    with pytest.raises(BadCase) as caught:
        case_from_text(text.replace(length, 'length = "3 in"', 1))
    told = str(caught.value)
    assert " mm" not in told and "below the nut's face" in told and caught.value.slug == "cannot-fit"
    least = re.search(r"allowed: at least ([\d.]+) in", told)[1]
    case_from_text(text.replace(length, f'length = "{float(least) + 1e-3} in"', 1))
    with pytest.raises(BadCase, match=r"allowed: at least [\d.]+ mm"):
        case_from_text(text.replace(length, 'length = "3 in"', 1).replace('units = "inch"', 'units = "metric"'))
