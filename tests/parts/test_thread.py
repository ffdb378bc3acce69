"""Thread names, basic sizes, areas."""

from math import cos, pi, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx

from studwell.data import table
from studwell.parts.limits import least_external_shear_area, least_internal_shear_area, thread_limits
from studwell.parts.thread import (
    Thread,
    axial_travel,
    basic_external_shear_area,
    basic_internal_shear_area,
    external_shear_area,
    helix_angle,
    internal_shear_area,
    minor_diameter,
    parse_thread,
    pitch_diameter,
    profile_height,
    root_area,
    root_diameter,
    root_radius,
    stress_area,
    tap_drill,
    tensile_stress_area,
    turns_for_travel,
    unified_stress_area,
)

SIZES = floats(3, 40)
SLENDERNESS = floats(4, 20)


@pytest.mark.parametrize("text", ["M8", "M8x1.25", "m8 x 1.25", " M8X1.25 ", "M8×1.25", "M8.0x1.250"])
def test_one_thread_has_one_name_however_it_is_written(text):
    assert parse_thread(text) == Thread("M8x1.25", 8.0, 1.25, "metric")


@pytest.mark.parametrize("text", ["5/16-18 UNC", "5/16-18", "5/16 - 18 unc", '5/16"-18 UNC', "5/16 in - 18"])
def test_one_inch_thread_has_one_name_however_it_is_written(text):
    assert parse_thread(text) == Thread("5/16-18 UNC", 7.9375, 25.4 / 18, "unified")


def test_a_size_without_pitch_means_the_coarse_one():
    assert {size: parse_thread(size).pitch for size in ("M5", "M6", "M10", "M12")} == {
        "M5": 0.8,
        "M6": 1.0,
        "M10": 1.5,
        "M12": 1.75,
    }


@pytest.mark.parametrize(
    "text", ["M8x1.3", "M9", "8x1.25", "M8x", "", "5/16-20 UNC", "5/16-24 UNC", "M8x1,25", "9/16-12"]
)
def test_a_thread_that_does_not_exist_is_refused_with_the_known_ones(text):
    with pytest.raises(ValueError, match=r"M8 x 1\.25/1\.0/0\.75"):
        parse_thread(text)


@pytest.mark.parametrize("size", ["M5", "M6", "M8", "M10"])
def test_stress_area_matches_iso_898_table_to_its_last_printed_figure(published, size):
    thread = parse_thread(size)
    area = published("iso-898-1")["stress_area"][size]
    assert tensile_stress_area(thread.nominal_diameter, thread.pitch) == approx(area, abs=0.05)
    assert stress_area(thread) == approx(area, abs=0.05)


def test_inch_stress_area_uses_the_inch_rule():
    half = parse_thread("1/2-13")
    assert stress_area(half) / 25.4**2 == approx(0.1419, abs=5e-5)
    assert unified_stress_area(12.7, 25.4 / 13) < tensile_stress_area(12.7, 25.4 / 13)


@given(d=SIZES, slenderness=SLENDERNESS, scale=floats(0.1, 10))
def test_stress_area_scales_with_size_squared(d, slenderness, scale):
    p = d / slenderness
    assert tensile_stress_area(scale * d, scale * p) == approx(scale**2 * tensile_stress_area(d, p), rel=1e-12)


@given(d=SIZES, slenderness=SLENDERNESS)
def test_diameters_lie_on_the_sixty_degree_profile(d, slenderness):
    p = d / slenderness
    height = p / 2 * np.tan(radians(60))
    assert profile_height(p) == approx(height, rel=1e-12)
    assert (d - pitch_diameter(d, p)) / height == approx(3 / 4, rel=1e-9)
    assert (d - minor_diameter(d, p)) / height == approx(5 / 4, rel=1e-9)
    assert (d - root_diameter(d, p)) / height == approx(17 / 12, rel=1e-9)
    assert root_area(d, p) == approx(pi / 4 * root_diameter(d, p) ** 2, rel=1e-12)
    assert root_area(d, p) < tensile_stress_area(d, p) < pi / 4 * d**2


def test_helix_angle_and_root_radius_of_m8():
    assert np.degrees(helix_angle(8.0, 1.25)) == approx(3.1683, abs=5e-5)
    assert root_radius(1.25) == approx(0.1804, abs=5e-5)


def test_tap_drills_are_the_coarse_series():
    assert tap_drill([5, 6, 8, 10], [0.8, 1, 1.25, 1.5]) == approx([4.2, 5.0, 6.75, 8.5])


@given(turns=floats(-3, 3), p=floats(0.3, 3))
def test_turns_and_travel_are_inverse(turns, p):
    assert turns_for_travel(axial_travel(turns, p), p) == approx(turns, rel=1e-12, abs=1e-12)
    assert axial_travel(0.25, 1.25) == 0.3125


