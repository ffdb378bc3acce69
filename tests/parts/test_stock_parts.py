"""Nuts, washers and property classes in stock against the printed tables."""

import pytest
from pytest import approx

from studwell.parts.fastener import (
    proof_load,
    property_class,
    property_class_names,
    ultimate_load,
)
from studwell.parts.material import stock_material
from studwell.parts.nut import stock_nut, stock_nut_names
from studwell.parts.spring import stock_spring, stock_spring_names
from studwell.parts.thread import parse_thread
from studwell.parts.washer import stock_plain_washer, stock_plain_washer_names


def test_hexagon_nuts_match_iso_4032(published):
    for size, figures in published("iso-4032")["rows"].items():
        nut = stock_nut("hex", size)
        ours = [nut.width_across_flats, nut.width_across_flats_min, nut.height, nut.height_min]
        ours += [nut.bearing_diameter, nut.countersink_diameter, nut.corner_width_min]
        assert ours == figures, size
        assert nut.usable_thread_depth is None and nut.overall_height == nut.height


def test_domed_nuts_match_din_1587_and_use_the_least_thread_depth(published):
    for size, figures in published("din-1587")["rows"].items():
        nut = stock_nut("domed", size)
        ours = [nut.overall_height, nut.overall_height_min, nut.height, nut.height_min, nut.dome_diameter]
        assert [*ours, nut.corner_width_min, nut.usable_thread_depth, nut.thread_depth_max] == figures, size
        assert nut.usable_thread_depth < nut.overall_height


def test_plain_washers_match_iso_7089(published):
    for size, figures in published("iso-7089")["rows"].items():
        washer = stock_plain_washer(size)
        assert [washer.inner_diameter, washer.outer_diameter, washer.thickness] == figures, size


def test_inch_washers_match_asme_b18_21_1_type_a_to_the_rounding_of_its_fractions(published):
    for size, figures in published("asme-b18-21-1")["rows"].items():
        washer = stock_plain_washer(size)
        ours = [washer.inner_diameter, washer.outer_diameter, washer.thickness]
        # 0.0005 in is half of the table's last figure: its 0.812 in is 13/16
        assert ours == approx([25.4 * figure for figure in figures], abs=25.4 * 0.0005 + 0.005), size
        assert washer.status == "confirmed" and "ASME B18.21.1" in washer.source


@pytest.mark.parametrize("size", ["1/4", "5/16", "3/8"])
def test_a_wide_inch_washer_lies_within_the_nut_and_beyond_the_narrow_one(size):
    wide, narrow, nut = stock_plain_washer(f"{size} wide"), stock_plain_washer(size), stock_nut("hex", size)
    assert wide.outer_diameter > narrow.outer_diameter and wide.thickness >= narrow.thickness
    assert wide.inner_diameter < nut.bearing_diameter


@pytest.mark.parametrize("size", ["M5", "M6", "M8", "M10", "M12"])
def test_a_wide_washer_has_the_bore_of_the_normal_one_and_is_wider_than_the_conical_spring_of_its_size(size):
    wide, normal = stock_plain_washer(f"{size} wide"), stock_plain_washer(size)
    assert wide.inner_diameter == normal.inner_diameter and wide.thickness >= normal.thickness
    assert wide.outer_diameter > stock_spring(f"DIN 6796 {size}").outer_diameter > normal.outer_diameter
    assert wide.status == "from memory" and "ISO 7093-1" in wide.source


@pytest.mark.parametrize("size", ["M5", "M6", "M8", "M10"])
@pytest.mark.parametrize("name", ["8.8", "10.9"])
def test_loads_match_iso_898_within_its_rounding(published, size, name):
    table, thread = published("iso-898-1"), parse_thread(size)
    assert proof_load(thread, name) == approx(table["proof_load"][size][name], rel=6.3e-3)
    assert ultimate_load(thread, name) == approx(table["ultimate_load"][size][name], rel=6e-3)


def test_class_8_8_is_stronger_above_sixteen_millimetres():
    assert property_class("8.8", 16.0).proof_stress == 580.0
    assert property_class("8.8", 16.1).proof_stress == 600.0
    assert property_class("10.9", 20.0).yield_strength == 940.0


@pytest.mark.parametrize("name", property_class_names())
def test_a_class_has_rising_strengths_and_a_stocked_material(name):
    strengths = property_class(name, 8.0)
    assert strengths.proof_stress <= strengths.yield_strength < strengths.ultimate_strength
    assert stock_material(strengths.material).yield_strength is not None


def test_every_stocked_part_names_a_stocked_material_and_a_source():
    rows = [stock_nut(kind, size) for kind in ("hex", "domed") for size in stock_nut_names(kind)]
    rows += [stock_plain_washer(size) for size in stock_plain_washer_names()]
    rows += [stock_spring(name) for name in stock_spring_names()]
    assert len(rows) > 30
    for row in rows:
        stock_material(row.material)
        assert row.source and row.status in ("confirmed", "from memory")


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: stock_nut("hex", "M9"), "M8"),
        (lambda: stock_nut("square", "M8"), "hex, domed"),
        (lambda: stock_plain_washer("M9"), "M8"),
        (lambda: property_class("8,8", 8.0), r"did you mean '8\.8'"),
    ],
)
def test_what_is_not_in_stock_is_refused_with_what_is(call, message):
    with pytest.raises(ValueError, match=message):
        call()