@given(d=SIZES, slenderness=SLENDERNESS, length=floats(1, 50))
def test_basic_shear_areas_are_three_quarters_and_seven_eighths(d, slenderness, length):
    p = d / slenderness
    assert basic_external_shear_area(d, p, length) == approx(0.75 * pi * minor_diameter(d, p) * length, rel=1e-9)
    assert basic_internal_shear_area(d, p, length) == approx(0.875 * pi * d * length, rel=1e-9)


def test_shear_areas_shrink_as_the_mating_thread_recedes():
    assert external_shear_area(12, 1.25, 6.9, 7.188) < external_shear_area(12, 1.25, 6.647, 7.188)
    assert external_shear_area(12, 1.25, 6.647, 7.04) < external_shear_area(12, 1.25, 6.647, 7.188)
    assert internal_shear_area(12, 1.25, 7.76, 7.188) < internal_shear_area(12, 1.25, 8.0, 7.188)
    assert internal_shear_area(12, 1.25, 8.0, 7.348) < internal_shear_area(12, 1.25, 8.0, 7.188)


def test_least_shear_areas_of_m8_match_the_hand_figures():
    thread = parse_thread("M8")
    assert least_external_shear_area(thread, 12.0) == approx(145.93, rel=3e-4)
    assert least_internal_shear_area(thread, 12.0) == approx(201.94, rel=1e-4)


@pytest.mark.parametrize("size", ["M6", "M8"])
def test_limits_match_the_remembered_table(published, size):
    limits = thread_limits(parse_thread(size))
    ours = (*limits.external_major, *limits.external_pitch, *limits.internal_minor, *limits.internal_pitch)
    assert ours == approx(published("iso-965")["rows"][size], abs=6e-4)


ALL_METRIC = [f"{size}x{pitch}" for size, pitches in table("threads")["metric"]["rows"].items() for pitch in pitches]


@pytest.mark.parametrize("text", [*ALL_METRIC, "1/4-20", "5/16-18", "3/8-24", "1/2-13"])
def test_limits_leave_play_and_lose_area_on_every_stocked_thread(text):
    thread = parse_thread(text)
    limits, d, p = thread_limits(thread), thread.nominal_diameter, thread.pitch
    assert limits.external_pitch[1] < limits.internal_pitch[0]
    assert all(low < high for low, high in (limits.external_major, limits.external_pitch, limits.internal_minor))
    assert 0.6 < least_external_shear_area(thread, 10) / basic_external_shear_area(d, p, 10) < 1.0
    assert 0.6 < least_internal_shear_area(thread, 10) / basic_internal_shear_area(d, p, 10) < 1.0


@pytest.mark.parametrize("text", ALL_METRIC)
def test_metric_tolerances_follow_the_formulas_of_iso_965_within_a_preferred_step(text):
    # formulas from memory: es = 15 + 11 P, Td = 180 P^(2/3) - 3.15/sqrt(P), Td2 = 90 P^0.4 d^0.1, TD2 = 1.32 Td2
    thread = parse_thread(text)
    limits, p, d = thread_limits(thread), thread.pitch, thread.nominal_diameter
    middle = np.sqrt(2.8 * 5.6) * 2 ** (0 if d <= 5.6 else 1 if d <= 11.2 else 2)
    external = 90 * p**0.4 * middle**0.1
    inner = 230 * p**0.7 if p >= 1 else 433 * p - 190 * p**1.22
    assert 1000 * (d - limits.external_major[1]) == approx(15 + 11 * p, abs=1.5)
    assert 1000 * np.ptp(limits.external_major) == approx(180 * p ** (2 / 3) - 3.15 / np.sqrt(p), rel=0.06)
    assert 1000 * np.ptp(limits.external_pitch) == approx(external, rel=0.06)
    assert 1000 * np.ptp(limits.internal_pitch) == approx(1.32 * external, rel=0.06)
    assert 1000 * np.ptp(limits.internal_minor) == approx(inner, rel=0.06)


def test_inch_limits_are_those_of_five_sixteenths_eighteen():
    # ASME B1.1, 5/16-18 UNC 2A and 2B, inches, as remembered
    limits = thread_limits(parse_thread("5/16-18"))
    inches = np.array([*limits.external_major, *limits.external_pitch, *limits.internal_pitch]) / 25.4
    assert inches == approx([0.3026, 0.3113, 0.2712, 0.2752, 0.2764, 0.2817], abs=1.1e-4)


@pytest.mark.parametrize(("d", "p"), [(0.0, 1.0), (8.0, 0.0), (8.0, -1.0), (1.2, 1.0), (float("nan"), 1.0)])
def test_impossible_threads_are_refused(d, p):
    for function in (pitch_diameter, minor_diameter, root_diameter, tensile_stress_area, unified_stress_area):
        with pytest.raises(ValueError):
            function(d, p)


def test_flank_angle_is_thirty_degrees():
    from studwell.parts.thread import FLANK_ANGLE

    assert cos(FLANK_ANGLE) == approx(np.sqrt(3) / 2)
